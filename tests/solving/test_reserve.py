"""The reserve: rings, proofs and verdicts are those of targets that are so much tighter, stated as they are.

Every study is held against one without reserve whose targets were multiplied beforehand; the listing of all
combinations knows no reserve at all.
"""

from __future__ import annotations

import json
import random
from collections import Counter

import pytest

from ringset.errors import StudyError
from ringset.reporting.answer_text import answer_text
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best, table
from tests.support.answered import proven
from tests.support.reserved import reserved, tightened
from tests.support.studies import load, random_study, small, two_robots

STUDIES, CHUNK = 120, 20
#: What a reserve may change in an answer that stands: how it is told.
TOLD = {"study_sha256", "reserve_percent", "target_arcsec", "target_um", "target_left_percent"}


def percent_of(seed: int) -> float:
    return random.Random(seed).choice((2.5, 5.0, 10.0, 15.0, 40.0))


def without_told(value: object) -> object:
    """Return the JSON of an answer without the numbers that tell the targets."""
    if isinstance(value, dict):
        return {k: without_told(v) for k, v in value.items() if k not in TOLD}
    return [without_told(one) for one in value] if isinstance(value, list) else value


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(4000, 4000 + STUDIES, CHUNK))
def test_the_answer_is_that_of_tighter_targets(first: int) -> None:
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        data, percent = random_study(seed), percent_of(seed)
        study, other = reserved(data, percent), tightened(data, percent)
        answer, tight = solve(study), solve(other)
        seen[answer.status] += 1
        assert judge(study, answer) == [], seed
        assert answer.status == tight.status
        told, wanted = (json.loads(one.to_json()) for one in (answer, tight))
        if answer.rings:
            assert without_told(told) == without_told(wanted), seed
            reached = {stage.wish: stage.value for stage in answer.proof.stages}
            unit = answer.proof.material_unit_kg
            assert reached == listed_best(table(other), unit), seed
        else:
            assert listed_best(table(other), 1e-6) is None, seed
    assert seen["proven"] >= 4
    assert seen["impossible"] >= 1


def test_what_is_left_counts_from_the_stated_target() -> None:
    data = two_robots()
    study = reserved(data, 20.0)
    answer = proven(study)
    assert answer.reserve_percent == 20.0
    for ring in answer.rings:
        assert ring.target_arcsec == 200.0
        left = 100.0 - 100.0 * ring.error_arcsec / 200.0
        assert ring.target_left_percent == pytest.approx(left)
        assert left >= 20.0
        (margin,) = [m for m in ring.margins if m.limit == "angle_target_arcsec"]
        assert margin.allowed == 160.0
        assert margin.margin == pytest.approx(160.0 - ring.error_arcsec)
    arm, plate = answer.tool_points
    assert arm.target_um == 400.0
    assert arm.target_left_percent is not None
    assert arm.target_left_percent == pytest.approx(100.0 - arm.error_um / 4.0)
    assert arm.target_left_percent >= 20.0
    assert plate.target_um is None
    assert plate.target_left_percent is None
    text = answer_text(study, answer, {})
    assert "A reserve of 20 % is kept below every accuracy target" in text
    assert "left %" in text
    assert "% of it left" in text
    none = answer_text(load(data), proven(load(data)), {})
    assert "A reserve" not in none
    assert "left %" in none


def test_none_is_kept_by_default() -> None:
    """A study that states 0 is the study that states nothing, and both are one answer."""
    stated = reserved(small(), 0.0)
    assert stated.fingerprint() == load(small()).fingerprint()
    assert solve(stated).to_json() == solve(load(small())).to_json()
    assert solve(stated).reserve_percent == 0.0


def test_resolution_and_lag_are_no_accuracy_targets() -> None:
    data = small()
    data["head"] = {"bandwidth_hz": 5000.0}
    data["target"].update(angle_target_arcsec=5000.0, lag_max_arcsec=900.0)
    first = proven(load(data))
    data["target"]["resolution_bits"] = min(ring.usable_bits for ring in first.rings)
    before, after = proven(load(data)), proven(reserved(data, 50.0))
    names = {"target.resolution_bits", "target.lag_max_arcsec"}
    margins = [
        [m for ring in answer.rings for m in ring.margins if m.limit in names]
        for answer in (before, after)
    ]
    assert margins[0] == margins[1]
    assert {m.limit for m in margins[0]} == names


def _with(answer: Answer, **changes: object) -> Answer:
    return answer.model_copy(update=changes)


def test_the_judge_holds_the_reserve_by_a_rule_of_its_own() -> None:
    """An answer to the study without reserve is refused where it does not keep it, and so are false words."""
    data = two_robots()
    data["wishes"] = {"order": ["material"]}
    loose = proven(load(data))
    error = max(ring.error_arcsec for ring in loose.rings)
    data["target"]["angle_target_arcsec"] = 1.05 * error
    data["robots"][0]["tool_point_target_um"] = 1.05 * loose.tool_points[0].error_um
    answer, study = proven(load(data)), reserved(data, 10.0)
    other = _with(answer, study_sha256=study.fingerprint(), reserve_percent=10.0)
    violations = judge(study, other)
    assert any("above angle_target_arcsec" in one for one in violations)
    assert any("above tool_point_target_um" in one for one in violations)
    plain = load(data)
    assert any("reserve_percent" in one for one in judge(plain, _with(answer, reserve_percent=5.0)))
    ring = answer.rings[0].model_copy(update={"target_left_percent": 50.0})
    forged = _with(answer, rings=[ring, *answer.rings[1:]])
    assert any("target_left_percent" in one for one in judge(plain, forged))
    for left in (50.0, None):
        point = answer.tool_points[0].model_copy(update={"target_left_percent": left})
        forged = _with(answer, tool_points=[point, *answer.tool_points[1:]])
        assert any("target_left_percent" in one for one in judge(plain, forged))


def test_the_certificate_proves_the_bounds_of_the_tightened_study() -> None:
    study = reserved(two_robots(), 20.0)
    answer = proven(study)
    certificate = certify(study, answer)
    found = verify_certificate(study, answer, certificate)
    assert found.complete
    assert not found.refused
    assert verify_certificate(load(two_robots()), answer, certificate).refused


def test_reasons_name_target_and_reserve() -> None:
    data = small()
    data["target"]["angle_target_arcsec"] = 5.0
    reason = solve(reserved(data, 30.0)).reasons[0]
    same = solve(load(data)).reasons[0]
    assert "angle_target_arcsec 5 less 30 % reserve: the best that can be reached is" in reason
    assert reason.replace(" less 30 % reserve", "") == same
    data = small()
    data["robots"][0]["tool_point_target_um"] = 50.0
    reason = solve(reserved(data, 30.0)).reasons[0]
    assert "tool_point_target_um 50 less 30 % reserve: the best" in reason


@pytest.mark.parametrize("given", [50.5, 100.0, -1.0])
def test_a_reserve_out_of_range_is_refused_by_name(given: float) -> None:
    with pytest.raises(StudyError, match=r"target\.reserve_percent: given -?[0-9.]+; allowed: "):
        reserved(small(), given)


def test_half_is_still_a_reserve() -> None:
    study: Study = reserved(small(), 50.0)
    assert study.target.less_reserve(60.0) == 30.0
    assert study.target.least_target(30.0) == 60.0
    assert all(ring.target_left_percent >= 50.0 for ring in proven(study).rings)
