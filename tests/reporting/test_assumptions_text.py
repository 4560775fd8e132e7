"""What decides an answer in words: saved and taken, impossible, refused, nothing, not solved."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from pydantic import JsonValue

from ringset.analysis.assumptions.effects import rank_assumptions
from ringset.analysis.assumptions.models import (
    AssumedEffect,
    Assumptions,
    AtEnd,
    Band,
    BandInput,
    Figures,
    Same,
)
from ringset.reporting.assumptions_text import (
    assumption_effect_text,
    assumptions_text,
    band_text,
    decides_text,
)
from ringset.schema.answer import Answer
from ringset.solving.pipeline import solve
from tests.support.solved import solved_scenario
from tests.support.studies import Json, load, small

BASE = Figures(
    status="proven", cutters=1, ring_parts=2, heads=4, material_kg=1.0, cost=None, margin=0.1
)


def impossible() -> Json:
    """Return a study with a bore that no ring leaves room for."""
    data = small()
    data["robots"][0]["joints"][0].update(bore_min_mm=88.0, bore_max_mm=89.0)
    return data


def end(value: JsonValue, refused: str | None = None, **change: Any) -> AtEnd:
    status = change.pop("status", "proven")
    figures = (
        None
        if refused or status is None
        else BASE.model_copy(update={"status": status, **change.pop("figures", {})})
    )
    return AtEnd(
        value=value, refused=refused, rings_keep=True, rings_margin=0.1, figures=figures, change=change
    )  # fmt: skip


def sentence(
    low: AtEnd, high: AtEnd, path: str = "shop.clamp_force_n", given: JsonValue = 30.0
) -> str:
    one = AssumedEffect(
        path=path, given=given, because="x", stated=False, solved=True, at_low=low, at_high=high
    )
    return assumption_effect_text(one, BASE)


def test_what_is_saved_and_taken() -> None:
    told = sentence(end(10.0, material_kg=-0.08), end(60.0, material_kg=0.2))
    assert (
        told
        == "shop.clamp_force_n 30 N is assumed; 10 N would save 0.08 kg, 60 N would take 0.2 kg more"
    )
    told = sentence(end(10.0, heads=2.0, ring_parts=-1.0, material_kg=0.004), end(30.0))
    assert told.endswith("10 N would save 1 ring part and take 2 heads and 4 g more")


def test_what_has_no_answer_is_refused_changes_nothing_or_is_not_solved() -> None:
    none = sentence(end(10.0, status="impossible"), end(60.0, refused="head: no"))
    assert none.endswith(
        "10 N makes it impossible, 60 N cannot be stated beside the rest (head: no)"
    )
    told = sentence(end(10.0), end(60.0, status=None))
    assert told.endswith("10 N would change nothing, 60 N was not solved")
    assert sentence(end(10.0, figures={"margin": None}), end(30.0)).endswith("would change nothing")
    told = sentence(
        end(10.0, figures={"margin": 0.25}, margin=0.15), end(60.0, status="found", heads=1.0)
    )
    assert "10 N would leave 25 % of the nearest target, not 10 %" in told
    assert told.endswith("60 N would take 1 head more (not proven)")


def test_margins_that_differ_are_told_apart() -> None:
    """36.04 % against 35.96 % is no "36 %, not 36 %"."""
    told = sentence(end(10.0, figures={"margin": 0.1004}, margin=0.0004), end(60.0))
    assert "10 N would leave 10.04 % of the nearest target, not 10 %" in told
    told = sentence(end(10.0, figures={"margin": 0.0996}, margin=-0.0004), end(60.0))
    assert "10 N would leave 9.96 % of the nearest target, not 10 %" in told


@pytest.mark.slow
def test_without_an_answer_no_rings_are_said_to_break_a_limit() -> None:
    """Nothing that is assumed makes this study possible."""
    found = rank_assumptions(load(impossible()))
    assert found.answer.status == "impossible"
    text = decides_text(found)
    assert "these rings" not in text
    assert not any(one.solved for one in found.inputs)
    assert " ".join(text.split()).endswith(
        f"By rating, none of {len(found.inputs)} inputs assumed, alone at an end, gives it an answer; "
        "none was solved."
    )


def test_lists_and_choices_are_told_as_they_are() -> None:
    told = sentence(end([1], heads=-2.0), end([1, 2, 3, 4]), "joints[].head_counts", [1, 2])
    assert told.startswith("joints[].head_counts 1, 2 is assumed; 1 would save 2 heads")


def test_the_first_screen_has_five_and_the_whole_text_all() -> None:
    found = rank_assumptions(load(small()))
    lines = [line for line in decides_text(found).splitlines() if line.startswith("  - ")]
    assert len(lines) == 5
    whole = assumptions_text(found)
    assert all(f"{one.path}: " in whole for one in found.inputs)


# -- the first screen and the tables, of effects made by hand --------------------------------------


def effect(path: str, low: AtEnd, high: AtEnd, solved: bool = True) -> AssumedEffect:
    return AssumedEffect(
        path=path, given=30.0, because="b", stated=False, solved=solved, at_low=low, at_high=high
    )


def told(*inputs: AssumedEffect, answer: Figures = BASE, open: Sequence[str] = ()) -> str:
    """Return the first screen in one line."""
    found = Assumptions(
        title="t", study_sha256="0" * 64, order=["cutters"], answer=answer, inputs=list(inputs),
        open=list(open), repeatable=True,
    )  # fmt: skip
    return " ".join(decides_text(found).split())


QUIET = effect("shop.clamp_force_n", end(10.0), end(60.0))
RATED = effect("shop.clamp_force_n", end(10.0, status=None), end(60.0, status=None), solved=False)
NO_ANSWER = Figures(
    status="impossible", cutters=None, ring_parts=None, heads=None, material_kg=None, cost=None,
    margin=None,
)  # fmt: skip


@pytest.mark.parametrize(
    ("inputs", "answer", "open", "words"),
    [
        ([QUIET], BASE, [], "Of 1 input assumed 1 were solved at both ends; none of them changes"),
        ([RATED], BASE, [], "None of 1 input assumed changes the answer alone, as far as rating"),
        (
            [RATED],
            BASE,
            ["a.b"],
            "None of 1 input assumed could be solved at both ends in the time",
        ),
        (
            [RATED],
            NO_ANSWER,
            [],
            "By rating, none of 1 input assumed, alone at an end, gives it an",
        ),
    ],
)
def test_where_nothing_decides_it_says_how_far_that_is_known(
    inputs: list[AssumedEffect], answer: Figures, open: list[str], words: str
) -> None:
    text = told(*inputs, answer=answer, open=open)
    assert text.startswith(f"What decides this answer {words}")
    assert ("Not solved in the time: a.b" in text) == bool(open)


def test_the_first_ten_that_were_not_solved_are_named_and_the_others_counted() -> None:
    names = [f"field{number}" for number in range(13)]
    assert told(RATED, open=names).endswith(f"{', '.join(names[:10])} and 3 more")


def test_an_end_that_was_not_solved_decides_nothing_unless_its_rings_break_a_limit() -> None:
    breaking = end(60.0, status=None).model_copy(update={"rings_keep": False})
    one = effect("shop.clamp_force_n", end(10.0, status=None), breaking, solved=False)
    assert told(one).endswith(
        "shop.clamp_force_n 30 N is assumed; at 60 N these rings break a limit (rated, not solved anew)"
    )
    half = effect("shop.clamp_force_n", end(10.0, status=None), end(60.0, heads=1.0))
    assert "10 N was not solved, 60 N would take 1 head more" in told(half)


def test_what_an_impossible_study_would_come_to_and_what_the_time_did_not_decide() -> None:
    one = effect("shop.clamp_force_n", end(10.0), end(60.0, status="undecided"))
    assert told(one, answer=NO_ANSWER).endswith(
        "10 N makes it possible (1 cutter, 2 ring parts, 4 heads, 1 kg), 60 N was not decided in the time"
    )


def test_money_has_a_column_where_it_is_counted_and_a_word_where_it_changes() -> None:
    priced = BASE.model_copy(update={"cost": 100.0})
    low = end(10.0, cost=-12.5, figures={"cost": 87.5})
    high = end(60.0, refused="head: no")
    found = Assumptions(
        title="", study_sha256="0" * 64, order=["cost"], answer=priced, open=[], repeatable=True,
        inputs=[effect("shop.clamp_force_n", low, high), RATED],
    )  # fmt: skip
    text = assumptions_text(found)
    assert text.startswith("Assumptions\n")
    assert "10 N would cost 12.50 less" in " ".join(text.split())
    solved, rated = text.split("Solved at both ends\n")[1].split("Only rated")
    head, stated, first, second = solved.splitlines()[:4]
    assert head.split()[-3:] == ["cost", "margin", "%"]
    assert stated.split()[-3:] == ["1", "100", "10.0"]
    assert first.split()[-2:] == ["87.5", "10.0"]
    assert second.split() == ["60", "N", "refused"]
    assert rated.count("keep (10.0 %)") == 2


def test_the_rated_table_tells_ends_that_are_refused_or_have_no_rings() -> None:
    no_rings = end(60.0, status=None).model_copy(update={"rings_margin": None})
    one = effect("shop.clamp_force_n", end(10.0, refused="head: no"), no_rings, solved=False)
    found = Assumptions(
        title="t", study_sha256="0" * 64, order=["cutters"], answer=NO_ANSWER, inputs=[one], open=[],
        repeatable=True,
    )  # fmt: skip
    row = assumptions_text(found).split("Only rated")[1].splitlines()[2]
    assert " ".join(row.split()) == "shop.clamp_force_n 30 N 10 N refused 60 N no answer"


# -- the band --------------------------------------------------------------------------------------


def band(answers: Sequence[Answer], compared: Sequence[str], **fields: Any) -> Band:
    same = Same(
        compared=list(compared), cutters=["C1"], ring_parts=[], sizes={"a/b": "x"}, heads={"a/b": 2}
    )
    moved = BandInput(path="shop.clamp_force_n", given=30.0, hopeful=10.0, careful=60.0, weight=1.0)
    still = moved.model_copy(update={"path": "shop.rim_min_mm", "hopeful": 60.0, "weight": 9.0})
    values: dict[str, Any] = {
        "causes": [],
        "causes_alone": [],
        "causes_open": False,
        "left_out": [],
    }
    return Band(
        title="t", study_sha256="0" * 64, inputs=[still, moved], same=same,
        hopeful=answers[0], stated=answers[1], careful=answers[2], **(values | fields),
    )  # fmt: skip


def test_the_band_tells_what_is_the_same_and_what_makes_care_impossible() -> None:
    best, none = solved_scenario("two_joint_table"), solve(load(impossible()))
    causes = {"causes": ["a.b", "c.d"], "causes_alone": ["a.b"]}
    text = " ".join(band_text(band([best, best, none], ["hopeful", "stated"], **causes)).split())
    assert "careful impossible Hopeful ends" in text
    assert (
        "The same in hopeful and as stated - cutters: C1 - ring parts: none - rings: a/b: x" in text
    )
    assert "With 2 inputs as stated and all others careful there is an answer" in text
    assert "Alone make it impossible: a.b." in text
    assert text.endswith("the weightiest first - shop.clamp_force_n: 10 N to 60 N")
    open_ = band_text(band([best, best, none], ["hopeful", "stated"], **causes, causes_open=True))
    assert "The time ended before all had been tried: fewer may do." in " ".join(open_.split())
    assert "Alone make it" not in open_


def test_the_band_of_three_answers_names_no_causes_but_what_was_left_out() -> None:
    best = solved_scenario("two_joint_table")
    three = ["hopeful", "stated", "careful"]
    text = band_text(band([best] * 3, three, left_out=["shop.clamp_jaws 3: no"]))
    assert "The same in all three" in text
    assert "Careful is impossible" not in text
    assert "Left out\n  - shop.clamp_jaws 3: no" in text


def test_a_band_with_one_answer_compares_nothing() -> None:
    best, none = solved_scenario("two_joint_table"), solve(load(impossible()))
    assert "The same in" not in band_text(band([best, none, none], ["hopeful"]))
