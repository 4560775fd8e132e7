"""Answers and certificates with a number, text or list changed are refused by name, or judged; nothing fails.

What is changed, and to what, stands in `tests/support/mutated.py`. Every door is tried: reading, judging,
comparing, shop data, simulation, certificates, the command.
"""

from __future__ import annotations

import json
import random
import typing
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.simulation.monte_carlo import simulate_yield
from ringset.cli import main
from ringset.errors import BAD_INPUT, BROKEN, StudyError
from ringset.manufacturing.part_data import shop_data
from ringset.schema.answer import Answer
from ringset.schema.loading import load_answer, load_model
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import Certificate
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.mutated import Keys, changed, mutations, places
from tests.support.studies import Json, load, random_study, two_robots

#: Changes tried of one seed.
CHUNK = 40


@pytest.fixture(scope="module", name="full")
def _full() -> tuple[Study, Answer, Certificate]:
    """A study that states as much as it can, so that few fields of its answer are null."""
    data = two_robots()
    data["head"] = {
        "sample_rate_hz": 1e6, "bandwidth_hz": 1e6, "backup_polling_ms": 0.01,
        "backup_counter_bits": 30, "backup_current_ua": 10.0,
        "third_harmonic": 0.0003, "residual_offset": 0.001, "stray_field": 0.0002,
    }  # fmt: skip
    data["robots"][0].update(battery={"capacity_ah": 10.0}, line={})
    true = {"seat_offset_um": 1.0, "bearing_shift_um": 0.5, "seat_ovality_um": 0.5}
    data["robots"][0]["joints"][1].update(second_ring=True, **true)
    data["robots"][0]["joints"][0]["fastening"] = "screws"
    data["shop"]["flank_class"] = 2
    data["shop"]["prices"] = {
        "cutter": 90.0, "set_up_per_ring_part": 35.0, "material_per_kg": 4.0, "head": 12.0,
        "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"2": 0.4},
    }  # fmt: skip
    data["wishes"]["order"] = ["cutters", "cost", "material"]
    study = load(data)
    answer = solve(study)
    assert judge(study, answer) == []
    return study, answer, certify(study, answer)


def some(tree: Json, seed: int) -> Iterator[tuple[Keys, Any, str]]:
    """Yield some changes of JSON data: place, what stands there now, and the text."""
    known = list(mutations(tree))
    for path, other in random.Random(seed).sample(known, min(CHUNK, len(known))):
        yield path, other, json.dumps(changed(tree, path, other))


def read(text: str) -> Answer | None:
    """Return the answer in a text, or None where it is refused with a named field."""
    try:
        return load_answer(text)
    except StudyError as error:
        faults = error.faults
    assert all(fault.path and fault.given and fault.allowed for fault in faults)
    return None


def test_every_number_has_a_range_and_every_list_an_end() -> None:
    """Read off the models: no bare `float`, `int` or `str` in what an answer or a certificate says."""
    bare = []
    for model in (Answer, Certificate):
        for name, node in _properties(model.model_json_schema()):
            kind = node.get("type")
            if kind in ("number", "integer") and not {"minimum", "exclusiveMinimum"} & set(node):
                bare.append(name)
            if kind == "string" and not {"maxLength", "pattern", "enum", "const"} & set(node):
                bare.append(name)
    assert bare == []


