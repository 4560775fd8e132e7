"""Stage 3: exact reduction. A row leaves only if a theorem says some best answer does without it.

Terms: a row is (joint, ring, head count); two rows of one ring are the same part. An answer takes one
row per joint and is judged by its numbers of cutters, ring parts and heads, its material, and each
robot's tool-point sum, which only grows with the error of each row.

Theorem 1 (dominance). Let ring S need the same cutter as ring R and no more blank mass, and let every
row (joint, h heads, error e) of R have a row of S on the same joint with at most h heads and, where
the joint counts at a tool-point target, at most error e. Then some best answer uses no row of R:
replacing R by S wherever it occurs adds no cutter (same one), no ring part (all R become S), no
head, no material, and no error where error counts; every ceiling and target still holds. Rings that
dominate each other are ordered by (mass, error, module, teeth, bore), which the tie-break of `choose`
prefers, and the first stays. If ring parts neither rank nor have a ceiling, each joint may replace its
row alone, and R and S need only share that joint. If cutters neither rank nor have a ceiling, S may
need another cutter.

Theorem 2 (fewer heads). Of two rows of one ring on one joint, the one with more heads leaves unless its
error is smaller and error counts there.

Theorem 3 (sums). If a row's share of its robot's tool-point sum, with the least possible share of
every other joint, already exceeds the target, no allowed answer uses it. The same holds for its share
of the current that its robot's battery gives for a stated life.

A battery needs no condition in theorems 1 and 2: both replace a row by one on the same joint, so with
the same kind of head, and at most as many heads; the current never grows. Heads of other joints, with
other currents, stay as they are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from optimizer.catalogue import Floats, Ints
from optimizer.physics.backup import largest_current_ua
from optimizer.physics.limits import room
from optimizer.physics.toolpoint import lever_error_um
from optimizer.rate import Rated
from optimizer.robot_electronics import Battery
from optimizer.study import Study, Wish

Mask = NDArray[np.bool_]
#: Rings compared at once in the dominance test; bounds its memory.
_BLOCK = 256


def matters(study: Study, wish: Wish) -> bool:
    """Say whether a quantity ranks among the wishes or has a ceiling."""
    ceilings = {
        "cutters": study.wishes.cutters_max,
        "ring_parts": study.wishes.ring_parts_max,
        "heads": study.wishes.heads_max,
        "material": study.wishes.material_max_kg,
    }
    return wish in study.wishes.order or ceilings[wish] is not None


def ring_keys(rated: Rated) -> Ints:
    """Return a whole number per row that is equal for rows of the same ring part."""
    rows = rated.catalogue
    _, width = np.unique(rows.per_joint(lambda r: r.joint.face_width_mm), return_inverse=True)
    if len(rows) == 0:
        return np.empty(0, dtype=np.int64)
    key = rows.module * (rows.teeth.max() + 1) + rows.teeth
    _, key = np.unique(key * (rows.bore_steps.max() + 1) + rows.bore_steps, return_inverse=True)
    return np.asarray(key * (width.max() + 1) + width, dtype=np.int64)


def tool_point_joints(study: Study, rated: Rated) -> Mask:
    """Return, per joint of the catalogue, whether its error counts at a tool-point target."""
    return np.array(
        [
            ref.robot.tool_point_target_um is not None and ref.joint.reach_mm > 0.0
            for ref in rated.catalogue.joints
        ]
    )


def tool_point_shares(rated: Rated) -> Floats:
    """Return every row's share of its robot's tool-point sum: um^2 for rss, um for sum."""
    rows = rated.catalogue
    lever = np.asarray(
        lever_error_um(rows.per_joint(lambda r: r.joint.reach_mm), rated.error_arcsec)
    )
    squared = np.array([ref.robot.tool_point_rule == "rss" for ref in rows.joints])[rows.joint]
    return np.where(squared, lever**2, lever)


def tool_point_limit(target_um: float, rule: str) -> float:
    """Return the limit of a tool-point sum (um^2 for rss, um for sum), room for rounding included."""
    with_room = float(target_um + room(target_um))
    return with_room**2 if rule == "rss" else with_room


def battery_shares_ua(rated: Rated) -> Floats:
    """Return every row's average current in uA from its robot's battery; 0 without battery."""
    rows = rated.catalogue
    current = rows.per_joint(
        lambda r: (
            0.0
            if r.robot.battery is None or r.head.backup_current_ua is None
            else r.head.backup_current_ua * r.robot.battery.unpowered_share
        )
    )
    return current * rows.heads


def battery_limit_ua(battery: Battery) -> float | None:
    """Return the largest average current in uA for the stated life, room for rounding included.

    The room is that of the life, so that both ways to put the limit let the same answers pass.
    """
    life = battery.life_min_years
    if life is None:
        return None
    return float(
        largest_current_ua(
            battery.capacity_ah,
            battery.usable_share,
            life - room(life),
            battery.self_discharge_per_year,
        )
    )


def least_per_joint(values: Floats, joint: Ints, joints: int) -> Floats:
    """Return the least value among each joint's rows; infinity for a joint without rows."""
    least = np.full(joints, np.inf)
    np.minimum.at(least, joint, values)
    return least


def sift(study: Study, rated: Rated) -> Rated:
    """Return the rows that theorems 1 to 3 leave; the best answers of the rest are best of all."""
    rated = rated.take(_within_sums(study, rated))
    rated = rated.take(_fewer_heads(study, rated))
    return rated.take(_undominated_rows(study, rated))


