"""The angle error of one ring on one joint, term by term, and its total on both bases.

Amplitudes are half of peak to peak over one turn, in arcsec at the joint. The standard uncertainty
of a term follows from its shape (JCGM 100:2008, 4.3, from memory; B. N. Taylor and C. E. Kuyatt, NIST
Technical Note 1297, 1994): amplitude / sqrt(2) for a sinusoid of unknown phase, / sqrt(3) for a half width,
the value itself for noise. The total is the root sum of squares times the coverage factor k (`expanded`), or
the plain sum with noise at 3 sigma (`worst_case`); with a `worst_pitch_share` given the worst case also holds
unlucky rings and heads (`_unlucky`). The repeatability is the same total, on the same basis, of those terms
alone that do not repeat with the angle (`budget_terms`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringset.physics import resolution
from ringset.physics.budget_terms import SCATTERING
from ringset.physics.budget_terms import TERMS as TERMS
from ringset.physics.quantity import ARCSEC_PER_RAD, Quantity

#: Coverage factor of the expanded uncertainty, about 95 % of readings (JCGM 100:2008, 6.3, from memory).
COVERAGE = 2.0
#: How many sigma of noise the plain sum holds; no study asks for it.
PLAIN_SIGMAS = 3.0
#: How many the worst case holds: of some thousand readings of a turn hardly one lies beyond.
WORST_SIGMAS = 5.0


@dataclass(frozen=True)
class BudgetInputs:
    """Everything the budget needs; numbers or arrays that broadcast. Lengths mm unless named um.

    `gain_first`, `gain_second` and `gain_lobes` are the shares of orders 1, 2 and `lobes` that the
    mean over the heads keeps (see `head_averaging`), `pitch_share` that of the cumulative pitch range; all
    from 0 to 1. `gain_teeth`, `gain_teeth_double` and `gain_teeth_fourth` are the shares kept of orders z,
    2 z and 4 z, which depend on the tooth count; `common_share` (0 to 1) is the part of the variance of the
    channel errors that is alike at all heads. `sensing_radius_mm` is that of the head's sensing plane;
    None takes the pitch radius, which is slightly pessimistic. `worst_pitch_share` is the pitch share of
    the worst case; None takes `pitch_share`. `coverage` is the factor k of `expanded`, `worst_sigmas` how
    many sigma of noise the worst case holds; both above 0.

    `mounting_offset_um` is the eccentricity of the circle by which the ring is set, `tips_off_bore_um` that
    of the tips against the bore where they are this circle, else 0; `bearing_shift_um` is the largest shift
    of the axis either way, `seat_ovality_um` and `clamping_lobe_um` are radial amplitudes (half of peak to
    valley), and `cumulative_pitch_um` is a whole range. `amplitude_ratio` (above 0) and
    `third_harmonic_ratio` relate this ring's field to the one at which the head's errors were stated (see
    `tooth_field`). The head's residuals, `third_harmonic`, `stray_field` and `noise_ratio` (rms) are
    fractions of the amplitude there, the quadrature error in degrees.
    """

    pitch_diameter_mm: Quantity
    teeth: Quantity
    heads: Quantity
    gain_first: Quantity
    gain_second: Quantity
    gain_lobes: Quantity
    pitch_share: Quantity
    mounting_offset_um: Quantity
    cumulative_pitch_um: Quantity
    single_pitch_um: Quantity
    teeth_sensed: Quantity
    seat_ovality_um: Quantity
    clamping_lobe_um: Quantity
    lobes: int
    amplitude_ratio: Quantity
    third_harmonic_ratio: Quantity
    residual_offset: Quantity
    residual_gain: Quantity
    residual_quadrature_deg: Quantity
    third_harmonic: Quantity
    stray_field: Quantity
    noise_ratio: Quantity
    position_bits: Quantity
    bearing_shift_um: Quantity
    expansion_per_k: Quantity
    gradient_k: Quantity
    wobble_mrad: Quantity
    flank_line_mrad: Quantity
    speed_rpm: Quantity
    timing_jitter_us: Quantity
    sensing_radius_mm: Quantity | None = None
    common_share: Quantity = 0.0
    gain_teeth: Quantity = 1.0
    gain_teeth_double: Quantity = 1.0
    gain_teeth_fourth: Quantity = 1.0
    worst_pitch_share: Quantity | None = None
    tips_off_bore_um: Quantity = 0.0
    coverage: float = COVERAGE
    worst_sigmas: float = WORST_SIGMAS


@dataclass(frozen=True)
class Budget:
    """Budget of one ring or of many: arcsec per term (keys of `TERMS`) and totals in arcsec.

    Totals are half ranges: `expanded` and `worst_case` about the true angle, `repeatability_expanded` and
    `repeatability_worst_case` about the mean of the readings at one angle.
    """

    amplitude: dict[str, Quantity]
    standard: dict[str, Quantity]
    combined: Quantity
    expanded: Quantity
    worst_case: Quantity
    repeatability_expanded: Quantity
    repeatability_worst_case: Quantity

    def total(self, basis: str) -> Quantity:
        """Return the total in arcsec on `basis`: 'expanded' or 'worst_case', else ValueError."""
        return self.expanded if _expanded(basis) else self.worst_case

    def repeatability(self, basis: str) -> Quantity:
        """Return the repeatability in arcsec on `basis`: 'expanded' or 'worst_case', else ValueError.

        It is half of the range about the mean of the readings at one angle, never more than `total`.
        """
        return self.repeatability_expanded if _expanded(basis) else self.repeatability_worst_case

    def take(self, rings: NDArray[np.intp] | NDArray[np.bool_]) -> Budget:
        """Return the budget of some of many rings (indices or mask); one number for all stays one."""

        def some(value: Quantity) -> Quantity:
            return value if np.ndim(value) == 0 else np.asarray(value)[rings]

        return Budget(
            amplitude={name: some(value) for name, value in self.amplitude.items()},
            standard={name: some(value) for name, value in self.standard.items()},
            combined=some(self.combined),
            expanded=some(self.expanded),
            worst_case=some(self.worst_case),
            repeatability_expanded=some(self.repeatability_expanded),
            repeatability_worst_case=some(self.repeatability_worst_case),
        )


def _expanded(basis: str) -> bool:
    if basis not in ("expanded", "worst_case"):
        raise ValueError(f"basis: given {basis!r}, allowed 'expanded' or 'worst_case'")
    return basis == "expanded"


def angle_error_budget(given: BudgetInputs) -> Budget:
    """Return the whole error budget in arcsec; see the functions below for each group's equations.

    Valid for a rigid ring with offset far below its radius; raises nothing on finite inputs. Sources: the
    rules of combination as above, the terms as the functions below say.

    A ring of 100 mm that stands 10 um off the axis, and nothing else (an unnamed article on the
    eccentricity of angle sensors prints 41 arcsec):

    >>> from dataclasses import fields
    >>> none = {field.name: 0.0 for field in fields(BudgetInputs)} | {"sensing_radius_mm": None}
    >>> ring = {"pitch_diameter_mm": 100.0, "teeth": 100, "heads": 1, "teeth_sensed": 1, "lobes": 3}
    >>> head = {"gain_first": 1.0, "amplitude_ratio": 1.0, "position_bits": 32, "worst_pitch_share": None}
    >>> head |= {"coverage": 2.0}
    >>> found = angle_error_budget(BudgetInputs(**none | ring | head | {"mounting_offset_um": 10.0}))
    >>> print(f"{found.amplitude['mounting_offset']:.2f}, {found.worst_case:.2f}, {found.expanded:.2f}")
    41.25, 41.25, 58.34
    """
    amplitude = {**_ring_terms(given), **_channel_terms(given), **_motion_terms(given)}
    amplitude = {name: amplitude[name] * ARCSEC_PER_RAD for name in TERMS}
    standard = {name: amplitude[name] * kind.factor for name, kind in TERMS.items()}
    every, more = tuple(TERMS), _unlucky(given, amplitude)
    combined = _combined(standard, every)
    return Budget(
        amplitude=amplitude,
        standard=standard,
        combined=combined,
        expanded=given.coverage * combined,
        worst_case=_worst(amplitude, more, every),
        repeatability_expanded=given.coverage * _combined(standard, SCATTERING),
        repeatability_worst_case=_worst(amplitude, more, SCATTERING),
    )


def _combined(standard: dict[str, Quantity], terms: tuple[str, ...]) -> Quantity:
    """Return the root of the sum of squares of some terms."""
    return np.asarray(np.sqrt(sum(np.square(standard[name]) for name in terms)))[()]


def _worst(
    amplitude: dict[str, Quantity], more: dict[str, Quantity], terms: tuple[str, ...]
) -> Quantity:
    """Return the worst case of some terms, noise among them: amplitudes, and what bad luck adds to each."""
    plain_sum = sum((amplitude[name] for name in terms), start=np.float64(0.0))
    worst = plain_sum + (PLAIN_SIGMAS - 1.0) * amplitude["noise"]
    unlucky = [value for name, value in more.items() if name in terms]
    return worst + sum(unlucky, start=np.float64(0.0)) if unlucky else worst


def _ring_terms(given: BudgetInputs) -> dict[str, Quantity]:
    """Amplitudes in rad of what the ring and its seat do, r = d/2 the pitch radius.

    Offset e with the head's sensing radius s: e/s in order 1 and (e/s)^2/2 in order 2 (exact series
    (e/s)^k / k). Tips off the bore by t, where they set the ring: t/s in order 1, in a direction of its own,
    for the teeth then stand off by -t besides what F_p holds (derived in `rating/sizes.py`);
    what it adds to order 2, some hundredths of an arcsec, is left out as that of the bearing is. Cumulative
    pitch F_p, a range on the pitch circle: F_p / d. Single pitch f_p over n sensed teeth and H heads:
    f_p / (r sqrt(n H)). Lobes w_p of a thin ring bend it without stretch, v = -(w_p / p) sin(p phi):
    w_p / (p r) (S. Timoshenko, Vibration Problems in Engineering, 1955, from
    memory).
    """
    radius_um = np.asarray(given.pitch_diameter_mm) * 500.0
    eccentric = given.mounting_offset_um / _sensing_radius_um(given)
    averaged = np.sqrt(np.asarray(given.teeth_sensed) * given.heads)
    return {
        "mounting_offset": eccentric * given.gain_first,
        "mounting_offset_second": eccentric**2 / 2.0 * given.gain_second,
        "tips_off_bore": given.tips_off_bore_um / _sensing_radius_um(given) * given.gain_first,
        "cumulative_pitch": given.cumulative_pitch_um / (2.0 * radius_um) * given.pitch_share,
        "single_pitch": given.single_pitch_um / radius_um / averaged,
        "seat_ovality": given.seat_ovality_um / (2.0 * radius_um) * given.gain_second,
        "clamping": given.clamping_lobe_um / (given.lobes * radius_um) * given.gain_lobes,
    }


def _unlucky(given: BudgetInputs, amplitude: dict[str, Quantity]) -> dict[str, Quantity]:
    """Return, by term, what a worst case adds in arcsec beyond the plain sum of averaged amplitudes.

    The pitch share of an unlucky ring; errors private to each head that happen to be alike at all of
    them; noise at `worst_sigmas`, in place of the 3 sigma of the plain sum. Nothing without a worst share.
    """
    if given.worst_pitch_share is None:
        return {}
    more = np.asarray(given.worst_pitch_share) - given.pitch_share
    pitch = np.asarray(given.cumulative_pitch_um) / (given.pitch_diameter_mm * 1e3)
    added: dict[str, Quantity] = {"cumulative_pitch": pitch * more * ARCSEC_PER_RAD}
    for name, kept in (
        ("residual_offset", _kept(given, given.gain_teeth)),
        ("residual_gain", _kept(given, given.gain_teeth_double)),
        ("residual_quadrature", _kept(given, given.gain_teeth_double)),
        ("stray_field", 1.0 / np.sqrt(given.heads)),
        ("single_pitch", 1.0 / np.sqrt(given.heads)),
    ):
        added[name] = amplitude[name] * (1.0 / np.asarray(kept) - 1.0)
    return added | {"noise": (given.worst_sigmas - PLAIN_SIGMAS) * amplitude["noise"]}


def _sensing_radius_um(given: BudgetInputs) -> Quantity:
    if given.sensing_radius_mm is None:
        return np.asarray(given.pitch_diameter_mm) * 500.0
    return np.asarray(given.sensing_radius_mm) * 1000.0


def _channel_terms(given: BudgetInputs) -> dict[str, Quantity]:
    """Amplitudes in rad of what is left in the channels after correction, electrical / z.

    Offset, gain, quadrature and third harmonic turn the ideal phase by the argument of 1 + x e^{it}, with
    x = o, delta / (2 + delta), tan(psi / 2) and h3: half ranges asin(x) / z (`_half_range`). The second
    channel is (1 + delta) sin(phi + psi) + o beside cos(phi) + o. Noise sigma / (A z). Errors private to a
    head fall as 1 / sqrt(H). What is alike at all heads is order n z per turn (n = 1 offset, 2 gain and
    quadrature, 4 third harmonic), of which the mean over heads keeps the gain of that order: it may cancel
    for odd or coprime tooth counts. With the common share c of the variance the factor is sqrt((1 - c) / H
    + c G^2). The third harmonic comes from the tooth shape and is common. Offset, stray field and noise
    are fixed fields: they weigh more where the tooth field is weaker.
    """
    teeth = np.asarray(given.teeth, dtype=float)
    strength = np.asarray(given.amplitude_ratio)
    once = _kept(given, given.gain_teeth) / teeth
    twice = _kept(given, given.gain_teeth_double) / teeth
    third = _half_range(given.third_harmonic * np.asarray(given.third_harmonic_ratio)) / teeth
    quadrature = _half_range(np.tan(np.radians(given.residual_quadrature_deg) / 2.0))
    gain = _half_range(given.residual_gain / (2.0 + np.asarray(given.residual_gain)))
    stray = _half_range(given.stray_field / strength)
    noise = resolution.noise_arcsec(given.noise_ratio, given.amplitude_ratio, teeth, given.heads)
    return {
        "residual_offset": _half_range(given.residual_offset / strength) * once,
        "residual_gain": gain * twice,
        "residual_quadrature": quadrature * twice,
        "third_harmonic": third * given.gain_teeth_fourth,
        "stray_field": stray / (teeth * np.sqrt(given.heads)),
        "noise": noise / ARCSEC_PER_RAD,
        "quantisation": resolution.step_arcsec(given.position_bits) / 2.0 / ARCSEC_PER_RAD,
    }


def _half_range(x: Quantity) -> Quantity:
    """Half of peak to valley in rad of the argument of 1 + x e^{it} over a turn of t: asin(x), x >= 0.

    The series of the argument is the sum of -(-x)^k sin(k t) / k; its largest value stands where the circle's
    tangent passes through 0. From x = 1 on the signals no longer go round 0 and there is no angle to read:
    (pi / 2) x then keeps the term finite and growing.

    >>> print(f"{_half_range(0.1) / 0.1:.4f}")
    1.0017
    """
    share = np.asarray(x, dtype=float)
    return np.where(share < 1.0, np.arcsin(np.minimum(share, 1.0)), np.pi / 2.0 * share)[()]


def _kept(given: BudgetInputs, gain: Quantity) -> Quantity:
    """Return the factor that the mean over heads leaves of an error in part common to them."""
    common = np.asarray(given.common_share)
    return np.asarray(np.sqrt((1.0 - common) / given.heads + common * np.square(gain)))[()]


def _motion_terms(given: BudgetInputs) -> dict[str, Quantity]:
    """Amplitudes in rad of bearing, temperature, wobble and clock.

    A lateral shift of the axis acts as shift / s in order 1 (s the sensing radius); a temperature
    difference across the ring's diameter as alpha dT / 4 in order 1; wobble beta with a flank line off
    by psi as beta psi; jitter of the sampling instant as omega dt, alike at all heads.
    """
    omega = np.asarray(given.speed_rpm) * (2.0 * np.pi / 60.0)
    gradient = np.asarray(given.expansion_per_k) * given.gradient_k / 4.0
    wobble = np.asarray(given.wobble_mrad) * given.flank_line_mrad * 1e-6
    return {
        "bearing_shift": given.bearing_shift_um / _sensing_radius_um(given) * given.gain_first,
        "temperature_gradient": gradient * given.gain_first,
        "wobble": wobble * given.gain_first,
        "timing_jitter": omega * given.timing_jitter_us * 1e-6,
    }
