"""The depth that the cutter truly cuts is that of every size, mass, drawing and limit of the ring."""

from __future__ import annotations

import math

import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.drawing.part import drawn_gear_rows, drawn_parts
from ringset.drawing.tooth_outline import outline_of_tooth
from ringset.errors import StudyError
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.standards.racks import RACKS, standard_deeper_rack
from ringset.verification.judge.judge import judge
from tests.support.studies import Json, joint, load

DEPTHS = [2.3, 2.4, 2.6]


def fine(depth: float | None, **shop: object) -> Json:
    """Return a study of one joint of module 0.8, cut so many modules deep; None: as deep as the rack."""
    data: Json = {
        "robots": [{"name": "arm", "joints": [joint("wrist", 40.0)]}],
        "shop": {"modules": [0.8], "rim_min_mm": 0.5, "rim_min_depths": 1.5, "bore_step_mm": 0.1},
        "target": {"angle_target_arcsec": 400.0},
    }
    data["shop"] |= shop
    if depth is not None:
        data["shop"] |= {"deeper_cut_below_mm": 1.0, "deeper_cut_depth_modules": depth}
    return data


def solved(data: Json) -> tuple[Study, Answer]:
    study = load(data)
    answer = solve(study)
    assert answer.status == "proven", answer.reasons
    assert judge(study, answer) == []
    return study, answer


@pytest.mark.parametrize("depth", DEPTHS)
def test_every_number_of_an_answer_is_of_the_true_depth(depth: float) -> None:
    """Root m (z - 2 (h - 1)), depth h m, and a limit of so many of these depths."""
    study, answer = solved(fine(depth))
    (ring,) = answer.rings
    m, z = ring.module_mm, ring.teeth
    assert ring.root_diameter_mm == pytest.approx(m * (z - 2.0 * (depth - 1.0)), rel=1e-12)
    assert ring.tip_diameter_mm == pytest.approx(m * (z + 2.0), rel=1e-12)
    assert ring.tooth_depth_mm == pytest.approx(depth * m, rel=1e-12)
    assert ring.rim_mm == pytest.approx((ring.root_diameter_mm - ring.bore_mm) / 2.0, rel=1e-12)
    (least,) = (one for one in ring.margins if one.limit == "shop.rim_min_depths")
    assert least.allowed == pytest.approx(1.5 * depth * m, rel=1e-12)
    assert least.margin >= 0.0
    (part,) = drawn_parts(study, answer)
    assert part.shape.tooth.root_mm == pytest.approx(ring.root_diameter_mm / 2.0, rel=1e-12)
    # the closed area of the drawn tooth, independent of the section that the mass is reckoned with
    section = part.shape.tooth.area_mm2() - math.pi * ring.bore_mm**2 / 4.0
    assert ring.finished_kg == pytest.approx(7850e-9 * section * ring.face_width_mm, rel=1e-9)
    rows = {row.name: row.value for row in drawn_gear_rows(part)}
    assert float(rows["Tooth depth"]) == pytest.approx(depth * m, abs=5e-5)
    assert float(rows["Root diameter"]) == pytest.approx(ring.root_diameter_mm, abs=5e-5)
    drawn = outline_of_tooth(m, z, "full", 0.0, depth_modules=depth)
    assert 2.0 * drawn.root_radius_mm == pytest.approx(ring.root_diameter_mm, rel=1e-12)


def test_modules_that_are_no_finer_keep_the_rack() -> None:
    """Below 0.8 leaves module 0.8 as it is, to the last bit but for the study's own print."""
    plain = solved(fine(None))[1]
    other = solved(fine(None, deeper_cut_below_mm=0.8, deeper_cut_depth_modules=2.6))[1]
    assert other.rings == plain.rings


@pytest.mark.parametrize("depth", DEPTHS)
def test_an_answer_of_another_depth_is_refused(depth: float) -> None:
    """The judge reckons root, rim, mass and lobes of the cutter that the study states."""
    _, shallow = solved(fine(None))
    found = "\n".join(judge(load(fine(depth)), shallow))
    for name in ("root_diameter_mm", "rim_mm", "tooth_depth_mm", "finished_kg", "inertia_kg_m2"):
        assert name in found, name


def test_a_deeper_cut_leaves_a_softer_and_lighter_ring() -> None:
    """The same blank in the same jaws: less rim, higher lobes."""
    found = []
    for depth in (None, 2.4):
        study = load(fine(depth))
        ring, _ = rate_one(study, study.robots[0], study.robots[0].joints[0], 0.8, 70, 46.0, 1)
        found.append(ring)
    plain, deep = found
    assert deep.blank_kg == plain.blank_kg
    assert plain.rim_mm - deep.rim_mm == pytest.approx(0.15 * 0.8, rel=1e-9)
    assert deep.finished_kg < plain.finished_kg
    lobes = [next(t for t in r.budget.terms if t.name == "clamping") for r in found]
    assert lobes[1].amplitude_arcsec > lobes[0].amplitude_arcsec


def test_racks_of_deeper_cutters() -> None:
    """Types A and D of ISO 53:1998 at their depths; between and beyond, corners that the tooth has room
    for."""
    assert standard_deeper_rack(2.25) is RACKS["full"]
    assert standard_deeper_rack(2.4) is RACKS["full_d"]
    for depth in (2.3, 2.5, 2.6, 2.8):
        rack = standard_deeper_rack(depth)
        assert rack.whole_depth == pytest.approx(depth, rel=1e-12)
        # half the width of the rack's tooth at its end, from the corner's two tangents: rho tan(35 deg)
        half = math.pi / 4.0 - rack.dedendum * math.tan(math.radians(20.0))
        assert 0.0 < rack.root_fillet <= min(0.39, half / math.tan(math.radians(35.0)))


@pytest.mark.parametrize(
    ("shop", "head", "words"),
    [
        ({"deeper_cut_depth_modules": 2.2}, {}, "shop.deeper_cut_depth_modules: given 2.2"),
        ({"deeper_cut_depth_modules": 2.9}, {}, "shop.deeper_cut_depth_modules: given 2.9"),
        ({"deeper_cut_depth_modules": "deep"}, {}, "shop.deeper_cut_depth_modules"),
        ({"rack": "stub"}, {}, "shop.deeper_cut_below_mm: given a limit with rack stub"),
        ({}, {"teeth_min": 18}, "head.teeth_min: given 18; allowed: at least 19.5"),
    ],
)
def test_depths_that_cannot_be_are_refused_by_field(shop: Json, head: Json, words: str) -> None:
    data = fine(2.4, **shop) | {"head": head}
    data["shop"] |= shop
    with pytest.raises(StudyError) as caught:
        load(data)
    assert words in str(caught.value)


def test_an_outline_of_another_depth_is_refused_by_field() -> None:
    with pytest.raises(StudyError, match=r"depth_modules.*2\.25 to 2\.8"):
        outline_of_tooth(1.0, 50, depth_modules=3.0)
