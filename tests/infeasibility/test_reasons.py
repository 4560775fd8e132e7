"""An impossible study says which joint stands against which limit, or which limits against each other."""

from __future__ import annotations

from typing import Any

import pytest

from ringset.schema.answer import Answer
from ringset.solving.pipeline import solve
from tests.support.studies import Json, joint, load, small

# -- why a joint has no ring -------------------------------------------------------------------------


def one_joint(row: Json | None = None, **fields: Any) -> Json:
    shop = {"modules": [1.0], "bore_step_mm": 0.5, **fields.pop("shop", {})}
    target = {"angle_target_arcsec": 250.0, **fields.pop("target", {})}
    rows = [{**joint("wrist", 40.0), **(row or {})}]
    return {"robots": [{"name": "arm", "joints": rows}], "shop": shop, "target": target, **fields}


FAST = {"speed_max_rpm": 1000.0}
CAUSES = {
    "no module": (one_joint(shop={"modules": [5.0]}), ["shop.modules", "0.8 to 2 mm"]),
    "tip too small": (
        one_joint({"bore_min_mm": 20.0, "tip_max_mm": 33.5}),
        ["tip_max_mm 33.5", "34 mm", "head.teeth_min 32"],
    ),
    "tip between teeth": (
        one_joint({"tip_min_mm": 64.2, "tip_max_mm": 64.8}),
        ["tip_min_mm 64.2", "tip_max_mm 64.8"],
    ),
    "tip too large": (
        one_joint({"tip_min_mm": 600.0, "tip_max_mm": 650.0}),
        ["tip_min_mm 600", "514 mm", "head.teeth_max 512"],
    ),
    "rim": (
        one_joint({"tip_max_mm": 50.0}),
        ["bore_min_mm 40", "tip_max_mm 50", "2.75 mm of rim", "asks 3 mm"],
    ),
    "rim in depths": (
        one_joint({"tip_max_mm": 50.0}, shop={"rim_min_mm": 1.0, "rim_min_depths": 1.5}),
        ["bore_min_mm 40", "rim_min_depths", "asks 3.38 mm"],
    ),
    "bore step": (
        one_joint({"bore_min_mm": 40.5, "bore_max_mm": 42.0}, shop={"bore_step_mm": 4.0}),
        ["shop.bore_step_mm 4", "between the 40.5 and 42 mm", "bore window and rim"],
    ),
    "rim_max": (
        one_joint({"tip_min_mm": 66.0}, shop={"rim_max_mm": 4.0}),
        ["bore_max_mm 46", "shop.rim_max_mm 4", "at least 53.5 mm"],
    ),
    "angle target": (
        one_joint(target={"angle_target_arcsec": 5.0}),
        ["angle_target_arcsec 5", "the best that can be reached is", "arcsec (module 1,"],
    ),
    "own angle target": (
        one_joint({"angle_target_arcsec": 6.0}),
        ["angle_target_arcsec 6", "2 heads"],
    ),
    "tooth rate": (
        one_joint(FAST, head={"tooth_rate_max_hz": 100.0}),
        ["head.tooth_rate_max_hz 100", "Hz"],
    ),
    "resolution": (
        one_joint(target={"resolution_bits": 23.0}),
        ["target.resolution_bits", "usable bits"],
    ),
    "clamping": (
        one_joint(shop={"clamp_runout_share": 1e-4}),
        ["shop.clamp_runout_share", "of the run-out tolerance"],
    ),
    "two limits together": (
        one_joint(FAST, head={"tooth_rate_max_hz": 900.0}, target={"resolution_bits": 16.2}),
        ["head.tooth_rate_max_hz 900", "target.resolution_bits"],
    ),
}


@pytest.mark.parametrize("cause", CAUSES)
def test_an_impossible_joint_is_named_with_its_limit(cause: str) -> None:
    data, texts = CAUSES[cause]
    answer = solve(load(data))
    assert answer.status == "impossible"
    assert all(reason.startswith("arm/wrist: ") for reason in answer.reasons)
    for text in texts:
        assert any(text in reason for reason in answer.reasons), (text, answer.reasons)


def best_of(data: Json, field: str) -> float:
    """Return the best value that the only reason of an impossible study tells of a limit."""
    (reason,) = solve(load(data)).reasons
    assert reason.startswith(f"arm/wrist: {field} ")
    return float(reason.split("reached is ")[1].split()[0])


def test_a_ring_that_hits_its_head_has_less_than_no_gap_left() -> None:
    """Where more closes than there is, the gap that is left is below zero, and the reason says so."""
    best = []
    for shift_um in (0.0, 900.0):
        row = {"bearing_shift_um": shift_um}
        head = {"gap_mm": 0.3, "stated_gap_mm": 0.3, "gap_left_min_mm": 0.29}
        best.append(best_of(one_joint(row, head=head), "head.gap_left_min_mm"))
    assert 0.0 < best[0] < 0.29
    assert best[1] == pytest.approx(best[0] - 0.9, abs=2e-5)  # a shift closes the gap by itself


