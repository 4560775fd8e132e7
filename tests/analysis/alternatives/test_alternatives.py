"""Grounds: every neighbour told is what an independent recount of the whole answer with it finds."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import numpy as np
import pytest

from ringset.analysis.alternatives.alternatives import (
    alternatives_among,
    alternatives_of,
    standing_ring_of_alternatives,
)
from ringset.analysis.alternatives.models import Ground
from ringset.analysis.alternatives.single_ring import find_joint
from ringset.catalogue.joints import catalogue_joints, catalogue_modules
from ringset.catalogue.rows import Catalogue
from ringset.errors import StudyError
from ringset.rating.rate import rate_in_full
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.compose import Searched, compose
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load, priced_study, random_study, two_robots
from tests.support.tiers import campaign

NAMES = (
    "family_three_arms", "finer_table", "priced_arm", "seven_joint_arm", "six_joint_arm",
    "two_joint_table",
)  # fmt: skip
LARGE = ("family_three_arms", "priced_arm", "seven_joint_arm")
#: Fields by which a part that stands may differ from what a joint asks, at one module, tooth count and bore.
DRAWN = ("face_width_mm", "seat_fit")


def scenario(name: str) -> Study:
    return load_study((SCENARIOS / f"{name}.json").read_text())


def of(study: Study, answer: Answer, name: str) -> dict[str, Ground]:
    """Return the grounds of a joint by kind; of other parts the first."""
    robot, joint = find_joint(study, name)
    found: dict[str, Ground] = {}
    for ground in alternatives_of(study, answer, robot, joint):
        found.setdefault(ground.kind, ground)
    return found


def with_neighbour(study: Study, answer: Answer, ground: Ground) -> Answer:
    """Return the whole answer with the neighbour in it; its proof is the old one."""
    study = study.canonical()
    refs, modules, step = (
        catalogue_joints(study),
        catalogue_modules(study.shop),
        study.shop.bore_step_mm,
    )
    columns = []
    for place, ring in enumerate(answer.rings):
        name = f"{ring.robot}/{ring.joint}"
        size = ground if name in ground.joints else ring
        # only the joint asked about, which stands first, changes its number of heads
        heads = ground.heads if name == ground.joints[0] else ring.heads
        module = int(np.searchsorted(modules, size.module_mm - 1e-9))
        columns.append((place, module, size.teeth, round(size.bore_mm / step), heads))
    knowing = tuple(
        ref.with_head_counts({*ref.joint.head_counts, column[-1]})
        for ref, column in zip(refs, columns, strict=True)
    )
    rows = Catalogue(knowing, modules, step, *np.array(columns, dtype=np.int64).T)
    proof = answer.proof
    searched = Searched(
        proof.rings_possible, proof.rows_possible, proof.rows_searched,
        proof.material_unit_kg, proof.cost_unit,
    )  # fmt: skip
    return compose(
        study,
        rate_in_full(study, rows),
        "found",
        ["forced"],
        proof.stages,
        searched,
        proof.repeatable,
    )


def recounted(study: Study, answer: Answer, ground: Ground) -> None:
    """Hold a ground against the judge's recount of the whole answer with the neighbour in it."""
    forced = with_neighbour(study, answer, ground)
    found = [
        text for text in judge(offering(study, ground), forced)
        if not text.startswith(("proof.", "study_sha256"))
    ]  # fmt: skip
    before, after = answer.totals, forced.totals
    assert before is not None
    assert after is not None
    adds = ground.adds
    assert (adds.cutters, adds.ring_parts, adds.heads) == (
        after.cutters - before.cutters,
        after.ring_parts - before.ring_parts,
        after.heads - before.heads,
    )
    assert adds.material_kg == pytest.approx(after.material_kg - before.material_kg, abs=1e-9)
    if before.cost is not None and after.cost is not None:
        assert adds.money == pytest.approx(after.cost.total - before.cost.total, abs=1e-6)
    ring = next(r for r in forced.rings if f"{r.robot}/{r.joint}" == ground.joints[0])
    assert (ring.error_arcsec, ring.rim_mm) == (ground.error_arcsec, ground.rim_mm)
    unlike = unlike_the_part(answer, forced, ground)
    drawn = [one for one in ground.breaks if one.limit in DRAWN]
    assert [(one.limit, one.value, one.allowed) for one in drawn] == unlike, ground.text
    if ground.outcome != "breaks":
        assert found == [], ground.text
        assert ground.breaks == []
        return
    # a number of heads is on offer to the judge; a ring unlike the part that stands is but another part
    breaks = [one for one in ground.breaks if one.limit not in ("head_counts", *DRAWN)]
    for one in breaks:
        owner = "/".join(name for name in (one.robot, one.joint) if name is not None)
        mine = [text for text in found if text.startswith(owner)]
        assert any(one.limit.split(".")[-1] in text for text in mine), (ground.text, found)
    assert len(found) == len(breaks), (ground.text, found)


