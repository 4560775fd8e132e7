"""The front: nothing missing, nothing beaten, every point an answer that the judge passes."""

from __future__ import annotations

import csv
import itertools
import random
from collections.abc import Iterator
from functools import partial
from io import StringIO

import numpy as np
import pytest

from ringset.analysis.front.front import Front, find_front
from ringset.errors import StudyError
from ringset.reporting.front_text import front_csv, front_text, report_front_plot
from ringset.schema.answer import Answer
from ringset.schema.study import Study, Wish
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import CENT, listed_values, table
from tests.support.narrow import present
from tests.support.studies import load, priced_study, random_study, small, two_robots

STUDIES = 100
CHUNK = 20
COUNTED: tuple[Wish, ...] = ("cutters", "ring_parts", "heads")


def values_of(found: Front) -> list[tuple[int, ...]]:
    """Return what every point comes to on the axes, in the whole units of its proof."""
    stages = [{s.wish: s.value for s in p.answer.proof.stages} for p in found.points]
    return [tuple(values[wish] for wish in found.over) for values in stages]


def listed_front(study: Study, over: list[Wish], unit_kg: float) -> set[tuple[int, ...]] | None:
    """Return the values on the axes that no allowed combination beats, by listing all of them."""
    listed = listed_values(table(study), unit_kg)
    if listed is None:
        return None
    values, allowed = listed
    shape = values["heads"].shape
    columns = [np.broadcast_to(values[wish], shape)[allowed] for wish in over]
    if not len(columns[0]):
        return set()
    # of equal counts only the least amount can stay; it comes last in the sorting
    amounts = sorted(range(len(over)), key=lambda i: over[i] not in COUNTED)
    order = np.lexsort([columns[i] for i in reversed(amounts)])
    counts = np.stack([columns[i][order] for i in range(len(over)) if over[i] in COUNTED])
    first = np.append(True, np.any(np.diff(counts, axis=1) != 0, axis=0))
    points = np.stack([column[order][first] for column in columns], axis=1)
    kept = []
    for point in points:
        better = np.all(points <= point, axis=1) & np.any(points < point, axis=1)
        if not better.any():
            kept.append(tuple(point.tolist()))
    return set(kept)


def axes_of(seed: int) -> list[Wish]:
    """Return two to four axes, some without an amount."""
    rng = random.Random(seed)
    axes: list[Wish] = [*COUNTED, "material"]
    return rng.sample(axes, rng.choice((2, 2, 3, 3, 4)))


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(7000, 7000 + STUDIES, CHUNK))
def test_the_front_is_what_listing_everything_finds(first: int) -> None:
    several = compared = 0
    for seed in range(first, first + CHUNK):
        study, over = load(random_study(seed)), axes_of(seed)
        found = find_front(study, over)
        unit_kg = found.points[0].answer.proof.material_unit_kg if found.points else 1.0
        wanted = listed_front(study, over, unit_kg)
        if not wanted:
            assert found.points == [], seed
            assert found.impossible, seed
            continue
        assert found.complete, (seed, found.open)
        assert sorted(values_of(found)) == sorted(wanted), (seed, over)
        compared += 1
        several += len(wanted) > 1
    assert compared >= CHUNK // 3
    assert several >= 1


@pytest.mark.cases(fast=2, slow=6)
@pytest.mark.parametrize("seed", range(7600, 7630))
def test_the_front_of_money_is_what_listing_everything_finds(seed: int) -> None:
    study, rng = load(priced_study(seed)), random.Random(seed)
    over: list[Wish] = [*rng.sample(COUNTED, rng.choice((1, 2, 3))), "cost"]
    found, wanted = find_front(study, over), None
    assert found.minimised == "cost"
    if found.points:
        proof = found.points[0].answer.proof
        assert proof.cost_unit == pytest.approx(CENT), "listed in the same units"
        wanted = listed_front(study, over, proof.material_unit_kg)
    else:
        wanted = listed_front(study, over, 1.0)
    assert found.complete
    assert sorted(values_of(found)) == sorted(wanted or ())
    assert report_front_plot(found).startswith("<?xml")


