"""The front: nothing missing, nothing beaten, every point an answer that the judge passes."""

from __future__ import annotations

import csv
import itertools
import json
import random
from io import StringIO
from pathlib import Path

import numpy as np
import pytest

from optimizer.cli import main
from optimizer.front import Front, front
from optimizer.front_text import draw_front, front_csv, front_text
from optimizer.judge import judge
from optimizer.line import solve
from optimizer.loading import StudyError
from optimizer.study import Study
from tests.line.studies import load, random_study, small, two_robots
from tests.line.test_brute_force import listed_values, table

STUDIES = 100
CHUNK = 20
COUNTED = ("cutters", "ring_parts", "heads")
SCENARIOS = Path(__file__).parents[2] / "scenarios"


def values_of(found: Front) -> list[tuple[int, ...]]:
    """Return what every point comes to on the axes, in the whole units of its proof."""
    stages = [{s.wish: s.value for s in p.answer.proof.stages} for p in found.points]
    return [tuple(values[wish] for wish in found.over) for values in stages]


def listed_front(study: Study, over: list[str], unit_kg: float) -> set[tuple[int, ...]] | None:
    """Return the values on the axes that no allowed combination beats, by listing all of them."""
    listed = listed_values(table(study), unit_kg)
    if listed is None:
        return None
    values, allowed = listed
    shape = values["heads"].shape
    columns = [np.broadcast_to(values[wish], shape)[allowed] for wish in over]
    if not len(columns[0]):
        return set()
    # of equal counts only the least amount can stay; it comes last in the sorting
    amounts = sorted(range(len(over)), key=lambda i: over[i] == "material")
    order = np.lexsort([columns[i] for i in reversed(amounts)])
    counts = np.stack([columns[i][order] for i in range(len(over)) if over[i] != "material"])
    first = np.append(True, np.any(np.diff(counts, axis=1) != 0, axis=0))
    points = np.stack([column[order][first] for column in columns], axis=1)
    kept = []
    for point in points:
        better = np.all(points <= point, axis=1) & np.any(points < point, axis=1)
        if not better.any():
            kept.append(tuple(point.tolist()))
    return set(kept)


def axes_of(seed: int) -> list[str]:
    """Return two to four axes, some without an amount."""
    rng = random.Random(seed)
    return rng.sample([*COUNTED, "material"], rng.choice((2, 2, 3, 3, 4)))


@pytest.mark.parametrize("first", range(7000, 7000 + STUDIES, CHUNK))
def test_the_front_is_what_listing_everything_finds(first):
    several = compared = 0
    for seed in range(first, first + CHUNK):
        study, over = load(random_study(seed)), axes_of(seed)
        found = front(study, over)
        unit_kg = found.points[0].answer.proof.material_unit_kg if found.points else 1.0
        wanted = listed_front(study, over, unit_kg)
        if not wanted:
            assert found.points == [], seed
            assert found.impossible, seed
            continue
        assert found.complete, (seed, found.open)
        assert sorted(values_of(found)) == sorted(wanted), (seed, over)
        compared += 1
        several += len(wanted) > 1
    assert compared >= CHUNK // 3
    assert several >= 1


@pytest.mark.parametrize("seed", range(7300, 7312))
def test_every_point_is_a_judged_answer_to_its_own_study(seed):
    study = load(random_study(seed))
    found = front(study, axes_of(seed))
    for point in found.points:
        own = load(point.study)
        assert judge(own, point.answer) == []
        again = solve(own)
        assert [s.value for s in again.proof.stages] == [s.value for s in point.answer.proof.stages]
    for one, other in itertools.permutations(values_of(found), 2):
        assert any(a < b for a, b in zip(one, other, strict=True)), "a point is beaten"


def test_the_same_study_gives_the_same_bytes():
    study = load(two_robots())
    assert front(study).to_json() == front(study).to_json()


