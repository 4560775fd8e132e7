"""The angle error budget: how every term scales, and how terms make totals."""

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.arrays import Floats
from ringset.physics.budget import TERMS, Budget, BudgetInputs, angle_error_budget
from tests.support.narrow import array

BASE = {
    "pitch_diameter_mm": 96.0,
    "teeth": 96,
    "heads": 1,
    "gain_first": 0.2,
    "gain_second": 0.25,
    "gain_lobes": 0.15,
    "pitch_share": 0.2,
    "mounting_offset_um": 15.0,
    "cumulative_pitch_um": 25.0,
    "single_pitch_um": 8.0,
    "teeth_sensed": 2,
    "seat_ovality_um": 3.0,
    "clamping_lobe_um": 2.0,
    "lobes": 3,
    "amplitude_ratio": 0.8,
    "third_harmonic_ratio": 0.7,
    "residual_offset": 0.003,
    "residual_gain": 0.004,
    "residual_quadrature_deg": 0.2,
    "third_harmonic": 0.005,
    "stray_field": 0.002,
    "noise_ratio": 0.001,
    "position_bits": 20,
    "bearing_shift_um": 5.0,
    "expansion_per_k": 12e-6,
    "gradient_k": 3.0,
    "wobble_mrad": 0.5,
    "flank_line_mrad": 1.0,
    "speed_rpm": 15.0,
    "timing_jitter_us": 1.0,
    "sensing_radius_mm": 50.0,
    "common_share": 0.0,
    "gain_teeth": 0.25,
    "gain_teeth_double": 0.25,
    "gain_teeth_fourth": 0.25,
    "worst_pitch_share": 0.7,
    "tips_off_bore_um": 9.0,
    "coverage": 2.0,
    "worst_sigmas": 5.0,
}

_ON_THE_RING = ("cumulative_pitch", "single_pitch", "seat_ovality", "clamping")
_FIXED_FIELD = ("residual_offset", "stray_field", "noise")
_PRIVATE = (*_FIXED_FIELD, "residual_gain", "residual_quadrature")
_ORDER_ONE = ("mounting_offset", "tips_off_bore", "bearing_shift", "temperature_gradient", "wobble")


def _turned(x: float) -> float:
    """Return the half range of the argument of 1 + x e^(it): channel errors are not linear."""
    return float(np.arcsin(x))


#: What four times an input does to each term; a term that is not named must not move.
FOUR_TIMES: dict[str, dict[str, float]] = {
    "pitch_diameter_mm": dict.fromkeys(_ON_THE_RING, 1 / 4),
    "sensing_radius_mm": {
        **dict.fromkeys(("mounting_offset", "tips_off_bore", "bearing_shift"), 1 / 4),
        "mounting_offset_second": 1 / 16,
    },
    "gain_teeth": {},  # nothing is common to the heads in the base case; see below
    "gain_teeth_double": {},
    "gain_teeth_fourth": {"third_harmonic": 4},
    "teeth": dict.fromkeys((*_PRIVATE, "third_harmonic"), 1 / 4),
    "heads": dict.fromkeys((*_PRIVATE, "single_pitch"), 1 / 2),
    "gain_first": dict.fromkeys(_ORDER_ONE, 4),
    "gain_second": dict.fromkeys(("mounting_offset_second", "seat_ovality"), 4),
    "gain_lobes": {"clamping": 4},
    "pitch_share": {"cumulative_pitch": 4},
    "mounting_offset_um": {"mounting_offset": 4, "mounting_offset_second": 16},
    "tips_off_bore_um": {"tips_off_bore": 4},
    "cumulative_pitch_um": {"cumulative_pitch": 4},
    "single_pitch_um": {"single_pitch": 4},
    "teeth_sensed": {"single_pitch": 1 / 2},
    "seat_ovality_um": {"seat_ovality": 4},
    "clamping_lobe_um": {"clamping": 4},
    "lobes": {"clamping": 1 / 4},
    "amplitude_ratio": {
        "residual_offset": _turned(0.00375 / 4.0) / _turned(0.00375),
        "stray_field": _turned(0.0025 / 4.0) / _turned(0.0025),
        "noise": 1 / 4,
    },
    "third_harmonic_ratio": {"third_harmonic": _turned(0.014) / _turned(0.0035)},
    "residual_offset": {"residual_offset": _turned(0.015) / _turned(0.00375)},
    "residual_gain": {"residual_gain": _turned(0.016 / 2.016) / _turned(0.004 / 2.004)},
    "residual_quadrature_deg": {
        "residual_quadrature": _turned(np.tan(np.radians(0.4))) / _turned(np.tan(np.radians(0.1)))
    },
    "third_harmonic": {"third_harmonic": _turned(0.014) / _turned(0.0035)},
    "stray_field": {"stray_field": _turned(0.01) / _turned(0.0025)},
    "noise_ratio": {"noise": 4},
    "bearing_shift_um": {"bearing_shift": 4},
    "expansion_per_k": {"temperature_gradient": 4},
    "gradient_k": {"temperature_gradient": 4},
    "wobble_mrad": {"wobble": 4},
    "flank_line_mrad": {"wobble": 4},
    "speed_rpm": {"timing_jitter": 4},
    "timing_jitter_us": {"timing_jitter": 4},
}


