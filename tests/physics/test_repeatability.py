"""Which terms repeat, and what the others add up to: against the definitions, term by term."""

from __future__ import annotations

from dataclasses import fields
from itertools import pairwise

import numpy as np
import pytest

from ringset.physics.budget import PLAIN_SIGMAS, Budget, BudgetInputs, angle_error_budget
from ringset.physics.budget_terms import SCATTERING, TERMS

#: What stays in the mounted joint: orders of a turn, single teeth, and what lies within a pitch.
LOW_ORDERS = {
    "mounting_offset", "mounting_offset_second", "tips_off_bore", "cumulative_pitch", "seat_ovality",
    "clamping",
}  # fmt: skip
PER_TOOTH = {"single_pitch"}
IN_PITCH = {"residual_offset", "residual_gain", "residual_quadrature", "third_harmonic"}
#: What no table of corrections could take out.
NEVER = {
    "stray_field", "noise", "quantisation", "bearing_shift", "temperature_gradient", "wobble",
    "timing_jitter",
}  # fmt: skip
#: Inputs that only terms which repeat depend on.
STILL = {
    "mounting_offset_um", "tips_off_bore_um", "cumulative_pitch_um", "single_pitch_um", "seat_ovality_um",
    "clamping_lobe_um", "residual_offset", "residual_gain", "residual_quadrature_deg", "third_harmonic",
}  # fmt: skip
BASE: dict[str, float] = {
    "pitch_diameter_mm": 100.0, "teeth": 96, "heads": 1, "gain_first": 1.0, "gain_second": 1.0,
    "gain_lobes": 1.0, "pitch_share": 1.0, "mounting_offset_um": 10.0, "cumulative_pitch_um": 26.0,
    "single_pitch_um": 8.0, "teeth_sensed": 2, "seat_ovality_um": 3.0, "clamping_lobe_um": 4.0, "lobes": 3,
    "amplitude_ratio": 0.8, "third_harmonic_ratio": 1.1, "residual_offset": 0.003, "residual_gain": 0.004,
    "residual_quadrature_deg": 0.2, "third_harmonic": 0.01, "stray_field": 0.002, "noise_ratio": 0.001,
    "position_bits": 18, "bearing_shift_um": 5.0, "expansion_per_k": 11.5e-6, "gradient_k": 3.0,
    "wobble_mrad": 0.5, "flank_line_mrad": 1.0, "speed_rpm": 15.0, "timing_jitter_us": 1.0,
    "sensing_radius_mm": 51.4, "tips_off_bore_um": 6.0, "worst_pitch_share": 1.0,
}  # fmt: skip


def of(**changes: float | None) -> Budget:
    return angle_error_budget(BudgetInputs(**{**BASE, **changes}))  # type: ignore[arg-type]


def test_the_terms_are_split_by_what_comes_back_with_the_angle() -> None:
    assert {
        name for name, kind in TERMS.items() if kind.repeats
    } == LOW_ORDERS | PER_TOOTH | IN_PITCH
    assert set(SCATTERING) == NEVER
    assert len(TERMS) == 18
    for name, kind in TERMS.items():
        assert kind.because.endswith("."), name
        assert len(kind.because.split()) >= 4, name