def unlike_the_part(
    answer: Answer, forced: Answer, ground: Ground
) -> list[tuple[str, float, float]]:
    """Return in what the part that a joint shall take is not the ring made for the joint itself.

    Every entry holds the field of the joint that asks otherwise, what the part has and what is asked, by
    the sizes that both answers state.
    """
    if ground.kind != "other_part":
        return []
    part = next(part for part in answer.ring_parts if part.id == ground.ring_part)
    ring = next(r for r in forced.rings if f"{r.robot}/{r.joint}" == ground.joints[0])
    assert (part.module_mm, part.teeth, part.bore_mm) == (ring.module_mm, ring.teeth, ring.bore_mm)
    found = []
    if part.face_width_mm != ring.face_width_mm:
        found.append(("face_width_mm", part.face_width_mm, ring.face_width_mm))
    if part.bore_upper_um != ring.bore_upper_um:
        found.append(("seat_fit", part.bore_upper_um, ring.bore_upper_um))
    elif part.bore_lower_um != ring.bore_lower_um:
        found.append(("seat_fit", part.bore_lower_um, ring.bore_lower_um))
    return found


def offering(study: Study, ground: Ground) -> Study:
    """Return the study with the head count of the ground on offer at its joint."""
    data = json.loads(study.model_dump_json())
    for robot in data["robots"]:
        for row in robot["joints"]:
            if f"{robot['name']}/{row['name']}" == ground.joints[0]:
                row["head_counts"] = sorted({*row["head_counts"], ground.heads})
    return load(data)


def all_grounds(study: Study, answer: Answer) -> list[Ground]:
    """Return the grounds of every ring, each recounted."""
    grounds = []
    for ring in answer.rings:
        mine = alternatives_of(study, answer, *find_joint(study, ring.joint, ring.robot))
        for ground in mine:
            recounted(study, answer, ground)
        assert mine[0].kind == "larger"
        grounds += mine
    return grounds


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("name", [campaign(n) if n in LARGE else n for n in NAMES])
def test_grounds_of_scenarios_are_what_a_recount_finds(name: str) -> None:
    study = scenario(name)
    answer = solve(study)
    assert answer.status == "proven"
    grounds = all_grounds(study, answer)
    assert "better" not in {ground.outcome for ground in grounds}
    for ground in grounds:
        assert ground.outcome == "breaks" or ground.decided_by is not None
        assert (ground.outcome == "breaks") == bool(ground.breaks)


@pytest.mark.cases(fast=2, slow=3)
@pytest.mark.parametrize("seed", range(40))
def test_no_neighbour_is_better_than_a_proven_answer(seed: int) -> None:
    """It would contradict the proof; studies with prices and ceilings among them."""
    study = load(priced_study(seed) if seed % 2 else random_study(seed))
    answer = solve(study)
    if answer.status != "proven":
        assert answer.status == "impossible"
        return
    assert "better" not in {ground.outcome for ground in all_grounds(study, answer)}


def test_two_robots_under_every_limit() -> None:
    study = load(two_robots())
    answer = solve(study)
    assert answer.status == "proven"
    assert "better" not in {ground.outcome for ground in all_grounds(study, answer)}


