"""Certificates: every bound that multipliers or a listing prove is proven again from the rows alone."""

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.reduction.from_ratings import table_of
from ringset.reduction.units import units_of
from ringset.schema.answer import Answer
from ringset.schema.loading import load_model, load_study
from ringset.schema.study import WISHES, Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.claims import certificate_claims
from ringset.verification.certificate.document import BY_SEARCH, Certificate, Names
from ringset.verification.certificate.duality import NoProof, better_listed
from ringset.verification.certificate.verify import (
    Verification,
    certified_answer_rows,
    certified_round_outcome,
    try_step,
    verify,
)  # fmt: skip
from tests.bench.instances import study as bench_study
from tests.bench.instances import with_tool_points
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.studies import load, random_study, small, without_money
from tests.support.tiers import first_fast, slow
from tests.support.tuned import tune

FILES = sorted(SCENARIOS.glob("*.json"))
STUDIES, CHUNK = 160, 20


#: A study, its answer and the certificate of that answer.
Proven = tuple[Study, Answer, Certificate]


def read(certificate: Certificate) -> Certificate:
    """Return a certificate as it comes back from its file."""
    return load_model(Certificate, certificate.to_json())


def proofs(study: Study) -> tuple[Answer, Certificate, Verification] | tuple[Answer, None, None]:
    """Return answer, certificate and verification; (answer, None, None) without rings."""
    answer = solve(study)
    if not answer.rings:
        return answer, None, None
    certificate = read(certify(study, answer))
    return answer, certificate, verify(study, answer, certificate)


def proven(study: Study) -> tuple[Answer, Certificate, Verification]:
    """Return answer, certificate and verification of a study that has rings."""
    answer, certificate, found = proofs(study)
    return answer, present(certificate), present(found)


@pytest.fixture(scope="module", name="arm")
def _arm() -> Proven:
    study = load_study((SCENARIOS / "six_joint_arm.json").read_text())
    answer, certificate, found = proven(study)
    assert found.complete
    return study, answer, certificate


def test_the_arm_has_proofs_of_both_kinds(arm: Proven) -> None:
    assert {stage.proof for stage in arm[2].stages} == {"multipliers", "listing"}


@pytest.mark.parametrize(
    "path", [slow(p) if p.stem == "priced_arm" else p for p in FILES], ids=lambda p: p.stem
)
def test_every_short_proof_of_a_scenario_is_verified_on_all_rows(path: Path) -> None:
    answer, certificate, found = proofs(load_study(path.read_text()))
    if certificate is None:
        assert answer.status == "impossible"
        return
    assert found is not None
    assert not found.refused
    for stage, proof, verdict in zip(
        answer.proof.stages, certificate.stages, found.stages, strict=True
    ):
        if stage.confirmed_by in ("multipliers", "listing"):
            assert (proof.rows, verdict.state) == ("all", "verified"), verdict
        if proof.proof == "search":
            assert (verdict.state, proof.note) == ("not verified", BY_SEARCH)
        else:
            assert verdict.state == "verified"


@pytest.mark.parametrize("first", first_fast(range(0, STUDIES, CHUNK), 2))
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