@pytest.mark.parametrize("basis", ["expanded", "worst_case"])
def test_nothing_that_stays_in_ring_or_channel_moves_the_repeatability(basis: str) -> None:
    assert {field.name for field in fields(BudgetInputs)} > STILL
    base = of().repeatability(basis)
    for name in STILL:
        many = of(**{name: 3.0 * BASE[name]})
        assert many.repeatability(basis) == base, name
        assert many.total(basis) > of().total(basis), name
    assert of(**dict.fromkeys(STILL, 0.0)).total(basis) == pytest.approx(base, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("stray_field", 0.5**0.5),
        ("noise_ratio", 1.0),
        ("bearing_shift_um", 3.0**-0.5),
        ("gradient_k", 0.5**0.5),
        ("wobble_mrad", 0.5**0.5),
        ("timing_jitter_us", 3.0**-0.5),
    ],
)
def test_one_cause_alone(name: str, factor: float) -> None:
    """k times its standard uncertainty, and its amplitude (of noise 5 sigma): worked by hand at 100 mm."""
    arcsec = 648000.0 / np.pi
    amplitude = {
        "stray_field": np.arcsin(0.002 / 0.8) / 96,
        "noise_ratio": 0.001 / 0.8 / 96,
        "bearing_shift_um": 5e-3 / 51.4,
        "gradient_k": 11.5e-6 * 3.0 / 4.0,
        "wobble_mrad": 0.5e-3 * 1e-3,
        "timing_jitter_us": 15.0 * 2.0 * np.pi / 60.0 * 1e-6,
    }[name]
    others = ("stray_field", "noise_ratio", "bearing_shift_um", "gradient_k", "wobble_mrad",
              "timing_jitter_us")  # fmt: skip
    silent = dict.fromkeys(others, 0.0) | {"position_bits": 60.0, name: BASE[name]}
    found = of(**silent)
    sigmas = 5.0 if name == "noise_ratio" else 1.0
    expected = 2.0 * factor * amplitude * arcsec
    assert found.repeatability("expanded") == pytest.approx(expected, rel=1e-9)
    expected = sigmas * amplitude * arcsec
    assert found.repeatability("worst_case") == pytest.approx(expected, rel=1e-9)


def test_a_step_alone() -> None:
    """18 bits: 4.944 arcsec a step, half of it either way; standard uncertainty step / sqrt(12)."""
    quiet = {"stray_field": 0.0, "noise_ratio": 0.0, "bearing_shift_um": 0.0, "gradient_k": 0.0,
             "wobble_mrad": 0.0, "timing_jitter_us": 0.0}  # fmt: skip
    step = 1296000.0 / 2**18
    assert of(**quiet).repeatability("worst_case") == pytest.approx(step / 2.0, rel=1e-12)
    expected = 2.0 * step / 12.0**0.5
    assert of(**quiet).repeatability("expanded") == pytest.approx(expected, rel=1e-12)


def test_the_worst_case_is_unlucky_only_where_nothing_repeats() -> None:
    """Of four heads the stray field is not averaged; noise is, and counts with the study's sigmas."""
    found = of(heads=4, worst_sigmas=6.0)
    plain = sum(float(found.amplitude[name]) for name in NEVER)
    stray, noise = float(found.amplitude["stray_field"]), float(found.amplitude["noise"])
    expected = plain + stray + 5.0 * noise
    assert found.repeatability("worst_case") == pytest.approx(expected, rel=1e-12)
    bare = of(heads=4, worst_pitch_share=None)
    expected = plain + (PLAIN_SIGMAS - 1.0) * noise
    assert bare.repeatability("worst_case") == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("basis", ["expanded", "worst_case"])
def test_it_is_never_more_than_the_error_and_takes_rows_alike(basis: str) -> None:
    rng = np.random.default_rng(7)
    many = {
        name: value * rng.uniform(0.0, 3.0, 500)
        for name, value in BASE.items()
        if name
        not in ("teeth", "lobes", "heads", "position_bits", "pitch_share", "worst_pitch_share")
    }
    found = of(**many, heads=np.tile([1, 2, 3, 4, 8], 100))  # type: ignore[arg-type]
    whole, part = np.asarray(found.total(basis)), np.asarray(found.repeatability(basis))
    assert np.all(part <= whole)
    assert np.all(part > 0.0)
    some = np.array([3, 499, 0])
    assert np.array_equal(found.take(some).repeatability(basis), part[some])


def test_another_basis_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed 'expanded' or 'worst_case'"):
        of().repeatability("rms")


def test_more_heads_steady_what_they_do_not_share() -> None:
    """Noise and stray field fall as 1 / sqrt(H); warmth and shift keep what the placement leaves."""
    one = {"bearing_shift_um": 0.0, "gradient_k": 0.0, "wobble_mrad": 0.0, "timing_jitter_us": 0.0,
           "position_bits": 60.0}  # fmt: skip
    found = [float(of(**one, heads=count).repeatability("expanded")) for count in (1, 4, 16)]
    for several, fewer in pairwise(reversed(found)):
        assert fewer == pytest.approx(2.0 * several, rel=1e-9)
