"""Every analysis of a study that gives some of a wish up says what is so under its gives."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pandas as pd
import pytest

from ringset.analysis.alternatives.alternatives import alternatives_of
from ringset.analysis.alternatives.single_ring import find_joint
from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.explanation.explain import explain_prices
from ringset.analysis.explanation.limit_prices import explained_wishes_to_price
from ringset.analysis.front.front import find_front
from ringset.analysis.next_steps.steps import solve_steps
from ringset.cli import main
from ringset.schema.editing import edited_study, study_value_at
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.listed_gives import drawn_give
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load, priced_study, random_study

ARM = json.loads((SCENARIOS / "heavy_for_a_head.json").read_text())


def giving(data: Json, seed: int) -> Study | None:
    """Return a study of `data` with gives drawn for it; None with a single wish."""
    order = data["wishes"]["order"]
    if len(order) < 2:
        return None
    give = drawn_give(random.Random(seed + 0.5), order, ("amount", "percent", "rate"))
    return load(json.loads(json.dumps(data)) | {"wishes": data["wishes"] | {"give": give}})


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", [3, 12, 20, 31, 44])
def test_prices_under_gives_equal_independent_solves(seed: int) -> None:
    """A tighter limit may raise the least of a wish, and with it what the wish may come to."""
    data = random_study(seed)
    data["wishes"]["order"] = explained_wishes_to_price(load(data))
    study = giving(data, seed)
    assert study is not None
    before = reached(study)
    assert before is not None
    for price in explain_prices(study)[::4]:
        path = resolve_field_path(study, price.path)
        for value, change in ((price.loosened, price.gain), (price.tightened, price.loss)):
            if value is None:
                continue
            whole = isinstance(study_value_at(study, path), int)
            after = reached(edited_study(study, {path: int(value) if whole else value}))
            assert (after is None) == (not change), price
            for wish in before if after is not None else ():
                assert after is not None
                allowed = 1e-5 if wish == "material" else 1e-9
                assert change[wish] == pytest.approx(after[wish] - before[wish], abs=allowed), price


def reached(study: Study) -> dict[str, float] | None:
    """Return what the answer comes to, wish by wish; None for an impossible study."""
    answer = solve(study)
    assert answer.status in ("proven", "impossible")
    if answer.totals is None:
        return None
    totals = answer.totals.model_dump()
    return {
        wish: float(totals[{"material": "material_kg"}.get(wish, wish)])
        for wish in study.wishes.order
    }


@pytest.mark.cases(fast=7, slow=18)
@pytest.mark.parametrize("seed", range(60))
def test_no_neighbour_is_better_than_an_answer_that_gives(seed: int) -> None:
    """It would contradict the proof, whatever is given up."""
    study = giving(priced_study(seed) if seed % 2 else random_study(seed), seed)
    answer = None if study is None else solve(study)
    if study is None or answer is None or answer.status != "proven":
        return
    for ring in answer.rings:
        for ground in alternatives_of(study, answer, *find_joint(study, ring.joint, ring.robot)):
            assert ground.outcome != "better", (seed, study.wishes, ground)


def test_a_front_shows_every_trade_off_and_says_that_gives_count_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its points are those of the study without gives, and each is judged as its own study."""
    table = json.loads((SCENARIOS / "two_joint_table.json").read_text())
    plain, given = load(table), load(table | {"wishes": {"give": {"heads": 1}}})
    found = find_front(given)
    assert [p.answer.totals for p in found.points] == [
        p.answer.totals for p in find_front(plain).points
    ]
    for point in found.points:
        assert "give" not in json.dumps(point.study)
        assert judge(load(point.study), point.answer) == []
    file = tmp_path / "s.json"
    file.write_text(given.model_dump_json())
    assert main.main(["front", str(file)]) == 0
    printed = capsys.readouterr()
    assert "wishes.give counts nothing in a front" in " ".join(printed.out.split())


def test_a_comparison_tells_what_is_given_up() -> None:
    plain, given = load(ARM), load(ARM | {"wishes": {"give": {"heads": 1}}})
    found = compare_answers(
        [Entry("plain", solve(plain), plain), Entry("given", solve(given), given)]
    )
    assert [(one.path, one.values) for one in found.inputs] == [
        ("wishes.give.heads", ["absent", "1"])
    ]
    (change,) = found.changes
    assert "one head more, " in change.summary


@pytest.mark.slow
def test_a_sweep_varies_what_is_given_up(tmp_path: Path) -> None:
    """By its own path, as a whole, and by a rate."""
    table = tmp_path / "t.csv"
    study = tmp_path / "s.json"
    study.write_text(json.dumps(ARM))
    vary = 'wishes.give.heads=1,"5 %","0.15 kg per head","3 kg per head"'
    assert main.main(["sweep", str(study), "--vary", vary, "--table", str(table)]) == 0
    assert pd.read_csv(table)["heads"].tolist() == [14, 13, 14, 13]


@pytest.mark.slow
def test_steps_of_a_study_that_gives_go_on_from_what_it_allows() -> None:
    """With a rate the two wishes are weighed already, so no step is told of them."""
    data = ARM | {"wishes": {"give": {"ring_parts": 1}}}
    steps = {step.wish: step for step in solve_steps(load(data)).steps}
    assert steps["ring_parts"].give == {"ring_parts": 2.0}
    assert set(steps) == {"cutters", "ring_parts", "heads"}
    rated = solve_steps(load(ARM | {"wishes": {"give": {"heads": "0.15 kg per head"}}}))
    assert [step.wish for step in rated.steps] == ["cutters", "ring_parts"]


def test_the_report_says_what_is_given_up(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "s.json"
    for give, words, proof in (
        (1, "heads: at least 13, up to 14 allowed by wishes.give 1, 14 taken",
         "heads: 14, at least 13 by multipliers"),
        ("0.15 kg per head", "heads: at least 13, at a rate of 0.15 kg per head, 14 taken",
         "least of the sum 150000 x heads + 1 x material"),
        ("5 %", "heads: at least 13, up to 13 allowed by wishes.give 5 %, nothing is given up",
         "held at 13, brought down"),
    ):  # fmt: skip
        file.write_text(json.dumps(ARM | {"wishes": {"give": {"heads": give}}}))
        assert main.main(["solve", str(file), "--bare"]) == 0
        out = " ".join(capsys.readouterr().out.split())
        assert words in out
        assert proof in out
