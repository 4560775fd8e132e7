"""Stage 1: every ring that each joint could take, as one table with a row per ring and head count.

A ring fits a joint if its module and tooth count suit head and shop, its tips lie in the joint's
window, and its bore is a whole number of bore steps inside the bore window with an allowed rim. No
physics beyond sizes here: the limits on error, rate and roundness come with `rate`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.equipment import Head, Shop
from optimizer.loading import Fault, StudyError
from optimizer.physics import geometry, heads
from optimizer.physics.limits import at_least, at_most, room
from optimizer.standards.modules import series_modules
from optimizer.standards.racks import RACKS
from optimizer.study import Joint, Robot, Study

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

#: Most rows at a time; beyond it the bore step or the windows are absurd.
ROWS_MAX = 2_500_000
#: Rows from which the joints that follow come in another block.
BLOCK_ROWS = 400_000


@dataclass(frozen=True)
class JointRef:
    """A joint with its robot and head, in the canonical order of the study."""

    robot: Robot
    joint: Joint
    head: Head
    target_arcsec: float

    @property
    def label(self) -> str:
        """Robot and joint as one name."""
        return f"{self.robot.name}/{self.joint.name}"


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
        return np.round(self.bore_steps * self.bore_step_mm, 9)

    def per_joint(self, value: Callable[[JointRef], float]) -> Floats:
        """Return `value` of each row's joint as a column."""
        return np.array([value(ref) for ref in self.joints], dtype=np.float64)[self.joint]

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Catalogue:
        """Return the catalogue of the given rows only (indices or mask)."""
        return Catalogue(
            self.joints, self.modules_mm, self.bore_step_mm, self.joint[rows], self.module[rows],
            self.teeth[rows], self.bore_steps[rows], self.heads[rows],
        )  # fmt: skip


#: The columns of a catalogue, one entry per row.
ROW_COLUMNS = ("joint", "module", "teeth", "bore_steps", "heads")


def joint_refs(study: Study) -> tuple[JointRef, ...]:
    """Return every joint of a canonical study with its robot and head."""
    return tuple(
        JointRef(robot, joint, study.head_of(joint), study.target_of(joint))
        for robot in study.robots
        for joint in robot.joints
    )


def head_angles_deg(joint: Joint, count: int) -> tuple[float, ...]:
    """Return where `count` heads stand on `joint`: as stated, else equally spaced."""
    return tuple(joint.head_angles_deg.get(str(count), heads.equal_angles_deg(count)))


def shop_modules(shop: Shop) -> Floats:
    """Return the shop's modules in mm, ascending."""
    modules = series_modules(shop.modules) if isinstance(shop.modules, str) else shop.modules
    return np.array(sorted(set(modules)), dtype=np.float64)


def least_rim_mm(shop: Shop, module_mm: Floats) -> Floats:
    """Return the thinnest rim in mm for each module: the shop's minimum or a share of the depth."""
    rack = RACKS[shop.rack]
    depth = np.asarray(geometry.whole_depth_mm(module_mm, rack.addendum, rack.dedendum))
    return np.maximum(shop.rim_min_mm, shop.rim_min_depths * depth)


def catalogue(study: Study) -> Catalogue:
    """Return all rings of every joint of a canonical study; raises StudyError beyond ROWS_MAX."""
    ((_, rows),) = blocks(study, None)
    return rows


def blocks(
    study: Study, block_rows: int | None = BLOCK_ROWS
) -> Iterator[tuple[range, Catalogue]]:  # fmt: skip
    """Yield the catalogue joint after joint, in blocks of about `block_rows` rows, with their joints.

    Every block knows all joints and has rows of some. None makes one block. Raises StudyError if one block
    passes ROWS_MAX.
    """
    refs = joint_refs(study)
    modules = shop_modules(study.shop)
    parts: list[tuple[Ints, Ints, Ints, Ints, Ints]] = []
    total, first = 0, 0
    for index, ref in enumerate(refs):
        parts.append(_joint_rows(index, ref, study.shop, modules))
        total += len(parts[-1][0])
        if total > ROWS_MAX:
            raise too_many(study.shop, ROWS_MAX)
        last = index == len(refs) - 1
        if last or (block_rows is not None and total >= block_rows):
            joined = [np.concatenate(column) for column in zip(*parts, strict=True)]
            rows = Catalogue(refs, modules, study.shop.bore_step_mm, *joined)
            yield range(first, index + 1), rows
            parts, total, first = [], 0, index + 1


