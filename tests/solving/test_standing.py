"""Cutters owned and ring parts in production: counted, paid and named as the study says."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import pytest

from ringset.errors import StudyError
from ringset.schema.answer import Answer
from ringset.schema.loading import load_answer
from ringset.schema.study import Study
from ringset.solving.certified_answer import solve_certified
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best, table
from tests.support.places import SCENARIOS
from tests.support.standing import standing_study
from tests.support.studies import Json, load


def arm(**shop: Any) -> Json:
    data: Json = json.loads((SCENARIOS / "six_joint_arm.json").read_text())
    data["shop"] = {"modules": [1.0, 1.25], **shop}
    return data


ELBOW = {"name": "RX-17", "module": 1.0, "teeth": 120, "bore_mm": 84.0, "face_width_mm": 8.0}


def told(study: Study, answer: Answer) -> None:
    assert judge(study, answer) == []
    assert answer.status in ("proven", "impossible"), answer.reasons


@pytest.mark.cases(fast=16, slow=24)
@pytest.mark.parametrize("seed", range(300))
def test_the_answer_is_the_best_of_all_combinations(seed: int) -> None:
    study = load(standing_study(seed))
    answer = solve(study)
    told(study, answer)
    best = listed_best(table(study), answer.proof.material_unit_kg or 1e-6)
    assert ({stage.wish: stage.value for stage in answer.proof.stages} or None) == best


@pytest.mark.slow
def test_the_studies_state_what_stands_and_use_it() -> None:
    seen: Counter[str] = Counter()
    for seed in range(60):
        study = load(standing_study(seed))
        answer = solve(study, certified=False)
        seen["all"] += study.wishes.count == "all"
        if answer.totals is not None:
            seen["owned"] += answer.totals.cutters_owned > 0
            seen["in production"] += answer.totals.parts_in_production > 0
            seen["both kinds"] += 0 < answer.totals.parts_in_production < len(answer.ring_parts)
            seen["priced"] += answer.totals.cost is not None
    assert (
        min(seen[name] for name in ("all", "owned", "in production", "both kinds", "priced")) >= 5
    )


def test_a_part_in_production_bears_its_name_and_does_not_count() -> None:
    plain = solve(load(arm()))
    study = load(arm(parts_in_production=[ELBOW]))
    answer = solve(study)
    told(study, answer)
    assert plain.totals is not None
    assert answer.totals is not None
    assert plain.totals.counted is None
    assert answer.totals.counted == "new"
    assert answer.totals.ring_parts == plain.totals.ring_parts - 1
    assert answer.totals.parts_in_production == 1
    assert {r.ring_part for r in answer.rings if r.joint == "elbow"} == {"RX-17"}
    assert [part.id for part in answer.ring_parts] == ["RX-17", "R18", "R19", "R20"]
    assert any("RX-17: in production, yet its cutter" in warning for warning in answer.warnings)


def test_where_all_count_only_money_is_saved() -> None:
    data = arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}])
    data["wishes"] = {"count": "all"}
    study = load(data)
    answer = solve(study)
    told(study, answer)
    assert answer.totals is not None
    assert answer.totals.counted == "all"
    assert answer.totals.cutters == len(answer.cutters)
    assert answer.totals.ring_parts == len(answer.ring_parts)


def test_an_owned_cutter_is_none_to_be_had() -> None:
    data = arm(owned_cutters=[{"module": "20.32 DP"}])  # 25.4 / 20.32 = 1.25 mm
    data["target"], data["robots"][0]["tool_point_target_um"] = {"angle_target_arcsec": 200}, 400
    study = load(data)
    answer = solve(study)
    told(study, answer)
    assert answer.totals is not None
    assert answer.totals.cutters == 0
    assert [cutter.owned for cutter in answer.cutters] == [True]
    assert {ring.module_mm for ring in answer.rings} == {1.25}


def test_its_certificate_is_verified() -> None:
    study = load(arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}]))
    found = solve_certified(study)
    assert found.certificate is not None
    checked = verify_certificate(study, found.answer, found.certificate)
    assert checked.complete, checked


def test_a_name_like_that_of_a_new_part_is_not_given_twice() -> None:
    study = load(arm(parts_in_production=[ELBOW | {"name": "R2"}]))
    answer = solve(study)
    told(study, answer)
    assert [part.id for part in answer.ring_parts] == ["R2", "R3", "R4", "R5"]
    assert [part.id for part in answer.ring_parts if part.in_production] == ["R2"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda a: a["ring_parts"][-1].update(in_production=True), "in_production"),
        (
            lambda a: a["totals"].update(ring_parts=a["totals"]["ring_parts"] + 1),
            "totals.ring_parts",
        ),
        (lambda a: a["totals"].update(cutters=1), "totals.cutters"),
        (lambda a: a["totals"].update(cutters_owned=0), "cutters owned"),
        (lambda a: a["totals"].update(parts_in_production=2), "in production"),
        (lambda a: a["totals"].update(counted="all"), "totals.counted"),
        (lambda a: a["cutters"][0].update(owned=False), "owned False"),
    ],
)
def test_the_judge_sees_what_is_told_wrongly(change: Any, said: str) -> None:
    study = load(arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}]))
    data = json.loads(solve(study, certified=False).model_dump_json())
    change(data)
    problems = judge(study, load_answer(json.dumps(data)))
    assert any(said in problem for problem in problems), problems


def test_the_judge_sees_a_part_under_another_name() -> None:
    study = load(arm(parts_in_production=[ELBOW]))
    text = solve(study, certified=False).model_dump_json()
    problems = judge(study, load_answer(text.replace("RX-17", "R9")))
    assert any("in production as RX-17" in problem for problem in problems), problems
    problems = judge(
        study, load_answer(text.replace('"R1"', '"RX-17"').replace("RX-17: in", "x: in"))
    )
    assert problems


@pytest.mark.parametrize(
    ("shop", "path", "allowed"),
    [
        ({"cutting": "wire", "owned_cutters": [{"module": 1}]}, "shop.owned_cutters[0]", "no owned cutters"),
        ({"owned_cutters": [{"module": 1, "teeth": 40}]}, "shop.owned_cutters[0].teeth", "none, for a hob"),
        ({"cutting": "disc_8", "owned_cutters": [{"module": 1}]}, "shop.owned_cutters[0].teeth", "a tooth"),
        ({"cutting": "disc_8", "owned_cutters": [{"module": 1, "teeth": 3}]}, "shop.owned_cutters[0].teeth",
         "at least"),
        ({"owned_cutters": [{"module": 1}, {"module": 1.0}]}, "shop.owned_cutters[1]", "each one once"),
        ({"cutting": "disc_8", "owned_cutters": [{"module": 1, "teeth": 60}, {"module": 1, "teeth": 70}]},
         "shop.owned_cutters[1]", "each one once"),
        ({"parts_in_production": [ELBOW, ELBOW | {"teeth": 121}]}, "shop.parts_in_production[1].name",
         "each one once"),
        ({"parts_in_production": [ELBOW, ELBOW | {"name": "B"}]}, "shop.parts_in_production[1]",
         "each one once"),
        ({"parts_in_production": [ELBOW | {"bore_zone": "Q9"}]}, "shop.parts_in_production[0].bore_zone",
         ""),
        ({"parts_in_production": [ELBOW | {"teeth": 0}]}, "shop.parts_in_production[0].teeth", ""),
    ],
)  # fmt: skip
def test_what_cannot_stand_is_refused(shop: Json, path: str, allowed: str) -> None:
    with pytest.raises(StudyError) as refused:
        load(arm(**shop))
    (fault,) = [fault for fault in refused.value.faults if fault.path == path]
    assert allowed in fault.allowed


def test_what_serves_nobody_is_told() -> None:
    shop = {"owned_cutters": [{"module": 3.0}], "parts_in_production": [ELBOW | {"module": 3.0}]}
    study = load(arm(**shop))
    answer = solve(study)
    told(study, answer)
    assert any("shop.owned_cutters: module 3 mm is not on offer" in w for w in answer.warnings)
    assert any("RX-17: in production, but its module 3 mm" in w for w in answer.warnings)


def test_the_order_of_what_stands_changes_nothing() -> None:
    other = ELBOW | {"name": "A-2", "bore_mm": 90.0}
    cutters = [{"module": 1.0}, {"module": 1.25}]
    one = load(arm(parts_in_production=[ELBOW, other], owned_cutters=cutters))
    two = load(arm(parts_in_production=[other, ELBOW], owned_cutters=cutters[::-1]))
    assert one.fingerprint() == two.fingerprint()
    assert solve(one).model_dump_json() == solve(two).model_dump_json()


# -- names beside those of an earlier answer --------------------------------------------------------------


def test_new_numbers_follow_those_of_parts_in_production() -> None:
    study = load(arm(parts_in_production=[ELBOW], part_prefix="RX-"))
    answer = solve(study)
    told(study, answer)
    assert [part.id for part in answer.ring_parts] == ["RX-17", "RX-18", "RX-19", "RX-20"]
    low = answer.model_dump_json().replace("RX-18", "RX-16")
    problems = judge(study, load_answer(low))
    assert any("which follow the largest that was used" in problem for problem in problems), (
        problems
    )


def test_a_ring_that_goes_into_production_changes_its_name_and_its_number_is_retired() -> None:
    first = solve(load(arm()))
    ring = next(r for r in first.rings if r.joint == "elbow")
    part = {
        "name": "Elbow ring", "module": ring.module_mm, "teeth": ring.teeth, "bore_mm": ring.bore_mm,
        "face_width_mm": ring.face_width_mm,
    }  # fmt: skip
    data = arm(parts_in_production=[part])
    data["robots"][0]["joints"][2]["keeps_part"] = "Elbow ring"
    study = load(data)
    second = solve(study, previous=first)
    assert judge(study, second, first) == []
    assert second.part_numbers is not None
    assert ring.ring_part in second.part_numbers.retired
    assert {r.ring_part for r in second.rings if r.joint == "elbow"} == {"Elbow ring"}
    third = solve(study, previous=second)
    assert judge(study, third, second) == []
    assert third.part_numbers is not None
    assert ring.ring_part in third.part_numbers.retired
    assert [p.id for p in third.ring_parts] == [p.id for p in second.ring_parts]


@pytest.mark.parametrize(("name", "kept"), [("Elbow ring", False), ("RX-17", True)])
def test_a_part_that_is_no_longer_in_production_keeps_a_name_that_can_be_kept(
    name: str, kept: bool
) -> None:
    data = arm(owned_cutters=[{"module": 1.0}], parts_in_production=[ELBOW | {"name": name}])
    data["robots"][0]["joints"][2]["keeps_part"] = name
    before = solve(load(data))
    pinned = arm(owned_cutters=[{"module": 1.0}])
    elbow = pinned["robots"][0]["joints"][2]
    elbow |= {"bore_min_mm": 84, "bore_max_mm": 84, "tip_min_mm": 122, "tip_max_mm": 122}
    study = load(pinned)
    after = solve(study, previous=before)
    assert judge(study, after, before) == []
    (elbow_part,) = {r.ring_part for r in after.rings if r.joint == "elbow"}
    assert (elbow_part == name) == kept
    assert after.part_numbers is not None
    assert (name in after.part_numbers.kept) == kept


def test_a_ring_goes_into_production_under_the_number_it_has() -> None:
    first = solve(load(arm(part_prefix="RX-")))
    ring = next(r for r in first.rings if r.joint == "elbow")
    part = {
        "name": ring.ring_part, "module": ring.module_mm, "teeth": ring.teeth, "bore_mm": ring.bore_mm,
        "face_width_mm": ring.face_width_mm,
    }  # fmt: skip
    data = arm(parts_in_production=[part], part_prefix="RX-")
    data["robots"][0]["joints"][2]["keeps_part"] = ring.ring_part
    study = load(data)
    second = solve(study, previous=first)
    assert judge(study, second, first) == []
    assert second.part_numbers is not None
    assert ring.ring_part not in (*second.part_numbers.retired, *second.part_numbers.kept)


@pytest.mark.parametrize("part", [ELBOW, ELBOW | {"teeth": 20, "bore_mm": 10.0}])
def test_a_name_of_another_ring_of_the_earlier_answer_is_refused(part: Json) -> None:
    first = solve(load(arm()))
    taken = next(one.id for one in first.ring_parts if one.teeth != part["teeth"])
    study = load(arm(parts_in_production=[part | {"name": taken}]))
    with pytest.raises(StudyError) as refused:
        solve(study, previous=first)
    (fault,) = refused.value.faults
    assert fault.path == "shop.parts_in_production[0].name"
    assert "another ring in the earlier answer" in fault.given
    alone = solve(study)
    problems = judge(study, alone, first)
    assert problems


# -- what makes a ring the part ---------------------------------------------------------------------------


def big(zone: str, **more: Any) -> Json:
    """Return a study of one joint beyond the sizes of ISO 286, with a part in production for it."""
    part = {
        "name": "BIG-1", "module": 2.0, "teeth": 307, "bore_mm": 560.0, "face_width_mm": 8.0,
        "bore_zone": zone,
    }  # fmt: skip
    joint = {
        "name": "table",
        "bore_min_mm": 560,
        "bore_max_mm": 561,
        "tip_max_mm": 640,
        "speed_max_rpm": 5,
    }
    return {
        "robots": [{"name": "big", "joints": [joint | more]}],
        "head": {"teeth_max": 400},
        "shop": {"modules": [2.0], "parts_in_production": [part]},
        "target": {"angle_target_arcsec": 200},
    }


@pytest.mark.parametrize("zone", ["H7", "G7", "H8"])
def test_beyond_500_mm_the_zone_of_a_part_is_the_general_tolerance(zone: str) -> None:
    for more in ({}, {"keeps_part": "BIG-1"}):
        study = load(big(zone, **more))
        answer = solve(study)
        told(study, answer)
        assert answer.totals is not None, answer.reasons
        assert answer.totals.ring_parts == 0
    data = big(zone)
    data["shop"]["parts_in_production"].append(
        data["shop"]["parts_in_production"][0] | {"name": "BIG-2", "bore_zone": "F7"}
    )
    with pytest.raises(StudyError, match="the same as"):
        load(data)


@pytest.mark.parametrize(
    "part",
    [
        ELBOW | {"bore_mm": 84.0000004}, ELBOW | {"face_width_mm": 8.0000004},
        ELBOW | {"module": 1.0000004},
    ],
)  # fmt: skip
def test_sizes_with_dust_are_the_same_for_search_names_and_judge(part: Json) -> None:
    study = load(arm(parts_in_production=[part], owned_cutters=[{"module": 1.0000006}]))
    answer = solve(study)
    told(study, answer)
    assert answer.totals is not None
    assert (answer.totals.parts_in_production, answer.totals.cutters_owned) == (1, 1)
    with pytest.raises(StudyError, match="the same as"):
        load(arm(parts_in_production=[part, ELBOW | {"name": "other"}]))
    with pytest.raises(StudyError, match="the same as"):
        load(arm(owned_cutters=[{"module": 1.0}, {"module": 1.0000008}]))


def test_a_module_as_reports_print_it_is_that_of_its_pitch() -> None:
    part = ELBOW | {"module": 1.27324, "teeth": 95}  # 4 mm CP is 1.2732395 mm
    data = arm(parts_in_production=[part], owned_cutters=[{"module": 1.27324}])
    data["shop"]["modules"] = ["4 mm CP"]
    data["target"], data["robots"][0]["tool_point_target_um"] = {"angle_target_arcsec": 300}, 700
    study = load(data)
    answer = solve(study)
    told(study, answer)
    assert answer.totals is not None
    assert answer.totals.cutters_owned == 1


@pytest.mark.parametrize("name", ["R00000000005", "R1000000000", "R99999999999", "R5"])
def test_numbers_follow_names_of_any_length(name: str) -> None:
    study = load(arm(parts_in_production=[ELBOW | {"name": name, "teeth": 1000}]))
    answer = solve(study)
    told(study, answer)
    first = 6 if name == "R5" else 1
    assert [p.id for p in answer.ring_parts] == [f"R{n}" for n in range(first, first + 4)]
    assert judge(study, solve(study, previous=answer), answer) == []


def test_the_zone_of_a_shaft_is_refused() -> None:
    with pytest.raises(StudyError, match="the zone of a hole"):
        load(arm(parts_in_production=[ELBOW | {"bore_zone": "h7"}]))
