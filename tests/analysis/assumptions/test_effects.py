"""What decides an answer: ends as full solves of the changed studies, ranks, times, one process or two."""

from __future__ import annotations

import pytest

from ringset.analysis.assumptions.effects import SOLVED_MOST, rank_assumptions
from ringset.analysis.assumptions.helper import Helper
from ringset.analysis.assumptions.models import AssumedEffect
from ringset.analysis.assumptions.outcome import Outcome, assumption_effect_rank
from ringset.errors import StudyError
from ringset.schema.answer import SETTLED
from ringset.schema.assumed_inputs import assumed_inputs
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.assumption_studies import loosened, screened_shares, solved_end, true_ranks
from tests.support.studies import load, small

FEW = (0, 1, 2, 3, 5, 8)
#: `tests/bench/bench_assumptions.py` asks the same of fifty.
MANY = tuple(range(3))
#: Share of the five strongest inputs by full solves that are among the ten solved after the screen, and share
#: of studies in which all five are; a little less than `tests/bench/README.md` tells of fifty.
STRONGEST_FOUND, WHOLE_FIVE = 0.93, 0.8


def statuses_of(one: AssumedEffect) -> set[str]:
    return {end.figures.status for end in (one.at_low, one.at_high) if end.figures is not None}


def differs(study: Study, one: AssumedEffect) -> list[str]:
    """Return where the solved ends of an input differ from full solves of the changed study."""
    (mine,) = [known for known in assumed_inputs(study) if known.path == one.path]
    wrong = []
    for end, value in ((one.at_low, mine.low), (one.at_high, mine.high)):
        full = solved_end(study, mine, value)
        if full is None:
            wrong += [one.path] if end.refused is None else []
            continue
        found = end.figures
        # an end at the value given is the proven answer itself; others are agreed on
        if found is None or (
            found.status != full.status and {found.status, full.status} != set(SETTLED)
        ):
            wrong.append(f"{one.path} {value}: {found and found.status}, not {full.status}")
            continue
        if not full.wishes:
            continue
        for wish, name in (
            ("cutters", "cutters"),
            ("ring_parts", "ring_parts"),
            ("heads", "heads"),
        ):
            if wish in study.wishes.order and getattr(found, name) != full.wishes.get(wish):
                wrong.append(f"{one.path} {value}: {name}")
        mass = full.wishes.get("material")
        if "material" in study.wishes.order and found.material_kg != pytest.approx(mass, rel=1e-6):
            wrong.append(f"{one.path} {value}: material")
    return wrong


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", FEW)
def test_solved_ends_are_those_of_the_changed_studies(seed: int) -> None:
    study = loosened(seed)
    found = rank_assumptions(study)
    solved = [one for one in found.inputs if one.solved]
    assert len(solved) <= SOLVED_MOST
    assert [text for one in solved for text in differs(study, one)] == []
    assert {one.path for one in found.inputs} == {one.path for one in assumed_inputs(study)}
    assert found.open == []
    assert found.repeatable


@pytest.mark.slow
def test_inputs_that_were_solved_stand_in_the_order_of_what_they_change() -> None:
    study = loosened(1)
    found, truth = rank_assumptions(study), true_ranks(study)
    ranks = [truth[one.path] for one in found.inputs if one.solved]
    assert [rank[:-1] for rank in ranks] == sorted((rank[:-1] for rank in ranks), reverse=True)


@pytest.mark.campaign
def test_the_same_study_gives_the_same_bytes_in_one_process_or_two() -> None:
    study = load(small())
    helper = Helper()
    try:
        texts = {
            rank_assumptions(study, helper=each).to_json() for each in (None, helper, helper, None)
        }
    finally:
        helper.end()
    assert len(texts) == 1


@pytest.mark.slow
def test_a_helper_that_died_changes_nothing() -> None:
    study, helper = load(small()), Helper()
    helper.process.kill()
    helper.process.join()
    assert rank_assumptions(study, helper=helper) == rank_assumptions(study)
    helper.end()


def test_what_the_time_did_not_allow_is_told() -> None:
    study = load(small())
    found = rank_assumptions(study, solve(study), seconds=0.0)
    assert found.open
    assert not found.repeatable
    assert not any(one.solved for one in found.inputs if one.path in found.open)


def test_an_impossible_study_tells_what_would_make_it_possible() -> None:
    data = small()
    data["target"]["angle_target_arcsec"] = 65.0
    found = rank_assumptions(load(data))
    assert found.answer.status == "impossible"
    assert "agreed" in statuses_of(found.inputs[0])
    assert found.answer.material_kg is None


@pytest.mark.slow
def test_a_range_of_the_study_is_what_is_solved() -> None:
    data = small() | {
        "ranges": {"shop.clamp_force_n": [30, 400], "target.angle_target_arcsec": [20, 200]}
    }
    found = {one.path: one for one in rank_assumptions(load(data)).inputs}
    force = found["shop.clamp_force_n"]
    assert (force.at_low.value, force.at_high.value, force.stated) == (30.0, 400.0, True)
    assert force.at_low.change == dict.fromkeys(force.at_low.change, 0.0)  # as stated
    assert found["target.angle_target_arcsec"].solved


def test_fields_that_disagree_are_refused() -> None:
    study = load(small())
    head = study.head.model_copy(update={"teeth_max": 20})
    with pytest.raises(StudyError, match=r"head\.teeth_max"):
        rank_assumptions(study.model_copy(update={"head": head}))


def test_ranks_put_the_status_before_wishes_and_these_before_the_margin() -> None:
    base = Outcome("proven", {"heads": 4.0, "material": 1.0}, 0.2)
    none = Outcome("impossible", {}, None)
    unknown = Outcome("undecided", {}, None)
    heads = Outcome("proven", {"heads": 5.0, "material": 1.0}, 0.2)
    steel = Outcome("proven", {"heads": 4.0, "material": 3.0}, 0.2)
    room = Outcome("proven", {"heads": 4.0, "material": 1.0}, 0.7)
    ranks = [
        assumption_effect_rank(["heads", "material"], base, [one, base])
        for one in (none, unknown, heads, steel, room)
    ]
    assert ranks == [
        (1.0, 0, 0, 0),
        (0.5, 0, 0, 0),
        (0, 0.25, 0, 0),
        (0, 0, 2.0, 0),
        (0, 0, 0, 0.5),
    ]


@pytest.mark.campaign
def test_the_strongest_by_full_solves_are_among_those_screened() -> None:
    share = screened_shares(MANY)
    assert share.found >= STRONGEST_FOUND * share.strongest
    assert share.whole >= WHOLE_FIVE * share.studies


@pytest.mark.campaign
def test_solved_ends_of_many_studies_are_those_of_the_changed_studies() -> None:
    for seed in MANY:
        study = loosened(seed)
        found = rank_assumptions(study)
        assert [text for one in found.inputs if one.solved for text in differs(study, one)] == []
