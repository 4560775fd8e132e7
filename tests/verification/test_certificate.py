"""Certificates: every bound that multipliers or a listing prove is proven again from the rows alone."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.units import reduction_units
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import WISHES, Study
from ringset.solving.certify import certify, solved_certificate
from ringset.solving.pipeline import solve, solve_in_full
from ringset.verification.certificate.claims import certificate_claims
from ringset.verification.certificate.document import Certificate
from ringset.verification.certificate.duality import NoProof
from ringset.verification.certificate.listed import certificate_better_listed
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import try_certificate_step
from ringset.verification.certificate.verify import (
    Verification,
    certified_answer_rows,
    verify_certificate,
)
from tests.bench.instances import study as bench_study
from tests.bench.instances import with_tool_points
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.studies import random_study, without_money
from tests.support.tiers import campaign, slow
from tests.support.tuned import tune
from tests.verification.conftest import Proven, as_read

FILES = sorted(SCENARIOS.glob("*.json"))
#: Scenarios of which some bound is proven by splitting.
TREES = ("family_three_arms", "power_loss", "priced_arm")
STUDIES, CHUNK = 160, 20


def proofs(study: Study) -> tuple[Answer, Certificate, Verification] | tuple[Answer, None, None]:
    """Return answer, certificate and verification; (answer, None, None) without rings."""
    answer = solve(study)
    if not answer.rings:
        return answer, None, None
    certificate = as_read(certify(study, answer))
    return answer, certificate, verify_certificate(study, answer, certificate)


def proven(study: Study) -> tuple[Answer, Certificate, Verification]:
    """Return answer, certificate and verification of a study that has rings."""
    answer, certificate, found = proofs(study)
    return answer, present(certificate), present(found)


def test_the_arm_has_proofs_of_both_kinds(arm: Proven) -> None:
    assert {stage.proof for stage in arm[2].stages} == {"multipliers", "listing"}


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize(
    "path",
    [campaign(p) if p.stem in TREES[1:] else slow(p) if p.stem in TREES else p for p in FILES],
    ids=lambda p: p.stem,
)
def test_every_bound_of_a_scenario_is_verified(path: Path) -> None:
    answer, certificate, found = proofs(load_study(path.read_text()))
    if certificate is None:
        assert answer.status == "impossible"
        return
    assert found is not None
    assert found.complete, found
    # of a family with more than 20,000 rows a tree is grown on those that few ring parts leave
    some = {"covered"} if path.stem == "family_three_arms" else set()
    assert {proof.rows for proof in certificate.stages} == {"all"} | some
    trees = [len(proof.tree) for proof in certificate.stages if proof.proof == "tree"]
    assert bool(trees) == (path.stem in TREES)
    assert max(trees, default=0) < 200


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_every_short_proof_of_a_random_study_is_verified(first: int) -> None:
    seen = 0
    for seed in range(first, first + CHUNK):
        answer, certificate, found = proofs(without_money(random_study(seed)))
        if certificate is None:
            continue
        seen += 1
        assert found is not None
        assert not found.refused, (seed, found)
        for stage, verdict in zip(answer.proof.stages, found.stages, strict=True):
            if stage.confirmed_by in ("multipliers", "listing"):
                assert verdict.state == "verified", (seed, verdict)
    assert seen >= CHUNK // 3


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", [6, 7, 8])
def test_what_was_settled_cutter_by_cutter_is_certified_as_before(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bound that one set of multipliers proves is certified, however the search came to it."""
    study = with_tool_points(
        bench_study(30, seed, wishes={"order": ["cutters", "ring_parts", "material"]})
    )
    apart, _, found = proven(study)
    tune(monkeypatch, mixed_rows=10**9, without=frozenset({"least covers"}))
    mixed = solve(study)
    assert [stage.value for stage in apart.proof.stages] == [s.value for s in mixed.proof.stages]
    assert apart.proof.stages[-1].confirmed_by == "halves"
    assert mixed.proof.stages[-1].confirmed_by == "multipliers"
    assert found.complete


@pytest.mark.campaign
def test_at_least_a_hundred_random_studies_have_answers() -> None:
    """So that the test above looks at as many certificates."""
    answered = sum(bool(solve(without_money(random_study(s))).rings) for s in range(STUDIES))
    assert answered >= 100