@pytest.mark.cases(fast=3, slow=3)
@pytest.mark.parametrize("seed", range(7300, 7312))
def test_every_point_is_a_judged_answer_to_its_own_study(seed: int) -> None:
    study = load(random_study(seed))
    found = find_front(study, axes_of(seed))
    for point in found.points:
        own = load(point.study)
        assert judge(own, point.answer) == []
        again = solve(own)
        assert [s.value for s in again.proof.stages] == [s.value for s in point.answer.proof.stages]
    for one, other in itertools.permutations(values_of(found), 2):
        assert any(a < b for a, b in zip(one, other, strict=True)), "a point is beaten"


@pytest.mark.slow
def test_the_same_study_gives_the_same_bytes() -> None:
    study = load(two_robots())
    assert find_front(study).to_json() == find_front(study).to_json()


def more_than(told: list[Answer], most: int) -> bool:
    """Say whether more answers were told than `most`."""
    return len(told) > most


def called(calls: Iterator[int], times: int) -> bool:
    """Say whether this was asked more often than so many times."""
    return next(calls) >= times


def test_points_are_told_as_they_are_proven_and_stay_when_the_search_is_stopped() -> None:
    study = load({**small(), "robots": [{**small()["robots"][0], "tool_point_target_um": 460.0}]})
    told: list[Answer] = []
    whole = find_front(study, told=told.append)
    keys = {p.answer.to_json() for p in whole.points}
    assert {answer.to_json() for answer in told} == keys
    assert len(keys) >= 2
    for after in range(len(keys)):
        seen: list[Answer] = []
        part = find_front(study, told=seen.append, stop=partial(more_than, seen, after))
        assert {p.answer.to_json() for p in part.points} <= keys
        assert len(part.points) == after + 1
        assert part.complete == (after + 1 == len(keys) and not part.open)
        assert part.complete or part.open


@pytest.mark.slow
def test_a_stop_in_the_middle_of_a_cell_leaves_no_answer_without_proof() -> None:
    study = load({**small(), "robots": [{**small()["robots"][0], "tool_point_target_um": 460.0}]})
    whole = {p.answer.to_json() for p in find_front(study).points}
    seen = set()
    for after in range(40):
        part = find_front(study, stop=partial(called, itertools.count(), after))
        answers = {p.answer.to_json() for p in part.points}
        assert answers <= whole
        assert part.complete != bool(part.open)
        assert not part.complete or answers == whole
        seen.add(len(answers))
    assert seen == set(range(len(whole) + 1))


def test_an_end_of_time_leaves_every_cell_open() -> None:
    study = load({**small(), "search": {"time_limit_s": 1e-3}})
    found = find_front(study)
    assert not found.complete
    assert found.open


def test_a_sweep_of_targets_holds_the_front_of_each() -> None:
    study = load(small())
    targets = [200.0, 150.0, 120.0, 1.0]
    swept = find_front(study, targets_arcsec=targets)
    assert any("target 1 arcsec" in text for text in swept.impossible)
    for target in targets:
        alone = find_front(study, targets_arcsec=[target])
        mine = [p for p in swept.points if target in p.targets_arcsec]
        ours = {value for p, value in zip(swept.points, values_of(swept), strict=True) if p in mine}
        assert ours == set(values_of(alone))
        assert len(mine) == len(alone.points)
        assert all(r.error_arcsec <= target for p in mine for r in p.answer.rings)


@pytest.mark.cases(fast=3, slow=3)
@pytest.mark.parametrize("seed", range(7400, 7415))
def test_no_point_of_a_sweep_is_beaten_where_a_tighter_target_counts_as_better(seed: int) -> None:
    data = random_study(seed)
    target = data["target"]["angle_target_arcsec"]
    study, targets = load(data), [target, 1.2 * target, 1.5 * target]
    swept = find_front(study, ["ring_parts", "material"], targets)
    assert swept.complete, seed
    points = [
        (*value, point.targets_arcsec[-1])
        for value, point in zip(values_of(swept), swept.points, strict=True)
    ]
    for one, other in itertools.permutations(points, 2):
        assert any(a < b for a, b in zip(one, other, strict=True)), (seed, one, other)
    for point in swept.points:
        first = targets.index(point.targets_arcsec[-1])
        span = targets[first : first + len(point.targets_arcsec)]
        assert point.targets_arcsec == span[::-1], "on the front of every target between"


