"""The rings of an answer as rows of a catalogue again, so that they can be rated at other inputs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints, Mask
from ringset.catalogue.joints import JointRef, catalogue_joints, catalogue_modules
from ringset.catalogue.rows import NO_SECOND, Catalogue
from ringset.rating.ring_sums import RING_SUMS, rated_ring_sum_limit, rated_ring_sums
from ringset.rating.robot_sums import rated_tool_point_limit
from ringset.schema.answer import Answer, JointRing
from ringset.schema.study import TOOL_POINT_TARGETS, Study
from ringset.schema.targets import Target


class ToolPointSum(NamedTuple):
    """A target at a robot's tool point: which joints count, its limit, and the field that states it.

    The limit is that of `rated_tool_point_shares` of the field: um^2 for rss, um for sum.
    """

    joints: Mask
    limit: float
    robot: str
    field: str


def chosen_rows(study: Study, answer: Answer) -> Catalogue:
    """Return the rings of an answer with rings as rows, one per joint of the canonical study, in its order.

    ValueError where the study has no such module or bore: the answer is of another study.
    """
    refs = catalogue_joints(study)
    modules = catalogue_modules(study.shop)
    step = study.shop.bore_step_mm
    rings = {(ring.robot, ring.joint): ring for ring in answer.rings}
    mine = [rings[ref.robot.name, ref.joint.name] for ref in refs]
    places = np.searchsorted(modules, [ring.module_mm - 1e-9 for ring in mine])
    return Catalogue(
        refs, modules, step, np.arange(len(mine)), places.astype(np.int64),
        np.array([ring.teeth for ring in mine], dtype=np.int64),
        np.array([round(ring.bore_mm / step) for ring in mine], dtype=np.int64),
        np.array([ring.heads for ring in mine], dtype=np.int64),
        _second_teeth(mine),
    )  # fmt: skip


def _second_teeth(rings: list[JointRing]) -> Ints:
    """Return the teeth of the second rings of some rings, 0 for none; empty where none has one."""
    told = [ring.electronics.second_ring for ring in rings]
    teeth = np.array([0 if t is None else t.teeth or 0 for t in told], dtype=np.int64)
    return teeth if teeth.any() else NO_SECOND


def chosen_rows_counted_as(rows: Catalogue, other: Catalogue) -> Catalogue:
    """Return rows with modules and bores counted as another catalogue counts them.

    Rows stay as they are where the other has no such module, or no whole number of its steps makes the bore.
    """
    modules = np.minimum(
        np.searchsorted(other.modules_mm, rows.module_mm() - 1e-9), len(other.modules_mm) - 1
    )
    steps = np.round(rows.bore_mm() / other.bore_step_mm).astype(np.int64)
    counted = replace(
        rows, modules_mm=other.modules_mm, bore_step_mm=other.bore_step_mm,
        module=modules.astype(np.int64), bore_steps=steps,
    )  # fmt: skip
    alike = np.abs(counted.module_mm() - rows.module_mm()) < 1e-9
    alike &= np.abs(counted.bore_mm() - rows.bore_mm()) < 1e-9
    return counted if alike.all() else rows


def chosen_tool_point_sums(
    study: Study, refs: tuple[JointRef, ...], target: Target | None = None
) -> list[ToolPointSum]:
    """Return every target at a tool point, robot by robot, with the robot's joints among `refs`.

    `target` may keep another reserve than the study's, which counts by default.
    """
    return [
        ToolPointSum(
            np.array([ref.robot.name == robot.name for ref in refs]), limit, robot.name, field
        )
        for field in TOOL_POINT_TARGETS
        for robot in study.robots
        for limit in [rated_tool_point_limit(target or study.target, robot, field)]
        if limit is not None
    ]


@dataclass(frozen=True)
class RobotRingSum:
    """A bounded sum of a robot's rings: its joints (a yes or no each), its limit, and what every row adds."""

    robot: str
    field: str
    mine: Mask
    limit: float
    values: Floats


def chosen_robot_ring_sums(study: Study, rows: Catalogue) -> list[RobotRingSum]:
    """Return every bounded sum of mass or inertia over the rings of a robot, for some rows."""
    found = []
    for field in rated_ring_sums(study):
        values = RING_SUMS[field](study, rows)
        for robot in study.robots:
            limit = rated_ring_sum_limit(robot, field)
            if limit is not None:
                mine = np.array([ref.robot.name == robot.name for ref in rows.joints])
                found.append(RobotRingSum(robot.name, field, mine, limit, values))
    return found


def chosen_ring_numbers(rows: Catalogue) -> Ints:
    """Return module, teeth and bore of every row as one number of 45 bits, the same in all rows."""
    return np.asarray((rows.module << 37) | (rows.teeth << 23) | rows.bore_steps)


def chosen_row_places(rows: Catalogue, wanted: Catalogue) -> Ints:
    """Return where rows of one catalogue stand in another of the same joints, -1 where they do not.

    `rows` are sorted, as those of a catalogue are. Catalogues that count modules or bores differently have
    no row in common.
    """
    same = rows.bore_step_mm == wanted.bore_step_mm
    if not same or not np.array_equal(rows.modules_mm, wanted.modules_mm) or len(rows) == 0:
        return np.full(len(wanted), -1, dtype=np.int64)
    numbers, sought = (
        # joint, ring and heads in 15, 45 and 4 bits, which hold all there can be
        np.asarray((r.joint << 49) | (chosen_ring_numbers(r) << 4) | r.heads).view(np.uint64)
        for r in (rows, wanted)
    )
    if rows.paired or wanted.paired:
        return _pairs_among(rows, wanted, numbers, sought)
    place = np.minimum(np.searchsorted(numbers, sought), len(numbers) - 1)
    return np.where(numbers[place] == sought, place, -1)


def _pairs_among(
    rows: Catalogue, wanted: Catalogue, numbers: NDArray[np.uint64], sought: NDArray[np.uint64]
) -> Ints:
    """Return where wanted rows stand, with their second rings; `numbers` are those of rings and heads."""
    _, code = np.unique(np.concatenate([numbers, sought]), return_inverse=True)
    teeth = np.concatenate([rows.partner_teeth(), wanted.partner_teeth()])
    code = np.asarray(code) * (int(teeth.max()) + 1) + teeth
    mine, theirs = code[: len(rows)], code[len(rows) :]
    order = np.argsort(mine, kind="stable")
    place = np.minimum(np.searchsorted(mine[order], theirs), len(mine) - 1)
    found = order[place]
    return np.asarray(np.where(mine[found] == theirs, found, -1))