def of(**changes: Any) -> Budget:
    """The budget of the base inputs with some of them changed."""
    return angle_error_budget(BudgetInputs(**{**BASE, **changes}))


def _ratios(changed: Budget) -> dict[str, float]:
    base = of()
    return {name: float(changed.amplitude[name] / base.amplitude[name]) for name in TERMS}


def test_every_input_has_its_law_below() -> None:
    """An input added to the budget must be added to the laws."""
    assert {field.name for field in dataclasses.fields(BudgetInputs)} == set(BASE)
    others = {"position_bits", "common_share", "worst_pitch_share", "coverage", "worst_sigmas"}
    assert set(BASE) == {*FOUR_TIMES, *others}


def test_the_worst_case_alone_holds_unlucky_rings_and_heads() -> None:
    """Pitch share of an unlucky ring, private errors not averaged, noise at 5 sigma; nothing else moves."""
    plain, worse = of(worst_pitch_share=None), of(worst_pitch_share=0.9)
    pitch = BASE["cumulative_pitch_um"] / BASE["pitch_diameter_mm"] * 648.0 / np.pi
    more = pitch * (0.9 - BASE["pitch_share"])
    private = (
        "residual_offset",
        "residual_gain",
        "residual_quadrature",
        "stray_field",
        "single_pitch",
    )
    more += sum(plain.amplitude[name] for name in private) * (np.sqrt(BASE["heads"]) - 1.0)
    more += 2.0 * plain.amplitude["noise"]
    assert worse.worst_case - plain.worst_case == pytest.approx(more, rel=1e-12)
    assert worse.expanded == plain.expanded
    assert worse.amplitude == plain.amplitude


def test_what_is_common_to_all_heads_keeps_the_gain_of_its_order_whatever_the_head_count() -> None:
    """Share 1: the amplitude is that of one head times the gain of order z or 2 z."""
    one = of(heads=1)
    for heads in (2, 3, 4):
        common = of(heads=heads, common_share=1.0, gain_teeth=0.25, gain_teeth_double=0.5)
        for term, gain in (
            ("residual_offset", 0.25),
            ("residual_gain", 0.5),
            ("residual_quadrature", 0.5),
        ):
            assert common.amplitude[term] == pytest.approx(gain * one.amplitude[term], rel=1e-12)
        assert common.amplitude["noise"] == of(heads=heads).amplitude["noise"]
        assert common.amplitude["stray_field"] == of(heads=heads).amplitude["stray_field"]


