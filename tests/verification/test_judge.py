"""The judge finds every misstated number: one at a time is changed in a good answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from ringset.physics.budget import TERMS
from ringset.schema.answer import Answer, JointRing
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.studies import Json, load, two_robots


def first_ring(answer: Answer, **fields: Any) -> Answer:
    """Return the answer with fields of its first ring changed."""
    changed = answer.rings[0].model_copy(update=fields)
    return answer.model_copy(update={"rings": [changed, *answer.rings[1:]]})


def piece(answer: Answer, name: str, **fields: Any) -> Answer:
    """Return the answer with fields of a piece changed: a name, or the first of a list."""
    value = getattr(answer, name)
    if isinstance(value, list):
        return answer.model_copy(update={name: [value[0].model_copy(update=fields), *value[1:]]})
    return answer.model_copy(update={name: value.model_copy(update=fields)})


def first_stage(answer: Answer, **fields: Any) -> Answer:
    stages = answer.proof.stages
    return piece(answer, "proof", stages=[stages[0].model_copy(update=fields), *stages[1:]])


def test_a_good_answer_has_no_violation(study: Study, answer: Answer) -> None:
    assert judge(study, answer) == []


def test_listing_the_robots_in_another_order_changes_nothing(study: Study, answer: Answer) -> None:
    turned = study.model_copy(update={"robots": study.robots[::-1]})
    assert judge(turned, answer) == []


# -- rings that cannot be what they are said to be -------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "names"),
    [
        ({"bore_mm": 66.5}, "shop.bore_step_mm"),
        ({"bore_mm": 67.0}, "bore_max_mm"),
        ({"bore_mm": 59.0}, "bore_min_mm"),
        ({"teeth": 89}, "tip_max_mm"),
        ({"teeth": 81}, "tip_min_mm"),
        ({"teeth": 31}, "head.teeth_min"),
        ({"teeth": 513}, "head.teeth_max"),
        ({"module_mm": 1.5}, "shop.modules"),
        ({"heads": 3}, "head_counts"),
        ({"face_width_mm": 8.5}, "face_width_mm"),
        ({"flank_class": 5}, "flank_class"),
        ({"profile_shift": 0.01}, "profile_shift"),
        ({"bore_lower_um": -1e-3}, "bore_lower_um"),
        ({"bore_upper_um": 29.999}, "bore_upper_um"),
        ({"material": "c45 +QT"}, "material"),
    ],
)
def test_a_ring_outside_a_limit_is_named_with_its_joint(
    fields: dict[str, Any], names: str, study: Study, answer: Answer
) -> None:
    violations = judge(study, first_ring(answer, **fields))
    assert any(v.startswith("arm/joint 1: ") and names in v for v in violations), violations


def test_a_bore_beyond_all_tolerance_zones_is_named(study: Study, answer: Answer) -> None:
    """The tables end before nine metres; the rest of what is wrong with such a ring is named too."""
    huge = first_ring(answer, module_mm=50.0, teeth=500, bore_mm=9000.0)
    violations = judge(study, huge)
    assert any("bore 9000.0 mm: no tolerance zone: " in violation for violation in violations)
    assert "arm/joint 1: module 50 mm: not among shop.modules" in violations


def test_a_field_that_is_no_number_is_named_where_it_stops_the_judge(
    study: Study, answer: Answer
) -> None:
    violations = judge(study, first_ring(answer, tip_diameter_mm=None))
    assert violations == ["rings[0].tip_diameter_mm: given null; allowed: a valid number"]


NUMBERS = [
    "pitch_diameter_mm", "tip_diameter_mm", "root_diameter_mm", "rim_mm", "tooth_depth_mm",
    "blank_kg", "finished_kg", "inertia_kg_m2", "gap_mm", "gap_left_mm",
    "housing_diameter_mm", "error_arcsec", "profile_error_um",
    "target_arcsec", "target_left_percent", "displayed_bits", "displayed_step_arcsec",
    "usable_bits", "tool_point_um", "repeatability_arcsec", "tool_point_repeatability_um",
]  # fmt: skip


def test_every_number_of_a_ring_is_in_the_list_above_or_tested_by_name() -> None:
    named = {
        "module_mm", "teeth", "bore_mm", "heads", "face_width_mm", "flank_class", "profile_shift",
        "head_angles_deg", "budget", "electronics", "margins", "robot", "joint", "ring_part", "cutter",
        "bore_lower_um", "bore_upper_um", "material", "absolute_by", "turns_known", "second",
        "repeatability_target_arcsec", "repeatability_left_percent",
    }  # fmt: skip
    assert set(JointRing.model_fields) == named | set(NUMBERS)


@pytest.mark.parametrize("name", NUMBERS)
@pytest.mark.parametrize("factor", [1.0 + 1e-7, 1.0 - 1e-7, 0.0, -1.0])
def test_a_misstated_number_of_a_ring_is_named(
    name: str, factor: float, study: Study, answer: Answer
) -> None:
    given = getattr(answer.rings[0], name) * factor
    violations = judge(study, first_ring(answer, **{name: given}))
    assert any(v.startswith(f"arm/joint 1: {name}") for v in violations), violations


@pytest.mark.parametrize("name", TERMS)
@pytest.mark.parametrize("kind", ["amplitude_arcsec", "standard_arcsec"])
def test_a_misstated_term_of_the_budget_is_named(
    name: str, kind: str, study: Study, answer: Answer
) -> None:
    budget = answer.rings[0].budget
    terms = [
        t.model_copy(update={kind: getattr(t, kind) * 1.001 + 1e-9}) if t.name == name else t
        for t in budget.terms
    ]
    wrong = first_ring(answer, budget=budget.model_copy(update={"terms": terms}))
    violations = judge(study, wrong)
    assert len(violations) == 1
    assert violations[0].startswith(f"arm/joint 1: budget.{name}: ")


@pytest.mark.parametrize(
    "name",
    ["combined", "expanded", "worst_case", "repeatability_expanded", "repeatability_worst_case"],
)
def test_a_misstated_total_of_the_budget_is_named(name: str, study: Study, answer: Answer) -> None:
    budget = answer.rings[0].budget
    value = getattr(budget, f"{name}_arcsec") * 1.001
    changed = budget.model_copy(update={f"{name}_arcsec": value})
    violations = judge(study, first_ring(answer, budget=changed))
    assert [v.split(":")[1].strip() for v in violations] == [f"budget.{name}"]


@pytest.mark.parametrize("change", ["missing", "doubled", "swapped", "renamed"])
def test_terms_of_the_budget_must_be_all_there_in_order(
    change: str, study: Study, answer: Answer
) -> None:
    budget = answer.rings[0].budget
    terms = list(budget.terms)
    terms = {
        "missing": terms[1:],
        "doubled": [*terms, terms[-1]],
        "swapped": [terms[1], terms[0], *terms[2:]],
        "renamed": [terms[0].model_copy(update={"name": "other"}), *terms[1:]],
    }[change]
    wrong = first_ring(answer, budget=budget.model_copy(update={"terms": terms}))
    assert any("budget.terms" in v for v in judge(study, wrong))


def test_heads_must_stand_where_the_study_puts_them(study: Study, answer: Answer) -> None:
    assert any(
        "head_angles_deg" in v for v in judge(study, first_ring(answer, head_angles_deg=[9.0]))
    )


@pytest.mark.parametrize("field", ["value", "allowed", "margin"])
def test_a_misstated_margin_is_named(field: str, study: Study, answer: Answer) -> None:
    for place, margin in enumerate(answer.rings[0].margins):
        margins = list(answer.rings[0].margins)
        wrong = getattr(margin, field) * 1.01 + 0.001
        margins[place] = margin.model_copy(update={field: wrong})
        violations = judge(study, first_ring(answer, margins=margins))
        assert any(margin.limit in v for v in violations), margin.limit


def test_a_missing_margin_is_found(study: Study, answer: Answer) -> None:
    margins = answer.rings[0].margins
    for place in range(len(margins)):
        fewer = margins[:place] + margins[place + 1 :]
        assert judge(study, first_ring(answer, margins=fewer)) != [], margins[place].limit


def test_a_negative_margin_is_named(study: Study, answer: Answer) -> None:
    margins = list(answer.rings[0].margins)
    margins[0] = margins[0].model_copy(update={"margin": -1.0})
    violations = judge(study, first_ring(answer, margins=margins))
    assert any(f"margin of {margins[0].limit}" in v for v in violations)


# -- the right rings for the right joints ----------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (lambda rings: rings[1:], "arm/joint 1: 0 rings"),
        (lambda rings: [*rings, rings[1]], "arm/joint 2: 2 rings"),
        (
            lambda rings: [*rings, rings[0].model_copy(update={"joint": "joint 9"})],
            "arm/joint 9: not a joint",
        ),
        (
            lambda rings: [*rings[:-1], rings[-1].model_copy(update={"robot": "arm"})],
            "table/plate: 0 rings",
        ),
        (lambda rings: [], "table/plate: 0 rings"),
    ],
    ids=["missing", "doubled", "foreign", "on another robot", "none"],
)
def test_every_joint_has_exactly_one_ring(
    change: Callable[[list[JointRing]], list[JointRing]], text: str, study: Study, answer: Answer
) -> None:
    wrong = answer.model_copy(update={"rings": change(answer.rings)})
    assert any(text in violation for violation in judge(study, wrong))


# -- parts, cutters, totals, tool points -----------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (lambda a: first_ring(a, ring_part="R9"), "ring_parts"),
        (lambda a: first_ring(a, ring_part=a.rings[1].ring_part), "ring_parts"),
        (lambda a: _rename(a, 1, ring_part="R9"), "under two names"),
        (lambda a: _rename(a, 1, cutter="C9"), "under two names"),
        (lambda a: _rename(a, 1, cutter=None), "under two names"),
        (lambda a: piece(a, "ring_parts", id="R9"), "ring_parts"),
        (lambda a: piece(a, "cutters", id="C9"), "cutters"),
        (lambda a: a.model_copy(update={"ring_parts": a.ring_parts[1:]}), "ring_parts"),
        (lambda a: a.model_copy(update={"ring_parts": a.ring_parts * 2}), "ring_parts"),
        (lambda a: a.model_copy(update={"cutters": []}), "cutters"),
        (lambda a: a.model_copy(update={"totals": None}), "totals"),
        (lambda a: a.model_copy(update={"tool_points": a.tool_points[1:]}), "tool_points"),
        (lambda a: a.model_copy(update={"tool_points": a.tool_points * 2}), "tool_points"),
        (lambda a: piece(a, "tool_points", target_um=None), "tool_points"),
        (lambda a: piece(a, "tool_points", rule="sum"), "tool_points"),
        (lambda a: piece(a, "tool_points", error_um=a.tool_points[0].error_um / 2), "tool point"),
    ],
)
def test_misnamed_parts_and_misstated_sums_are_found(
    change: Callable[[Answer], Answer], text: str, study: Study, answer: Answer
) -> None:
    violations = judge(study, change(answer))
    assert any(text in violation for violation in violations), violations


def _rename(answer: Answer, index: int, **fields: Any) -> Answer:
    rings = list(answer.rings)
    rings[index] = rings[index].model_copy(update=fields)
    return answer.model_copy(update={"rings": rings})


@pytest.mark.parametrize("name", ["cutters", "ring_parts", "heads", "material_kg", "finished_kg"])
def test_a_misstated_total_is_named(name: str, study: Study, answer: Answer) -> None:
    value = getattr(answer.totals, name)
    wrong = value + 1 if isinstance(value, int) else value * 1.0001
    violations = judge(study, piece(answer, "totals", **{name: wrong}))
    assert any(f"totals.{name}" in violation for violation in violations), violations


@pytest.mark.parametrize(
    ("name", "fields"),
    [
        ("ring_parts", {"module_mm": 1.25}),
        ("ring_parts", {"teeth": 63}),
        ("ring_parts", {"bore_mm": 45.0}),
        ("ring_parts", {"face_width_mm": 9.0}),
        ("ring_parts", {"rim_mm": 6.0}),
        ("ring_parts", {"tip_diameter_mm": 65.0}),
        ("ring_parts", {"quantity": 1}),
        ("ring_parts", {"used_on": ["arm/joint 1"]}),
        ("ring_parts", {"cutter": None}),
        ("cutters", {"module_mm": 1.25}),
        ("cutters", {"kind": "hob"}),
        ("cutters", {"tooth_range": "12 to 13"}),
        ("cutters", {"ring_parts": ["R1"]}),
        ("tool_points", {"count": 7}),
        ("tool_points", {"shares": {"joint 1": 1.0, "joint 2": 0.0, "joint 3": 0.0}}),
        ("tool_points", {"shares": {"elbow": 1.0}}),
    ],
)
def test_what_is_listed_of_parts_cutters_and_tool_points_is_checked(
    name: str, fields: Json, study: Study, answer: Answer
) -> None:
    violations = judge(study, piece(answer, name, **fields))
    assert any(next(iter(fields)) in violation for violation in violations), violations


# -- what the answer says of itself ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (lambda a: a.model_copy(update={"study_sha256": "0" * 64}), "study_sha256"),
        (lambda a: a.model_copy(update={"basis": "worst_case"}), "basis"),
        (lambda a: a.model_copy(update={"cautions": []}), "cautions"),
        (lambda a: a.model_copy(update={"status": "impossible"}), "rings"),
        (lambda a: a.model_copy(update={"status": "undecided"}), "reasons"),
        (lambda a: a.model_copy(update={"reasons": ["ended"]}), "status"),
        (lambda a: first_stage(a, value=2), "proof.stages.cutters"),
        (lambda a: first_stage(a, bound=0), "status"),
        (lambda a: first_stage(a, confirmed_by="nothing"), "status"),
        (lambda a: piece(a, "proof", stages=a.proof.stages[1:]), "proof.stages"),
        (lambda a: piece(a, "proof", stages=a.proof.stages[::-1]), "proof.stages"),
        (lambda a: piece(a, "proof", material_unit_kg=1e-3), "proof.stages.material"),
        (lambda a: first_stage(a, bound=9), "proof.stages.cutters: bound 9 above the value"),
        (
            lambda a: piece(a, "proof", cost_unit=0.01),
            "totals.cost, proof.cost_unit: given although",
        ),
    ],
)
def test_a_statement_that_does_not_fit_is_named(
    change: Callable[[Answer], Answer], text: str, study: Study, answer: Answer
) -> None:
    violations = judge(study, change(answer))
    assert any(violation.startswith(text) for violation in violations), violations


@pytest.mark.parametrize("place", range(4))
def test_every_stage_value_is_recomputed(place: int, study: Study, answer: Answer) -> None:
    stages = list(answer.proof.stages)
    lower = stages[place].value - 1
    stages[place] = stages[place].model_copy(update={"value": lower, "bound": lower})
    violations = judge(study, piece(answer, "proof", stages=stages))
    assert [v.split(":")[0] for v in violations] == [f"proof.stages.{stages[place].wish}"]


def test_an_impossible_study_needs_a_reason_and_no_ring() -> None:
    data = two_robots()
    data["wishes"]["ring_parts_max"] = 1
    study = load(data)
    answer = solve(study)
    assert answer.status == "impossible"
    assert judge(study, answer) == []
    silent = answer.model_copy(update={"reasons": []})
    assert any(v.startswith("reasons") for v in judge(study, silent))
