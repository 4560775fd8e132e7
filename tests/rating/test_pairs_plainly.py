"""Rows with a second ring are those that plain loops and the judge's own formulas make, and no others."""

from __future__ import annotations

import math

import pytest

from ringset.physics.budget import Budget
from ringset.physics.limit_rule import number_at_most
from ringset.schema.answer import JointRing
from ringset.schema.joint import Joint
from ringset.schema.study import Study
from ringset.standards.cutters import standard_disc_range_index
from ringset.verification.judge import judge as judging
from ringset.verification.judge.bounds import judge_bounds
from ringset.verification.judge.mounting import judged_rack
from ringset.verification.judge.pairs import KEPT_BY_SECOND, judged_alone, judged_pair_limits
from tests.support.plainly_listed import _counted_through, plain_rings
from tests.support.second_rings import paired_study
from tests.support.studies import inside_rows, load

Key = tuple[int, float, int, float, int, int]


def seconds(study: Study, robot: str, joint: Joint) -> list[tuple[JointRing, float]]:
    """Return every ring that could be the second one of a joint, with its blank in kg."""
    found = []
    for ring in _counted_through(study, robot, joint):
        rack = judged_rack(study.shop, ring.module_mm)
        root = ring.module_mm * (ring.teeth - 2.0 * rack.dedendum + 2.0 * study.shop.profile_shift)
        if root <= ring.bore_mm or any(True for _ in judging._not_made(study, joint, ring)):
            continue
        sizes = judging.judged_ring_sizes(study, joint, ring)
        bounds = judging._bounds(study, joint, ring, sizes)
        kept = [bound for bound in bounds if bound.limit in KEPT_BY_SECOND]
        if not any(True for _ in judge_bounds(kept)):
            found.append((ring, sizes.blank_kg))
    return found


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", range(14, 34))
def test_the_pairs_are_those_of_plain_loops_and_the_judge(seed: int) -> None:
    """Neither the catalogue nor the rating of pairs is used on the one side, nor the judge on the other."""
    study = load(paired_study(seed)).canonical()

    def budget(placed: Joint, ring: JointRing) -> Budget:
        return judging.judged_ring_sizes(study, placed, ring).budget

    joints = [(robot.name, joint) for robot in study.robots for joint in robot.joints]
    others = [
        seconds(study, robot, judged_alone(joint)) if joint.second_ring else []
        for robot, joint in joints
    ]
    plain: dict[Key, float] = {}
    tolerated: dict[tuple[int, float, float, int, int], bool] = {}
    for one in plain_rings(study):
        ring, joint = one.ring, joints[one.joint][1]
        key = (one.joint, ring.module_mm, ring.teeth, ring.bore_mm, ring.heads)
        if not joint.second_ring:
            plain[*key, 0] = one.blank_kg
            continue
        for second, blank in others[one.joint]:
            if (second.module_mm, second.bore_mm) != (ring.module_mm, ring.bore_mm):
                continue
            if math.gcd(second.teeth, ring.teeth) > 1 or not _one_cutter(study, ring, second):
                continue
            pair = (one.joint, ring.module_mm, ring.bore_mm, ring.teeth, second.teeth)
            if pair not in tolerated:
                tolerated[pair] = bool(
                    number_at_most(*judged_pair_limits(joint, ring, second, budget))
                )
            if tolerated[pair]:
                plain[*key, second.teeth] = one.blank_kg + blank
    rated = inside_rows(study)
    rows = rated.catalogue
    columns = (
        rows.joint.tolist(), rows.module_mm().tolist(), rows.teeth.tolist(), rows.bore_mm().tolist(),
        rows.heads.tolist(), rows.partner_teeth().tolist(), rated.blank_kg.tolist(),
    )  # fmt: skip
    ours: dict[Key, float] = {}
    for *place, blank in zip(*columns, strict=True):
        ours[tuple(place)] = blank
    assert set(ours) == set(plain)
    assert all(blank == pytest.approx(plain[key], rel=1e-12) for key, blank in ours.items())


def _one_cutter(study: Study, ring: JointRing, second: JointRing) -> bool:
    if study.shop.cutting not in ("disc_8", "disc_15"):
        return True
    one, other = (standard_disc_range_index(study.shop.cutting, r.teeth) for r in (ring, second))
    return bool(one == other)