def test_common_and_private_variances_add() -> None:
    """Half and half with two heads and gain 0.6: sqrt(0.5 / 2 + 0.5 x 0.36)."""
    mixed = of(heads=2, common_share=0.5, gain_teeth=0.6)
    kept = mixed.amplitude["residual_offset"] / of(heads=1).amplitude["residual_offset"]
    assert kept == pytest.approx(np.sqrt(0.25 + 0.18), rel=1e-12)


def test_without_a_sensing_radius_the_pitch_radius_serves() -> None:
    """The slightly pessimistic stand-in."""
    radius = BASE["pitch_diameter_mm"] / 2.0
    assert of(sensing_radius_mm=None).amplitude == of(sensing_radius_mm=radius).amplitude


@pytest.mark.parametrize("name", FOUR_TIMES)
def test_four_times_one_input_moves_its_terms_and_no_other(name: str) -> None:
    """Scaling laws of every term, one input at a time."""
    found = _ratios(of(**{name: 4 * BASE[name]}))
    expected = {term: FOUR_TIMES[name].get(term, 1.0) for term in TERMS}
    # Exact laws; the rest is rounding.
    assert found == pytest.approx(expected, rel=1e-12)


def test_two_more_bits_quarter_the_quantisation_and_nothing_else() -> None:
    """One step is 1296000 / 2^bits arcsec, and its half is the amplitude."""
    found = _ratios(of(position_bits=22))
    assert found == pytest.approx({**dict.fromkeys(TERMS, 1.0), "quantisation": 0.25}, rel=1e-12)
    assert of().amplitude["quantisation"] == pytest.approx(648000.0 / 2**20, rel=1e-12)


def test_standard_uncertainty_follows_from_the_shape() -> None:
    """JCGM 100, from memory: arcsine 1 / sqrt 2, half width 1 / sqrt 3, noise as it is."""
    half_widths = {"single_pitch", "quantisation", "bearing_shift", "timing_jitter"}
    found = of()
    assert list(found.amplitude) == list(found.standard) == list(TERMS)
    for name in TERMS:
        divisor = 3.0 if name in half_widths else 1.0 if name == "noise" else 2.0
        expected = found.amplitude[name] / np.sqrt(divisor)
        assert found.standard[name] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("name", sorted(set(TERMS) - {"noise"}))
def test_shapes_have_the_stated_standard_deviation(name: str) -> None:
    """A sinusoid of unknown phase, or anything within a half width: numeric standard deviation."""
    grid = (np.arange(100000) + 0.5) / 100000
    shape = np.sin(2.0 * np.pi * grid) if TERMS[name].factor > 0.6 else 2.0 * grid - 1.0
    # Midpoint rule of 100,000 points.
    assert TERMS[name].factor == pytest.approx(np.std(shape), abs=1e-9)


def test_combined_is_the_root_sum_of_squares_and_expanded_twice_that() -> None:
    """Independent terms; coverage factor 2."""
    found = of()
    squares = sum(float(value) ** 2 for value in found.standard.values())
    assert found.combined == pytest.approx(np.sqrt(squares), rel=1e-12)
    assert found.expanded == pytest.approx(2.0 * np.sqrt(squares), rel=1e-12)


def test_worst_case_is_the_plain_sum_with_three_sigma_of_noise() -> None:
    """Every amplitude at once, noise three times."""
    found = of(worst_pitch_share=None)
    plain = sum(float(value) for value in found.amplitude.values())
    expected = plain + 2.0 * float(found.amplitude["noise"])
    assert found.worst_case == pytest.approx(expected, rel=1e-12)


def test_total_by_basis() -> None:
    """Both bases by name; any other name is refused."""
    found = of()
    assert found.total("expanded") == found.expanded
    assert found.total("worst_case") == found.worst_case
    assert found.expanded != found.worst_case
    with pytest.raises(ValueError, match="basis: given 'rss'"):
        found.total("rss")


_positive = st.floats(1e-3, 10.0)


