"""The band knows the limits that joints share: tool points, batteries, lines and prices have careful ends.

No row alone tells of them. Each end is held against the direct solve of the study with that input alone
there: what is careful never does better than what is hopeful.
"""

from __future__ import annotations

import pytest

from ringset.analysis.assumptions.band import find_band
from ringset.analysis.assumptions.screen import Screen
from ringset.analysis.assumptions.shared_limits import assumption_shared_uses
from ringset.schema.assumed_inputs import assumed_inputs, study_with_inputs
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.electronic_studies import stated
from tests.support.studies import Json, inside_rows, load, small

#: By path: the hopeful and the careful end.
Ends = dict[str, tuple[object, object]]
TOOL_POINT: Ends = {
    "robots.arm.tool_point_target_um": (600.0, 250.0),
    'joints."joint 1".reach_mm': (300.0, 900.0),
}
REPEATABILITY: Ends = {
    "robots.arm.tool_point_repeatability_target_um": (80.0, 35.0),
    'joints."joint 1".reach_mm': (300.0, 900.0),
}
BATTERY: Ends = {
    "robots[].battery.usable_share": (0.9, 0.6),
    "robots[].battery.self_discharge_per_year": (0.01, 0.06),
    "robots[].battery.unpowered_share": (0.1, 1.0),
}
LINE: Ends = {
    "robots[].line.bit_rate_mbit_per_s": (10.0, 1.0),
    "robots[].line.turns_bits": (8, 32),
    "robots[].line.cable_m": (3.0, 30.0),
}
PRICES: Ends = {"shop.prices.head": (5.0, 60.0), "shop.prices.cutter": (80.0, 100.0)}


def tool_point() -> Study:
    data = small()
    data["robots"][0]["tool_point_target_um"] = 400.0
    ranges = {path: sorted(ends) for path, ends in TOOL_POINT.items()}  # type: ignore[type-var]
    return load(data | {"ranges": ranges})


def priced() -> Study:
    data = small()
    data["shop"]["prices"] = {
        "cutter": 90.0, "set_up_per_ring_part": 35.0, "material_per_kg": 40.0, "head": 12.0,
        "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.05},
    }  # fmt: skip
    ranges = {path: list(ends) for path, ends in PRICES.items()}
    return load(data | {"ranges": ranges, "wishes": {"order": ["cost", "heads"]}})


def repeating() -> Study:
    data = small()
    data["robots"][0]["tool_point_repeatability_target_um"] = 60.0
    ranges = {path: sorted(ends) for path, ends in REPEATABILITY.items()}  # type: ignore[type-var]
    return load(data | {"ranges": ranges})


CASES = [
    (tool_point(), TOOL_POINT),
    (load(stated()), BATTERY | LINE),
    (priced(), PRICES),
    (repeating(), REPEATABILITY),
]


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(
    ("study", "ends"), CASES, ids=["tool point", "electronics", "prices", "repeatability"]
)
def test_limits_over_joints_have_careful_ends(study: Study, ends: Ends) -> None:
    found = {one.path: one for one in find_band(study, causes_s=0.0).inputs}
    assert set(ends) <= set(found)
    for path, (hopeful, careful) in ends.items():
        assert (found[path].hopeful, found[path].careful) == (hopeful, careful), path
        assert found[path].weight > 0.0 or path in PRICES


def rank(study: Study) -> tuple[object, ...]:
    """Return what a study comes to, the better the less."""
    answer = solve(study)
    assert answer.status in ("proven", "impossible")
    return (answer.status == "impossible", *(stage.value for stage in answer.proof.stages))


@pytest.mark.parametrize(
    ("study", "ends"), [CASES[0], CASES[2], CASES[3]], ids=["tool point", "prices", "repeatability"]
)
def test_the_careful_end_alone_is_never_better(study: Study, ends: Ends) -> None:
    inputs = {one.path: one for one in assumed_inputs(study.canonical())}
    differ = 0
    for path, values in ends.items():
        hopeful, careful = (
            rank(study_with_inputs(study.canonical(), [(inputs[path], value)]))  # type: ignore[list-item]
            for value in values
        )
        assert hopeful <= careful, path
        differ += hopeful < careful
    assert differ >= 1


def test_uses_are_those_that_the_answer_tells() -> None:
    """A tool point, a battery and a line of one robot, and another robot without any of them."""
    data: Json = stated()
    data["robots"][0]["tool_point_target_um"] = 400.0
    data["robots"][0]["tool_point_repeatability_target_um"] = 100.0
    data["target"]["reserve_percent"] = 10.0
    study = load(data)
    answer = solve(study)
    assert answer.status == "proven"
    uses = Screen(study, answer).base.uses
    (told,) = [robot for robot in answer.electronics if robot.robot == "arm"]
    (point,) = [point for point in answer.tool_points if point.robot == "arm"]
    assert told.battery_life_years is not None
    assert told.cycle_us is not None
    assert uses == pytest.approx(
        [
            point.error_um / 360.0,
            point.repeatability_um / 90.0,
            5.0 / told.battery_life_years,
            told.cycle_us / 400.0,
            *[0] * 8,
        ],
        rel=1e-9,
    )


def test_so_are_the_uses_of_mass_and_inertia() -> None:
    data = small()
    free = solve(load(data)).robot_rings[0]
    data["robots"][0]["rings_mass_max_kg"] = 2.0 * free.rings_mass_kg
    data["robots"][0]["rings_inertia_max_kg_m2"] = 4.0 * free.rings_inertia_kg_m2
    study = load(data)
    uses = Screen(study, solve(study)).base.uses
    # a limit below 1 has an absolute allowance of 1e-9, which is more of the inertia
    assert uses == pytest.approx([0, 0, 0, 0, 0.5, 0.25], rel=1e-5)


def test_a_joint_without_rows_uses_all_there_is() -> None:
    data = small()
    data["robots"][0]["tool_point_target_um"] = 400.0
    study = load(data).canonical()
    rows = inside_rows(study)
    none = rows.take(rows.catalogue.joint != 0)
    assert assumption_shared_uses(study, none)[0] == float("inf")
    assert assumption_shared_uses(study, none)[1:].tolist() == [0.0] * 5
