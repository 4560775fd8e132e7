"""The rules that the map of the optimizer tells are those of the code."""

from __future__ import annotations

import re

import numpy as np
import pytest

from ringset.physics import budget, head_averaging, limit_rule
from ringset.physics.pitch_spectrum import PitchSpectrum
from ringset.rating.mounting_checks import ASSEMBLY_C
from ringset.schema.field_docs import RULES, field_list
from ringset.standards.materials import MATERIALS
from ringset.standards.racks import RACKS
from tests.physics.test_budget import of
from tests.support.places import ROOT

TEXT = (ROOT / "optimizer" / "README.md").read_text()
RULES_TEXT = TEXT.partition("### Rules behind the numbers")[2].partition("\n### ")[0]
WORDS = " ".join(RULES_TEXT.split())


def row(title: str) -> list[float]:
    found = re.search(rf"\| {re.escape(title)} \|(.*)\|\n", RULES_TEXT)
    assert found is not None, title
    return [float(cell) for cell in found[1].split("|")]


def test_the_shares_of_equal_heads() -> None:
    places = [head_averaging.equal_angles_deg(count) for count in range(2, 9)]
    mean = [float(head_averaging.pitch_share(at, 96)) for at in places]
    worst = [float(head_averaging.worst_pitch_share(at, 96)) for at in places]
    assert row("mean share, 96 teeth") == pytest.approx(mean, abs=0.005)
    assert row("worst share, 96 teeth") == pytest.approx(worst, abs=0.0051)  # rounded halves
    told = re.search(
        r"exponent of ([\d.]+) makes ([\d.]+) of the 0.48, one of ([\d.]+) makes (\d\.\d+)", WORDS
    )
    assert told is not None
    for exponent, share in (told.group(1, 2), told.group(3, 4)):
        derived = head_averaging.pitch_share(places[0], 96, PitchSpectrum(float(exponent)))
        assert float(share) == pytest.approx(derived, abs=0.005)


@pytest.mark.parametrize("key", MATERIALS)
def test_the_constants_of_materials(key: str) -> None:
    steel = MATERIALS[key]
    assert row(f"`{key}`") == pytest.approx(
        [
            steel.density_kg_per_m3,
            steel.youngs_modulus_gpa,
            steel.poisson,
            1e6 * steel.expansion_per_k,
        ],
        rel=1e-12,
    )


def test_stub_allowance_and_assembly() -> None:
    stub, full = RACKS["stub"], RACKS["full"]
    told = f"addendum of {stub.addendum} and a dedendum of {stub.dedendum} modules, {stub.whole_depth:g} deep"
    assert told in WORDS
    assert f"full ones {full.addendum} and {full.dedendum}" in WORDS
    assert limit_rule.ALLOWANCE == 1e-9
    assert "within one part in 10^9" in WORDS
    assert f"reckon from {ASSEMBLY_C:g} degrees" in WORDS


def test_what_a_worst_case_does_not_average_over_heads() -> None:
    """Of four heads: stray field and single pitch twice, channel errors where they are private; no noise."""
    heads = {"heads": 4, "common_share": 0.0, "worst_pitch_share": 0.5, "pitch_share": 0.5}
    names = (
        "residual_offset",
        "residual_gain",
        "residual_quadrature",
        "stray_field",
        "single_pitch",
    )
    averaged, found = of(**heads), of(**heads)
    plain = sum(float(averaged.amplitude[name]) for name in budget.TERMS)
    private = sum(float(averaged.amplitude[name]) for name in names)
    noise = (budget.WORST_SIGMAS - 1.0) * float(averaged.amplitude["noise"])
    assert found.worst_case == pytest.approx(plain + private + noise, rel=1e-12)
    for word in (
        "channel offset, gain and quadrature",
        "stray field, single pitch",
        "Noise is averaged",
    ):
        assert word in WORDS


def test_what_speed_weighs_more() -> None:
    """Half the amplitude: offset, stray field and noise double, the other channel errors stay."""
    base, weak = of(), of(amplitude_ratio=0.5 * 1.0)
    strong = of(amplitude_ratio=1.0)
    for name in ("residual_offset", "stray_field", "noise"):
        assert weak.amplitude[name] == pytest.approx(2.0 * strong.amplitude[name], rel=0.02)
    for name in ("residual_gain", "residual_quadrature", "third_harmonic"):
        assert np.array_equal(weak.amplitude[name], base.amplitude[name])
    assert "offset, stray field and noise keep their size" in WORDS


def test_the_list_of_fields_ends_with_the_rules() -> None:
    text = " ".join(field_list().split())
    assert all(" ".join(rule.split()) in text for rule in RULES)
    for word in (
        "bearing shift",
        "half of the run-out tolerance",
        "growth of a press fit",
        "widest",
    ):
        assert any(word in rule for rule in RULES)
