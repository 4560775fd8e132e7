"""What blockers and reliefs must be, checked against ways that share nothing with how they are found.

Joints alone: limits are dropped by stating the study anew, wider, and its catalogue is rated again. Several
joints: every combination of rings is listed (`test_brute_force.listed_best`).
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import numpy as np

from ringset.analysis.explanation.impossible import explain_blockers, explain_impossible
from ringset.analysis.explanation.joint_conflicts import explain_joint_blockers
from ringset.analysis.explanation.models import Explanation, Way
from ringset.analysis.explanation.reliefs import SINGLES_MAX
from ringset.analysis.explanation.widened import (
    MARGIN,
    RIM_MARGINS,
    explained_wider_head_counts,
    explanation_rows_widened,
)
from ringset.catalogue.enumerate import catalogue
from ringset.infeasibility.models import Blocker
from ringset.rating.rate import rate
from ringset.rating.ring_sums import RING_SUMS
from ringset.rating.stated_limits import Limit, rated_ring_limits
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from tests.solving.test_brute_force import listed_best, table
from tests.support.studies import Json, combinations, inside_rows, load, random_study

#: Most combinations listed for one question.
LISTED_MAX = 3_000_000

# -- one joint --------------------------------------------------------------------------------------------


def tight_joint(seed: int) -> Json:
    """Return a random study of one joint, tightened until no ring is left, or almost."""
    rng = random.Random(seed)
    bore = rng.choice((30.0, 44.0, 61.0, 90.0))
    tip = bore + rng.uniform(8.0, 16.0)
    row: Json = {
        "name": "wrist", "bore_min_mm": bore, "bore_max_mm": bore + rng.choice((0.5, 2.0, 6.0)),
        "tip_max_mm": round(tip, 2), "head_counts": rng.choice(([1], [2], [1, 2])),
    }  # fmt: skip
    if rng.random() < 0.4:
        row["tip_min_mm"] = round(tip - rng.choice((0.5, 2.0)), 2)
    if rng.random() < 0.4:
        row["speed_max_rpm"] = rng.choice((200.0, 900.0))
    if rng.random() < 0.3:
        row["angle_target_arcsec"] = rng.choice((30.0, 70.0, 160.0))
    shop: Json = {
        "modules": sorted(rng.sample((0.7, 0.8, 1.0, 1.25, 1.5, 2.0, 2.25), 3)),
        "bore_step_mm": rng.choice((0.5, 1.0)),
    }
    if rng.random() < 0.3:
        shop["rim_max_mm"] = rng.choice((3.5, 5.0))
    if rng.random() < 0.2:
        shop["clamp_runout_share"] = rng.choice((0.1, 1.0, None))
    head: Json = {"tooth_rate_max_hz": rng.choice((300.0, 900.0, 10000.0))}
    if rng.random() < 0.3:
        head.update(gap_mm=rng.choice((0.12, 0.15, 0.2)), gap_tolerance_mm=0.05)
    elif rng.random() < 0.2:
        head.update(gap_min_mm=0.2, gap_max_mm=0.3)
    if rng.random() < 0.2:
        head["teeth_max"] = rng.choice((40, 60))
    target: Json = {"angle_target_arcsec": rng.choice((40.0, 90.0, 200.0))}
    if rng.random() < 0.3:
        target["resolution_bits"] = rng.choice((14.0, 17.0))
    return {
        "robots": [{"name": "arm", "joints": [row]}],
        "shop": shop,
        "head": head,
        "target": target,
    }


def dropped(study: Study, limits: list[Limit]) -> Study:
    """Return the study of one joint with limits dropped, that is as wide as the search for blockers looks."""
    joint, head, shop, target = study.robots[0].joints[0], study.head, study.shop, study.target
    low, high, rim = 1.0 - MARGIN, 1.0 + MARGIN, 1.0 - RIM_MARGINS * MARGIN
    fewest = max(18, 2 * shop.clamp_jaws, 8 * head.teeth_sensed, int(head.teeth_min * low))
    wide: dict[str, tuple[str, Any]] = {
        "tip_max_mm": ("joint", joint.tip_max_mm and joint.tip_max_mm * high),
        "housing_max_mm": ("joint", joint.housing_max_mm and joint.housing_max_mm * high),
        "axial_room_mm": ("joint", None),
        "ring_mass_max_kg": ("joint", None),
        "ring_inertia_max_kg_m2": ("joint", None),
        "second_ring": ("joint", False),
        "bores_mm": ("joint", None),
        "shop.bores_mm": ("shop", None),
        "tip_min_mm": ("joint", None),
        "bore_min_mm": ("joint", joint.bore_min_mm * low),
        "bore_max_mm": ("joint", joint.bore_max_mm * high),
        "head_counts": ("joint", explained_wider_head_counts(joint)),
        "angle_target_arcsec": ("joint", 1e9),
        "head.module_min_mm": ("head", head.module_min_mm * low),
        "head.module_max_mm": ("head", head.module_max_mm * high),
        "head.teeth_min": ("head", fewest),
        "head.teeth_max": ("head", int(np.ceil(head.teeth_max * high))),
        "head.gap_left_min_mm": ("head", -1e6),
        "head.tooth_rate_max_hz": ("head", 1e12),
        "head.width_mm": ("head", 1e-9),
        "shop.rim_min_mm": ("shop", shop.rim_min_mm * rim),
        "shop.rim_min_depths": ("shop", shop.rim_min_depths * rim),
        "shop.rim_max_mm": ("shop", None),
        "shop.clamp_runout_share": ("shop", None),
        "shop.teeth_allowed": ("shop", None),
        "shop.teeth_multiple_of": ("shop", None),
        "shop.teeth_largest_prime": ("shop", None),
        "shop.wire_diameter_mm": ("shop", None),
        "target.angle_target_arcsec": ("target", 1e9),
        "target.resolution_bits": ("target", None),
    }
    updates: dict[str, Json] = {"joint": {}, "head": {}, "shop": {}, "target": {}}
    for limit in limits:
        part, value = wide[limit.field]
        updates[part][limit.field.rpartition(".")[2]] = value
    robot = study.robots[0].model_copy(
        update={"joints": [joint.model_copy(update=updates["joint"])]}
    )
    return study.model_copy(
        update={
            "robots": [robot],
            "head": head.model_copy(update=updates["head"]),
            "shop": shop.model_copy(update=updates["shop"]),
            "target": target.model_copy(update=updates["target"]),
        }
    )


def has_row(study: Study) -> bool:
    """Say whether some ring keeps every limit of every joint."""
    rated = rate(study, catalogue(study))
    return len(np.unique(rated.catalogue.joint[rated.inside])) == len(rated.catalogue.joints)


def own_tight_joint(seed: int) -> Json:
    """Return a random joint, less tight, of a shop with a wire and tooth counts of its own."""
    rng, data = random.Random(seed + 0.5), tight_joint(seed)
    (row,), shop = data["robots"][0]["joints"], data["shop"]
    row["tip_max_mm"] += rng.choice((0.0, 2.0, 5.0))
    shop.update(cutting="wire", wire_diameter_mm=rng.choice((0.3, 0.5, 0.7, 0.9)))
    if rng.random() < 0.6:
        shop["teeth_multiple_of"] = rng.choice((6, 9))
    if rng.random() < 0.6:
        shop["teeth_largest_prime"] = rng.choice((3, 5))
    if rng.random() < 0.3:
        shop["teeth_allowed"] = [54, 60, 72, 90, 120]
    return data


def check_joint(seed: int, drawn: Callable[[int], Json] = tight_joint) -> int:
    """Check the blockers of a random joint, drawn by its seed; return how many there were."""
    study = load(drawn(seed)).canonical()
    limits = rated_ring_limits(study)
    world = explanation_rows_widened(study, {0: 99})
    assert world.margin == MARGIN
    found = explain_joint_blockers(world, 0)
    assert (not found.blockers) == has_row(study)

    def possible(held: set[int]) -> bool:
        return has_row(dropped(study, [limit for i, limit in enumerate(limits) if i not in held]))

    for blocker in found.blockers:
        members = set(blocker.limits)
        assert not possible(members), (seed, blocker)
        for one in members:
            assert possible(members - {one}), (seed, blocker, one)
    rng = random.Random(seed)
    for _ in range(6 if found.complete else 0):  # nothing else blocks
        held = {i for i in range(len(limits)) if rng.random() < rng.choice((0.4, 0.7, 0.9))}
        expected = not any(set(blocker.limits) <= held for blocker in found.blockers)
        assert possible(held) == expected, (seed, sorted(held))
    return len(found.blockers)


# -- several joints --------------------------------------------------------------------------------------


def tight_study(seed: int) -> Json:
    """Return a small random study of several joints, with a limit or two set beyond what is possible."""
    rng = random.Random(1000 + seed)
    data = random_study(seed)
    wishes, joints = data["wishes"], [j for r in data["robots"] for j in r["joints"]]
    for _ in range(8):
        kind = rng.randrange(6)
        if kind == 0:
            wishes["cutters_max"] = 1
        elif kind == 1:
            wishes["ring_parts_max"] = max(1, wishes.get("ring_parts_max", len(joints)) - 1)
        elif kind == 2 and "heads_max" in wishes:
            wishes["heads_max"] = max(1, wishes["heads_max"] - 1)
        elif kind == 3 and "material_max_kg" in wishes:
            wishes["material_max_kg"] *= 0.9
        elif kind == 4:
            for robot in data["robots"]:
                if robot.get("tool_point_target_um"):
                    robot["tool_point_target_um"] *= 0.8
        elif rng.random() < 0.2:
            joint = rng.choice(joints)
            joint["bore_max_mm"] = joint["bore_min_mm"]
            joint["tip_max_mm"] -= 2.0
            joint["tip_min_mm"] = min(joint["tip_min_mm"], joint["tip_max_mm"])
        if not listed(load(data)):
            break
    return data


def listed(study: Study) -> bool:
    """Say by listing every combination whether a study is possible; raises OverflowError for too many."""
    if combinations(inside_rows(study)) > LISTED_MAX:
        raise OverflowError
    return listed_best(table(study), 1.0) is not None


def without(study: Study, blocker: Blocker, shared: set[int], joints: set[int]) -> Study:
    """Return the study of some joints of a blocker, with some of its limits over joints only."""
    refs = [(robot.name, joint.name) for robot in study.robots for joint in robot.joints]
    names = {refs[index] for index in joints}
    kept = [blocker.shared[index] for index in shared]
    wishes = {limit.path.partition(".")[2]: limit.given for limit in kept if limit.wish}
    fields = {"cutters_max": None, "ring_parts_max": None, "heads_max": None}
    robots = []
    for robot in study.robots:
        held = {limit.field for limit in kept if limit.robot == robot.name}
        update: Json = {"joints": [j for j in robot.joints if (robot.name, j.name) in names]}
        for field in ("tool_point_target_um", *RING_SUMS):
            if field not in held:
                update[field] = None
        robots.append(robot.model_copy(update=update))
    free = {**fields, "material_max_kg": None, **wishes}
    return study.model_copy(
        update={
            "robots": [robot for robot in robots if robot.joints],
            "wishes": study.wishes.model_copy(update=free),
        }
    )


def check_shared(seed: int, drawn: Callable[[int], Json] = tight_study) -> int:
    """Check the blockers across the joints of a study, drawn by its seed; return how many there were."""
    study = load(drawn(seed)).canonical()
    found = explain_blockers(study).found
    assert (not found.blockers) == listed(study), seed
    across = [blocker for blocker in found.blockers if blocker.joint is None]
    for blocker in across:
        shared, joints = set(range(len(blocker.shared))), set(blocker.joints)
        assert not listed(without(study, blocker, shared, joints)), (seed, blocker)
        for one in shared:
            if shared - {one}:
                assert listed(without(study, blocker, shared - {one}, joints)), (seed, blocker)
        for one in joints:
            if joints - {one}:
                assert listed(without(study, blocker, shared, joints - {one})), (seed, blocker)
    return len(across)


# -- reliefs ---------------------------------------------------------------------------------------------


def with_ways(study: Study, way: Way, less: int | None = None) -> Study:
    """Return the study with a relief applied, one of its values a step less."""
    limits = {resolve_field_path(study, limit.path).text: limit for limit in every_limit(study)}
    values = {}
    for index, change in enumerate(way.changes):
        value: Any = change.value
        if index == less:
            limit = limits[change.path]
            value = list(limit.counts) or limit.json_value(limit.one_less(float(value)))
        values[resolve_field_path(study, change.path)] = value
    return edited_study(study, values)


def every_limit(study: Study) -> list[Limit]:
    """Return every limit of a study."""
    from ringset.rating.stated_limits import rated_shared_limits

    study = study.canonical()
    return [*rated_ring_limits(study), *rated_shared_limits(study)]


def check_reliefs(seed: int, data: Json) -> tuple[Explanation, int]:
    """Check every relief of a study by listing: possible, and not with one step less; count them."""
    study = load(data)
    explanation = explain_impossible(study)
    ways = [*explanation.singles, *(way for front in explanation.fronts for way in front)]
    ways += [explanation.together] if explanation.together else []
    limits = {resolve_field_path(study, limit.path).text for limit in every_limit(study)}
    checked = 0
    for way in ways:
        if any(change.path not in limits for change in way.changes):
            continue  # no limits, but inputs; see test_why
        try:
            assert listed(with_ways(study, way)), (seed, way)
            for index in range(len(way.changes)):
                assert not listed(with_ways(study, way, index)), (seed, way, index)
            checked += 1
        except OverflowError:
            continue
    return explanation, checked


#: Limits whose every value within reach may be stated.
_ALWAYS_STATED = {
    "tip_max_mm", "tip_min_mm", "bore_min_mm", "bore_max_mm", "head_counts", "angle_target_arcsec",
    "target.angle_target_arcsec", "head.tooth_rate_max_hz",
}  # fmt: skip


def check_none_missing(data: Json) -> None:
    """Check that a limit of one joint is among the reliefs just where dropping it alone frees the joint."""
    study = load(data)
    ways = explain_impossible(study).singles
    paths = {way.changes[0].path for way in ways}
    for limit in rated_ring_limits(study.canonical()):
        path = resolve_field_path(study, limit.path).text
        frees = has_row(dropped(study.canonical(), [limit]))
        if path in paths:
            assert frees, path
        elif len(ways) < SINGLES_MAX and limit.field in _ALWAYS_STATED:
            assert not frees or has_row(study.canonical()), path