@pytest.mark.parametrize("seed", first_fast([6, 7, 8], 1))
def test_what_was_settled_cutter_by_cutter_is_certified_as_before(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bound that one set of multipliers proves is certified, however the search came to it."""
    study = with_tool_points(
        bench_study(30, seed, wishes={"order": ["cutters", "ring_parts", "material"]})
    )
    apart, _, found = proven(study)
    tune(monkeypatch, mixed_rows=10**9)
    mixed = solve(study)
    assert [stage.value for stage in apart.proof.stages] == [s.value for s in mixed.proof.stages]
    assert apart.proof.stages[-1].confirmed_by == "halves"
    assert mixed.proof.stages[-1].confirmed_by == "multipliers"
    assert found.complete


@pytest.mark.slow
def test_at_least_a_hundred_random_studies_have_answers() -> None:
    """So that the test above looks at as many certificates."""
    answered = sum(bool(solve(without_money(random_study(s))).rings) for s in range(STUDIES))
    assert answered >= 100


@pytest.mark.parametrize("seed", range(40))
def test_no_multipliers_prove_a_value_that_is_beaten(seed: int) -> None:
    """The soundness of it: claim one more than the best, and neither true nor wild multipliers prove it."""
    study = without_money(random_study(seed)).canonical()
    answer, certificate, _ = proofs(study)
    if certificate is None:
        return
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table, names = table_of(study, rated), Names(study.shop, rated)
    draw, tried_out = np.random.default_rng(seed), 0
    for claim, stage in zip(
        certificate_claims(study, answer, units_of(table)), certificate.stages, strict=True
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
                    tried = try_step(rest, step, beaten, given.bounds)
                except NoProof:  # too wild
                    continue
                tried_out += 1
                assert not tried.proven
                if given.bounds == claim.wish:
                    assert better_listed(tried.left, tried.priced, tried.below) is not False
                rest = tried.left
    assert tried_out >= 2


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
        assert verify(study, answer, made).stages[number].state == "refused"
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table = table_of(study, rated)
    names, claim = (
        Names(study.shop, rated),
        certificate_claims(study, answer, units_of(table))[number],
    )
    rest = claim.allowed(table)
    tried = try_step(rest, names.read(first), claim, first.bounds)
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


#: The way to a number in JSON data: fields and places of lists.
Keys = tuple[str | int, ...]


# -- tampering ---------------------------------------------------------------------------------------


def numbers(tree: object, path: Keys = ()) -> Iterator[Keys]:
    """Yield the path of every number in JSON data."""
    if isinstance(tree, dict | list):
        pairs: Iterable[tuple[str | int, object]]
        pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
        for key, value in pairs:
            yield from numbers(value, (*path, key))
    elif isinstance(tree, int | float) and not isinstance(tree, bool):
        yield path


def changed(
    certificate: Certificate, path: Keys, change: Callable[[float], float], seal: bool
) -> Certificate | None:
    """Return the certificate with one number changed, sealed again or not; None if it cannot be read."""
    data = json.loads(certificate.to_json())
    place = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = change(place[path[-1]])
    try:
        made = load_model(Certificate, json.dumps(data))
    except ValueError:
        return None
    return made.sealed() if seal else made


CHANGES: dict[str, Callable[[float], float]] = {
    "one more": lambda n: n + 1,
    "one less": lambda n: n - 1,
    "other sign": lambda n: -n if n else 1,
    "tenfold": lambda n: 10 * n if n else 10,
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_every_changed_number_is_refused(arm: Proven, change: Callable[[float], float]) -> None:
    study, answer, certificate = arm
    paths = list(numbers(json.loads(certificate.to_json())))
    assert len(paths) >= 58
    for path in paths:
        made = changed(certificate, path, change, seal=False)
        assert made is None or verify(study, answer, made).refused, path


@pytest.mark.parametrize("change", first_fast(CHANGES.values(), 1), ids=CHANGES)
def test_sealed_again_a_changed_claim_is_refused_and_changed_multipliers_prove_the_same_or_nothing(
    arm: Proven, change: Callable[[float], float]
) -> None:
    """Whoever seals anew may write other multipliers, but can make them prove only what is true."""
    study, answer, certificate = arm
    proving = ("whole_limits", "real_limits", "joints", "cutters", "heads", "scale")
    claims = refused = 0
    for path in numbers(json.loads(certificate.to_json())):
        made = changed(certificate, path, change, seal=True)
        if made is None:
            continue
        found = verify(study, answer, made)
        if not set(path) & set(proving):
            claims += 1
            assert found.refused, path
        else:
            refused += found.refused
            values = [stage.value for stage in made.stages]
            assert values == [stage.value for stage in answer.proof.stages]
    assert claims >= 15
    assert refused >= 20


def test_steps_removed_are_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    for number, stage in enumerate(certificate.stages):
        for step in range(len(stage.steps)):
            data = json.loads(certificate.to_json())
            del data["stages"][number]["steps"][step]
            made = load_model(Certificate, json.dumps(data)).sealed()
            assert verify(study, answer, made).refused


def test_a_listing_left_out_or_made_up_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    other = {"multipliers": "listing", "listing": "multipliers"}
    for number, stage in enumerate(certificate.stages):
        stages = list(certificate.stages)
        stages[number] = stage.model_copy(update={"proof": other[stage.proof]})
        made = certificate.model_copy(update={"stages": stages}).sealed()
        assert verify(study, answer, made).refused


def test_a_value_lowered_by_one_in_answer_and_certificate_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    for number in range(len(certificate.stages)):
        data, told = json.loads(certificate.to_json()), json.loads(answer.to_json())
        for stages in (data["stages"], told["proof"]["stages"]):
            stages[number]["value"] -= 1
            stages[number]["bound"] -= 1
        for later in data["stages"][number + 1 :]:
            later["held"][data["stages"][number]["wish"]] -= 1
        made = load_model(Certificate, json.dumps(data)).sealed()
        lowered = load_model(type(answer), json.dumps(told))
        found = verify(study, lowered, made)
        assert any("the answer comes to" in fault for fault in found.faults), found


def test_another_study_is_refused(arm: Proven) -> None:
    _, answer, certificate = arm
    other = load(small())
    found = verify(other, answer, certificate)
    assert any("study_sha256" in fault for fault in found.faults)
    own = solve(other)
    assert verify(other, own, certificate).refused
    made = certificate.model_copy(update={"study_sha256": other.fingerprint()}).sealed()
    assert verify(other, own, made).refused


def test_an_answer_with_another_ring_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    data = json.loads(answer.to_json())
    data["rings"][0]["bore_mm"] += study.shop.bore_step_mm
    made = load_model(type(answer), json.dumps(data))
    assert verify(study, made, certificate).refused


def wasteful() -> tuple[Study, Answer, Answer]:
    """Return a study, its best answer, and one with more material that claims to be the best."""
    study = load(small()).canonical()
    answer = solve(study)
    wishes = study.wishes.model_copy(update={"order": ["material"]})
    lighter = study.model_copy(update={"wishes": wishes})
    best = solve(lighter)
    (stage,) = best.proof.stages
    value = answer.proof.stages[-1].value
    assert stage.value < value, "the wishes must be at odds here"
    stages = [stage.model_copy(update={"value": value, "bound": value})]
    proof = best.proof.model_copy(update={"stages": stages})
    return lighter, best, best.model_copy(update={"rings": answer.rings, "proof": proof})


def test_a_wasteful_answer_cannot_be_certified() -> None:
    study, best, worse = wasteful()
    assert certify(study, worse).stages[0].proof == "search"
    good = certify(study, best)
    claim = {name: getattr(worse.proof.stages[0], name) for name in ("value", "bound")}
    made = good.model_copy(update={"stages": [good.stages[0].model_copy(update=claim)]})
    assert verify(study, worse, made.sealed()).refused


def test_a_listing_that_hides_a_better_answer_is_refused() -> None:
    """Everything stated is what the verifier itself finds, but the rest holds the better answer."""
    study, best, worse = wasteful()
    good = certify(study, best)
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table = table_of(study, rated)
    (claim,) = certificate_claims(study, worse, units_of(table))
    given = good.stages[0].steps[0]
    rest = claim.allowed(table)
    bound, rows = certified_round_outcome(
        try_step(rest, Names(study.shop, rated).read(given), claim)
    )
    stated = given.model_copy(update={"lower_bound_scaled": bound, "rows_left": rows})
    told = {"value": claim.value, "bound": claim.value, "proof": "listing", "steps": [stated]}
    made = good.model_copy(update={"stages": [good.stages[0].model_copy(update=told)]})
    (verdict,) = verify(study, worse, made.sealed()).stages
    assert verdict.state == "refused"
    assert "is among those left" in verdict.text


def test_a_value_that_is_not_the_answers_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    last = certificate.stages[-1]
    told = last.model_copy(update={"value": last.value + 1, "bound": last.bound + 1})
    made = certificate.model_copy(update={"stages": [*certificate.stages[:-1], told]}).sealed()
    assert any("than the answer's" in fault for fault in verify(study, answer, made).faults)
