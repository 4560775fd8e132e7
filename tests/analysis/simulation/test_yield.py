"""Yield: repeatable draws, sound intervals, the command and its picture."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from ringset.analysis.simulation import budget_agreement, monte_carlo
from ringset.analysis.simulation.budget_agreement import Agreement
from ringset.analysis.simulation.monte_carlo import (
    BLOCK,
    SHARED_BLOCKS,
    Spread,
    simulate_yield,
    simulated_samples,
)
from ringset.analysis.simulation.pairs import simulate_pairs
from ringset.cli import main
from ringset.physics.budget import TERMS
from ringset.physics.ring_form import along_without_stretch, pitch_curve
from ringset.reporting.simulation_text import printed_wilson_interval, yield_text
from ringset.schema.loading import load_study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.solved import solved_scenario

TABLE = SCENARIOS / "two_joint_table.json"


@pytest.mark.campaign
def test_processes_do_not_change_the_draws() -> None:
    study = load_study(TABLE.read_text())
    answer = solve(study)
    turns = SHARED_BLOCKS * BLOCK // 2 + 5
    one, _ = simulate_yield(study, answer, turns, seed=4, processes=1)
    two, _ = simulate_yield(study, answer, turns, seed=4, processes=2)
    other, _ = simulate_yield(study, answer, turns, seed=5, processes=1)
    for a, b, c in zip(one, two, other, strict=True):
        assert np.array_equal(a.half_range_arcsec, b.half_range_arcsec)
        assert not np.array_equal(a.half_range_arcsec, c.half_range_arcsec)


def test_tool_point_is_the_combination_of_the_joints_by_the_rule_of_the_robot() -> None:
    study = load_study((SCENARIOS / "six_joint_arm.json").read_text())
    answer = solve(study)
    joints, robots = simulate_yield(study, answer, 32, seed=1)
    reach = {j.name: j.reach_mm for j in study.robots[0].joints}
    squares = sum(
        (reach[y.case.ring.joint] * y.half_range_arcsec * np.pi / 648.0) ** 2 for y in joints
    )
    assert robots[0].error_um == pytest.approx(np.sqrt(squares), rel=1e-12)
    assert robots[0].target_um == 235.0


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(("spread", "share"), [("even", 0.988), ("full", 0.442)])
def test_an_expanded_error_within_its_target_is_no_yield(spread: Spread, share: float) -> None:
    """The flange of the README: 106.4 arcsec in 95 % of readings at 110; shares within their own 95 %."""
    study = load_study((SCENARIOS / "six_joint_arm.json").read_text())
    joints, _ = simulate_yield(study, solve(study), 500, seed=1, spread=spread)
    flange = next(y for y in joints if y.case.ring.joint == "flange")
    assert flange.case.ring.budget.expanded_arcsec <= flange.case.ring.target_arcsec == 110.0
    low, high = printed_wilson_interval(flange.within, 500)
    assert low <= share <= high


def test_the_command_names_the_target_beside_each_share(
    answer_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["simulate", str(TABLE), str(answer_file), "--turns", "8"]) == 0
    out = capsys.readouterr().out
    assert "the budget at k = 2 speaks of 95 % of readings, which is no yield" in out
    head, *rows = out[out.index("  joint") :].splitlines()
    place = head.index("target")
    for row in rows[:2]:
        target, share = row[:place].split()[-1], row[place:].split()
        assert "60" in (target, share[0])  # the target of the scenario, and its share next to it
        assert "100.00" in share[:2]


def test_confidence_interval_of_a_share() -> None:
    """Wilson's interval: 10 of 100 is 5.5 to 17.4 % (textbook example, from memory); ends stay in 0..1."""
    low, high = printed_wilson_interval(10, 100)
    assert low == pytest.approx(0.0552, abs=5e-5)
    assert high == pytest.approx(0.1744, abs=5e-5)
    assert printed_wilson_interval(0, 50)[0] == 0.0
    assert printed_wilson_interval(50, 50)[1] == 1.0


def test_a_ring_bends_without_stretch() -> None:
    """w cos(p phi) moves the teeth by -(w / p) sin(p phi) along (thin ring, textbook)."""
    phi = 2.0 * np.pi * np.arange(96) / 96
    for p in (2, 3, 7):
        moved = along_without_stretch(np.cos(p * phi)[np.newaxis])[0]
        assert moved == pytest.approx(-np.sin(p * phi) / p, abs=1e-12)


