"""Repeatability in every analysis: reliefs, prices, room to move, neighbours, fronts, sweeps, comparisons.

Each is held against whole solves of changed studies, or against plain sums over the rings that stand.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest

from ringset.analysis.alternatives.alternatives import (
    alternatives_of,
    standing_ring_of_alternatives,
)
from ringset.analysis.alternatives.neighbourhood import Neighbourhood
from ringset.analysis.assumptions.outcome import assumption_least_margin
from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.explanation.explain import explain_prices, explain_sensitivity, explain_study
from ringset.analysis.front.front import find_front
from ringset.analysis.sweep.sweep import SweepRow, sweep_line, sweep_rows, sweep_table
from ringset.cli import main
from ringset.errors import StudyError
from ringset.reporting.comparison_text import comparison_csv, comparison_text
from ringset.reporting.explanation_text import explanation_text
from ringset.reporting.front_text import front_csv, front_text
from ringset.schema.answer import Answer
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.solving.pipeline import solve
from tests.support.answered import proven
from tests.support.studies import Json, load, small

SHARED, OWN = "target.repeatability_target_arcsec", 'joints."joint 2".repeatability_target_arcsec'
TOOL = "robots.arm.tool_point_repeatability_target_um"


def steady(percent: float = 0.0) -> Json:
    """Return three joints whose arm must repeat within what two heads on its first joint reach."""
    data = small()
    data["target"].update(repeatability_target_arcsec=30.0, reserve_percent=percent)
    data["robots"][0]["joints"][1]["repeatability_target_arcsec"] = 35.0
    data["robots"][0]["tool_point_repeatability_target_um"] = 45.0
    return data


def largest(answer: Answer) -> float:
    return max(r.repeatability_arcsec for r in answer.rings if r.joint != "joint 2")


# -- why ------------------------------------------------------------------------------------------------


@pytest.mark.cases(fast=2)
@pytest.mark.parametrize(
    ("path", "value"), [(SHARED, 5.0), (OWN, 4.0), (TOOL, 9.0)], ids=["shared", "own", "tool point"]
)
def test_a_relief_is_the_least_target_that_is_possible(path: str, value: float) -> None:
    """Solved whole at the value told and one step below it, with a reserve that the value keeps."""
    free = load(steady(25.0))
    study = edited_study(free, {resolve_field_path(free, path): value})
    found = explain_study(study)
    assert found.status == "impossible"
    ways = [way for way in found.singles if way.changes[0].path.endswith(path.rpartition(".")[2])]
    (change,) = ways[0].changes
    assert "repeatability" in change.text
    assert "less 25 % reserve" in change.text
    where, new = resolve_field_path(study, change.path), float(change.value)  # type: ignore[arg-type]
    assert new > value
    assert solve(edited_study(study, {where: new})).status == "proven"
    assert solve(edited_study(study, {where: round(new - 0.1, 9)})).status == "impossible"
    assert "repeatability" in explanation_text(found)


def test_the_blocker_of_a_tool_point_names_it() -> None:
    data = steady()
    data["robots"][0]["tool_point_repeatability_target_um"] = 21.0
    data["wishes"] = {"heads_max": 6}
    found = explain_study(load(data))
    assert found.status == "impossible"
    text = " ".join(explanation_text(found).split())
    assert "tool-point repeatability 21 um" in text
    assert "heads at most 6" in text


@pytest.mark.slow
def test_prices_are_those_of_two_whole_solves() -> None:
    data = steady()
    data["robots"][0]["tool_point_repeatability_target_um"] = 21.6
    study = load(data)
    prices = {price.path: price for price in explain_prices(study)}
    base = proven(study).totals
    assert base is not None
    told = [path for path in prices if "repeatability" in path]
    assert len(told) == 3
    gains = 0
    for path in told:
        price = prices[path]
        for value, change in ((price.loosened, price.gain), (price.tightened, price.loss)):
            other = solve(edited_study(study, {resolve_field_path(study, path): value}))
            if other.totals is None:
                assert change is None
                continue
            assert change is not None
            for wish in ("cutters", "ring_parts", "heads"):
                assert change.get(wish, 0.0) == getattr(other.totals, wish) - getattr(base, wish)
            grams = change.get("material", 0.0)
            assert grams == pytest.approx(other.totals.material_kg - base.material_kg, abs=1e-9)
            robot = "tool-point repeatability of arm"
            before, after = (one.tool_points[0].repeatability_um for one in (proven(study), other))
            assert change.get(robot, 0.0) == pytest.approx(after - before, abs=1e-6)
            gains += abs(grams) > 1e-6
    assert gains >= 1


@pytest.mark.campaign
def test_how_far_a_target_may_come_down_before_it_breaks() -> None:
    study = load(steady(10.0))
    answer = proven(study)
    rooms = {(room.path, room.direction): room for room in explain_sensitivity(study, answer)}
    shared = rooms[SHARED, "down"]
    assert shared.limit == "repeatability_target_arcsec"
    assert shared.holds_to == pytest.approx(largest(answer) / 0.9, rel=1e-5)
    assert shared.target_holds_to == pytest.approx(largest(answer), rel=1e-5)
    (own,) = [room for (path, _), room in rooms.items() if "joint 2" in path and "repeat" in path]
    (second,) = [ring for ring in answer.rings if ring.joint == "joint 2"]
    assert own.holds_to == pytest.approx(second.repeatability_arcsec / 0.9, rel=1e-5)
    limits = {room.limit for room in rooms.values()}
    assert {"repeatability_target_arcsec", "tool_point_repeatability_target_um"} <= limits
    # noise may rise until the tool point stops repeating: to the value at which the sums are the target
    noise = rooms["head.noise_ratio", "up"]
    assert noise.holds_to > study.head.noise_ratio
    louder = study.head.model_copy(update={"noise_ratio": 1.01 * noise.holds_to})
    assert any(
        "repeatability" in problem
        for problem in _problems(study.model_copy(update={"head": louder}), answer)
    )


def _problems(study: object, answer: Answer) -> list[str]:
    from ringset.verification.judge.judge import judge

    return judge(study, answer)  # type: ignore[arg-type]


# -- rings beside those that stand ------------------------------------------------------------------------


@pytest.mark.cases(fast=2)
@pytest.mark.parametrize("place", range(3))
def test_a_neighbour_that_would_scatter_too_much_is_told_so(place: int) -> None:
    """What it says is broken is what a study with this ring alone on its joint would break."""
    data = steady()
    data["robots"][0]["tool_point_repeatability_target_um"] = 1.0005 * _reached(data)
    study = load(data)
    answer = proven(study)
    joint = study.robots[0].joints[place]
    found = alternatives_of(study, answer, study.robots[0], joint)
    told = {(broken.limit, broken.joint) for one in found for broken in one.breaks}
    assert ("tool_point_repeatability_target_um", None) in told
    for one in found:
        for broken in one.breaks:
            if broken.limit == "tool_point_repeatability_target_um":
                assert broken.allowed == pytest.approx(
                    study.robots[0].tool_point_repeatability_target_um
                )
                assert broken.value > broken.allowed


def _reached(data: Json) -> float:
    return proven(load(data)).tool_points[0].repeatability_um


def test_rings_that_scatter_too_much_do_not_stand() -> None:
    answer = proven(load(small()))
    data = small()
    data["robots"][0]["tool_point_repeatability_target_um"] = (
        0.9 * answer.tool_points[0].repeatability_um
    )
    standing = [standing_ring_of_alternatives(ring) for ring in answer.rings]
    with pytest.raises(StudyError, match="tool_point_repeatability_target_um"):
        Neighbourhood(load(data), standing, 1e-6, 0.01)


def test_the_nearest_target_may_be_one_of_repeatability() -> None:
    study = load(steady())
    answer = proven(study)
    point = answer.tool_points[0]
    asked = [1.0 - ring.error_arcsec / 200.0 for ring in answer.rings]
    asked += [
        1.0 - ring.repeatability_arcsec / (35.0 if ring.joint == "joint 2" else 30.0)
        for ring in answer.rings
    ]
    asked.append(1.0 - point.repeatability_um / 45.0)
    assert assumption_least_margin(study, answer) == pytest.approx(min(asked))
    assert min(asked) in (pytest.approx(asked[-1]), *map(pytest.approx, asked[3:6]))


# -- answers beside each other ----------------------------------------------------------------------------


def entries() -> list[Entry]:
    return [
        Entry(name, proven(load(data)), load(data))
        for name, data in (("a", small()), ("b", steady()))
    ]


def test_a_comparison_shows_both_and_what_was_asked() -> None:
    found = compare_answers(entries())
    first, second = (entry.answer for entry in entries())
    totals = {(total.name, total.basis): total for total in found.totals}
    tool = totals["tool_point_repeatability_um", "expanded"]
    assert tool.values == [answer.tool_points[0].repeatability_um for answer in (first, second)]
    assert tool.targets_um == [None, 45.0]
    most = totals["largest_repeatability_arcsec", "expanded"]
    assert most.values == [max(r.repeatability_arcsec for r in a.rings) for a in (first, second)]
    text = " ".join(comparison_text(found).split())
    assert "b: tool-point repeatability target of arm 45 um instead of none." in text
    assert "b: repeatability target 30 arcsec instead of none at arm/joint 1, arm/joint 3." in text
    assert "its repeatability target um none 45" in text
    before, after = tool.values
    assert before is not None
    assert after is not None
    assert f"tool-point repeatability of arm {before:.1f} to {after:.1f} um" in text
    lines = list(csv.DictReader(io.StringIO(comparison_csv(found))))
    assert float(lines[0]["repeatability_expanded_arcsec"]) == first.rings[0].repeatability_arcsec


@pytest.mark.parametrize("rule", ["rss", "sum"])
def test_on_another_basis_it_is_worked_out_from_the_budgets(rule: str) -> None:
    data, worst = small(), small()
    for one in (data, worst):
        one["robots"][0]["tool_point_rule"] = rule
    worst["target"].update(basis="worst_case", angle_target_arcsec=700.0)
    pair = [
        Entry("a", proven(load(data)), load(data)),
        Entry("b", proven(load(worst)), load(worst)),
    ]
    totals = {
        total.basis: total
        for total in compare_answers(pair).totals
        if total.name == "tool_point_repeatability_um"
    }
    other = pair[1].answer
    reach = np.array([500.0, 300.0, 100.0]) * 1000.0 / 206264.806247
    levers = reach * [ring.budget.repeatability_expanded_arcsec for ring in other.rings]
    wanted = float(np.hypot.reduce(levers) if rule == "rss" else levers.sum())
    assert totals["expanded"].values[1] == pytest.approx(wanted, rel=1e-9)
    assert totals["worst_case"].values[1] == other.tool_points[0].repeatability_um


def test_every_point_of_a_front_has_it() -> None:
    found = find_front(load(steady()), ["ring_parts", "material"])
    assert len(found.points) > 1
    lines = list(csv.DictReader(io.StringIO(front_csv(found))))
    for point, line in zip(found.points, lines, strict=True):
        rings = point.answer.rings
        assert all(r.repeatability_arcsec <= (r.repeatability_target_arcsec or 0.0) for r in rings)
        most = max(ring.repeatability_arcsec for ring in rings)
        assert float(line["largest_repeatability_arcsec"]) == most
        reached = point.answer.tool_points[0].repeatability_um
        assert float(line["tool_point_repeatability_um arm"]) == reached <= 45.0
    text = front_text(found)
    assert "arm repeats um" in text
    assert "largest repeatability arcsec" in text


def test_a_sweep_takes_its_path_and_tells_what_came_of_it() -> None:
    study, values = load(small()), [15.0, 25.0, 45.0]
    plan = sweep_rows(study, [TOOL], [[value] for value in values])
    rows = [SweepRow((value,), *sweep_line(study, {TOOL: value})) for value in values]
    cells = {column.name: column.cells for column in sweep_table(plan, rows)}
    assert cells["status"] == ["impossible", "proven", "proven"]
    assert cells["arm tool_point_repeatability_um"][0] is None
    for value, reached, most in zip(
        values[1:],
        cells["arm tool_point_repeatability_um"][1:],
        cells["largest_repeatability_arcsec"][1:],
        strict=True,
    ):
        assert 0.0 < reached <= value
        assert most > 0.0


def test_the_command_solves_and_lists_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = tmp_path / "study.json"
    study.write_text(json.dumps(steady()))
    answer = tmp_path / "answer.json"
    assert main.main(["solve", str(study), "--bare", "--answer", str(answer)]) == 0
    told = json.loads(answer.read_text())
    assert told["tool_points"][0]["repeatability_target_um"] == 45.0
    assert [ring["repeatability_target_arcsec"] for ring in told["rings"]] == [30.0, 35.0, 30.0]
    capsys.readouterr()
    assert main.main(["fields"]) == 0
    listed = capsys.readouterr().out
    for name in ("repeatability_target_arcsec", "tool_point_repeatability_target_um"):
        assert name in listed


@pytest.mark.parametrize("path", [SHARED, OWN, TOOL])
def test_a_sweep_refuses_what_is_no_target_by_name(path: str) -> None:
    """The row is invalid as with any other fault: it names the field, what was given, and what may be."""
    for given in (0, -3, 1e300, "3"):
        fingerprint, line = sweep_line(load(small()), {path: given})
        assert fingerprint is None
        assert line["status"] == "invalid"
        assert path.rpartition(".")[2] in line["reasons"][0]
        assert "allowed" in line["reasons"][0]
