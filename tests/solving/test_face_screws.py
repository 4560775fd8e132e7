"""Screws of a ring part: what their holes take away, and that the judge finds every wrong pattern."""

from __future__ import annotations

import itertools
import math

import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.schema.answer import Answer, FaceScrews
from ringset.schema.study import Study
from ringset.solving import face_screws
from ringset.solving.pipeline import solve
from ringset.verification.judge import mounting
from ringset.verification.judge.judge import judge
from tests.rating.test_mounting import SCREWED, one
from tests.support.narrow import present
from tests.support.studies import Json, load


@pytest.fixture(scope="module")
def screwed() -> tuple[Study, Answer]:
    study = load(SCREWED)
    return study, solve(study)


def test_finished_mass_and_inertia_are_without_the_holes(screwed: tuple[Study, Answer]) -> None:
    """n cylinders of C45 on their circle: 7850 kg/m^3, J = m (r^2 / 2 + R^2) each (Steiner)."""
    study, answer = screwed
    ring, screws = answer.rings[0], answer.ring_parts[0].screws
    plain = load(one({"deeper_cut_below_mm": 1.0}))  # no screws, and teeth as deep
    solid, _ = rate_one(
        plain, study.robots[0], plain.robots[0].joints[0],
        ring.module_mm, ring.teeth, ring.bore_mm, ring.heads,
    )  # fmt: skip
    drilled, _ = rate_one(
        study, study.robots[0], study.robots[0].joints[0],
        ring.module_mm, ring.teeth, ring.bore_mm, ring.heads,
    )  # fmt: skip
    assert screws is not None
    radius, out = screws.hole_mm / 2e3, screws.circle_mm / 2e3
    mass = screws.count * 7850.0 * 0.008 * math.pi * radius**2
    assert mass > 0.001
    assert solid.finished_kg - ring.finished_kg == pytest.approx(mass, rel=1e-9)
    taken = solid.inertia_kg_m2 - ring.inertia_kg_m2
    assert taken == pytest.approx(mass * (radius**2 / 2.0 + out**2), rel=1e-9)
    assert (drilled.finished_kg, drilled.inertia_kg_m2) == (ring.finished_kg, ring.inertia_kg_m2)
    assert solid.blank_kg == ring.blank_kg  # holes are drilled out of what is bought
    assert present(answer.totals).finished_kg == pytest.approx(ring.finished_kg)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (None, "screws of R1: none stated"),
        ({"count": 40}, "screws of R1: 40 x"),
        ({"size": "M12"}, "screws of R1:"),
        ({"circle_mm": 50.0}, "screws: circle_mm: 50.0 stated"),
        ({"hole_mm": 1.0}, "screws: hole_mm: 1.0 stated"),
    ],
)
def test_the_judge_refuses_other_screws(
    screwed: tuple[Study, Answer], change: Json | None, words: str
) -> None:
    study, answer = screwed
    part = answer.ring_parts[0]
    screws = None if change is None else present(part.screws).model_copy(update=change)
    wrong = answer.model_copy(update={"ring_parts": [part.model_copy(update={"screws": screws})]})
    assert any(words in violation for violation in judge(study, wrong)), judge(study, wrong)


@pytest.mark.parametrize("field", ["finished_kg", "inertia_kg_m2"])
def test_the_judge_refuses_the_ring_without_its_holes(
    screwed: tuple[Study, Answer], field: str
) -> None:
    study, answer = screwed
    ring = answer.rings[0]
    wrong = ring.model_copy(update={field: 1.02 * getattr(ring, field)})
    violations = judge(study, answer.model_copy(update={"rings": [wrong]}))
    assert any(field in violation for violation in violations)


def test_the_judge_refuses_screws_where_nothing_is_screwed() -> None:
    study = load(one())
    answer = solve(study)
    part = answer.ring_parts[0].model_copy(
        update={"screws": FaceScrews(size="M2", count=3, circle_mm=45.0, hole_mm=2.4)}
    )
    violations = judge(study, answer.model_copy(update={"ring_parts": [part]}))
    assert any("screws of R1: 3 x M2 stated, none wanted" in v for v in violations)


@pytest.mark.parametrize("stated", [True, False])
def test_search_and_judge_choose_the_same_screws(
    screwed: tuple[Study, Answer], stated: bool
) -> None:
    """Two ways, every load from none to beyond what any screws carry; rims from too thin to thick."""
    study, answer = screwed
    shop = study.shop.model_copy(update={"screw_sizes": ["M2", "M3", "M4", "M6"]})
    study = study.model_copy(update={"shop": shop})
    joint, ring = study.robots[0].joints[0], answer.rings[0]
    seen = set()
    for bore, load_rad_s2, friction in itertools.product(
        (20.0, 40.0, 48.0, 52.0, 54.0), (None, 1e2, 3e4, 1e5, 3e5, 1e6, 1e7), (0.1, 0.2)
    ):
        placed = ring.model_copy(
            update={"bore_mm": bore, "root_diameter_mm": 57.5, "tip_diameter_mm": 62.0}
        )
        fields = {"seat_friction": friction, "acceleration_max_rad_s2": load_rad_s2}
        fields["slip_safety_min"] = 9.0 if stated else None
        held = [joint.model_copy(update=fields), joint]
        found = face_screws.composed_screws(
            shop, held, face_screws.composed_screw_face(shop, placed)
        )
        assert found == mounting.judged_face_screws(study, held, placed, 57.5, 62.0)
        seen.add(None if found is None else (found.size, found.count))
    assert len(seen) >= 6
