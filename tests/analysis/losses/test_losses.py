"""The best answer without a thing is best of all combinations that lack it, listed plainly."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from ringset.analysis.losses.losses import find_losses, solve_losses
from ringset.analysis.losses.lost import LostCutter, LostPart
from ringset.analysis.losses.models import Loss, Losses
from ringset.schema.answer import Answer, Cutter, RingPart
from ringset.schema.study import Study
from ringset.solving.pipeline import JudgeRefused, solve
from ringset.verification.judge.judge import judge
from tests.analysis.next_steps.test_steps import stepped_study
from tests.solving.test_brute_force import CENT, Table, listed_values, table
from tests.solving.test_standing import ELBOW, arm
from tests.support import second_rings
from tests.support.everyday import everyday_study, plain_table
from tests.support.listed_gives import listed_best_giving
from tests.support.plain_names import plain_cutter
from tests.support.studies import Json, load, random_study

STUDIES, CHUNK = 240, 20
Best = dict[str, int] | None


def _part_name(part: RingPart) -> tuple[float | str, ...]:
    return (part.module_mm, part.teeth, part.bore_mm, part.face_width_mm, part.bore_zone)


def _cutter_name(study: Study, answer: Answer, cutter: Cutter) -> tuple[float, int] | None:
    ring = next(ring for ring in answer.rings if ring.cutter == cutter.id)
    return plain_cutter(study.shop.cutting, ring.module_mm, ring.teeth)


def _rows(rows: Table, kept: np.ndarray) -> Table:
    """Return some rows of a table."""
    picked = np.flatnonzero(kept)
    columns: dict[str, Any] = {
        name: getattr(rows, name)[picked]
        for name in (
            "joint", "heads", "kg", "money", "lever_um", "scatter_um", "current_ua", "finished",
        )
    }  # fmt: skip
    columns["part"] = [rows.part[row] for row in picked]
    columns["cutter"] = [rows.cutter[row] for row in picked]
    return replace(rows, **columns)


def listed_best_without(study: Study, rows: Table, kept: np.ndarray, unit_kg: float) -> Best:
    """Return what the best of all combinations of some rows comes to, gives included; None for none."""
    listed = listed_values(_rows(rows, kept), unit_kg)
    if listed is None:
        return None
    found = listed_best_giving(study, *listed, {"material": unit_kg, "cost": CENT})
    return None if found is None else found[0]


def _check(study: Study, answer: Answer, loss: Loss, best: Best) -> str:
    """Hold a loss against what the listing says; return its status."""
    seed = study.title
    assert loss.status == ("impossible" if best is None else "proven"), (seed, loss.name)
    if best is None:
        assert loss.answer is None
        assert loss.values == []
        assert loss.reasons
        assert loss.text.startswith("impossible: ")
        return loss.status
    assert loss.answer is not None
    assert judge(study, loss.answer) == []
    assert loss.answer.status == "found"  # of the study itself it proves nothing
    assert not any(stage.settled for stage in loss.answer.proof.stages)
    assert {s.wish: s.value for s in loss.answer.proof.stages} == best, (seed, loss.name)
    assert answer.totals is not None
    assert loss.answer.totals is not None
    before, after = answer.totals.by_wish(), loss.answer.totals.by_wish()
    assert [value.wish for value in loss.values][: len(best)] == study.wishes.order
    assert {value.wish for value in loss.values} == set(after)
    for value in loss.values:
        assert (value.before, value.after) == (before[value.wish], after[value.wish])
        assert value.difference == value.after - value.before
        assert value.state == ("proven" if value.wish in best else "not ranked")
    return loss.status


@pytest.mark.cases(fast=1, slow=3)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_every_loss_is_best_of_all_combinations_without_it(first: int) -> None:
    """Of every cutter and every ring part; with prices and gives at times."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        study = stepped_study(seed).canonical().model_copy(update={"title": str(seed)})
        seen.update(_compared(study, table))
    assert min(seen[f"{kind} proven"] for kind in ("cutter", "ring part")) >= 1
    assert sum(seen.values()) >= CHUNK


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(30_000, 30_040, 10))
def test_so_it_is_where_rings_are_counted_by_plain_loops(first: int) -> None:
    """Nothing of the stages is used here: every ring is counted, and rated by the judge's formulas."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + 10):
        study = load({**everyday_study(seed), "title": str(seed)}).canonical()
        seen.update(_compared(study, plain_table))
    assert sum(seen.values()) >= 4


def _compared(study: Study, rows_of: Callable[[Study], Table]) -> Iterator[str]:
    """Yield kind and status of every loss of cutter and ring part, held against all combinations."""
    answer = solve(study)
    if not answer.rings:
        return
    rows, unit = rows_of(study), answer.proof.material_unit_kg
    found = find_losses(study, answer)
    assert found.complete, study.title
    assert found.repeatable
    parts = {part.id: _part_name(part) for part in answer.ring_parts}
    tools = {tool.id: _cutter_name(study, answer, tool) for tool in answer.cutters}
    asked = [loss for loss in found.losses if loss.kind in ("cutter", "ring part")]
    assert [loss.name for loss in asked] == [*tools, *parts]
    for loss in asked:
        lost = tools.get(loss.name) if loss.kind == "cutter" else parts[loss.name]
        names = rows.cutter if loss.kind == "cutter" else rows.part
        kept = np.array([one != lost for one in names])
        best = listed_best_without(study, rows, kept, unit)
        yield f"{loss.kind} {_check(study, answer, loss, best)}"


@pytest.mark.cases(fast=1, slow=2)
@pytest.mark.parametrize("first", range(30_000, 30_000 + 8 * 6, 6))
def test_a_part_that_is_a_second_ring_is_lost_as_one(first: int) -> None:
    """Rows whose second ring it is leave as well: every answer of small paired studies is listed."""
    seconds = 0
    for seed in range(first, first + 6):
        study = load(second_rings.paired_study(seed)).canonical()
        study = study.model_copy(update={"title": str(seed)})
        answer = solve(study)
        if not answer.rings:
            continue
        units = (answer.proof.material_unit_kg, answer.proof.cost_unit or 1e-2)
        ways = second_rings.ways_of(study)
        second = {ring.ring_part for ring in answer.second_rings}
        for loss in find_losses(study, answer).losses:
            if loss.kind != "ring part":
                continue
            part = next(part for part in answer.ring_parts if part.id == loss.name)
            mine = _part_name(part)
            left = [[way for way in some if mine not in way.parts] for some in ways]
            _check(study, answer, loss, second_rings.listed_best(study, left, *units))
            seconds += loss.name in second
    assert seconds >= 1


@pytest.mark.cases(fast=1, slow=2)
@pytest.mark.parametrize("first", range(0, 40, 10))
def test_a_lost_hob_is_a_module_that_the_shop_has_not(first: int) -> None:
    """Another way to ask the same: a study without the module, solved and proven as any other."""
    compared = 0
    for seed in range(first, first + 10):
        data = random_study(seed)
        data["shop"]["cutting"] = "hob"
        study = load(data)
        for loss in solve_losses(study).losses:
            if loss.kind != "cutter" or len(data["shop"]["modules"]) == 1:
                continue
            (module,) = (m for m in data["shop"]["modules"] if f"module {m:g}," in loss.thing)
            left = [other for other in data["shop"]["modules"] if other != module]
            other = solve(load({**data, "shop": {**data["shop"], "modules": left}}))
            assert loss.status == other.status, seed
            if loss.answer is not None:
                # an answer of a loss keeps the part numbers of the answer before it
                nameless = [
                    [ring.model_copy(update={"ring_part": ""}) for ring in one.rings]
                    for one in (loss.answer, other)
                ]
                assert nameless[0] == nameless[1], seed
            compared += 1
    assert compared >= 3


def _with(**shop: object) -> Json:
    """Return two joints that can share a ring, with some fields of the shop."""
    joints = [
        {"name": name, "bore_min_mm": 40.0, "bore_max_mm": 46.0, "tip_max_mm": tip}
        for name, tip in (("one", 70.0), ("two", 72.0))
    ]
    return {
        "robots": [{"name": "arm", "joints": joints}],
        "shop": {"modules": [1.0], "bore_step_mm": 1.0, **shop},
        "target": {"angle_target_arcsec": 200.0},
    }


def test_without_its_only_cutter_a_study_is_impossible() -> None:
    found = solve_losses(load(_with()))
    (cutter,) = [loss for loss in found.losses if loss.kind == "cutter"]
    assert cutter.status == "impossible"
    assert cutter.reasons == [
        f"arm/{joint}: every ring inside its limits needs C1" for joint in ("one", "two")
    ]
    assert found.complete
    assert found.repeatable


def test_a_ceiling_may_stand_in_the_way_of_what_is_left() -> None:
    """The reason is the ceiling, as for a study that it makes impossible."""
    data = _with()
    data["wishes"] = {"order": ["material"]}
    totals = solve(load(data)).totals
    assert totals is not None
    most = totals.material_kg * (1.0 + 1e-6)
    data["wishes"]["material_max_kg"] = most
    found = solve_losses(load(data))
    parts = [loss for loss in found.losses if loss.kind == "ring part"]
    assert {loss.status for loss in parts} == {"impossible"}
    assert (
        parts[0].reasons[0].startswith(f"wishes.material_max_kg {most:g}: the least possible is ")
    )


@pytest.mark.parametrize("kind", [LostCutter, LostPart])
def test_an_answer_that_has_the_lost_thing_all_the_same_is_never_shown(
    kind: type[LostCutter | LostPart], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read off the answer itself, whatever rows were left out."""
    monkeypatch.setattr(kind, "left", lambda self: np.ones(len(_rows_of(self)), dtype=bool))
    with pytest.raises(JudgeRefused, match=r"the answer without [CR]1 has it all the same"):
        solve_losses(load(_with(modules=[1.0, 1.25])))


