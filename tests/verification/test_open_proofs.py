"""Open proofs: what a stranger's checker finds in the files, and what the files say of the answer."""

from __future__ import annotations

import csv
import io
import random
from collections import Counter
from pathlib import Path

import pytest

from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import SEARCHED, Certificate
from ringset.verification.open_proofs.proofs import (
    NoOpenProof,
    NotProven,
    OpenProofs,
    open_proofs,
    open_stage_name,
)
from tests.support.cutting_planes import check_proof
from tests.support.forged_trees import certificate_of_trees
from tests.support.forgeries import case_of
from tests.support.narrow import present
from tests.support.open_proofs import (
    SPOILED,
    UNTRUE,
    accepted,
    falls_short_by,
    open_proofs_of,
    tampered,
    values_in_answer,
)
from tests.support.places import SCENARIOS
from tests.support.pseudo_boolean import read_opb
from tests.support.studies import load, priced_study, random_study, without_money
from tests.support.tiers import campaign, slow

FAST = ("finer_table",)
#: Scenarios whose proofs the checker, in plain Python, reads for minutes.
LONG = {
    "power_loss",
    "six_joint_arm",
    "family_three_arms",
    "priced_arm",
    "heavy_for_a_head",
    "seven_joint_arm",
}
FILES = sorted(SCENARIOS.glob("*.json"))
STUDIES, CHUNK = 160, 4
#: First those with listings and prices of head counts, so that the fast tier sees what these ask.
EVERY = [12, 28, 0, 56, *sorted({*range(0, STUDIES, CHUNK)} - {12, 28, 0, 56})]


def hold(answer: Answer, certificate: Certificate, made: OpenProofs) -> None:
    """Every proof is accepted, and the answer meets its formula but for the one unit that it asks for."""
    assert made.stages
    for stage in made.stages:
        assert accepted(stage), stage.name
        (given,) = [one for one in certificate.stages if open_stage_name(one) == stage.name]
        reached = given.value - next(s.value for s in answer.proof.stages if s.wish == given.wish)
        if given.sum is None and reached == 0:
            missed, short = falls_short_by(stage.formula, made.names)
            assert missed == [len(read_opb(stage.formula)) - 1]
            assert short == 1


@pytest.mark.parametrize(
    "path",
    [p if p.stem in FAST else campaign(p) if p.stem in LONG else slow(p) for p in FILES],
    ids=lambda p: p.stem,
)
def test_every_proof_of_a_scenario_is_accepted(path: Path) -> None:
    found = open_proofs_of(load_study(path.read_text()))
    if found is not None:
        hold(*found)


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", EVERY)
def test_every_proof_of_a_random_study_is_accepted(first: int) -> None:
    seen = 0
    for seed in range(first, first + CHUNK):
        priced = seed % 3 == 2
        drawn = load(priced_study(seed)) if priced else without_money(random_study(seed))
        found = open_proofs_of(drawn)
        if found is not None:
            seen += 1
            hold(*found)
    assert seen


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("seed", [50_339, 50_204, 50_111])
def test_trees_with_splits_of_all_kinds_are_written_and_accepted(seed: int) -> None:
    case = present(case_of(seed, priced=seed % 2 == 1))
    certificate = certificate_of_trees(case.study, case.best)
    trees = [stage for stage in certificate.stages if stage.proof == "tree"]
    made = open_proofs(case.study, case.best, certificate, only=[open_stage_name(s) for s in trees])
    hold(case.best, certificate, made)
    kinds = {node.split.by for stage in trees for node in stage.tree if node.split is not None}
    assert {"amount", "heads", "cutters"} <= kinds


@pytest.fixture(name="small", scope="module")
def _small() -> tuple[Study, Answer, Certificate, OpenProofs]:
    study = load_study((SCENARIOS / "finer_table.json").read_text())
    answer, certificate, made = present(open_proofs_of(study))
    return study, answer, certificate, made


def test_a_proof_of_what_is_not_so_is_refused(
    small: tuple[Study, Answer, Certificate, OpenProofs],
) -> None:
    draw, seen = random.Random(1), Counter[str]()
    for stage in small[3].stages:
        for kind, told in tampered(stage, UNTRUE, draw, 3):
            seen[kind] += 1
            assert not told, (stage.name, kind)
    assert set(seen) == set(UNTRUE)


def test_a_spoiled_proof_of_what_is_so_is_mostly_refused(
    small: tuple[Study, Answer, Certificate, OpenProofs],
) -> None:
    """A line may be spoiled and still do, as a multiplier with some room; that is no untruth."""
    draw = random.Random(2)
    told = [one for stage in small[3].stages for _, one in tampered(stage, SPOILED, draw, 5)]
    assert sum(told) <= len(told) // 2


def test_the_table_names_every_variable_and_the_rings_of_the_answer(
    small: tuple[Study, Answer, Certificate, OpenProofs],
) -> None:
    study, answer, _, made = small
    used = {x for stage in made.stages for one in read_opb(stage.formula) for x in one.numbers}
    assert used == set(values_in_answer(made.names))
    rows = [row for row in csv.DictReader(io.StringIO(made.names)) if row["kind"] == "row"]
    taken = {
        (row["joint"], float(row["module_mm"]), int(row["teeth"]), float(row["bore_mm"]))
        for row in rows
        if row["in_answer"] == "1"
    }
    assert taken == {(r.label, r.module_mm, r.teeth, r.bore_mm) for r in answer.rings}
    assert len(taken) == sum(len(robot.joints) for robot in study.robots)


def test_both_versions_say_the_same(small: tuple[Study, Answer, Certificate, OpenProofs]) -> None:
    study, answer, certificate, made = small
    older = open_proofs(study, answer, certificate, version="2.0")
    for old, new in zip(older.stages, made.stages, strict=True):
        assert old.formula == new.formula
        assert old.proof.startswith("pseudo-Boolean proof version 2.0\n")
        assert check_proof(old.formula, old.proof) == check_proof(new.formula, new.proof)


def test_what_cannot_be_proven_is_refused_by_name(
    small: tuple[Study, Answer, Certificate, OpenProofs],
) -> None:
    study, answer, certificate, _ = small
    other = load_study((SCENARIOS / "two_joint_table.json").read_text())
    theirs = solve(other)
    for given in ((other, answer, certificate), (study, theirs, certificate),
                  (study, answer, certify(other, theirs))):  # fmt: skip
        with pytest.raises(NoOpenProof, match="study_sha256"):
            open_proofs(*given)
    with pytest.raises(NoOpenProof, match=r"only: given weight; allowed: cutters, ring_parts"):
        open_proofs(study, answer, certificate, only=["weight"])
    none = answer.model_copy(update={"rings": []})
    with pytest.raises(NoOpenProof, match="given one without rings"):
        open_proofs(study, none, certificate)
    stages = list(certificate.stages)
    blank = {"proof": "search", "rows": "none", "steps": [], "note": SEARCHED[""]}
    stages[-1] = stages[-1].model_copy(update=blank)
    searched = certificate.model_copy(update={"stages": stages}).sealed()
    with pytest.raises(NotProven, match=r"^material: given a bound .*; allowed: one with a proof"):
        open_proofs(study, answer, searched)
    assert len(open_proofs(study, answer, searched, only=["cutters"]).stages) == 1


def test_a_comment_ends_only_at_a_line_feed() -> None:
    """A title may hold a Unicode line separator: what follows it is no constraint of the formula."""
    formula = "* title\u2028+1 x1 >= 1 ;\n-1 x1 >= 0 ;\n"
    assert [(one.numbers, one.right) for one in read_opb(formula)] == [({"x1": -1}, 0)]