def _within_sums(study: Study, rated: Rated) -> Mask:
    """Apply theorem 3."""
    rows = rated.catalogue
    keep = np.ones(len(rows), dtype=np.bool_)
    levers, currents = tool_point_shares(rated), battery_shares_ua(rated)
    for robot in study.robots:
        mine = np.array([ref.robot is robot for ref in rows.joints])
        sums: list[tuple[Floats, float]] = []
        if robot.tool_point_target_um is not None:
            limit = tool_point_limit(robot.tool_point_target_um, robot.tool_point_rule)
            sums.append((levers, limit))
        current = None if robot.battery is None else battery_limit_ua(robot.battery)
        if current is not None:
            sums.append((currents, current))
        for shares, most in sums:
            least = least_per_joint(shares, rows.joint, len(rows.joints))
            spare = most - float(np.sum(least[mine]))
            # a relative room far below one counting unit keeps rows that meet the limit exactly;
            # what is lost in the subtraction is of the size of the limit itself
            excess = shares - least[rows.joint]
            room_left = max(1e-9 * abs(spare), 1e-14 * most)
            left = keep & (~mine[rows.joint] | (excess <= spare + room_left))
            # where two sums together empty a joint, the program is to find that, and to say why
            if len(np.unique(rows.joint[left])) == len(np.unique(rows.joint[keep])):
                keep = left
    return keep


def _fewer_heads(study: Study, rated: Rated) -> Mask:
    """Apply theorem 2; rows of a ring on a joint stand together, ordered by heads."""
    rows = rated.catalogue
    counts = tool_point_joints(study, rated)[rows.joint]
    error = np.where(counts, rated.error_arcsec, 0.0)
    keys = np.stack([rows.joint, rows.module, rows.teeth, rows.bore_steps])
    keep = np.ones(len(rows), dtype=np.bool_)
    most = max((len(ref.joint.head_counts) for ref in rows.joints), default=1)
    for back in range(1, most):
        same = np.all(keys[:, back:] == keys[:, :-back], axis=0)
        keep[back:] &= ~(same & (error[:-back] <= error[back:]))
    return keep


def _undominated_rows(study: Study, rated: Rated) -> Mask:
    """Apply theorem 1 group by group: rings of one cutter, or of one cutter and joint."""
    rows = rated.catalogue
    ring = ring_keys(rated)
    joint_of_group = np.zeros(len(rows), dtype=np.int64)
    if not matters(study, "ring_parts"):
        joint_of_group = rows.joint
    cutter = rated.cutter if matters(study, "cutters") else np.zeros(len(rows), dtype=np.int64)
    group = (cutter - cutter.min(initial=0)) * (len(rows.joints) + 1) + joint_of_group
    error = np.where(tool_point_joints(study, rated)[rows.joint], rated.error_arcsec, 0.0)
    keep = np.zeros(len(rows), dtype=np.bool_)
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.diff(group[order], prepend=np.int64(-1)))
    for members in np.split(order, starts[1:]) if len(order) else []:
        kept = _undominated_rings(rated, members, ring[members], error[members])
        keep[members] = kept
    return keep


def _undominated_rings(rated: Rated, members: NDArray[np.intp], ring: Ints, error: Floats) -> Mask:
    """Return which of the rows `members`, all of one group, belong to a ring nobody dominates."""
    rows = rated.catalogue
    rings, index = np.unique(ring, return_inverse=True)
    places, place = np.unique(rows.joint[members] * 16 + rows.heads[members], return_inverse=True)
    cost = np.full((len(rings), len(places)), np.inf)
    cost[index, place] = error
    # a row with fewer heads on the same joint serves as well
    for column in range(1, len(places)):
        if places[column] // 16 == places[column - 1] // 16:
            cost[:, column] = np.minimum(cost[:, column], cost[:, column - 1])
    mass = np.zeros(len(rings))
    mass[index] = rated.blank_kg[members]
    plain_error = np.full(len(rings), np.inf)
    np.minimum.at(plain_error, index, rated.error_arcsec[members])
    order = np.lexsort((np.arange(len(rings)), plain_error, mass))
    kept_rings = np.zeros(len(rings), dtype=np.bool_)
    kept_rings[order[_first_undominated(cost[order])]] = True
    return kept_rings[index]


def _first_undominated(cost: Floats) -> NDArray[np.intp]:
    """Return the rows of `cost` that no earlier row matches or undercuts in every column."""
    _, first = np.unique(cost, axis=0, return_index=True)
    candidates = np.sort(first)  # a repeated row is dominated by its first copy
    cost = cost[candidates]
    kept = cost[:0]
    survivors: list[NDArray[np.intp]] = []
    for start in range(0, len(cost), _BLOCK):
        block = cost[start : start + _BLOCK]
        alive = np.flatnonzero(~_covered(block, kept))
        block = block[alive]
        inner = np.all(block[np.newaxis, :, :] <= block[:, np.newaxis, :], axis=2)
        alone = ~np.any(np.tril(inner, -1), axis=1)
        survivors.append(candidates[start + alive[alone]])
        kept = np.concatenate([kept, block[alone]])
    return np.concatenate(survivors) if survivors else np.empty(0, dtype=np.intp)


def _covered(block: Floats, kept: Floats) -> Mask:
    """Return which rows of `block` some row of `kept` matches or undercuts in every column."""
    covered = np.zeros(len(block), dtype=np.bool_)
    for start in range(0, len(kept), _BLOCK):
        open_rows = np.flatnonzero(~covered)
        if len(open_rows) == 0:
            break
        pool = kept[start : start + _BLOCK]
        below = np.ones((len(open_rows), len(pool)), dtype=np.bool_)
        for column in range(block.shape[1]):
            below &= pool[np.newaxis, :, column] <= block[open_rows, np.newaxis, column]
        covered[open_rows] |= below.any(axis=1)
    return covered
