"""Joints that keep a ring part in production: its ring stands there, or the study says why it cannot."""

from __future__ import annotations

import json
import random
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from ringset.analysis.explanation.impossible import explain_impossible
from ringset.errors import StudyError
from ringset.reporting.explanation_text import explanation_text
from ringset.schema.loading import load_answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import Table, listed_best, table
from tests.solving.test_standing import ELBOW, arm
from tests.support.standing import standing_study
from tests.support.studies import Json, load


def kept(part: Json = ELBOW, **joint: Any) -> Json:
    """Return the arm whose elbow keeps a part; `joint` changes its elbow."""
    data = arm(parts_in_production=[part], owned_cutters=[{"module": 1.0}])
    data["robots"][0]["joints"][2] |= {"keeps_part": part["name"]} | joint
    return data


def only(rows: Table, joint: int, part: tuple[object, ...]) -> Table:
    """Return a table in which a joint has the rows of one part only."""
    keep = np.array(
        [j != joint or p == part for j, p in zip(rows.joint, rows.part, strict=True)], bool
    )
    columns = {
        name: getattr(rows, name)[keep]
        for name in (
            "joint",
            "heads",
            "kg",
            "money",
            "lever_um",
            "scatter_um",
            "current_ua",
            "finished",
        )
    }
    chosen = np.flatnonzero(keep).tolist()
    part_of, cutter_of = [rows.part[i] for i in chosen], [rows.cutter[i] for i in chosen]
    return replace(rows, part=part_of, cutter=cutter_of, **columns)


@pytest.mark.cases(fast=8, slow=16)
@pytest.mark.parametrize("seed", range(200))
def test_the_answer_is_the_best_of_all_with_the_part(seed: int) -> None:
    rng, data = random.Random(seed + 0.0625), standing_study(seed)
    parts = data["shop"].get("parts_in_production")
    if not parts:
        return
    study = load(data).canonical()
    rows = table(study)
    part = rng.choice(study.shop.parts_in_production)
    key = (part.module_mm, part.teeth, part.bore_mm, part.face_width_mm, part.bore_zone)
    fitting = sorted({int(j) for j, p in zip(rows.joint, rows.part, strict=True) if p == key})
    places = [(r, j) for r in range(len(study.robots)) for j in range(len(study.robots[r].joints))]
    joint = rng.choice(fitting or range(len(places)))
    stated = json.loads(study.model_dump_json())
    robot, place = places[joint]
    stated["robots"][robot]["joints"][place]["keeps_part"] = part.name
    asked = load(stated)
    answer = solve(asked)
    assert judge(asked, answer) == []
    best = listed_best(only(rows, joint, key), answer.proof.material_unit_kg or 1e-6)
    assert ({stage.wish: stage.value for stage in answer.proof.stages} or None) == best
    if answer.rings:
        label = f"{study.robots[robot].name}/{study.robots[robot].joints[place].name}"
        assert [r.ring_part for r in answer.rings if r.label == label] == [part.name]


@pytest.mark.slow
def test_the_parts_kept_are_some_that_fit_and_some_that_do_not() -> None:
    seen: Counter[bool] = Counter()
    for seed in range(50):
        study = load(standing_study(seed)).canonical()
        parts = study.shop.parts_in_production
        if parts:
            known = set(table(study).part)
            keys = {(p.module_mm, p.teeth, p.bore_mm, p.face_width_mm, p.bore_zone) for p in parts}
            seen.update(key in known for key in keys)
    assert min(seen[True], seen[False]) >= 3


def test_the_kept_part_stands_though_a_lighter_ring_would_fit() -> None:
    study = load(kept())
    answer = solve(study)
    assert judge(study, answer) == []
    assert answer.status == "proven"
    assert {r.ring_part for r in answer.rings if r.joint == "elbow"} == {"RX-17"}