def _properties(schema: Json) -> Iterator[tuple[str, Json]]:
    """Yield every type that a JSON schema allows somewhere, with the path to it."""
    for path, node in places(schema):
        if isinstance(node, dict) and isinstance(node.get("type"), str) and "const" not in node:
            yield ".".join(map(str, path)), node


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", range(50))
def test_a_changed_answer_is_refused_or_judged_and_nothing_fails(
    seed: int, full: tuple[Study, Answer, Certificate]
) -> None:
    study, answer, certificate = full
    seen: Counter[str] = Counter()
    for path, other, text in some(json.loads(answer.to_json()), seed):
        made = read(text)
        if made is None:
            seen["refused"] += 1
            continue
        seen["judged"] += 1
        violations = judge(study, made)
        assert not any("-92233720368" in violation for violation in violations), (path, other)
        doors: list[Callable[[], object]] = [
            partial(compare_answers, [Entry("a", answer, study), Entry("b", made)]),
            partial(compare_answers, [Entry("b", made, study), Entry("a", answer)]),
            partial(shop_data, study, made),
        ]
        if seen["judged"] % 10 == 0:
            doors.append(partial(verify_certificate, study, made, certificate))
            doors.append(partial(simulate_yield, study, made, 16, 1, processes=1))
        for door in doors:
            # numbers that no judge has passed may leave the formulas, and are refused by name where they stop
            with warnings.catch_warnings(), suppress(ValueError):
                warnings.simplefilter("ignore", RuntimeWarning)
                door()
                seen["gone through"] += 1
    assert min(seen["refused"], seen["judged"]) >= CHUNK // 5, seen


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", range(40))
def test_a_changed_certificate_is_refused_or_proves_the_same(
    seed: int, full: tuple[Study, Answer, Certificate]
) -> None:
    """Of what it states, only multipliers and splits can change and yet prove what is true."""
    study, answer, certificate = full
    harmless = {
        "whole_limits",
        "real_limits",
        "joints",
        "cutters",
        "heads",
        "scale",
        "seal",
        "steps",
        "split",
    }
    tree = json.loads(certificate.to_json())
    seen: Counter[str] = Counter()
    for path, other, text in some(tree, seed):
        try:
            made = load_model(Certificate, text)
        except StudyError:
            seen["refused"] += 1
            continue
        seen["read"] += 1
        if verify_certificate(study, answer, made.sealed()).complete and not harmless & set(path):
            assert made.sealed() == certificate, (path, other)
    assert min(seen["refused"], seen["read"]) >= CHUNK // 8, seen


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", range(6))
def test_numbers_that_no_reader_has_checked_are_judged_too(
    seed: int, full: tuple[Study, Answer, Certificate]
) -> None:
    """An answer put together in Python may hold anything; a number out of its range is then a violation."""
    study, answer, _ = full
    tree = json.loads(answer.to_json())
    assert judge(study, constructed(Answer, tree)) == []
    numbers = [
        (path, value)
        for path, value in places(tree)
        if isinstance(value, int | float) and not isinstance(value, bool)
    ]
    for path, value in random.Random(seed).sample(numbers, 25):
        whole, real = (-(10**30), 10**30, -1), (float("nan"), float("inf"), -1e308, 1e308)
        for other in whole if isinstance(value, int) else real:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", RuntimeWarning)
                violations = judge(study, constructed(Answer, changed(tree, path, other)))
            assert violations, (path, other)


def constructed(kind: Any, tree: Any) -> Any:
    """Return JSON data as a model without any check, as `model_construct` and `model_copy` do."""
    if tree is None:
        return None
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        fields = {
            name: constructed(kind.model_fields[name].annotation, value)
            for name, value in tree.items()
        }
        return kind.model_construct(**fields)
    inside = [one for one in typing.get_args(kind) if one is not type(None)]
    if isinstance(tree, list):
        return [constructed(_item(inside), one) for one in tree]
    models = [one for one in inside if isinstance(one, type) and issubclass(one, BaseModel)]
    return constructed(models[0], tree) if models else tree


def _item(inside: list[Any]) -> Any:
    """Return of what a list is, whether or not its length is limited."""
    nested = typing.get_args(inside[0])
    return nested[0] if nested and typing.get_origin(inside[0]) is list else inside[0]


# -- as they were found -----------------------------------------------------------------------------

