"""What one step more of a wish buys: against the list of all combinations, in words, and within the time."""

from __future__ import annotations

import json
import random
from collections import Counter

import pytest

from ringset.analysis.next_steps.steps import next_wish_steps, solve_steps
from ringset.cli import main
from ringset.cli import solve as solve_command
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve, solve_in_full
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import CENT, listed_values, table
from tests.support.listed_gives import drawn_give, listed_best_giving
from tests.support.places import SCENARIOS
from tests.support.studies import load, priced_study, random_study

STUDIES, CHUNK = 160, 40
ARM = SCENARIOS / "heavy_for_a_head.json"


def stepped_study(seed: int) -> Study:
    """Return a small random study, with prices or gives of its own at times."""
    rng = random.Random(seed + 0.375)
    data = priced_study(seed) if rng.random() < 0.5 else random_study(seed)
    order = data["wishes"]["order"]
    if len(order) > 1 and rng.random() < 0.3:
        data["wishes"]["give"] = drawn_give(rng, order, ("amount", "percent", "rate"))
    return load(data)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_every_step_is_best_of_all_combinations(first: int) -> None:
    """A step's values are those of the listing under its give, and so is the answer of that study."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        solved = solve_in_full(stepped_study(seed))
        steps = next_wish_steps(solved)
        before = {stage.wish: stage.value for stage in solved.answer.proof.stages}
        rows, unit = table(solved.study), solved.answer.proof.material_unit_kg or 1e-6
        sizes = {"material": unit, "cost": CENT}
        listed = listed_values(rows, unit)
        assert (solved.answer.status == "proven") or not steps.steps, seed
        for step in steps.steps:
            assert listed is not None
            wishes = solved.study.wishes.model_copy(update={"give": step.give})
            asked = solved.study.model_copy(update={"wishes": wishes})
            best = listed_best_giving(asked, *listed, sizes)
            assert best is not None
            assert step.settled, seed
            order = solved.study.wishes.order
            later = order[order.index(step.wish) + 1 :]
            assert [one.wish for one in step.values] == [step.wish, *later]
            for one in step.values:
                size = sizes.get(one.wish, 1.0)
                # a total is what its whole units are rounded up from, piece by piece
                assert one.before <= before[one.wish] * size * (1.0 + 1e-9), seed
                assert one.after == pytest.approx(best[0][one.wish] * size, abs=20 * size), seed
                assert one.difference == one.after - one.before
            better = [best[0][wish] for wish in later] < [before[wish] for wish in later]
            assert step.gains == better, seed
            assert step.text.endswith("gains nothing") != better
            seen["gains" if better else "nothing"] += 1
            if seed % 8 == 0:  # whoever states the give gets the same answer
                answer = solve(asked)
                assert {s.wish: s.value for s in answer.proof.stages} == best[0], seed
                assert judge(asked, answer) == []
    assert seen["gains"] >= 1
    assert seen["nothing"] >= 5


@pytest.mark.slow
def test_one_head_more_saves_most_of_the_steel(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The scenario tells its own story on the first lines, and a finer target tells it once more."""
    monkeypatch.setattr(solve_command, "extra_seconds", lambda _: 600.0)  # however slow the machine
    monkeypatch.setattr(solve_command, "EXTRA_S", 600.0)
    study = load_study(ARM.read_text())
    steps = solve_steps(study)
    (head,) = [step for step in steps.steps if step.wish == "heads"]
    material = head.values[-1]
    assert head.gains
    assert head.settled
    assert material.after < 0.6 * material.before
    robot = study.robots[0].model_copy(update={"tool_point_target_um": 380.0})
    finer = solve(study.model_copy(update={"robots": [robot]}))
    assert finer.totals is not None
    assert finer.totals.material_kg < 0.6 * material.before
    assert main.main(["solve", str(ARM)]) == 0
    first = capsys.readouterr().out.splitlines()[:11]
    assert first[1] == (
        "Proven. Nothing better exists for the wishes in this order: cutters, ring parts, heads, material."
    )
    assert f"  - {head.text}" in first
    assert head.text.startswith("one head more: ")


@pytest.mark.slow
def test_bare_leaves_out_all_that_is_solved_after_the_answer(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main.main(["solve", str(ARM), "--bare"]) == 0
    bare = capsys.readouterr().out
    assert main.main(["solve", str(ARM)]) == 0
    whole = capsys.readouterr().out
    start, end = whole.index("What one step"), whole.index("\n\nRings")
    assert "one step" not in bare
    assert "decides this answer" not in bare
    alone, _, _ = whole.partition("\nIn short\n")
    assert alone.replace(whole[start : end + 2], "") == bare


def test_steps_of_several_robots_add_a_head_on_the_one_built_least() -> None:
    data = json.loads(ARM.read_text())
    data["robots"][0]["count"] = 5
    solved = solve_in_full(load(data))
    (head,) = [step for step in next_wish_steps(solved).steps if step.wish == "heads"]
    assert head.give == {"heads": 5.0}
    assert head.text.startswith("five heads more: ")


def test_a_step_above_a_ceiling_is_not_offered() -> None:
    data = json.loads(ARM.read_text()) | {"wishes": {"heads_max": 13}}
    steps = solve_steps(load(data))
    assert "heads" not in [step.wish for step in steps.steps]
    assert steps.open == ["heads: more than now is above wishes.heads_max 13"]


def test_steps_end_with_the_time_and_say_so() -> None:
    """Nothing is lost: the answer stays, and what was not solved is named."""
    solved = solve_in_full(load_study(ARM.read_text()))
    assert solved.solver is not None
    solved.solver.stop()
    steps = next_wish_steps(solved)
    assert steps.steps == []
    assert steps.open == [
        f"{wish}: not solved in the time given" for wish in ("cutters", "ring parts", "heads")
    ]


def test_an_impossible_study_has_no_steps() -> None:
    study = load_study((SCENARIOS / "impossible_wrist.json").read_text())
    steps = solve_steps(study)
    assert (steps.status, steps.steps, steps.open) == ("impossible", [], [])