@pytest.mark.parametrize(
    ("part", "joint", "said"),
    [
        (ELBOW, {"tip_max_mm": 120}, "keeps_part RX-17: tip_max_mm 120 mm: it has 122"),
        (ELBOW, {"bore_min_mm": 85}, "keeps_part RX-17: bore_min_mm 85 mm: it has 84"),
        (ELBOW, {"face_width_mm": 9}, "its width is 8 mm, and face_width_mm asks 9"),
        (ELBOW | {"module": 1.5}, {}, "its module 1.5 mm is not on offer"),
        (ELBOW | {"bore_mm": 84.3}, {}, "its bore 84.3 mm is no multiple of shop.bore_step_mm 0.5"),
        (ELBOW | {"bore_zone": "H8"}, {}, "its bore is made to H8, and the joint asks H7"),
        (ELBOW, {"angle_target_arcsec": 30}, "angle_target_arcsec"),
        (ELBOW, {"bores_mm": [92]}, "keeps_part RX-17: its bore 84 mm is not among bores_mm"),
    ],
)  # fmt: skip
def test_why_it_cannot_be_kept_is_said(part: Json, joint: Json, said: str) -> None:
    study = load(kept(part, **joint))
    answer = solve(study)
    assert judge(study, answer) == []
    assert answer.status == "impossible"
    (reason,) = answer.reasons
    assert reason.startswith("arm/elbow: ")
    assert said in reason


def test_the_way_out_is_told() -> None:
    found = explain_impossible(load(kept(tip_max_mm=120)))
    (blocker,) = found.blockers
    assert {member.path for member in blocker.members} == {
        "joints.elbow.keeps_part", "joints.elbow.tip_max_mm"
    }  # fmt: skip
    (way,) = [way for way in found.singles if way.changes[0].path == "joints.elbow.tip_max_mm"]
    assert way.changes[0].value == 122.0


def test_it_is_said_whether_the_study_is_possible_without_the_part() -> None:
    found = explain_impossible(load(kept(tip_max_mm=120)))
    assert found.free_without_kept_parts is True
    text = " ".join(explanation_text(found).split())
    assert "it keeps the part RX-17" in text
    assert "If no joint kept a part (keeps_part), the study would be possible." in text
    stuck = kept(tip_max_mm=90)
    assert explain_impossible(load(stuck)).free_without_kept_parts is False
    tight = kept()
    tight["robots"][0]["tool_point_target_um"] = 60
    answer = solve(load(tight))
    assert answer.status == "impossible"
    assert "elbow keeps RX-17" in answer.reasons[0]


def test_what_no_count_of_the_shop_allows_is_said() -> None:
    data = kept()
    data["shop"]["teeth_multiple_of"] = 7
    (reason,) = [one for one in solve(load(data)).reasons if one.startswith("arm/elbow")]
    assert "keeps_part RX-17: shop.teeth_multiple_of: it has 120 teeth" in reason


def test_another_ring_in_its_place_is_seen() -> None:
    study = load(kept())
    loose = arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}])
    loose["wishes"] = {"order": ["material"]}
    other = solve(load(loose), certified=False)
    data = json.loads(other.model_dump_json())
    data["study_sha256"] = study.fingerprint()
    problems = judge(study, load_answer(json.dumps(data)))
    assert any("part kept 0: below keeps_part 1" in problem for problem in problems), problems


def test_a_part_that_is_not_in_production_is_refused() -> None:
    data = kept()
    data["robots"][0]["joints"][2]["keeps_part"] = "RX-18"
    with pytest.raises(StudyError) as refused:
        load(data)
    (fault,) = refused.value.faults
    assert fault.path == "robots[0].joints[2].keeps_part"
    assert "RX-17" in fault.allowed


def test_its_name_is_in_the_fingerprint_only_where_it_is_stated() -> None:
    assert isinstance(load(kept()), Study)
    assert load(kept()).fingerprint() != load(arm(parts_in_production=[ELBOW])).fingerprint()
    assert "keeps_part" not in load(arm()).model_dump_json()
