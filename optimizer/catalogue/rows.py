"""All rings of all joints as one table of columns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.catalogue.joints import JointRef
from ringset.errors import Fault, StudyError
from ringset.schema.equipment import Shop


@dataclass(frozen=True)
class Catalogue:
    """All rings per joint. Arrays are parallel: one entry per (joint, ring, head count).

    `joint` indexes `joints`, `module` indexes `modules_mm`; the bore is `bore_steps` whole steps.
    Rows are sorted by joint, module, teeth, bore and heads.
    """

    joints: tuple[JointRef, ...]
    modules_mm: Floats
    bore_step_mm: float
    joint: Ints
    module: Ints
    teeth: Ints
    bore_steps: Ints
    heads: Ints

    def __len__(self) -> int:
        return len(self.joint)

    def module_mm(self) -> Floats:
        """Module of every row in mm."""
        return self.modules_mm[self.module]

    def bore_mm(self) -> Floats:
        """Bore of every row in mm, on the decimal grid of the step."""
        return bore_mm(self.bore_steps, self.bore_step_mm)

    def per_joint(self, value: Callable[[JointRef], float]) -> Floats:
        """Return `value` of each row's joint as a column."""
        return np.array([value(ref) for ref in self.joints], dtype=np.float64)[self.joint]

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Catalogue:
        """Return the catalogue of the given rows only (indices or mask)."""
        return Catalogue(
            self.joints, self.modules_mm, self.bore_step_mm, self.joint[rows], self.module[rows],
            self.teeth[rows], self.bore_steps[rows], self.heads[rows],
        )  # fmt: skip


def bore_mm(steps: Ints, step_mm: float) -> Floats:
    """Return bores of so many steps in mm, on the decimal grid of the step."""
    return np.round(steps * step_mm, 9)


#: The columns of a catalogue, one entry per row.
ROW_COLUMNS = ("joint", "module", "teeth", "bore_steps", "heads")


def too_many(shop: Shop, most: int) -> StudyError:
    """Return the error of a study with more than `most` rows."""
    given = f"{shop.bore_step_mm:g}, which makes more than {most} rows"
    return StudyError([Fault("shop.bore_step_mm", given, "a coarser step or tighter windows")])
