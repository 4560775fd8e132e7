"""Certificates: every bound that multipliers or a listing prove is proven again from the rows alone."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from optimizer import cli
from optimizer.catalogue import catalogue
from optimizer.certificate import BY_SEARCH, Certificate, Names
from optimizer.certify import certify
from optimizer.duality import better_listed
from optimizer.line import solve
from optimizer.loading import load_piece, load_study
from optimizer.rate import rate
from optimizer.table import table_of
from optimizer.verify import claims_of, try_step, verify
from tests.line.studies import load, random_study, small, two_robots

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.json"))
STUDIES, CHUNK = 160, 20


def without_money(data):
    """These studies state no prices, so nothing is known of money."""
    order = [wish for wish in data["wishes"].get("order", []) if wish != "cost"]
    data["wishes"]["order"] = order or ["material"]
    return load(data)


def read(certificate):
    """Return a certificate as it comes back from its file."""
    return load_piece(Certificate, certificate.to_json())


def proofs(study):
    """Return answer, certificate and verification; (answer, None, None) without rings."""
    answer = solve(study)
    if not answer.rings:
        return answer, None, None
    certificate = read(certify(study, answer))
    return answer, certificate, verify(study, answer, certificate)


@pytest.fixture(scope="module", name="arm")
def _arm():
    study = load_study(next(p for p in SCENARIOS if p.stem == "six_joint_arm").read_text())
    answer, certificate, found = proofs(study)
    assert found.complete
    return study, answer, certificate


def test_the_arm_has_proofs_of_both_kinds(arm):
    assert {stage.proof for stage in arm[2].stages} == {"multipliers", "listing"}


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda p: p.stem)
def test_every_short_proof_of_a_scenario_is_verified_on_all_rows(path):
    answer, certificate, found = proofs(load_study(path.read_text()))
    if certificate is None:
        assert answer.status == "impossible"
        return
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


@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_every_short_proof_of_a_random_study_is_verified(first):
    seen = 0
    for seed in range(first, first + CHUNK):
        answer, certificate, found = proofs(without_money(random_study(seed)))
        if certificate is None:
            continue
        seen += 1
        assert not found.refused, (seed, found)
        for stage, verdict in zip(answer.proof.stages, found.stages, strict=True):
            if stage.confirmed_by in ("multipliers", "listing"):
                assert verdict.state == "verified", (seed, verdict)
    assert seen >= CHUNK // 3


def test_at_least_a_hundred_random_studies_have_answers():
    """So that the test above looks at as many certificates."""
    answered = sum(bool(solve(without_money(random_study(s))).rings) for s in range(STUDIES))
    assert answered >= 100


@pytest.mark.parametrize("seed", range(40))
def test_no_multipliers_prove_a_value_that_is_beaten(seed):
    """The soundness of it: claim one more than the best, and neither true nor wild multipliers prove it."""
    study = without_money(random_study(seed)).canonical()
    answer, certificate, _ = proofs(study)
    if certificate is None:
        return
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table, names = table_of(study, rated), Names(study.shop, rated)
    draw = np.random.default_rng(seed)
    for claim, stage in zip(claims_of(study, answer, certificate), certificate.stages, strict=True):
        beaten = type(claim)(claim.wish, claim.value + 1, claim.ceilings, claim.held, claim.sizes)
        for turn in range(4):
            rest = beaten.in_question(table)
            for given in stage.steps:
                step = names.read(given)
                if turn:  # the first turn takes them as they are
                    wild = draw.integers(-step.scale, step.scale, len(step.joints))
                    step = type(step)(
                        step.scale, step.lines, step.joints + wild, step.cutters, step.heads
                    )
                tried = try_step(rest, step, beaten)
                assert not tried.proven
                assert better_listed(tried.left, tried.priced, tried.below) is not False
                rest = tried.left


# -- tampering ---------------------------------------------------------------------------------------


def numbers(tree, path=()):
    """Yield the path of every number in JSON data."""
    if isinstance(tree, dict | list):
        pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
        for key, value in pairs:
            yield from numbers(value, (*path, key))
    elif isinstance(tree, int | float) and not isinstance(tree, bool):
        yield path


def changed(certificate, path, change, seal):
    """Return the certificate with one number changed, sealed again or not; None if it cannot be read."""
    data = json.loads(certificate.to_json())
    place = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = change(place[path[-1]])
    try:
        made = load_piece(Certificate, json.dumps(data))
    except ValueError:
        return None
    return made.sealed() if seal else made


CHANGES = {
    "one more": lambda n: n + 1,
    "one less": lambda n: n - 1,
    "other sign": lambda n: -n if n else 1,
    "tenfold": lambda n: 10 * n if n else 10,
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_every_changed_number_is_refused(arm, change):
    study, answer, certificate = arm
    paths = list(numbers(json.loads(certificate.to_json())))
    assert len(paths) >= 59
    for path in paths:
        made = changed(certificate, path, change, seal=False)
        assert made is None or verify(study, answer, made).refused, path


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_sealed_again_a_changed_claim_is_refused_and_changed_multipliers_prove_the_same_or_nothing(
    arm, change
):
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


def test_steps_removed_are_refused(arm):
    study, answer, certificate = arm
    for number, stage in enumerate(certificate.stages):
        for step in range(len(stage.steps)):
            data = json.loads(certificate.to_json())
            del data["stages"][number]["steps"][step]
            made = load_piece(Certificate, json.dumps(data)).sealed()
            assert verify(study, answer, made).refused


def test_a_listing_left_out_or_made_up_is_refused(arm):
    study, answer, certificate = arm
    other = {"multipliers": "listing", "listing": "multipliers"}
    for number, stage in enumerate(certificate.stages):
        stages = list(certificate.stages)
        stages[number] = stage.model_copy(update={"proof": other[stage.proof]})
        made = certificate.model_copy(update={"stages": stages}).sealed()
        assert verify(study, answer, made).refused


def test_a_value_lowered_by_one_in_answer_and_certificate_is_refused(arm):
    study, answer, certificate = arm
    for number in range(len(certificate.stages)):
        data, told = json.loads(certificate.to_json()), json.loads(answer.to_json())
        for stages in (data["stages"], told["proof"]["stages"]):
            stages[number]["value"] -= 1
            stages[number]["bound"] -= 1
        for later in data["stages"][number + 1 :]:
            later["held"][data["stages"][number]["wish"]] -= 1
        made = load_piece(Certificate, json.dumps(data)).sealed()
        lowered = load_piece(type(answer), json.dumps(told))
        found = verify(study, lowered, made)
        assert any("the answer comes to" in fault for fault in found.faults), found


def test_another_study_is_refused(arm):
    _, answer, certificate = arm
    other = load(small())
    found = verify(other, answer, certificate)
    assert any("study_sha256" in fault for fault in found.faults)
    own = solve(other)
    assert verify(other, own, certificate).refused
    made = certificate.model_copy(update={"study_sha256": other.fingerprint()}).sealed()
    assert verify(other, own, made).refused


def test_an_answer_with_another_ring_is_refused(arm):
    study, answer, certificate = arm
    data = json.loads(answer.to_json())
    data["rings"][0]["bore_mm"] += study.shop.bore_step_mm
    made = load_piece(type(answer), json.dumps(data))
    assert verify(study, made, certificate).refused


def test_a_wasteful_answer_cannot_be_certified():
    """The same study with one joint's ring heavier: its own totals are stated, and refused."""
    study = load(small()).canonical()
    answer = solve(study)
    swapped = study.model_copy(
        update={"wishes": study.wishes.model_copy(update={"order": ["material"]})}
    )
    best, worse = solve(swapped), None
    stages = answer.proof.stages
    assert best.proof.stages[0].value < stages[-1].value, "the wishes must be at odds here"
    worse = best.model_copy(
        update={"rings": answer.rings, "proof": best.proof.model_copy(
            update={"stages": [best.proof.stages[0].model_copy(
                update={"value": stages[-1].value, "bound": stages[-1].value})]})}
    )  # fmt: skip
    assert certify(swapped, worse).stages[0].proof == "search"
    good = certify(swapped, best)
    forged = good.stages[0].model_copy(
        update={"value": stages[-1].value, "bound": stages[-1].value}
    )
    made = good.model_copy(update={"stages": [forged]}).sealed()
    assert verify(swapped, worse, made).refused