def too_many(shop: Shop, most: int) -> StudyError:
    """Return the error of a study with more than `most` rows."""
    given = f"{shop.bore_step_mm:g}, which makes more than {most} rows"
    return StudyError([Fault("shop.bore_step_mm", given, "a coarser step or tighter windows")])


def _joint_rows(
    index: int, ref: JointRef, shop: Shop, modules: Floats
) -> tuple[Ints, Ints, Ints, Ints, Ints]:
    """Return columns (joint, module, teeth, bore steps, heads) of one joint, in canonical order."""
    module, teeth = tooth_window(ref, shop, modules)
    low, high = bore_window(ref, shop, modules[module], teeth)
    counts = np.maximum(high - low + 1, 0)
    ring = np.repeat(np.arange(len(module)), counts)
    bores = low[ring] + np.arange(len(ring)) - np.repeat(np.cumsum(counts) - counts, counts)
    fits = bore_fits(ref, shop, modules[module[ring]], teeth[ring], bores)
    ring, bores = ring[fits], bores[fits]
    counts = np.array(ref.joint.head_counts, dtype=np.int64)
    rows = len(ring) * len(counts)
    return (
        np.full(rows, index, dtype=np.int64),
        np.repeat(module[ring], len(counts)),
        np.repeat(teeth[ring], len(counts)),
        np.repeat(bores, len(counts)),
        np.tile(counts, len(ring)),
    )


def tooth_window(ref: JointRef, shop: Shop, modules: Floats) -> tuple[Ints, Ints]:
    """Return (module index, teeth) of every toothing whose module, teeth and tips suit the joint."""
    head, joint, rack = ref.head, ref.joint, RACKS[shop.rack]
    usable = np.flatnonzero(
        at_least(modules, head.module_min_mm) & at_most(modules, head.module_max_mm)
    )
    teeth = np.arange(head.teeth_min, head.teeth_max + 1, dtype=np.int64)
    module_grid = np.repeat(usable, len(teeth)).astype(np.int64)
    teeth_grid = np.tile(teeth, len(usable))
    tips = geometry.tip_diameter_mm(
        modules[module_grid], teeth_grid, rack.addendum, shop.profile_shift
    )
    fits = at_most(tips, joint.tip_max_mm)
    if joint.tip_min_mm is not None:
        fits &= at_least(tips, joint.tip_min_mm)
    return module_grid[fits], teeth_grid[fits]


def bore_limits(ref: JointRef, shop: Shop, module_mm: Floats, teeth: Ints) -> tuple[Floats, Floats]:
    """Return the smallest and largest bore in mm that joint and rim allow, per toothing."""
    root = _root_mm(shop, module_mm, teeth)
    largest = np.minimum(ref.joint.bore_max_mm, root - 2.0 * least_rim_mm(shop, module_mm))
    smallest = np.full(len(teeth), ref.joint.bore_min_mm)
    if shop.rim_max_mm is not None:
        smallest = np.maximum(smallest, root - 2.0 * shop.rim_max_mm)
    return smallest, largest


def bore_window(ref: JointRef, shop: Shop, module_mm: Floats, teeth: Ints) -> tuple[Ints, Ints]:
    """Return first and last bore step per toothing; the end ones may still miss by rounding."""
    smallest, largest = bore_limits(ref, shop, module_mm, teeth)
    step = shop.bore_step_mm
    low = np.ceil((smallest - 4.0 * room(smallest)) / step).astype(np.int64)
    high = np.floor((largest + 4.0 * room(largest)) / step).astype(np.int64)
    return np.maximum(low, 1), high


def bore_fits(
    ref: JointRef, shop: Shop, module_mm: Floats, teeth: Ints, bore_steps: Ints
) -> NDArray[np.bool_]:
    """Return which bores keep every limit, by the one rule of `physics.limits`."""
    bore = np.round(bore_steps * shop.bore_step_mm, 9)
    rim = np.asarray(geometry.rim_thickness_mm(_root_mm(shop, module_mm, teeth), bore))
    fits = at_least(bore, ref.joint.bore_min_mm) & at_most(bore, ref.joint.bore_max_mm)
    fits &= at_least(rim, least_rim_mm(shop, module_mm))
    if shop.rim_max_mm is not None:
        fits &= at_most(rim, shop.rim_max_mm)
    return fits


def _root_mm(shop: Shop, module_mm: Floats, teeth: Ints) -> Floats:
    dedendum = RACKS[shop.rack].dedendum
    return np.asarray(
        geometry.root_diameter_mm(module_mm, teeth, dedendum, shop.profile_shift), dtype=np.float64
    )
