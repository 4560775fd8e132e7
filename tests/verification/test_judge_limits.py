"""The judge finds every broken limit: the study is tightened under a good answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.verification.judge.judge import judge
from tests.support.studies import Json, load, two_robots


def arm_joint(index: int, **fields: Any) -> Callable[[Json], None]:
    return lambda data: data["robots"][0]["joints"][index].update(fields)


def part(name: str, **fields: Any) -> Callable[[Json], None]:
    return lambda data: data.setdefault(name, {}).update(fields)


def one_head_each(data: Json) -> None:
    """Allow one head a joint; which joint of the answer has two is a matter of ties."""
    for robot in data["robots"]:
        for each in robot["joints"]:
            each["head_counts"] = [1]


TIGHTER = {
    "bore_min_mm": arm_joint(2, bore_min_mm=46.0001),
    "bore_max_mm": arm_joint(0, bore_max_mm=65.9999),
    "shop.bore_step_mm": part("shop", bore_step_mm=4.0),
    "tip_max_mm": arm_joint(0, tip_min_mm=80.0, tip_max_mm=83.9999),
    "tip_min_mm": arm_joint(0, tip_min_mm=84.0001),
    "shop.rim_min_mm": part("shop", rim_min_mm=6.7501),
    "rim_min_depths": part("shop", rim_min_depths=3.01),
    "shop.rim_max_mm": part("shop", rim_max_mm=6.7499),
    "shop.modules": part("shop", modules=[1.25, 1.5]),
    "shop.teeth_allowed": part("shop", teeth_allowed=[63, 65]),
    "shop.teeth_multiple_of": part("shop", teeth_multiple_of=7),
    "shop.teeth_largest_prime": part("shop", teeth_largest_prime=2),
    "shop.wire_diameter_mm": part("shop", cutting="wire", wire_diameter_mm=0.8),
    "head.module_min_mm": part("head", module_min_mm=1.0001),
    "head.module_max_mm": part("head", module_max_mm=0.9999),
    "head.teeth_min": part("head", teeth_min=63),
    "head.teeth_max": part("head", teeth_max=81),
    "head_counts": one_head_each,
    "face_width_mm": arm_joint(0, face_width_mm=9.0),
    "flank_class": part("shop", flank_class=7),
    "profile_shift": part("shop", profile_shift=0.1),
    "head.tooth_rate_max_hz": part("head", tooth_rate_max_hz=20.4999),
    "angle_target_arcsec": part("target", angle_target_arcsec=189.3),
    "repeatability_target_arcsec": part("target", repeatability_target_arcsec=15.0),
    "tool_point_repeatability_target_um": lambda data: data["robots"][0].update(
        tool_point_repeatability_target_um=25.0
    ),
    "shop.clamp_runout_share": part("shop", clamp_runout_share=0.044),
    "target.resolution_bits": part("target", resolution_bits=15.76),
    "tool_point_target_um": lambda data: data["robots"][0].update(tool_point_target_um=319.38),
    "wishes.cutters_max": part("wishes", cutters_max=0),
    "wishes.ring_parts_max": part("wishes", ring_parts_max=1),
    "wishes.heads_max": part("wishes", heads_max=12),
    "wishes.material_max": part("wishes", material_max_kg=1.1452),
    "housing_max_mm": arm_joint(0, housing_max_mm=108.7999),
    "bores_mm": arm_joint(0, bores_mm=[62.0, 64.0]),
    "shop.bores_mm": part("shop", bores_mm=[42.0, 44.0, 66.0]),
    "axial_room_mm": arm_joint(1, axial_room_mm=11.9999),
    "ring_mass_max_kg": arm_joint(0, ring_mass_max_kg=0.11585),
    "ring_inertia_max_kg_m2": arm_joint(2, ring_inertia_max_kg_m2=6.308e-5),
    "rings_mass_max_kg": lambda data: data["robots"][0].update(rings_mass_max_kg=0.28482),
    "rings_inertia_max_kg_m2": lambda data: data["robots"][1].update(
        rings_inertia_max_kg_m2=6.308e-5
    ),
    "proof.stages": part("wishes", order=["ring_parts", "cutters", "heads", "material"]),
}


@pytest.mark.parametrize("limit", TIGHTER)
def test_a_broken_limit_is_named(limit: str, answer: Answer) -> None:
    data = two_robots()
    TIGHTER[limit](data)
    tighter = load(data)
    stamped = answer.model_copy(update={"study_sha256": tighter.fingerprint()})
    violations = judge(tighter, stamped)
    assert any(limit in violation for violation in violations), violations


def test_the_target_of_one_joint_is_a_limit_of_that_joint(answer: Answer) -> None:
    data = two_robots()
    arm_joint(0, angle_target_arcsec=54.9)(data)
    tighter = load(data)
    stamped = answer.model_copy(update={"study_sha256": tighter.fingerprint()})
    violations = judge(tighter, stamped)
    assert any("angle_target_arcsec 54.9" in violation for violation in violations)
    assert all(violation.startswith("arm/joint 1: ") for violation in violations)


def test_the_other_basis_is_another_question(answer: Answer) -> None:
    data = two_robots()
    part("target", basis="worst_case", angle_target_arcsec=2000.0)(data)
    wider = load(data)
    stamped = answer.model_copy(update={"study_sha256": wider.fingerprint()})
    assert any("basis" in violation for violation in judge(wider, stamped))


@pytest.mark.parametrize("limit", TIGHTER)
def test_an_answer_to_another_study_is_refused(limit: str, answer: Answer) -> None:
    data = two_robots()
    TIGHTER[limit](data)
    assert any("study_sha256" in violation for violation in judge(load(data), answer))


def test_what_is_stated_of_a_robots_rings_is_recounted(study: Study, answer: Answer) -> None:
    arm, table = answer.robot_rings
    for wrong, named in (
        ([arm], "robot_rings: not one for each robot"),
        ([arm, arm], "robot_rings: not one for each robot"),
        (
            [arm.model_copy(update={"rings_mass_kg": 1.0001 * arm.rings_mass_kg}), table],
            "rings_mass_kg",
        ),
        (
            [arm, table.model_copy(update={"rings_inertia_kg_m2": 2e-4})],
            "table: robot_rings: rings_inertia_kg_m2",
        ),
        ([arm.model_copy(update={"rings_mass_max_kg": 1.0}), table], "rings_mass_max_kg 1.0, None"),
    ):
        violations = judge(study, answer.model_copy(update={"robot_rings": wrong}))
        assert any(named in violation for violation in violations), violations
