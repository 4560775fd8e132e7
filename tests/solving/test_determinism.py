"""The same study gives the same bytes, in whatever order it is written and whenever it is solved."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringset.solving.pipeline import solve
from tests.support.studies import Json, joint, load, random_study, two_robots


def with_ties() -> Json:
    """Return a study in which several joints are alike, so that many answers are equally good."""
    fields: Json = {"tip_min_mm": 66.0, "head_counts": [1, 2, 3], "reach_mm": 250.0}
    return {
        "robots": [
            {
                "name": name,
                "count": 2,
                "joints": [joint(f"axis {i}", 42.0, **fields) for i in (1, 2, 10)],
                "tool_point_target_um": 330.0,
            }
            for name in ("left", "right")
        ],
        "shop": {"modules": [0.8, 1.0, 1.25], "bore_step_mm": 1.0, "cutting": "disc_8"},
        "heads": {"small": {"gap_mm": 0.3}, "large": {"gap_mm": 0.5}},
        "target": {"angle_target_arcsec": 250.0},
    }


def solved(data: Json) -> str:
    return solve(load(data)).to_json()


@pytest.fixture(scope="module")
def once() -> str:
    return solved(with_ties())


def test_the_study_is_possible_and_has_ties(once: str) -> None:
    answer = json.loads(once)
    assert answer["status"] == "proven"
    assert answer["proof"]["repeatable"] is True
    rings = [(r["module_mm"], r["teeth"], r["bore_mm"], r["heads"]) for r in answer["rings"]]
    assert len(set(rings)) < len(rings)
    assert len({r["heads"] for r in answer["rings"]}) > 1


@pytest.mark.parametrize("data", [with_ties(), two_robots(), random_study(14), random_study(22)])
def test_the_same_study_twice_gives_the_same_bytes(data: Json) -> None:
    assert solved(data) == solved(json.loads(json.dumps(data)))


def reorder(data: Json, shuffled: Callable[[list[Any]], list[Any]]) -> Json:
    """Return the same study with every list and every object whose order means nothing shuffled."""

    def turned(fields: Json) -> Json:
        return {key: fields[key] for key in shuffled(list(fields))}

    robots = [
        turned(
            {
                **robot,
                "joints": [
                    turned({**row, "head_counts": shuffled(row["head_counts"])})
                    for row in shuffled(robot["joints"])
                ],
            }
        )
        for robot in shuffled(data["robots"])
    ]
    shop = turned({**data["shop"], "modules": shuffled(data["shop"]["modules"])})
    return turned({**data, "robots": robots, "shop": shop, "heads": turned(data.get("heads", {}))})


@pytest.mark.slow
@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_the_order_of_joints_robots_modules_and_head_counts_means_nothing(
    once: str, data: st.DataObject
) -> None:
    turned = reorder(with_ties(), lambda values: data.draw(st.permutations(values)))
    assert solved(turned) == once


@pytest.mark.cases(fast=7, slow=21)
@pytest.mark.parametrize("seed", range(7000, 7030))
def test_equally_good_answers_are_the_same_answer_in_whatever_order_they_are_asked_for(
    seed: int,
) -> None:
    """One wish leaves many answers that are equally good; the same one is given every time."""
    rng = random.Random(seed)
    data = random_study(seed)
    data["wishes"]["order"] = data["wishes"]["order"][:1]
    first = solved(data)
    for _ in range(2):
        assert solved(reorder(data, lambda values: rng.sample(values, len(values)))) == first


def test_the_order_of_wishes_does_mean_something(once: str) -> None:
    turned = {**with_ties(), "wishes": {"order": ["heads", "cutters"], "material_max_kg": 9.0}}
    first, second = json.loads(once), json.loads(solved(turned))
    assert first["study_sha256"] != second["study_sha256"]
    assert [s["wish"] for s in second["proof"]["stages"]] == ["heads", "cutters"]
    assert second["totals"]["heads"] <= first["totals"]["heads"]


def test_names_are_sorted_as_people_count() -> None:
    """Joint 2 comes before joint 10, in the answer and in every list of it."""
    answer = solve(load(with_ties()))
    assert [r.joint for r in answer.rings] == ["axis 1", "axis 2", "axis 10"] * 2
    assert [p.robot for p in answer.tool_points] == ["left", "right"]


@pytest.mark.parametrize("seed", [0, 2, 77, 2_147_483_647])
def test_the_seed_changes_no_stage_value(once: str, seed: int) -> None:
    other = json.loads(solved({**with_ties(), "search": {"seed": seed}}))
    first = json.loads(once)
    values = [[(s["wish"], s["value"]) for s in a["proof"]["stages"]] for a in (first, other)]
    assert values[0] == values[1]
    assert other["status"] == "proven"


@pytest.mark.slow
def test_the_hash_seed_of_the_process_means_nothing(once: str) -> None:
    """No set or dictionary order may reach the answer."""
    program = (
        "import sys\n"
        "from ringset.schema.loading import load_study\n"
        "from ringset.solving.pipeline import solve\n"
        "sys.stdout.write(solve(load_study(sys.stdin.read())).to_json())\n"
    )
    for hash_seed in ("1", "4242"):
        run = subprocess.run(
            [sys.executable, "-c", program],
            input=json.dumps(with_ties()),
            capture_output=True,
            text=True,
            check=True,
            env={
                **os.environ,
                "PYTHONHASHSEED": hash_seed,
                "PYTHONPATH": os.pathsep.join(sys.path),
            },
            timeout=120,
        )
        assert run.stdout == once