def test_pitch_curves_have_range_one_and_no_mean() -> None:
    curves = pitch_curve(97, 50, np.random.default_rng(1))
    assert np.ptp(curves, axis=1) == pytest.approx(np.ones(50))
    assert curves.mean(axis=1) == pytest.approx(np.zeros(50), abs=1e-12)


@pytest.fixture(scope="module")
def answer_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("yield") / "answer.json"
    assert main.main(["solve", str(TABLE), "--answer", str(path)]) == 0
    return path


def test_the_command_prints_yield_and_intervals(
    answer_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["simulate", str(TABLE), str(answer_file), "--turns", "64"]) == 0
    out = capsys.readouterr().out
    assert "Simulated yield: 64 turns of every joint" in out
    assert "table/turn" in out
    assert "100.00 %" in out


@pytest.mark.slow
def test_the_command_prints_budget_and_simulation_term_by_term(
    answer_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = ["simulate", str(TABLE), str(answer_file), "--terms", "--joint", "table/tilt"]
    assert main.main(command) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "table/tilt" in lines[0]
    told = next(i for i, line in enumerate(lines) if line.startswith("Pitch errors are drawn"))
    assert told == 2 + len(TERMS) == 20
    assert all(line.endswith("yes") for line in lines[2:told])


def test_terms_that_agree_and_do_not_are_told_apart(
    answer_file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three terms as if they had been simulated: one agrees, one is bounded, one errs."""
    rows = [
        Agreement("noise", "rms", 2.0, 2.1, 0.08, False),
        Agreement("mounting_offset", "rms", 4.0, 1.0, 0.01, True),
        Agreement("quantisation", "rms", 1.0, 1.2, 0.05, False),
    ]
    monkeypatch.setattr(budget_agreement, "simulated_agreements", lambda case, seed: rows)
    command = ["simulate", str(TABLE), str(answer_file), "--terms", "--joint", "table/tilt"]
    assert main.main(command) == 0
    title, head, *lines = capsys.readouterr().out.splitlines()
    assert title.startswith("Budget and simulation of table/tilt (module 1, 101 teeth, 2 heads)")
    assert head.split()[-3:] == ["should", "be", "holds"]
    ends = [line[line.index("rms") :].split() for line in lines[:3]]
    assert ends == [
        ["rms", "2.0000", "2.1000", "1.0500", "1", "within", "0.08", "yes"],
        ["rms", "4.0000", "1.0000", "0.2500", "at", "most", "1.01", "yes"],
        ["rms", "1.0000", "1.2000", "1.2000", "1", "within", "0.05", "NO"],
    ]
    assert lines[3].startswith("Pitch errors are drawn with amplitudes that fall as 1/p^")


@pytest.mark.parametrize("words", [["--terms"], ["--turns", "8"]], ids=["terms", "yield"])
def test_rings_that_cannot_be_turned_are_refused(
    words: list[str], answer_file: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def strikes(*_: object, **__: object) -> None:
        raise ValueError("the ring would touch a head")

    monkeypatch.setattr(budget_agreement, "simulated_agreements", strikes)
    monkeypatch.setattr(monte_carlo, "simulate_yield", strikes)
    assert main.main(["simulate", str(TABLE), str(answer_file), *words]) == 2
    name = "table/tilt" if words == ["--terms"] else str(answer_file)
    told = f"{name}: cannot be simulated (the ring would touch a head)\n"
    assert capsys.readouterr().err == told


def test_the_picture_shows_curves_spectrum_and_distribution(
    answer_file: Path, tmp_path: Path
) -> None:
    command = ["simulate", str(TABLE), str(answer_file), "--turns", "8", "--joint", "table/turn"]
    assert main.main([*command, "--plot", str(tmp_path / "p.svg")]) == 0
    picture = (tmp_path / "p.svg").read_text()
    texts = set(re.findall(r"<!-- (.+) -->", picture))  # beside the outlines of its letters
    assert {
        "table/turn, simulated; seed 1, tolerances even between nothing and their limit",
        "turn 1", "turn 3", "budget, k = 2", "z", "2 z", "4 z", "order per turn",
        "half range of the error over a turn (arcsec)",
    } <= texts  # fmt: skip


@pytest.mark.slow
def test_the_picture_is_written_whole_and_the_same_twice(answer_file: Path, tmp_path: Path) -> None:
    pictures = [tmp_path / "a.svg", tmp_path / "b.svg"]
    for picture in pictures:
        command = ["simulate", str(TABLE), str(answer_file), "--turns", "32"]
        assert main.main([*command, "--plot", str(picture)]) == 0
    assert pictures[0].read_bytes() == pictures[1].read_bytes()
    assert b"half range" in pictures[0].read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.svg", "b.svg"]


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (["--turns", "0"], "--turns: given 0"),
        (["--seed", "-1"], "--seed: given -1"),
        (["--joint", "arm/wrist"], "--joint: given 'arm/wrist'; allowed: table/tilt, table/turn"),
        (["--plot", "/no/such/place/a.svg"], "--plot: given /no/such/place/a.svg"),
        (["--plot", "-"], "--plot: given '-'"),
        (["--plot", "a.svg", "--terms"], "--plot: given beside --terms"),
        (["--plot", str(TABLE)], "the same file as STUDY"),
    ],
)
def test_bad_options_are_refused(
    arguments: list[str], text: str, answer_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["simulate", str(TABLE), str(answer_file), *arguments]) == 2
    assert text in capsys.readouterr().err


def test_an_answer_to_another_study_is_refused(
    answer_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = SCENARIOS / "six_joint_arm.json"
    assert main.main(["simulate", str(other), str(answer_file)]) == 2
    assert "cannot be simulated" in capsys.readouterr().err


def test_yield_counts_the_displayed_step() -> None:
    """A head that shows 8 bits errs by half a step of 5062.5 arcsec; the yield must know."""
    data = json.loads(TABLE.read_text()) | {"head": {"position_bits": 8}}
    data["target"] = {"angle_target_arcsec": 20000}
    study = load_study(json.dumps(data))
    joints, _ = simulate_yield(study, solve(study), 16, seed=1)
    assert joints[0].half_range_arcsec.mean() == pytest.approx(2531.0, rel=0.05)


def test_rings_in_another_order_are_found_and_the_draws_follow_the_joint() -> None:
    study = load_study((SCENARIOS / "six_joint_arm.json").read_text())
    answer = solve(study)
    turned_round = answer.model_copy(update={"rings": answer.rings[::-1]})
    assert any("natural order" in violation for violation in judge(study, turned_round))
    sizes = {
        y.case.ring.joint: y.case.tip_radius_mm for y in simulate_yield(study, answer, 16, 1)[0]
    }
    for y in simulate_yield(study, turned_round, 16, 1)[0]:
        assert y.case.ref.joint.name == y.case.ring.joint
        assert y.case.tip_radius_mm == sizes[y.case.ring.joint]


def test_a_bearing_that_would_let_the_ring_strike_the_head_is_refused() -> None:
    data = json.loads(TABLE.read_text())
    for joint in data["robots"][0]["joints"]:
        joint["bearing_shift_um"] = 330.0
    data["target"] = {"angle_target_arcsec": 20000}
    answer = solve(load_study(json.dumps(data)))
    assert answer.status == "impossible"
    assert all("head.gap_left_min_mm" in reason for reason in answer.reasons)


def test_many_teeth_get_more_samples() -> None:
    """The highest order of interest is 4 z; the samples of a turn must hold more than twice that."""
    for teeth in (32, 256, 257, 512, 1024):
        samples = simulated_samples(teeth)
        assert samples >= 16 * teeth
        assert samples >= 4096
    assert simulated_samples(256) == 4096


@pytest.mark.cases(fast=1, slow=0)
@pytest.mark.parametrize("spread", ["even", "full"])
def test_pairs_of_rings_stay_within_what_the_worst_case_tells(spread: Spread) -> None:
    """Two rings that are drawn and turned together differ by less than the worst case of their budgets."""
    study = load_study((SCENARIOS / "power_loss.json").read_text())
    answer = solved_scenario("power_loss")
    (pair,) = simulate_pairs(study, answer, 64, 3, spread)
    told = present(answer.rings[0].electronics.second_ring)
    assert pair.tolerance_arcsec == told.tolerance_arcsec
    assert 0.1 < pair.difference_arcsec.max() / present(told.relative_error_arcsec) < 1.0
    assert pair.within == len(pair.difference_arcsec) == 64
    text = yield_text([], [], 64, 3, spread, [pair])
    assert "43 and 42 teeth differ by at most" in text
    assert "100.00 % name every pitch" in text
    plain = answer.model_copy(update={"second_rings": []})
    assert simulate_pairs(study, plain, 16, 3, spread) == []
