"""The reserve in every analysis: prices, reliefs, neighbours, fronts, sweeps and comparisons agree on it.

Each is held against the same question about the study whose targets are tightened beforehand, and the room
to move against both ends of the reserve: the tightened targets, and the stated ones.
"""

from __future__ import annotations

import random

import pytest

from ringset.analysis.alternatives.alternatives import alternatives_of
from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.explanation.explain import explain_prices, explain_sensitivity, explain_study
from ringset.analysis.explanation.models import Room
from ringset.analysis.front.front import find_front
from ringset.reporting.comparison_text import comparison_text
from ringset.reporting.explanation_text import explanation_text
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.solving.pipeline import solve
from tests.support.answered import proven
from tests.support.reserved import reserved, tightened
from tests.support.studies import Json, load, small, two_robots

TARGETS = ("angle_target_arcsec", "tool_point_target_um")


def tied() -> Json:
    """Return two robots whose arm has a tool point close to its target."""
    data = two_robots()
    data["robots"][0]["tool_point_target_um"] = 380.0
    return data


def rooms_by_path(rooms: list[Room]) -> dict[tuple[str, str], Room]:
    return {(room.path, room.direction): room for room in rooms}


@pytest.mark.campaign
def test_room_to_move_is_told_to_both_ends_of_the_reserve() -> None:
    data = tied()
    study, tight, loose = reserved(data, 20.0), tightened(data, 20.0), load(data)
    answer = proven(study)
    told = rooms_by_path(explain_sensitivity(study, answer))
    edge = rooms_by_path(explain_sensitivity(tight, answer))
    whole = rooms_by_path(explain_sensitivity(loose, answer))
    eaten = 0
    for key, room in told.items():
        if key[0].endswith("reserve_percent"):
            assert room.target_holds_to is None
            continue
        assert room.limit in TARGETS or room.target_holds_to is None
        if key[0].endswith(TARGETS):
            continue  # the field itself: stated here, scaled there
        assert room.holds_to == pytest.approx(edge[key].holds_to, rel=1e-9), key
        assert (room.first, room.limit) == (edge[key].first, edge[key].limit)
        if room.limit in TARGETS and key in whole:
            eaten += 1
            assert room.target_holds_to == pytest.approx(whole[key].holds_to, rel=1e-9), key
            assert room.target_limit == whole[key].limit
            assert room.target_holds_to is not None
            assert room.room <= abs(room.target_holds_to - room.given)
    assert eaten >= 8
    relative = [one.room / max(abs(one.given), 1e-9) for one in told.values()]
    assert relative == sorted(relative)


@pytest.mark.slow
def test_the_largest_reserve_that_the_rings_keep_is_told() -> None:
    study = reserved(tied(), 10.0)
    answer = proven(study)
    rooms = rooms_by_path(explain_sensitivity(study, answer))
    left = [ring.target_left_percent for ring in answer.rings]
    left += [p.target_left_percent for p in answer.tool_points if p.target_left_percent is not None]
    assert rooms["target.reserve_percent", "up"].holds_to == pytest.approx(min(left), rel=1e-5)
    (down,) = [room for key, room in rooms.items() if key == ("target.angle_target_arcsec", "down")]
    worst = max(ring.error_arcsec for ring in answer.rings)
    assert down.holds_to == pytest.approx(worst / 0.9, rel=1e-5)
    assert down.target_holds_to == pytest.approx(worst, rel=1e-5)


@pytest.mark.campaign
def test_without_a_reserve_nothing_is_told_of_it() -> None:
    rooms = explain_sensitivity(load(tied()), proven(load(tied())))
    assert rooms
    assert all(room.target_holds_to is None for room in rooms)
    assert not any(room.path.endswith("reserve_percent") for room in rooms)


@pytest.mark.campaign
def test_why_says_where_the_reserve_is_eaten_and_where_the_target_breaks() -> None:
    data = small()
    text = explanation_text(explain_study(reserved(data, 20.0)))
    assert "breaks the target at" in text
    assert "eats the reserve" in text
    assert "reserve" not in explanation_text(explain_study(load(data)))


def test_prices_of_limits_are_those_of_tighter_targets() -> None:
    data = small()
    data["robots"][0]["tool_point_target_um"] = 380.0
    mine = {price.path: price for price in explain_prices(reserved(data, 12.5))}
    others = {price.path: price for price in explain_prices(tightened(data, 12.5))}
    assert mine.keys() == others.keys()
    for path, price in mine.items():
        assert price.gain == pytest.approx(others[path].gain), path
        assert price.loss == pytest.approx(others[path].loss), path


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("field", TARGETS)
def test_a_relief_is_a_stated_target_that_keeps_the_reserve(field: str) -> None:
    data = small()
    if field == "angle_target_arcsec":
        data["target"][field] = 20.0
    else:
        data["robots"][0][field] = 60.0
    study = reserved(data, 25.0)
    found = explain_study(study)
    assert found.status == "impossible"
    ways = [way for way in found.singles if way.changes[0].path.endswith(field)]
    (change,) = ways[0].changes
    assert "less 25 % reserve" in change.text
    path, value = resolve_field_path(study, change.path), float(change.value)  # type: ignore[arg-type]
    assert solve(edited_study(study, {path: value})).status == "proven"
    assert solve(edited_study(study, {path: round(value - 0.1, 9)})).status == "impossible"


@pytest.mark.cases(fast=1, slow=2)
@pytest.mark.parametrize("seed", range(6))
def test_neighbours_are_those_of_tighter_targets(seed: int) -> None:
    rng, data = random.Random(seed), small()
    data["robots"][0]["tool_point_target_um"] = rng.choice((330.0, 400.0, 700.0))
    percent = rng.choice((5.0, 15.0))
    study, tight = reserved(data, percent), tightened(data, percent)
    answer = proven(study)
    for joint in study.robots[0].joints:
        mine, others = (
            alternatives_of(one, answer, one.robots[0], joint) for one in (study, tight)
        )
        assert mine
        assert mine == others


def test_fronts_and_comparisons_know_it() -> None:
    data = small()
    study, tight = reserved(data, 20.0), tightened(data, 20.0)
    targets = [150.0, 200.0]
    mine = find_front(study, ["ring_parts", "material"], targets)
    others = find_front(tight, ["ring_parts", "material"], [0.8 * one for one in targets])
    assert [p.answer.totals for p in mine.points] == [p.answer.totals for p in others.points]
    assert [p.targets_arcsec for p in mine.points] == [
        [pytest.approx(one / 0.8) for one in p.targets_arcsec] for p in others.points
    ]
    entries = [
        Entry(name, proven(one), one)
        for name, one in (("before", load(data)), ("after", reserved(data, 20.0)))
    ]
    text = comparison_text(compare_answers(entries))
    assert "a reserve of 20 instead of 0 % kept below every accuracy target" in text
