"""The band: ends as direct solves, careful as the worse in sum, what stays, what makes care impossible."""

from __future__ import annotations

import itertools

import pytest

from ringset.analysis.assumptions.band import find_band
from ringset.schema.assumed_inputs import assumed_inputs, study_with_inputs
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.assumption_studies import loosened
from tests.support.studies import load, small

FEW = (1, 2, 3, 8)


def at_end(study: Study, band_inputs: dict[str, object], left_out: list[str]) -> Study:
    """Return the study with inputs at an end of a band, those left out or there already as stated."""
    inputs = [
        (one, band_inputs[one.path])
        for one in assumed_inputs(study)
        if band_inputs[one.path] != one.given
        and not any(text.startswith(f"{one.path}:") for text in left_out)
    ]
    return study_with_inputs(study, inputs)  # type: ignore[arg-type]


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", FEW)
def test_both_ends_are_direct_solves_and_the_judge_passes_them(seed: int) -> None:
    study = loosened(seed)
    band = find_band(study)
    for name in ("hopeful", "careful"):
        ends = {one.path: getattr(one, name) for one in band.inputs}
        out = [text.removeprefix(f"{name}: ") for text in band.left_out if text.startswith(name)]
        changed = at_end(study, ends, out)
        answer = getattr(band, name)
        assert answer == solve(changed)
        assert judge(changed, answer) == []
    assert band.stated == solve(study)


@pytest.mark.slow
def test_careful_raises_errors_and_closes_room() -> None:
    band = find_band(load(small() | {"ranges": {"shop.rim_min_mm": [2, 12]}}))
    ends = {one.path: (one.hopeful, one.careful) for one in band.inputs}
    assert ends["head.noise_ratio"] == (0.0003, 0.003)  # more error
    assert ends["shop.rim_min_mm"] == (2.0, 12.0)  # less room
    assert ends["head.teeth_sensed"][1] == 1  # the low end is the careful one
    assert ends["head.tooth_rate_max_hz"] == (10000.0, 10000.0)  # bears on nothing here
    assert ends["joints[].head_counts"] == ([1, 2, 3, 4], [1])
    assert all(one.weight >= 0.0 for one in band.inputs)


@pytest.mark.slow
def test_where_joints_disagree_the_worse_in_sum_is_careful() -> None:
    data = small() | {
        "ranges": {'joints."joint 1".bore_max_mm': [62, 66], "head.gap_mm": [0.3, 0.6]}
    }
    band = find_band(load(data))
    ends = {one.path: (one.hopeful, one.careful) for one in band.inputs}
    assert ends['joints."joint 1".bore_max_mm'] == (66.0, 62.0)
    assert ends["head.gap_mm"] in ((0.3, 0.6), (0.6, 0.3))


@pytest.mark.slow
def test_what_is_the_same_is_the_same_in_every_answer() -> None:
    data = small()
    data["ranges"] = {"head.noise_ratio": [0.00099, 0.00101]}
    study = load(data)
    assert study.ranges
    band = find_band(study)
    answers = [a for a in (band.hopeful, band.stated, band.careful) if a.rings]
    assert len(band.same.compared) == len(answers)
    for joint, heads in band.same.heads.items():
        assert {r.heads for a in answers for r in a.rings if r.label == joint} == {heads}
    for joint in {r.label for r in band.stated.rings} - set(band.same.heads):
        assert len({r.heads for a in answers for r in a.rings if r.label == joint}) > 1


def impossible_band() -> tuple[Study, list[str], list[str]]:
    study = load(small())
    band = find_band(study)
    assert band.careful.status == "impossible"
    assert not band.causes_open
    return study, band.causes, band.causes_alone


@pytest.mark.slow
def test_causes_are_needed_and_enough() -> None:
    study, causes, alone = impossible_band()
    band = find_band(study)
    careful = {one.path: one.careful for one in band.inputs}
    inputs = {one.path: one for one in assumed_inputs(study)}
    out = [text for text in band.left_out if text.startswith("careful")]
    assert out == []

    def status(paths: list[str]) -> str:
        return solve(study_with_inputs(study, [(inputs[p], careful[p]) for p in paths])).status

    others = [path for path in careful if path not in causes]
    assert causes
    assert status(others) == "proven"
    for path in causes:
        assert status([*others, path]) == "impossible"
        assert (status([path]) == "impossible") == (path in alone)


@pytest.mark.slow
def test_no_smaller_set_of_causes_does_among_few_inputs() -> None:
    """Brute force: of the causes found, every smaller part leaves the careful end impossible."""
    study, causes, _ = impossible_band()
    band = find_band(study)
    careful = {one.path: one.careful for one in band.inputs}
    inputs = {one.path: one for one in assumed_inputs(study)}
    sizes = (len(causes) - 1,)
    for back in itertools.chain.from_iterable(itertools.combinations(causes, n) for n in sizes):
        moved = [(inputs[p], careful[p]) for p in careful if p not in back]
        assert solve(study_with_inputs(study, moved)).status == "impossible"


@pytest.mark.slow
def test_causes_end_with_the_time() -> None:
    study = load(small())
    band = find_band(study, causes_s=0.0)
    assert band.causes_open
    assert band.causes_alone == []
    assert set(impossible_band()[1]) <= set(band.causes)


@pytest.mark.campaign
def test_a_band_is_the_same_again() -> None:
    study = loosened(2)
    assert find_band(study).to_json() == find_band(study).to_json()