@given(factors=st.fixed_dictionaries(dict.fromkeys(FOUR_TIMES.keys() - {"lobes"}, _positive)))
def test_totals_bound_each_other_as_far_as_mathematics_goes(factors: dict[str, float]) -> None:
    """Combined lies between its largest term and the worst case; expanded may exceed the latter."""
    changed = {name: BASE[name] * factor for name, factor in factors.items()}
    found = of(**changed | {"worst_pitch_share": None})
    largest = max(found.standard.values())
    assert largest <= found.combined * (1.0 + 1e-12)
    assert found.combined <= found.worst_case
    assert found.combined <= largest * np.sqrt(len(TERMS)) * (1.0 + 1e-12)
    assert all(value > 0.0 for value in found.amplitude.values())


def test_expanded_may_exceed_the_worst_case_when_one_sinusoid_rules() -> None:
    """2 / sqrt 2 of one amplitude is more than the amplitude: both bases must be offered."""
    found = of(mounting_offset_um=5000.0)
    assert found.expanded > found.worst_case
    assert of().expanded < of().worst_case


MOVING = sorted(name for name, laws in FOUR_TIMES.items() if laws)
LARGER_IS_WORSE = [n for n in MOVING if all(ratio > 1.0 for ratio in FOUR_TIMES[n].values())]


@pytest.mark.parametrize("name", MOVING)
def test_totals_move_with_every_input(name: str) -> None:
    """Each input moves both totals, up for errors and down for sizes and counts."""
    base = of(worst_pitch_share=None)
    moved = of(**{name: 4 * BASE[name], "worst_pitch_share": None})
    if name in LARGER_IS_WORSE:
        assert moved.expanded > base.expanded
        assert moved.worst_case > base.worst_case
    else:
        assert moved.expanded < base.expanded
        assert moved.worst_case < base.worst_case


def test_sizes_and_counts_are_the_only_inputs_that_help() -> None:
    """What a larger value makes better."""
    helpful = {
        "pitch_diameter_mm",
        "sensing_radius_mm",
        "teeth",
        "heads",
        "teeth_sensed",
        "lobes",
        "amplitude_ratio",
    }
    assert set(MOVING) - set(LARGER_IS_WORSE) == helpful


def test_many_rings_at_once_equal_one_by_one() -> None:
    """Every input but the lobes may be an array; numbers give numbers."""
    rng = np.random.default_rng(7)
    columns = {
        name: np.asarray(value) * rng.integers(1, 5, 6)
        for name, value in BASE.items()
        if name not in ("lobes", "position_bits")
    }
    columns["position_bits"] = np.array([16, 18, 20, 22, 24, 26])
    together = of(**columns)
    assert np.shape(together.expanded) == (6,)
    for i in range(6):
        alone = of(**{name: column[i] for name, column in columns.items()})
        assert np.ndim(alone.expanded) == 0
        # Vectorised arithmetic may differ in the last bits.
        for basis in ("expanded", "worst_case"):
            assert array(together.total(basis))[i] == pytest.approx(alone.total(basis), rel=1e-14)
        for name in TERMS:
            assert np.broadcast_to(together.amplitude[name], 6)[i] == pytest.approx(
                alone.amplitude[name], rel=1e-14
            )


def test_an_offset_ring_errs_by_the_series_of_its_eccentricity() -> None:
    """A head in space reads the angle of a ring 50 um off centre: numeric harmonics of order 1, 2.

    Exact geometry: the head stands at the pitch radius, the ring's centre turns with the shaft.
    """
    radius, offset = 50.0, 0.05
    theta = 2.0 * np.pi * np.arange(256) / 256
    seen = np.angle(radius - offset * np.exp(1j * theta))
    harmonics = 2.0 * np.abs(np.fft.rfft(seen)) / 256 * 648000.0 / np.pi
    found = of(
        pitch_diameter_mm=100.0, mounting_offset_um=50.0, gain_first=1.0, gain_second=1.0
    ).amplitude
    assert found["mounting_offset"] == pytest.approx(harmonics[1], rel=1e-9)
    # The FFT holds 1e-16 of rounding against 5e-7 of signal.
    assert found["mounting_offset_second"] == pytest.approx(harmonics[2], rel=1e-7)


