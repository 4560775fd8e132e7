"""Every ring of small studies by plain loops, each held to its limits by the judge's own formulas.

Nothing of catalogue, rating, reduction or search is used: the rows come from counting through modules, tooth
counts, bores, head counts and gaps one by one, and what they come to from `verification.judge`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ringset.physics.toolpoint import lever_error_um
from ringset.schema.answer import JointRing
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.study import Study
from ringset.standards.materials import standard_material_in_full
from ringset.standards.modules import standard_series_modules
from ringset.standards.pitches import standard_pitch_module_mm
from ringset.verification.judge import judge as judging
from ringset.verification.judge.bounds import judge_bounds
from ringset.verification.judge.mounting import judged_rack
from ringset.verification.judge.ring_amounts import judged_bore_list
from ringset.verification.judge.whole_answer import judged_bore_limits_um


@dataclass(frozen=True)
class PlainRing:
    """A ring on a joint that keeps every limit of single rings, with what the judge computes of it."""

    joint: int
    ring: JointRing
    blank_kg: float
    error_arcsec: float
    lever_um: float
    repeatability_arcsec: float
    finished_kg: float
    inertia_kg_m2: float


def plain_rings(study: Study) -> list[PlainRing]:
    """Return every ring that each joint of a study in canonical order could take; of several gaps the best.

    The joint is its place in the study, robot after robot.
    """
    found: list[PlainRing] = []
    place = 0
    for robot in study.robots:
        for joint in robot.joints:
            best: dict[tuple[float, int, float, int], PlainRing] = {}
            for ring in _counted_through(study, robot.name, joint):
                kept = _kept(study, place, joint, ring)
                if kept is None:
                    continue
                key = (ring.module_mm, ring.teeth, ring.bore_mm, ring.heads)
                if key not in best or kept.error_arcsec < best[key].error_arcsec:
                    best[key] = kept
            found += best.values()
            place += 1
    return found


def _kept(study: Study, place: int, joint: Joint, ring: JointRing) -> PlainRing | None:
    """Return the ring with its numbers, None where it breaks a limit."""
    if any(True for _ in judging._not_made(study, joint, ring)):
        return None
    if any(True for _ in judged_bore_list(study, joint, ring.bore_mm)):
        return None
    rack = judged_rack(study.shop, ring.module_mm)
    root = ring.module_mm * (ring.teeth - 2.0 * rack.dedendum + 2.0 * study.shop.profile_shift)
    if root <= ring.bore_mm:  # no rim at all, for which no formula holds
        return None
    sizes = judging.judged_ring_sizes(study, joint, ring)
    bounds = judging._bounds(study, joint, ring, sizes)
    if any(True for _ in judge_bounds(bounds)):
        return None
    error = float(sizes.budget.total(study.target.basis))
    lever = float(lever_error_um(joint.reach_mm, error))
    scatter = sizes.repeatability[study.target.basis]
    finished = (sizes.finished_kg, sizes.inertia)
    return PlainRing(place, ring, sizes.blank_kg, error, lever, scatter, *finished)


def _counted_through(study: Study, robot: str, joint: Joint) -> Iterator[JointRing]:
    """Yield every ring between the least and the largest tooth count and bore, at every gap."""
    shop, head = study.shop, study.head_of(joint)
    stated = (
        standard_series_modules(shop.modules) if isinstance(shop.modules, str) else shop.modules
    )
    modules = [standard_pitch_module_mm(one) if isinstance(one, str) else one for one in stated]
    first = math.ceil(joint.bore_min_mm / shop.bore_step_mm - 1e-6)
    last = math.floor(joint.bore_max_mm / shop.bore_step_mm + 1e-6)
    bores = [round(step * shop.bore_step_mm, 9) for step in range(max(1, first), last + 1)]
    for module in sorted(set(modules)):
        # a tip circle beyond the limit or the housing, or a pitch circle inside the bore, ends the count
        most = min(head.teeth_max, math.ceil(_widest_mm(joint, head) / module))
        fewest = max(head.teeth_min, math.floor(joint.bore_min_mm / module))
        for teeth in range(fewest, most + 1):
            for bore in bores:
                for heads in joint.head_counts:
                    for gap in _gaps(head):
                        yield _ring(study, robot, joint, module, teeth, bore, heads, gap)


def _widest_mm(joint: Joint, head: Head) -> float:
    """Return a tip diameter that no ring of the joint passes: its limit, or the housing less both heads."""
    tips = math.inf if joint.tip_max_mm is None else joint.tip_max_mm
    if joint.housing_max_mm is None:
        return tips
    return min(tips, joint.housing_max_mm - 2.0 * head.height_above_tips_mm)


def _gaps(head: Head) -> list[float]:
    if head.gap_min_mm is None or head.gap_max_mm is None:
        return [head.gap_mm]
    steps = math.floor((head.gap_max_mm - head.gap_min_mm) / head.gap_step_mm + 1e-9)
    return [round(head.gap_min_mm + step * head.gap_step_mm, 9) for step in range(steps + 1)]


def _ring(
    study: Study, robot: str, joint: Joint, module: float, teeth: int, bore: float, heads: int, gap: float
) -> JointRing:  # fmt: skip
    """Return the ring with only what the judge reads of it before it holds numbers against each other."""
    shop = study.shop
    lower, upper = judged_bore_limits_um(study, joint, bore)
    return JointRing.model_construct(
        robot=robot, joint=joint.name, module_mm=module, teeth=teeth, bore_mm=bore, heads=heads, gap_mm=gap,
        face_width_mm=joint.face_width_mm, profile_shift=shop.profile_shift,
        flank_class=shop.flank_class,
        material=standard_material_in_full(shop.material, shop.material_treatment),
        bore_lower_um=lower, bore_upper_um=upper,
    )  # fmt: skip