def test_a_better_neighbour_of_an_answer_that_is_not_the_best_is_told() -> None:
    """Nothing is hidden: beside a rim thicker than it need be the thinner one is called better."""
    study = one_joint(target=300.0, head_counts=[2], tip_min_mm=101)
    answer = solve(study)
    ring = standing_ring_of_alternatives(answer.rings[0]).model_copy(
        update={"bore_mm": answer.rings[0].bore_mm - 2.0}
    )
    found = alternatives_among(study, [ring], *find_joint(study, "joint"))
    thinner = next(ground for ground in found if ground.kind == "thinner")
    assert (thinner.outcome, thinner.decided_by) == ("better", "material")
    assert thinner.text.endswith("less material")
    assert "better by the wishes" in thinner.text


def one_joint(target: float, **fields: Any) -> Study:
    row = {"name": "joint", "bore_min_mm": 60, "bore_max_mm": 90, "tip_max_mm": 102} | fields
    return load(
        {
            "robots": [{"name": "arm", "joints": [row]}],
            "shop": {"modules": [1.0], "bore_step_mm": 0.5, "clamp_runout_share": None},
            "target": {"angle_target_arcsec": target},
        }
    )


def forced(study: Study, joint: str, **fields: Any) -> Answer:
    """Return the answer to the study with some fields of a joint changed."""
    data = json.loads(study.model_dump_json())
    rows = [row for robot in data["robots"] for row in robot["joints"] if row["name"] == joint]
    rows[0].update(fields)
    return solve(load(data))


def test_a_thick_rim_that_saves_a_head() -> None:
    study = one_joint(target=100.0, seat_offset_um=8.0, tip_min_mm=101)
    answer = solve(study)
    ring = answer.rings[0]
    assert ring.heads == 1
    found = of(study, answer, "joint")
    thinner = found["thinner"]
    assert [one.limit for one in thinner.breaks] == ["angle_target_arcsec"]
    assert thinner.breaks[0].value > 100.0 == thinner.breaks[0].allowed
    more = found["more_heads"]
    assert (more.outcome, more.decided_by, more.adds.heads) == ("costs", "heads", 1)
    assert more.rim_mm < ring.rim_mm
    assert more.adds.material_kg < 0.0
    # solved anew where no rim as thick is possible: it takes the second head
    again = forced(study, "joint", bore_min_mm=ring.bore_mm + 0.5, tip_max_mm=ring.tip_diameter_mm)
    assert again.rings[0].heads == 2


def test_a_ring_that_the_tool_point_alone_holds() -> None:
    """Its own target is far away; one tooth fewer, with any bore, passes the tool point of the arm."""
    data = {
        "robots": [
            {
                "name": "arm",
                "tool_point_target_um": 100.0,
                "joints": [
                    {"name": "joint", "bore_min_mm": 60, "bore_max_mm": 60, "tip_max_mm": 200,
                     "reach_mm": 600, "head_counts": [2], "seat_offset_um": 15},
                ],
            }
        ],
        "shop": {"modules": [1.0], "clamp_runout_share": None},
        "target": {"angle_target_arcsec": 500.0},
    }  # fmt: skip
    study = load(data)
    answer = solve(study)
    found = of(study, answer, "joint")
    smaller = found["smaller"]
    assert [(one.robot, one.joint, one.limit) for one in smaller.breaks] == [
        ("arm", None, "tool_point_target_um")
    ]
    assert "arm: tool_point_target_um" in smaller.text
    data["robots"][0]["joints"][0]["tip_max_mm"] = answer.rings[0].tip_diameter_mm - 0.5  # type: ignore[index]
    assert solve(load(data)).status == "impossible"


