"""All rings of all joints as one table of columns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from ringset.arrays import Floats, Ints, Mask, RowIndices
from ringset.catalogue.joints import JointRef
from ringset.errors import Fault, StudyError
from ringset.schema.shop import Shop

#: Of rows without any second ring.
NO_SECOND: Ints = np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class Catalogue:
    """All rings per joint, as parallel columns with one entry per row: a (joint, ring, head count).

    `joint`, `module`, `teeth`, `bore_steps` and `heads` are int64 of one length. `joint` indexes `joints`,
    `module` indexes `modules_mm` (float64, mm, ascending); the bore is `bore_steps` whole steps of
    `bore_step_mm`, one at least; `heads` is 1 to 8. `catalogue` makes rows sorted by joint, module, teeth,
    bore, second ring and heads; nothing of rating depends on their order.

    `second_teeth` are the teeth of the second ring on the same seat, of the same module and bore, 0 for none;
    empty where no row has one.
    """

    joints: tuple[JointRef, ...]
    modules_mm: Floats
    bore_step_mm: float
    joint: Ints
    module: Ints
    teeth: Ints
    bore_steps: Ints
    heads: Ints
    second_teeth: Ints = field(default_factory=lambda: NO_SECOND)

    def __len__(self) -> int:
        return len(self.joint)

    @property
    def paired(self) -> bool:
        """Whether some row has a second ring."""
        return len(self.second_teeth) > 0

    def partner_teeth(self) -> Ints:
        """Return the teeth of every row's second ring, 0 for none."""
        return self.second_teeth if self.paired else np.zeros(len(self), dtype=np.int64)

    def module_mm(self) -> Floats:
        """Return the module of every row, float64 in mm."""
        return self.modules_mm[self.module]

    def bore_mm(self) -> Floats:
        """Return the bore of every row, float64 in mm, on the decimal grid of the step."""
        return catalogue_bore_mm(self.bore_steps, self.bore_step_mm)

    def per_joint(self, value: Callable[[JointRef], float]) -> Floats:
        """Return a number of each row's joint as a column of float64; `value` is called once per joint."""
        return np.array([value(ref) for ref in self.joints], dtype=np.float64)[self.joint]

    def take(self, rows: RowIndices | Mask) -> Catalogue:
        """Return some rows only, given by their places in any order or by one yes or no per row."""
        return Catalogue(
            self.joints, self.modules_mm, self.bore_step_mm, self.joint[rows], self.module[rows],
            self.teeth[rows], self.bore_steps[rows], self.heads[rows],
            self.second_teeth[rows] if self.paired else NO_SECOND,
        )  # fmt: skip


def catalogue_bore_mm(steps: Ints, step_mm: float) -> Floats:
    """Return bores of so many steps, float64 in mm: rounded to 1e-9 mm, so that 3 x 0.1 is 0.3."""
    return np.round(steps * step_mm, 9)


#: The columns of a catalogue, one entry per row.
ROW_COLUMNS = ("joint", "module", "teeth", "bore_steps", "heads")


def too_many_catalogue_rows(shop: Shop, most: int) -> StudyError:
    """Return the error of a study with more than `most` rows."""
    given = f"{shop.bore_step_mm:g}, which makes more than {most} rows"
    return StudyError([Fault("shop.bore_step_mm", given, "a coarser step or tighter windows")])