@pytest.mark.cases(fast=4, slow=9)
@pytest.mark.parametrize("seed", range(40))
def test_no_multipliers_prove_a_value_that_is_beaten(seed: int) -> None:
    """The soundness of it: claim one more than the best, and neither true nor wild multipliers prove it."""
    study = without_money(random_study(seed)).canonical()
    answer, certificate, _ = proofs(study)
    if certificate is None:
        return
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table, names = reduction_table(study, rated), Names(study.shop, rated)
    draw, tried_out = np.random.default_rng(seed), 0
    for claim, stage in zip(
        certificate_claims(study, answer, reduction_units(table)), certificate.stages, strict=True
    ):
        beaten = replace(claim, value=claim.value + 1)
        for turn in range(4):
            rest = beaten.allowed(table)
            for given in stage.steps:
                step = names.read(given)
                if turn:  # the first turn takes them as they are
                    wild = draw.integers(-step.scale, step.scale, len(step.joints))
                    step = type(step)(
                        step.scale, step.lines, step.joints + wild, step.cutters, step.heads
                    )
                try:
                    tried = try_certificate_step(rest, step, beaten, given.bounds)
                except NoProof:  # too wild
                    continue
                tried_out += 1
                assert not tried.proven
                if given.bounds == claim.wish:
                    assert (
                        certificate_better_listed(tried.left, tried.priced, tried.below)
                        is not False
                    )
                rest = tried.left
    assert tried_out >= 2


@pytest.mark.slow
def test_multipliers_of_a_held_wish_drop_rows_for_the_next() -> None:
    """Of 14 joints with tool-point targets a later wish needs them; the answer's own rows stay."""
    study, answer, certificate, found, number = with_a_held_step()
    assert not found.refused
    stage = certificate.stages[number]
    first = stage.steps[0]
    assert first.rows_left > 0
    assert found.stages[number].state == "verified"
    free = next(wish for wish in WISHES if wish not in stage.held and wish != stage.wish)
    for other in (stage.wish, free):  # a wish that is not held, or not first
        steps = [first.model_copy(update={"bounds": other}), *stage.steps[1:]]
        stages = list(certificate.stages)
        stages[number] = stage.model_copy(update={"steps": steps})
        made = certificate.model_copy(update={"stages": stages}).sealed()
        assert verify_certificate(study, answer, made).stages[number].state == "refused"
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table = reduction_table(study, rated)
    names, claim = (
        Names(study.shop, rated),
        certificate_claims(study, answer, reduction_units(table))[number],
    )
    rest = claim.allowed(table)
    tried = try_certificate_step(rest, names.read(first), claim, first.bounds)
    assert len(tried.left.table) < 0.9 * len(rest.table)
    assert np.all(np.isin(present(certified_answer_rows(rated, answer)), tried.left.table.index))


def with_a_held_step() -> tuple[Study, Answer, Certificate, Verification, int]:
    """Return a study with its proofs, and the first stage that begins with multipliers of a held wish."""
    for seed in (
        10,
        13,
        18,
        *range(1, 9),
    ):  # which studies come to need them hangs on the linear programs' solver
        study = with_tool_points(bench_study(14, seed)).canonical()
        answer, certificate, found = proven(study)
        for number, stage in enumerate(certificate.stages):
            if stage.steps and stage.steps[0].bounds in stage.held:
                return study, answer, certificate, found, number
    pytest.fail("no study needs multipliers of a held wish")


@pytest.mark.cases(fast=2)
@pytest.mark.parametrize("seed", range(101, 109))
def test_what_the_search_knows_makes_a_certificate_as_true(seed: int) -> None:
    """Rows and multipliers at hand save rating and relaxing anew; the file is checked as any other."""
    study = with_tool_points(bench_study(6, seed)).canonical()
    solved = solve_in_full(study)
    certificate = as_read(solved_certificate(solved))
    assert verify_certificate(study, solved.answer, certificate).complete
    plain = certify(study, solved.answer)
    told = [(stage.wish, stage.value, stage.held) for stage in plain.stages]
    assert [(stage.wish, stage.value, stage.held) for stage in certificate.stages] == told