def settled(found: Front, target: float, cell: dict[Wish, int]) -> bool:
    """Say whether the file alone settles a cell: a proven point in it is its best, or it is empty."""
    inside = [
        value[found.over.index(found.minimised)]
        for point, value in zip(found.points, values_of(found), strict=True)
        if target in point.targets_arcsec
        and all(value[found.over.index(wish)] <= most for wish, most in cell.items())
    ]
    for known in found.cells:
        looser = all(known.ceilings[w] >= cell.get(w, -1) and w in cell for w in known.ceilings)
        if known.target_arcsec == target and known.settled and looser:
            if known.wish == found.minimised and known.bound in inside:
                return True
            if known.wish in cell and known.bound > cell[known.wish]:
                return True
    return False


@pytest.mark.cases(fast=6, slow=12)
@pytest.mark.parametrize("seed", range(7500, 7540))
def test_what_the_front_states_settles_every_cell_of_the_grid(seed: int) -> None:
    found = find_front(load(random_study(seed)), axes_of(seed))
    counts = [wish for wish in found.over if wish != found.minimised]
    for target in found.targets_arcsec if found.points else []:
        most = [max(v[found.over.index(w)] for v in values_of(found)) + 1 for w in counts]
        grid = itertools.product(*(range(top + 1) for top in most))
        cells = (dict(zip(counts, values, strict=True)) for values in grid)
        assert all(settled(found, target, cell) for cell in cells)


def test_a_front_that_lacks_a_cell_no_longer_settles_the_grid() -> None:
    found = find_front(
        load({**small(), "target": {"angle_target_arcsec": 120.0}}), ["ring_parts", "material"]
    )
    assert len(found.points) >= 2
    target = found.targets_arcsec[0]
    grid: list[dict[Wish, int]] = [{"ring_parts": most} for most in range(5)]
    assert all(settled(found, target, cell) for cell in grid)
    for dropped in range(len(found.cells)):
        rest = found.cells[:dropped] + found.cells[dropped + 1 :]
        lacking = found.model_copy(update={"cells": rest})
        assert not all(settled(lacking, target, cell) for cell in grid)


@pytest.mark.cases(fast=3, slow=3)
@pytest.mark.parametrize("seed", range(7540, 7552))
def test_values_are_those_of_the_totals(seed: int) -> None:
    found = find_front(load(random_study(seed)), axes_of(seed))
    for point, values in zip(found.points, values_of(found), strict=True):
        totals, proof = point.answer.totals, point.answer.proof
        for wish, value in zip(found.over, values, strict=True):
            if wish == "material":  # every ring is counted rounded up to whole units
                built = len(point.answer.rings)
                short = value - present(totals).material_kg / proof.material_unit_kg
                assert -1e-3 <= short <= built + 1e-3
            else:
                assert value == getattr(totals, wish)


@pytest.mark.parametrize(
    "over",
    [
        ["material"],
        ["heads", "heads"],
        ["material", "cost"],
        ["cutters", "material", "cutters"],
        ["cutters", "cost"],  # of a study without prices
    ],
)
def test_axes_that_are_none_are_refused(over: list[str]) -> None:
    with pytest.raises(StudyError, match="over: given"):
        find_front(load(small()), over)  # type: ignore[arg-type]


@pytest.mark.parametrize("target", [0.0, -3.0, 648001.0, float("nan"), float("inf")])
def test_targets_that_are_none_are_refused(target: float) -> None:
    with pytest.raises(StudyError, match="targets: given"):
        find_front(load(small()), targets_arcsec=[target])


def test_table_and_csv_tell_what_the_points_hold() -> None:
    found = find_front(load(two_robots()))
    rows = list(csv.DictReader(StringIO(front_csv(found))))
    assert [float(row["material_kg"]) for row in rows] == [
        present(p.answer.totals).material_kg for p in found.points
    ]
    text = front_text(found)
    assert "no point is missing" in " ".join(text.split())
    for point in found.points[1:]:
        assert " ".join(point.step.split()) in " ".join(text.split())
    assert report_front_plot(found).startswith("<?xml")
    assert report_front_plot(found) == report_front_plot(found)
