"""Fronts over both material and cost: every point by listing, steps that leave nothing far away, bad input.

The listing knows no ceilings and no cells: it adds up every combination and drops those that are beaten.
"""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest

from ringset.analysis.front.axes import STEP_PERCENT, Axes, Step
from ringset.analysis.front.front import find_front
from ringset.analysis.front.models import Front
from ringset.errors import StudyError
from ringset.reporting.answer_text import answer_text
from ringset.reporting.front_text import front_text, report_front_plot
from ringset.schema.prices import IDLE_PRICES
from ringset.schema.study import Study, Wish
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.analysis.front.test_front import COUNTED, values_of
from tests.solving.test_brute_force import CENT, listed_values, table
from tests.support.answered import proven
from tests.support.narrow import present
from tests.support.studies import Json, load, priced_study, small

FIRST, STUDIES, CHUNK = 7740, 60, 6
#: Studies of which an exact front has many points.
MANY = (7740, 7744, 7728, 7750)
#: How many points of a front are solved anew.
POINTS_SOLVED = 8
Values = tuple[int, ...]


def beaten(point: Values, others: np.ndarray) -> bool:
    """Say whether some of the other values come to no more anywhere, and to less somewhere."""
    no_more = np.all(others <= point, axis=1)
    return bool(np.any(no_more & np.any(others < point, axis=1)))


def all_values(study: Study, over: list[Wish], unit_kg: float) -> np.ndarray:
    """Return what every allowed combination comes to on the axes, each once."""
    listed = listed_values(table(study), unit_kg)
    if listed is None:
        return np.empty((0, len(over)), dtype=np.int64)
    values, allowed = listed
    columns = [np.broadcast_to(values[w], allowed.shape)[allowed] for w in over]
    return np.unique(np.stack(columns, axis=1), axis=0)


def listed_front(values: np.ndarray) -> set[Values]:
    """Return the values that no others beat; they come sorted, so that only earlier ones can beat."""
    kept: list[Values] = []
    for point in values.tolist():
        if not kept or not beaten(tuple(point), np.array(kept)):
            kept.append(tuple(point))
    return set(kept)


def axes_of(seed: int) -> list[Wish]:
    """Return both amounts, and up to three counts, in any order."""
    rng = random.Random(seed)
    over: list[Wish] = [*rng.sample(COUNTED, rng.choice((0, 0, 1, 1, 2, 3))), "material", "cost"]
    rng.shuffle(over)
    return over


def unit_of(found: Front) -> float:
    proof = found.points[0].answer.proof
    assert proof.cost_unit == pytest.approx(CENT), "listed in the same units"
    return proof.material_unit_kg


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(FIRST, FIRST + STUDIES, CHUNK))
def test_the_exact_front_is_what_listing_everything_finds(first: int) -> None:
    compared = 0
    for seed in range(first, first + CHUNK):
        study, over = load(priced_study(seed)), axes_of(seed)
        found = find_front(study, over, step="exact")
        assert found.complete, (seed, found.open)
        assert (found.minimised, found.step_percent) == ("cost", 0.0)
        if not found.points:
            assert len(all_values(study, over, 1.0)) == 0, seed
            continue
        wanted = listed_front(all_values(study, over, unit_of(found)))
        assert sorted(values_of(found)) == sorted(wanted), (seed, over)
        compared += 1
    assert compared >= 1


@pytest.mark.cases(fast=1, slow=0)
@pytest.mark.parametrize("seed", MANY)
def test_some_of_these_fronts_have_many_points(seed: int) -> None:
    """So that the tests beside this one compare more than single answers."""
    study, over = load(priced_study(seed)), axes_of(seed)
    found = find_front(study, over, step="exact")
    assert len(found.points) >= 4
    wanted = listed_front(all_values(study, over, unit_of(found)))
    assert sorted(values_of(found)) == sorted(wanted)


@pytest.mark.cases(fast=1, slow=5)
@pytest.mark.parametrize("percent", [1.0, 5.0, 20.0, 50.0])
@pytest.mark.parametrize("seed", [*MANY[:2], *range(FIRST + 1, FIRST + STUDIES), *MANY[2:]])
def test_a_step_leaves_no_answer_further_away_than_one_step(seed: int, percent: float) -> None:
    """For every combination a point is no more in other wishes, and less than a step more in material."""
    study, over = load(priced_study(seed)), axes_of(seed)
    found = find_front(study, over, step=percent)
    assert found.complete
    assert found.step_percent == percent
    if not found.points:
        return
    every = all_values(study, over, unit_of(found))
    points = np.array(values_of(found))
    wanted = listed_front(every)
    assert set(map(tuple, points.tolist())) <= wanted, "each is a point of the exact front"
    assert percent < 20.0 or seed not in MANY or len(points) < len(wanted)
    within = points.astype(np.float64)
    within[:, over.index("material")] *= 1.0 - percent / 100.0
    assert all(np.any(np.all(within <= value, axis=1)) for value in every)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("step", ["exact", 10.0])
@pytest.mark.parametrize("seed", [713, MANY[0], *range(7700, 7724), *MANY[1:]])
def test_every_point_is_a_judged_answer_to_its_own_study(seed: int, step: Step) -> None:
    """Solved anew, too: the point before it, which weighs a little more, is not let in by rounding."""
    study = load(priced_study(seed))
    found = find_front(study, axes_of(seed), step=step)
    for point in found.points[:POINTS_SOLVED]:
        own = load(point.study)
        assert judge(own, point.answer) == []
        again = solve(own)
        assert again.status == "proven"
        assert [s.value for s in again.proof.stages] == [s.value for s in point.answer.proof.stages]
        told, found_again = present(point.answer.totals), present(again.totals)
        assert found_again.material_kg == pytest.approx(told.material_kg, rel=1e-12)
    for one, other in itertools.permutations(values_of(found), 2):
        assert any(a < b for a, b in zip(one, other, strict=True)), "a point is beaten"