def _rows_of(lost: LostCutter | LostPart) -> np.ndarray:
    return lost.cutter_of_row if isinstance(lost, LostCutter) else lost.part_of_row


def test_nothing_can_be_read_without_a_head() -> None:
    data = _with()
    data["heads"] = {"fine": {}, "spare": {}}
    data["robots"][0]["joints"][1]["head"] = "fine"
    shared, fine = [loss for loss in solve_losses(load(data)).losses if loss.kind == "head"]
    assert (shared.name, shared.joints, shared.status) == ("head", ["arm/one"], "impossible")
    assert (fine.name, fine.joints) == ("heads.fine", ["arm/two"])
    assert fine.text == (
        "impossible: without it arm/two cannot be read at all, for the study states no other head for them"
    )


def test_losses_end_with_the_time_and_say_so() -> None:
    """What was not begun is named; what needs no search is there all the same."""
    study = load(_with(modules=[1.0, 1.25]))
    answer = solve(study)
    found = find_losses(study, answer, begun=-1e9)
    assert [loss.kind for loss in found.losses] == ["head"]
    assert [text.split(",")[0] for text in found.open] == ["C1", "R1"]
    assert all(text.endswith("not solved in the time given") for text in found.open)
    assert not found.complete
    assert not found.repeatable


def test_an_impossible_study_has_nothing_to_lose() -> None:
    data = _with()
    data["robots"][0]["joints"][0]["tip_max_mm"] = 45.0
    found = solve_losses(load(data))
    assert (found.status, found.losses, found.open) == ("impossible", [], [])
    assert found.complete


def test_losses_are_the_same_bytes_and_are_read_back() -> None:
    study = load(_with(modules=[1.0, 1.25]))
    text = find_losses(study, solve(study)).to_json()
    assert text == solve_losses(study).to_json()
    assert Losses.model_validate_json(text).to_json() == text
    joints = list(reversed(json.loads(study.model_dump_json())["robots"][0]["joints"]))
    data = json.loads(study.model_dump_json())
    data["robots"][0]["joints"] = joints
    random.Random(1).shuffle(data["shop"]["modules"])
    assert solve_losses(load(data)).to_json() == text


def test_a_part_in_production_that_is_lost_is_made_anew_and_an_owned_cutter_bought() -> None:
    study = load(arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}]))
    answer = solve(study)
    found = find_losses(study, answer)
    part = next(loss for loss in found.losses if loss.name == "RX-17")
    (more,) = [value for value in part.values if value.wish == "ring_parts"]
    assert (more.before, more.after, more.state) == (3, 4, "proven")
    cutter = next(loss for loss in found.losses if loss.kind == "cutter")
    if cutter.answer is not None:
        assert cutter.answer.totals is not None
        assert cutter.answer.totals.cutters_owned == 0
        assert judge(study, cutter.answer) == []