def test_sharing_that_forces_the_size() -> None:
    """The joint that could be smaller takes the ring of one that cannot, and is told whose limit it is."""
    data = {
        "robots": [
            {
                "name": "arm",
                "joints": [
                    {"name": "free", "bore_min_mm": 50, "bore_max_mm": 100, "tip_max_mm": 130},
                    {"name": "wide", "bore_min_mm": 80, "bore_max_mm": 100, "tip_max_mm": 120},
                ],
            }
        ],
        "shop": {"modules": [1.0]},
        "target": {"angle_target_arcsec": 150.0},
    }
    study = load(data)
    answer = solve(study)
    assert len(answer.ring_parts) == 1
    found = of(study, answer, "free")
    assert found["larger"].joints == ["arm/free", "arm/wide"]
    owners = {one.joint for one in found["smaller"].breaks + found["thicker"].breaks}
    assert "wide" in owners
    own = found["own_part"]
    assert (own.outcome, own.decided_by, own.adds.ring_parts) == ("costs", "ring_parts", 1)
    assert own.adds.material_kg < 0.0
    assert own.joints == ["arm/free"]
    # solved anew with the part of its own forced by windows: as light as told
    again = forced(study, "free", tip_max_mm=own.module_mm * (own.teeth + 2.0))
    assert again.totals is not None
    assert answer.totals is not None
    assert again.totals.material_kg - answer.totals.material_kg == pytest.approx(
        own.adds.material_kg, abs=1e-9
    )
    others = Counter(
        ground.kind for ground in alternatives_of(study, answer, *find_joint(study, "free"))
    )
    assert others["other_part"] == 0


def test_a_part_of_another_width_is_not_for_this_joint() -> None:
    data = {
        "robots": [
            {
                "name": "arm",
                "joints": [
                    {"name": "a", "bore_min_mm": 60, "bore_max_mm": 80, "tip_max_mm": 110},
                    {"name": "b", "bore_min_mm": 60, "bore_max_mm": 80, "tip_max_mm": 110,
                     "face_width_mm": 10},
                ],
            }
        ],
        "shop": {"modules": [1.0]},
        "target": {"angle_target_arcsec": 150.0},
    }  # fmt: skip
    study = load(data)
    other = of(study, solve(study), "a")["other_part"]
    assert (other.breaks[0].limit, other.breaks[0].value, other.breaks[0].allowed) == (
        "face_width_mm", 10.0, 8.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"teeth": 60}, "rings[0]"),
        ({"module_mm": 1.1}, "rings[0].module_mm"),
        ({"bore_mm": 90.3}, "rings[0].bore_mm"),
        ({"joint": "none"}, "rings[0].joint"),
        ({"joint": "turn"}, "rings[1].joint"),
        ({"heads": 1}, "rings[0]"),
        ({"heads": 8}, "rings[0]"),
    ],
)
def test_rings_that_do_not_stand_are_refused_at_their_field(change: Json, path: str) -> None:
    study = scenario("two_joint_table")
    rings = [standing_ring_of_alternatives(ring) for ring in solve(study).rings]
    rings[0] = rings[0].model_copy(update=change)
    with pytest.raises(StudyError) as refused:
        alternatives_among(study, rings, *find_joint(study, "turn"))
    assert refused.value.faults[0].path == path


def test_a_joint_without_a_ring_is_told() -> None:
    study = scenario("two_joint_table")
    rings = [standing_ring_of_alternatives(ring) for ring in solve(study).rings]
    with pytest.raises(StudyError) as refused:
        alternatives_among(study, rings[:1], *find_joint(study, "turn"))
    assert refused.value.faults[0].path == "rings"
    assert "table/turn" in refused.value.faults[0].allowed


def test_rings_without_a_rim_or_a_hub_are_not_tried() -> None:
    """A coarse bore step would cut through the teeth, and a smaller bore through the hub."""
    data = json.loads(one_joint(target=300.0, tip_min_mm=101).model_dump_json())
    data["shop"]["bore_step_mm"] = 10.0
    data["robots"][0]["joints"][0]["hub_bore_mm"] = 75.0
    data["robots"][0]["joints"][0]["bore_min_mm"] = 80.0
    study = load(data)
    answer = solve(study)
    assert answer.rings[0].bore_mm == 90.0
    kinds = {ground.kind for ground in all_grounds(study, answer)}
    assert "thinner" not in kinds
    assert "thicker" in kinds
    data["robots"][0]["joints"][0].update(hub_bore_mm=85.0, bore_min_mm=90.0)
    study = load(data)
    assert "thicker" not in {ground.kind for ground in all_grounds(study, solve(study))}