FIELDS = [
    ("ring_parts[0].module_mm", -1.0), ("ring_parts[0].teeth", -5),
    ("ring_parts[0].face_width_mm", -5.0), ("ring_parts[0].rim_mm", 0.0), ("rings[0].blank_kg", 9.22e12),
    ("rings[0].teeth", 0), ("rings[0].heads", 9), ("totals.material_kg", -1.0),
    ("proof.material_unit_kg", -1e-6), ("proof.stages[0].value", -1), ("proof.stages[0].bound", 2**63),
    ("rings[0].budget.expanded_arcsec", -1.0), ("tool_points[0].count", 0),
    ("study_sha256", "x"), ("rings[0].flank_class", 12),
]  # fmt: skip


@pytest.mark.cases(fast=3, slow=3)
@pytest.mark.parametrize(("field", "value"), FIELDS)
def test_the_command_names_a_field_out_of_range(
    field: str, value: Any, full: tuple[Study, Answer, Certificate], tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    study, answer, _ = full
    files = [tmp_path / name for name in ("s.json", "a.json", "b.json")]
    keys = tuple(
        int(key) if key.isdigit() else key
        for key in field.replace("[", ".").replace("]", "").split(".")
    )
    files[0].write_text(study.model_dump_json())
    files[1].write_text(json.dumps(changed(json.loads(answer.to_json()), keys, value)))
    files[2].write_text(answer.to_json())
    for command in (
        ["judge", *map(str, files[:2])],
        ["simulate", *map(str, files[:2])],
        ["sheet", *map(str, files[:2]), "--out", str(tmp_path / "out")],
        ["compare", str(files[2]), str(files[1])],
    ):
        assert main.main(command) == BAD_INPUT, command
        told = capsys.readouterr().err
        assert f"{field}: given {json.dumps(value)}; allowed: " in told, told


def test_a_blank_as_heavy_as_may_be_is_counted_and_not_garbled(
    full: tuple[Study, Answer, Certificate], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A million kg in milligrams is 10^12; no number wraps round."""
    study, answer, _ = full
    tree = changed(json.loads(answer.to_json()), ("rings", 0, "blank_kg"), 1e6)
    files = [tmp_path / name for name in ("s.json", "a.json")]
    files[0].write_text(study.model_dump_json())
    files[1].write_text(json.dumps(tree))
    assert main.main(["judge", *map(str, files)]) == BROKEN
    told = capsys.readouterr().out
    assert "blank_kg: 1000000.0 stated" in told
    recomputed = [line for line in told.splitlines() if line.startswith("proof.stages.material: ")]
    assert int(recomputed[0].split("stated, ")[1].split()[0]) >= 10**12


def test_an_answer_without_rings_has_nothing_to_certify(
    full: tuple[Study, Answer, Certificate],
) -> None:
    study, answer, certificate = full
    (fault,) = verify_certificate(
        study, answer.model_copy(update={"rings": []}), certificate
    ).faults
    assert fault.startswith("answer: given one without rings")


def test_rings_of_other_joints_have_no_shop_data_and_no_yield(
    full: tuple[Study, Answer, Certificate],
) -> None:
    study, answer, _ = full
    rings = [answer.rings[0].model_copy(update={"joint": "another"}), *answer.rings[1:]]
    with pytest.raises(StudyError, match="rings: given"):
        shop_data(study, answer.model_copy(update={"rings": rings}))
    with pytest.raises(StudyError, match="rings: given"):
        simulate_yield(study, answer.model_copy(update={"rings": rings}), 16, 1)
    with pytest.raises(StudyError, match="ring_parts: given"):
        shop_data(study, answer.model_copy(update={"ring_parts": answer.ring_parts[1:]}))


@pytest.mark.cases(fast=1, slow=4)
@pytest.mark.parametrize("first", range(0, 200, 10))
def test_own_answers_are_inside_their_ranges(first: int) -> None:
    for seed in range(first, first + 10):
        answer = solve(load(random_study(seed)))
        assert load_answer(answer.to_json()) == answer
