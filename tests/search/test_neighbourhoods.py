"""Neighbourhoods of an answer: never worse, within the limits, repeatable, and mostly the best there is."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ringset.reduction.table import FirstRows, Table, TableRows
from ringset.reduction.units import Units, reduction_units
from ringset.schema.study import WISHES, Search, Wish
from ringset.search.bounds.column_generation import relax_program
from ringset.search.bounds.lagrangian import named_multipliers
from ringset.search.engines.quiet_stdout import quiet_stdout
from ringset.search.exact.neighbourhoods import Neighbourhoods
from ringset.search.lexicographic import Solver
from ringset.search.model.program import build_search_program
from ringset.search.state.incumbent import Incumbent
from tests.support.pair_tables import paired_table
from tests.support.tables import Listed, listed, random_ceilings, random_table, side_by_side
from tests.support.tuned import switch_off, tune

#: Neighbourhoods of a few rows of a small table, so that none is the whole of it.
FEW = {
    "near_rows": 4.0, "near_rows_min": 4.0, "near_rows_max": 12.0, "near_rows_each": (2, 4),
    "near_rows_left": 0,
}  # fmt: skip


def begun(
    made: Table, units: Units, answer: np.ndarray, wish: Wish,
    held: dict[Wish, int], ceilings: dict[Wish, float], seed: int,
) -> Incumbent:  # fmt: skip
    """Return a wish with an answer to begin with and the multipliers of its relaxation."""
    context = Solver(made, units, ceilings, Search(seed=seed)).context
    run = Incumbent(context, wish, held, made, FirstRows(np.sort(answer)))
    start = run.program.taken(run.columns(run.program))
    relaxed = relax_program(run.program, run.objective, start, time.monotonic() + 60.0)
    assert relaxed is not None
    run.learn(named_multipliers(run.program, run.objective, relaxed.bound.multipliers))
    run.prove(run.objective.offset + run.objective.scale * relaxed.bound.least)
    return run


def looked(run: Incumbent, most: int, patience: int) -> None:
    """Look at neighbourhoods of an answer."""
    assert run.last is not None
    Neighbourhoods(run, run.left, run.last).look(most, patience)


def keeps(
    answers: Listed, rows: FirstRows, held: dict[Wish, int], ceilings: dict[Wish, float]
) -> bool:
    """Say whether an answer keeps sums, ceilings and what is held, by the listing of all answers."""
    place = np.flatnonzero((answers.picks == rows).all(axis=1))
    within = answers.allowed(ceilings)[place]
    for wish, most in held.items():
        within &= answers.values[wish][place] <= most
    return bool(within.all()) and len(place) == 1


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("make", [random_table, paired_table])
def test_an_answer_becomes_no_worse_and_keeps_every_limit(
    make: Callable[[int], Table], monkeypatch: pytest.MonkeyPatch
) -> None:
    tune(monkeypatch, **FEW)
    better = 0
    for seed in range(20):
        made, rng = make(seed), np.random.default_rng(seed)
        units, wish = reduction_units(made), WISHES[seed % len(WISHES)]
        answers = listed(made, units)
        ceilings = random_ceilings(rng, answers)
        allowed = np.flatnonzero(answers.allowed(ceilings))
        if not len(allowed):
            continue
        some = int(rng.choice(allowed))
        held = {w: int(answers.values[w][some]) for w in WISHES if rng.random() < 0.3 and w != wish}
        run = begun(made, units, answers.picks[some], wish, held, ceilings, seed)
        before = run.value
        for _ in range(6):
            reached = run.value
            looked(run, 4, 4)
            assert run.value <= reached
            assert keeps(answers, run.best, held, ceilings), seed
        better += run.value < before
    assert better >= 5


def several_robots(seed: int) -> tuple[Table, Units, np.ndarray, int]:
    """Return a table of several robots, an answer that is dear, and the least material there is."""
    parts = [
        one for one in (random_table(1000 * seed + number) for number in range(12)) if possible(one)
    ]
    made = side_by_side(parts)
    units = reduction_units(made)
    rows = np.cumsum([0, *(len(part) for part in parts)])
    worst, least = [], 0
    for first, part in zip(rows, parts, strict=False):
        answers = listed(part, units)
        allowed = np.flatnonzero(answers.allowed({}))
        kg = answers.values["material"][allowed]
        worst.append(first + answers.picks[allowed[np.argmax(kg)]])
        least += int(kg.min())
    return made, units, np.concatenate(worst), least


def possible(made: Table) -> bool:
    """Say whether a table has an answer."""
    return bool(listed(made, reduction_units(made)).allowed({}).any())


@pytest.mark.slow
def test_the_best_answer_is_found_from_a_poor_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """About forty joints, of which a neighbourhood frees a few: in most tables all reach the best."""
    tune(monkeypatch, near_rows=20.0, near_rows_min=10.0, near_rows_max=40.0, near_rows_each=(4, 8))
    tune(monkeypatch, near_rows_left=0)
    reached = 0
    for seed in range(5):
        made, units, worst, least = several_robots(seed)
        run = begun(made, units, worst, "material", {}, {}, seed)
        assert run.value > 1.1 * least
        looked(run, 300, 40)
        assert run.value <= 1.02 * least
        reached += run.value == least
    assert reached >= 4


def test_the_same_seed_finds_the_same_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    tune(monkeypatch, **FEW)
    for seed in range(2):
        made, units, worst, _ = several_robots(seed)
        found = []
        for _ in range(2):
            run = begun(made, units, worst, "material", {}, {}, seed)
            looked(run, 12, 12)
            found.append((run.value, run.best.tolist()))
        assert found[0] == found[1]


def test_switched_off_they_leave_the_answer_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    switch_off(monkeypatch, "neighbourhoods")
    made, units, worst, _ = several_robots(1)
    run = begun(made, units, worst, "material", {}, {}, 1)
    before = run.value
    looked(run, 50, 50)
    assert run.value == before
    assert run.best.tolist() == sorted(worst)


def test_a_choice_that_passes_a_real_limit_takes_no_allowed_answer_with_it() -> None:
    """What is cut off are all answers that pass the same limit by the same rows, and no others."""
    cut = 0
    for seed in range(30):
        made = random_table(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        program = build_search_program(made, units, "material", {}, {})
        there = np.isin(answers.picks, program.table.index).all(axis=1)
        place = np.searchsorted(program.table.index, answers.picks[there][:1000])
        columns = np.array([program.with_needed_columns(TableRows(rows)) for rows in place])
        allowed = np.array([program.allowed(x) for x in columns])
        for number in np.flatnonzero(~allowed)[:5]:
            left = program.without(columns[number])
            inside = np.array([left.allowed(x) for x in columns])
            assert not inside[number]
            assert inside[allowed].all(), seed
            lines = left.limits.weights[[-1]] @ columns.T <= left.limits.right[-1]
            cut += int((~lines).sum())
    assert cut > 200


def test_standard_output_is_back_after_several_threads_were_quiet(tmp_path: Path) -> None:
    """They overlap: whoever comes first does not leave first."""
    inside, leave = threading.Barrier(3), [threading.Event() for _ in range(2)]

    def quiet(number: int) -> None:
        with quiet_stdout():
            inside.wait(10.0)
            os.write(1, b"stray")
            leave[number].wait(10.0)

    kept = os.dup(1)
    with (tmp_path / "printed").open("wb") as printed:
        os.dup2(printed.fileno(), 1)
        try:
            threads = [threading.Thread(target=quiet, args=(number,)) for number in range(2)]
            for thread in threads:
                thread.start()
            inside.wait(10.0)
            for event, thread in zip(leave, threads, strict=True):
                event.set()
                thread.join(10.0)
            os.write(1, b"heard")
        finally:
            os.dup2(kept, 1)
            os.close(kept)
    assert (tmp_path / "printed").read_bytes() == b"heard"