def priced(order: list[str], **wishes: object) -> Json:
    data = small()
    data["shop"]["prices"] = {
        "cutter": 90.0, "set_up_per_ring_part": 35.0, "material_per_kg": 4.0, "head": 12.0,
        "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.05},
    }  # fmt: skip
    data["wishes"] = {"order": order, **wishes}
    return data


@pytest.mark.parametrize(
    "order", [["cost", "material"], ["heads", "material", "cost"], ["cost"], ["material"]]
)
def test_without_options_every_study_that_solves_has_a_front(order: list[str]) -> None:
    study = load(priced(order))
    assert solve(study).status == "proven"
    found = find_front(study)
    assert found.complete
    assert found.over == order
    assert found.step_percent == (STEP_PERCENT if len(order) > 1 else None)
    first = {wish: min(v[i] for v in values_of(found)) for i, wish in enumerate(order)}
    best = {stage.wish: stage.value for stage in proven(study).proof.stages}
    assert first[order[0]] == best[order[0]]  # type: ignore[index]
    if len(order) == 1:
        assert len(found.points) == 1


def test_the_step_is_told() -> None:
    study = load(priced(["cost", "material"]))
    text = " ".join(front_text(find_front(study)).split())
    assert f"Material came down in steps of {STEP_PERCENT:g} %" in text
    assert "less than one step more in material" in text
    exact = " ".join(front_text(find_front(study, step="exact")).split())
    assert "no point is missing" in exact
    assert "steps of" not in exact
    cells = find_front(study, step=3.0).cells
    assert {cell.ceiling_unit for cell in cells} == {"", "1e-06 kg"}


def test_ceilings_come_down_by_the_step_and_by_one_unit_at_least() -> None:
    axes = Axes(("cost", "material"), 10.0)
    assert axes.next_ceiling("material", 1000) == 900
    assert axes.next_ceiling("material", 5) == 4
    assert Axes(("cost", "material"), 0.0).next_ceiling("material", 1000) == 999
    assert Axes(("heads", "material"), None).next_ceiling("heads", 12) == 11
    assert Axes(("material", "heads", "cost"), 1.0).ceilings == ["heads", "material"]


@pytest.mark.parametrize("step", [0.0, -1.0, 50.1, float("nan"), float("inf")])
def test_a_step_out_of_range_is_refused_by_name(step: Step) -> None:
    with pytest.raises(
        StudyError, match=r"step: given .*; allowed: more than 0, at most 50 percent"
    ):
        find_front(load(priced(["cost", "material"])), step=step)


@pytest.mark.parametrize("step", [5.0, "exact"])
def test_a_step_without_two_amounts_is_refused(step: Step) -> None:
    with pytest.raises(StudyError, match=r"step: given .*; allowed: a step where both"):
        find_front(load(small()), step=step)


@pytest.mark.parametrize("over", [["cost", "cost"], ["material", "cost", "material"], ["cost"]])
def test_an_axis_named_twice_or_alone_is_refused(over: list[Wish]) -> None:
    with pytest.raises(StudyError, match=r"over: given .*; allowed: two or more different wishes"):
        find_front(load(priced(["cost", "material"])), over)


def test_prices_that_nothing_asks_for_are_said_to_count_nothing() -> None:
    idle = load(priced(["heads", "material"]))
    answer = proven(idle)
    assert IDLE_PRICES in answer.warnings
    assert "shop.prices count nothing here" in " ".join(answer_text(idle, answer, {}).split())
    found = find_front(idle)
    assert found.notes == [IDLE_PRICES]
    assert "shop.prices count nothing here" in " ".join(front_text(found).split())
    silent = answer.model_copy(update={"warnings": []})
    assert any("shop.prices count nothing" in one for one in judge(idle, silent))


@pytest.mark.parametrize(
    "data",
    [priced(["heads", "cost"]), priced(["heads", "material"], cost_max=1e6), small()],
    ids=["wish", "ceiling", "no prices"],
)
def test_nothing_is_said_where_prices_count_or_none_are_stated(data: Json) -> None:
    study = load(data)
    assert IDLE_PRICES not in proven(study).warnings
    assert find_front(study).notes == []
    asked: list[Wish] = ["heads", "cost"]
    if study.shop.prices is not None:
        assert find_front(study, asked).notes == []


@pytest.mark.cases(fast=0, slow=2)
@pytest.mark.parametrize("across", ["cutters", "ring_parts", "heads", "material", "cost"])
def test_every_wish_may_stand_across_in_the_picture(across: Wish) -> None:
    found = find_front(load(priced(["heads", "cost", "material"])))
    picture = report_front_plot(found, across)
    assert picture.startswith("<?xml")
    assert picture == report_front_plot(found, across)
    assert (picture == report_front_plot(found)) == (across == "ring_parts")


@pytest.mark.parametrize("across", ["material", "cost"])
def test_an_amount_across_needs_another_upwards(across: Wish) -> None:
    with pytest.raises(ValueError, match=f"across: given {across} without prices"):
        report_front_plot(find_front(load(small())), across)