@pytest.mark.parametrize("size", [0.01, 0.1, 0.5])
def test_channel_errors_are_those_of_a_distorted_circle(size: float) -> None:
    """atan2 of a faulty sine and cosine over one tooth: numeric half range of peak to valley, over z.

    Offset, gain (2 x / (1 - x)), quadrature (2 atan x) and third harmonic that move the phase by the
    argument of 1 + x e^(it).
    """
    phi = 2.0 * np.pi * np.arange(2**16) / 2**16

    def electrical(sine: Floats, cosine: Floats) -> float:
        error = np.angle((cosine + 1j * sine) * np.exp(-1j * phi))
        return float(np.ptp(error)) / 2.0 * 648000.0 / np.pi / 64

    gain, skew = 2.0 * size / (1.0 - size), 2.0 * np.arctan(size)
    found = of(
        teeth=64,
        amplitude_ratio=1.0,
        third_harmonic_ratio=1.0,
        residual_offset=size,
        stray_field=size,
        residual_gain=gain,
        residual_quadrature_deg=np.degrees(skew),
        third_harmonic=size,
        gain_teeth_fourth=1.0,
    ).amplitude
    wanted = {
        "residual_offset": electrical(np.sin(phi), np.cos(phi) + size),
        "stray_field": electrical(np.sin(phi) + size, np.cos(phi)),
        "residual_gain": electrical(np.sin(phi), (1.0 + gain) * np.cos(phi)),
        "residual_quadrature": electrical(np.sin(phi + skew), np.cos(phi)),
        "third_harmonic": electrical(
            np.sin(phi) - size * np.sin(3 * phi), np.cos(phi) + size * np.cos(3 * phi)
        ),
    }
    for name, half_range in wanted.items():
        # 65536 places: the peak is missed by 1e-8 of itself
        assert found[name] == pytest.approx(half_range, rel=1e-7), name


@pytest.mark.parametrize(
    ("inputs", "x"),
    [
        ({"residual_quadrature_deg": 10.0}, np.tan(np.radians(5.0))),
        ({"residual_offset": 0.1}, 0.1),
        ({"residual_gain": 0.1}, 0.1 / 2.1),
        ({"third_harmonic": 0.1}, 0.1),
    ],
)
def test_the_largest_channel_errors_that_a_study_may_state(
    inputs: dict[str, float], x: float
) -> None:
    """Over 20 teeth, by the power series x + x^3/6 + 3 x^5/40 + 5 x^7/112 + 35 x^9/1152 of asin."""
    plain = {"teeth": 20, "amplitude_ratio": 1.0, "third_harmonic_ratio": 1.0}
    found = of(**{**plain, "gain_teeth_fourth": 1.0, **inputs}).amplitude
    (name,) = (name.removesuffix("_deg") for name in inputs)
    series = x + x**3 / 6 + 3 * x**5 / 40 + 5 * x**7 / 112 + 35 * x**9 / 1152
    assert found[name] == pytest.approx(series * 648000.0 / np.pi / 20.0, rel=1e-10)


def test_a_signal_that_no_longer_circles_its_middle_errs_without_end() -> None:
    """An offset of the whole amplitude leaves half a pitch either way; more of it stays worse."""
    half = of(teeth=64, amplitude_ratio=1.0, residual_offset=1.0).amplitude["residual_offset"]
    assert half == pytest.approx(648000.0 / 2.0 / 64.0, rel=1e-12)
    worse = of(teeth=64, amplitude_ratio=0.5, residual_offset=1.0).amplitude["residual_offset"]
    assert worse == pytest.approx(2.0 * half, rel=1e-12)
