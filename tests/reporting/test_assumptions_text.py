"""What decides an answer in words: saved and taken, impossible, refused, nothing, not solved."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import JsonValue

from ringset.analysis.assumptions.effects import rank_assumptions
from ringset.analysis.assumptions.models import AssumedEffect, AtEnd, Figures
from ringset.reporting.assumptions_text import (
    assumption_effect_text,
    assumptions_text,
    decides_text,
)
from tests.support.studies import load, small

BASE = Figures(
    status="proven", cutters=1, ring_parts=2, heads=4, material_kg=1.0, cost=None, margin=0.1
)


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
    """Nothing that is assumed makes this study possible: a bore that no ring leaves room for."""
    data = small()
    data["robots"][0]["joints"][0].update(bore_min_mm=88.0, bore_max_mm=89.0)
    found = rank_assumptions(load(data))
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