# -- the commands ------------------------------------------------------------------------------------


def test_the_commands_write_and_verify(tmp_path, capsys):
    study, answer, certificate = (tmp_path / n for n in ("s.json", "a.json", "c.json"))
    study.write_text(json.dumps(two_robots()))
    assert (
        cli.main(["solve", str(study), "--answer", str(answer), "--certificate", str(certificate)])
        == 0
    )
    capsys.readouterr()
    judge = ["judge", str(study), str(answer), "--certificate", str(certificate)]
    assert cli.main(judge) == 0
    assert capsys.readouterr().out.count(": verified; nothing below ") == 4
    data = json.loads(certificate.read_text())
    data["stages"][0]["value"] += 1
    certificate.write_text(json.dumps(data))
    assert cli.main(judge) == 1
    assert "certificate refused: seal: given" in capsys.readouterr().out
    certificate.write_text("{}")
    assert cli.main(judge) == 2
    assert "is not a certificate" in capsys.readouterr().err


def test_a_stage_proven_by_search_is_told_and_has_its_own_exit_code(tmp_path, capsys, arm):
    study, answer, certificate = arm
    stages = list(certificate.stages)
    stages[-1] = stages[-1].model_copy(
        update={"proof": "search", "rows": "none", "steps": [], "note": BY_SEARCH}
    )
    files = [tmp_path / n for n in ("s.json", "a.json", "c.json")]
    texts = [
        study.model_dump_json(), answer.to_json(),
        certificate.model_copy(update={"stages": stages}).sealed().to_json(),
    ]  # fmt: skip
    for file, text in zip(files, texts, strict=True):
        file.write_text(text)
    assert cli.main(["judge", *map(str, files[:2]), "--certificate", str(files[2])]) == 4
    assert f"material: not verified; {BY_SEARCH}" in capsys.readouterr().out


def test_no_certificate_is_written_without_rings(tmp_path, capsys):
    study = next(p for p in SCENARIOS if p.stem == "impossible_wrist")
    file = tmp_path / "c.json"
    assert cli.main(["solve", str(study), "--certificate", str(file)]) == 3
    assert not file.exists()
    assert "no certificate written" in capsys.readouterr().err


def test_verification_loads_no_solver(tmp_path, arm):
    study, answer, certificate = arm
    for name, text in zip(
        "sac", (study.model_dump_json(), answer.to_json(), certificate.to_json()), strict=True
    ):
        (tmp_path / name).write_text(text)
    program = (
        "import sys\n"
        "from optimizer import cli\n"
        "assert cli.main(['judge', 's', 'a', '--certificate', 'c']) == 0\n"
        "search = ('choose', 'engines', 'relax', 'listing', 'multipliers', 'program', 'line', 'certify')\n"
        "print([m for m in sys.modules if m.split('.')[0] == 'ortools' or m == 'scipy.optimize'"
        " or m in {f'optimizer.{name}' for name in search}])\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert run.stdout.endswith("[]\n")