def test_the_rim_that_a_deeper_cut_leaves_is_told_as_it_is() -> None:
    """Tips at 51, module 1 cut 2.4 deep: 51 - 4.8 - 40 = 6.2, so 3.1 mm of rim where 3.2 are asked."""
    data = one_joint(
        {"tip_max_mm": 51.0},
        shop={
            "rim_min_mm": 3.2, "modules": [1.0], "deeper_cut_below_mm": 1.25, "cutting": "hob",
        },
    )  # fmt: skip
    (reason,) = solve(load(data)).reasons
    assert "at most 3.1 mm of rim is left (module 1, 49 teeth)" in reason
    assert reason.endswith("asks 3.2 mm")
    del data["shop"]["deeper_cut_below_mm"]
    assert solve(load(data)).rings, "cut 2.25 deep, 3.25 mm are left"


def test_a_rim_that_is_lacking_is_told_with_its_sign() -> None:
    """Tips of 51 mm at module 1 have roots of 46.5 mm: over a bore of 48 mm, 0.75 mm of steel is lacking."""
    (reason,) = solve(
        load(one_joint({"bore_min_mm": 48.0, "bore_max_mm": 49.0, "tip_max_mm": 51.0}))
    ).reasons
    assert "at most -0.75 mm of rim is left" in reason


def test_every_impossible_joint_is_named() -> None:
    data = one_joint({"tip_max_mm": 50.0})
    data["robots"][0]["joints"] += [joint("elbow", 60.0), joint("base", 80.0, tip_min_mm=1500.0)]
    data["robots"][0]["joints"][2]["tip_max_mm"] = 1600.0
    reasons = solve(load(data)).reasons
    assert [reason.split(":")[0] for reason in reasons] == ["arm/base", "arm/wrist"]


# -- why shared limits cannot hold -------------------------------------------------------------------


def shared(wishes: Json | None = None, target_um: float | None = None) -> Answer:
    data = {**small(), "wishes": wishes or {}}
    data["robots"][0]["tool_point_target_um"] = target_um
    return solve(load(data))


@pytest.mark.parametrize(
    ("wishes", "text"),
    [
        ({"cutters_max": 0}, "wishes.cutters_max 0: the least possible is 1"),
        ({"ring_parts_max": 1}, "wishes.ring_parts_max 1: the least possible is 2"),
        ({"heads_max": 5}, "wishes.heads_max 5: the least possible is 6"),
        ({"material_max_kg": 0.3}, "wishes.material_max_kg 0.3: the least possible is 0."),
    ],
)
def test_a_ceiling_that_cannot_hold_is_named_with_the_least_possible(
    wishes: dict[str, float], text: str
) -> None:
    answer = shared(wishes)
    assert answer.status == "impossible"
    assert len(answer.reasons) == 1
    assert answer.reasons[0].startswith(text)


@pytest.mark.parametrize("name", ["cutters_max", "ring_parts_max", "heads_max"])
def test_the_least_possible_is_possible(name: str) -> None:
    least = {"cutters_max": 1, "ring_parts_max": 2, "heads_max": 6}[name]
    assert shared({name: least}).status == "proven"


def test_a_tool_point_that_cannot_hold_is_named_with_the_best_and_the_worst_joint() -> None:
    answer = shared(target_um=50.0)
    assert answer.status == "impossible"
    (reason,) = answer.reasons
    assert reason.startswith("arm: tool_point_target_um 50: the best that can be reached is")
    assert "joint 1 has the largest share" in reason
    reached = float(reason.split("reached is ")[1].split()[0])
    assert shared(target_um=reached * 1.001).status == "proven"
    assert shared(target_um=reached * 0.999).status == "impossible"


def test_limits_that_hold_alone_but_not_together_are_both_named() -> None:
    assert shared({"heads_max": 6}).status == "proven"
    assert shared(target_um=300.0).status == "proven"
    answer = shared({"heads_max": 6}, target_um=300.0)
    assert answer.status == "impossible"
    (reason,) = answer.reasons
    assert reason.startswith("wishes.heads_max and arm: tool_point_target_um: cannot hold together")


# -- corners --------------------------------------------------------------------------------------


def test_four_limits_of_which_two_and_two_conflict_are_explained() -> None:
    row = {"bore_min_mm": 20.0, "bore_max_mm": 150.0, "tip_max_mm": 170.0, "tip_min_mm": 40.0}
    shop = {"modules": [0.8, 2.0], "rim_min_mm": 2.0, "rim_min_depths": 0.5, "rim_max_mm": 2.5}
    answer = solve(
        load(
            one_joint(
                {**row, **FAST},
                shop={**shop, "clamp_runout_share": 0.7138},
                target={"angle_target_arcsec": 51.41, "resolution_bits": 17.41},
                head={"tooth_rate_max_hz": 700.0},
            )
        )
    )
    assert answer.status == "impossible"
    assert answer.reasons[0].startswith("arm/wrist: ")


def test_the_reason_of_a_step_does_not_contradict_itself() -> None:
    """A multiple of the step lies in the window, but the rim forbids it: the rim is the reason."""
    row = {"bore_min_mm": 81.0, "bore_max_mm": 84.5, "tip_max_mm": 92.0}
    (reason,) = solve(load(one_joint(row, shop={"bore_step_mm": 4.0}))).reasons
    assert "no multiple of it lies in the bore window 81 to 84.5" not in reason


def test_a_rim_just_below_the_least_is_refused_by_catalogue_and_judge_alike() -> None:
    row = {"bore_min_mm": 90.0, "bore_max_mm": 90.0, "tip_max_mm": 102.0}
    shop = {"rim_min_mm": 3.75000002, "rim_min_depths": 0.5, "clamp_runout_share": None}
    assert solve(load(one_joint(row, shop=shop))).status == "impossible"