def test_points_are_told_as_they_are_proven_and_stay_when_the_search_is_stopped():
    study = load({**small(), "robots": [{**small()["robots"][0], "tool_point_target_um": 460.0}]})
    told = []
    whole = front(study, told=told.append)
    keys = {p.answer.to_json() for p in whole.points}
    assert {answer.to_json() for answer in told} == keys
    assert len(keys) >= 2
    for after in range(len(keys)):
        seen = []
        part = front(study, told=seen.append, stop=lambda n=after, s=seen: len(s) > n)
        assert {p.answer.to_json() for p in part.points} <= keys
        assert len(part.points) == after + 1
        assert part.complete == (after + 1 == len(keys) and not part.open)
        assert part.complete or part.open


def test_a_sweep_of_targets_holds_the_front_of_each():
    study = load(small())
    targets = [200.0, 150.0, 120.0, 1.0]
    swept = front(study, targets_arcsec=targets)
    assert any("target 1 arcsec" in text for text in swept.impossible)
    for target in targets:
        alone = front(study, targets_arcsec=[target])
        mine = [p for p in swept.points if target in p.targets_arcsec]
        rings = [
            sorted([(r.joint, r.module_mm, r.teeth, r.bore_mm, r.heads) for r in p.answer.rings])
            for p in (*mine, *alone.points)
        ]
        assert sorted(rings[: len(mine)]) == sorted(rings[len(mine) :])


@pytest.mark.parametrize(
    "over",
    [["material"], ["heads", "heads"], ["material", "cost"], ["cutters", "material", "cutters"]],
)
def test_axes_that_are_none_are_refused(over):
    with pytest.raises(StudyError, match="over: given"):
        front(load(small()), over)


@pytest.mark.parametrize("target", [0.0, -3.0, 648001.0, float("nan"), float("inf")])
def test_targets_that_are_none_are_refused(target):
    with pytest.raises(StudyError, match="targets: given"):
        front(load(small()), targets_arcsec=[target])


def test_table_and_csv_tell_what_the_points_hold():
    found = front(load(two_robots()))
    rows = list(csv.DictReader(StringIO(front_csv(found))))
    assert [float(row["material_kg"]) for row in rows] == [
        p.answer.totals.material_kg for p in found.points
    ]
    text = front_text(found)
    assert "no point is missing" in " ".join(text.split())
    for point in found.points[1:]:
        assert " ".join(point.step.split()) in " ".join(text.split())
    assert draw_front(found).startswith("<?xml")
    assert draw_front(found) == draw_front(found)


# -- the command -------------------------------------------------------------------------------------


def test_the_command_writes_what_it_prints(tmp_path, capsys):
    study = tmp_path / "s.json"
    study.write_text(json.dumps(small()))
    places = {o: str(tmp_path / f"f.{o}") for o in ("json", "csv", "plot")}
    options = [part for option, place in places.items() for part in (f"--{option}", place)]
    answers = tmp_path / "points"
    assert main(["front", str(study), *options, "--answers", str(answers)]) == 0
    found = Front.model_validate_json((tmp_path / "f.json").read_text())
    assert capsys.readouterr().out == front_text(found)
    assert len(list(answers.iterdir())) == 2 * len(found.points)
    pair = [str(answers / f"point 1 {kind}.json") for kind in ("study", "answer")]
    assert main(["judge", *pair]) == 0


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--over", "cutters,weight"], "--over: given 'weight'"),
        (["--over", "material"], "over: given material"),
        (["--targets", "40,many"], "--targets: given '40,many'"),
        (["--targets", "-4"], "targets: given -4"),
        (["--csv", "-"], "--csv: given '-'"),
    ],
)
def test_bad_options_are_refused_by_name(options, words, tmp_path, capsys):
    study = tmp_path / "s.json"
    study.write_text(json.dumps(small()))
    assert main(["front", str(study), *options]) == 2
    assert words in capsys.readouterr().err


def test_a_directory_that_exists_is_left_alone(tmp_path, capsys):
    study = tmp_path / "s.json"
    study.write_text(json.dumps(small()))
    assert main(["front", str(study), "--answers", str(tmp_path)]) == 2
    assert "which exists" in capsys.readouterr().err


def test_an_impossible_study_has_no_front_and_says_why(capsys):
    assert main(["front", str(SCENARIOS / "impossible_wrist.json")]) == 3
    out = capsys.readouterr().out
    assert "Impossible" in out
    assert "wrist" in out
