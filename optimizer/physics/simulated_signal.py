"""Signal simulation: what heads over a turning ring really read, sample by sample.

A ring with tooth-by-tooth deviations, lobes and an off-centre axis turns under heads with two channels
each; the angle is decoded by arctangent and compared with the true one. Nothing of `budget` is used
but geometry, so that the two check each other.

Per head at lab angle a, with its sensing plane at radius r_h: the vector from the ring's centre C to the
head has the ring-frame angle b = arg(head - C) - theta and the length rho, less the radial deviation
w(b). With the tangential deviation D(b) the electrical phase is psi = z (b - D(b)) and the field
F = q cos(psi) + h3 q^3 cos(3 psi) with q = (r_h / rho)^z, so 1 at the nominal gap; the second channel
sits a quarter pitch on. Angles in rad, lengths in mm; a row of an array is a turn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[Any]


def _none() -> Rows:
    return np.zeros(1)


@dataclass(frozen=True)
class Rings:
    """Rings of one design, a row per simulated turn.

    `offset_mm` (turns,) complex: centre of the ring off the axis, turning with it. `tooth_rad` (turns,
    teeth) or None: how far each tooth stands from its even place, as an angle at the centre.
    `runout_mm` (turns, teeth) or None: how far it stands out. `teeth_sensed`: teeth that a head averages.
    """

    teeth: int
    tip_radius_mm: float
    offset_mm: Rows = field(default_factory=_none)
    tooth_rad: Rows | None = None
    runout_mm: Rows | None = None
    teeth_sensed: int = 1


@dataclass(frozen=True)
class Heads:
    """Heads and their channels. Arrays are (turns or 1, heads); errors are of the amplitude.

    `zero_rad`: angle that the evaluation takes each head to have; `misplaced_rad`: what it truly has
    beyond that. `offset`, `stray`: complex, added to the two channels. `gain`: ratio of the channels
    less one. `quadrature_rad` q: the second channel is (1 + gain) sin(psi + q) + offset, as in `budget`, with
    the electrical phase psi, which falls as the ring turns; what q adds to gain and offset depends on its
    sign. `third`: third harmonic over the fundamental at the nominal gap. `noise`: rms of a channel. `bits`:
    converter over plus and minus twice the amplitude. `corner_teeth`: corner of the channels' first-order low
    pass, over the tooth rate.
    """

    radius_mm: float
    zero_rad: Rows
    misplaced_rad: Rows = field(default_factory=lambda: np.zeros((1, 1)))
    offset: Rows = field(default_factory=lambda: np.zeros((1, 1)))
    stray: Rows = field(default_factory=lambda: np.zeros((1, 1)))
    gain: Rows = field(default_factory=lambda: np.zeros((1, 1)))
    quadrature_rad: Rows = field(default_factory=lambda: np.zeros((1, 1)))
    third: Rows = field(default_factory=lambda: np.zeros((1, 1)))
    noise: float = 0.0
    bits: int | None = None
    corner_teeth: float | None = None


@dataclass(frozen=True)
class Motion:
    """What axis and clock do, a row per turn.

    `shift_mm`: complex, the axis off its place in the lab frame (bearing); it goes round `orbit` times a
    turn. `lead_rad`: how far the ring has turned on when it is sampled; `jitter_rad`: half width of a
    random lead of every sample. `wobble_rad`: tilt of the axis, which slides the flank line by.
    """

    shift_mm: Rows = field(default_factory=_none)
    orbit: float = 0.0
    lead_rad: Rows = field(default_factory=_none)
    jitter_rad: float = 0.0
    wobble_rad: Rows = field(default_factory=_none)
    flank_line_rad: float = 0.0


def simulated_angle_errors(
    rings: Rings,
    heads: Heads,
    motion: Motion,
    samples: int,
    rng: np.random.Generator | None = None,
    *,
    single: bool = False,
    correct: bool = False,
) -> Rows:
    """Return read angle less true angle in rad, (turns, samples), at even angles of each turn.

    Mean over heads; the mean over the turn is not removed, but what a head stands wrong is taken as
    known to the evaluation (it is a constant). `single` computes in single precision (about
    1e-7 of an electrical radian); `correct` takes offset, gain and quadrature out of each head over
    the turn. Raises ValueError without any head, where something is random and no `rng` is given, and where
    the ring would touch a head. Compared with published results in tests/published/test_signal_sources.py.

    A ring 10 um off its axis, read at a radius of 50 mm, by one head and by two opposite ones, which
    leave (e / s)^2 / 2:

    >>> ring = Rings(teeth=97, tip_radius_mm=49.5, offset_mm=np.array([0.01 + 0j]))
    >>> for places in ([[0.0]], [[0.0, np.pi]]):
    ...     errors = simulated_angle_errors(ring, Heads(50.0, np.array(places)), Motion(), samples=1024)
    ...     print(f"{np.degrees(error_curve_half_range(errors)[0]) * 3600.0:.3f} arcsec")
    41.253 arcsec
    0.004 arcsec
    """
    if heads.zero_rad.shape[1] == 0:
        raise ValueError("head_angles_deg: given none, allowed an angle for every head")
    kind = np.float32 if single else np.float64
    theta = np.arange(samples) * (2.0 * np.pi / samples)
    tables = _ring_tables(rings, samples, kind)
    total: Rows = np.zeros((1, samples), kind)
    jitter: Rows = np.zeros((1, 1), kind)
    if motion.jitter_rad > 0.0:
        # all heads are sampled at the same wrong instant
        turns = max(len(rings.offset_mm), len(motion.shift_mm))
        jitter = _generator(rng).random((turns, samples), dtype=kind) - kind(0.5)
        jitter *= kind(2.0 * motion.jitter_rad)
    for number in range(heads.zero_rad.shape[1]):
        place = _Place(heads, number, theta, kind)
        bend, length = _geometry(rings, heads, motion, place)
        c, s = _channels(rings, heads, motion, place, bend, length, tables, rng)
        if correct:
            c, s = corrected_channel_signals(c, s)
        # turned back by the phase of an ideal ring, what remains is the error: small, and only where
        # it is not it must be unwrapped along the turn
        up, along = s * place.cos, c * place.cos
        up -= c * place.sin
        along += s * place.sin
        electrical = np.arctan2(up, along, out=up)
        electrical -= place.known
        if float(np.max(np.abs(electrical))) > np.pi / 2.0:
            around = np.remainder(electrical + np.pi, 2.0 * np.pi) - np.pi
            electrical = np.unwrap(around, axis=1).astype(kind)
        electrical *= kind(1.0 / rings.teeth)
        total = total - electrical
    return total * kind(1.0 / heads.zero_rad.shape[1]) + jitter


class _Place:
    """One head: its number, its expected phase tables, its true angle, and the sampled turn."""

    def __init__(
        self, heads: Heads, number: int, theta: Rows, kind: type[np.floating[Any]]
    ) -> None:
        self.number, self.kind, self.theta = number, kind, theta
        self.zero = float(heads.zero_rad[0, number])
        self.angle = self.zero + _column(heads.misplaced_rad, number)

    def expected(self, teeth: int) -> None:
        """Set the phase tables of an ideal ring: cos and sin of z (zero - theta)."""
        phase = teeth * (self.zero - self.theta)
        self.cos, self.sin = np.cos(phase).astype(self.kind), np.sin(phase).astype(self.kind)
        #: constant part of the phase, which the evaluation of a misplaced head knows
        self.known = (teeth * (self.angle - self.zero)).astype(self.kind)


def _column(values: Rows, number: int) -> Rows:
    """Return one head's values as (turns or 1, 1); one value may stand for all heads."""
    return values[:, [number if values.shape[1] > 1 else 0]]


def _geometry(rings: Rings, heads: Heads, motion: Motion, place: _Place) -> tuple[Rows, Rows]:
    """Return arg(head - C) less the head's expected angle, and |head - C| / r_h less one."""
    place.expected(rings.teeth)
    kind = place.kind
    turn = np.exp(-1j * place.angle) / heads.radius_mm
    on_ring = rings.offset_mm[:, np.newaxis] * np.exp(1j * motion.lead_rad[:, np.newaxis]) * turn
    on_axis = motion.shift_mm[:, np.newaxis] * turn
    cos, sin = np.cos(place.theta).astype(kind), np.sin(place.theta).astype(kind)
    a, b = on_ring.real.astype(kind), on_ring.imag.astype(kind)
    along, across = a * cos - b * sin, a * sin + b * cos
    if np.any(on_axis):
        a, b = on_axis.real.astype(kind), on_axis.imag.astype(kind)
        orbit = motion.orbit * place.theta
        cos, sin = np.cos(orbit).astype(kind), np.sin(orbit).astype(kind)
        along, across = along + a * cos - b * sin, across + a * sin + b * cos
    bend = np.arctan2(-across, 1.0 - along)
    length = np.hypot(1.0 - along, across) - kind(1.0)
    return bend + (place.angle - place.zero).astype(kind), length


def _ring_tables(
    rings: Rings, samples: int, kind: type[np.floating[Any]]
) -> tuple[Rows | None, Rows | None]:
    """Return tooth deviation and run-out over the ring angle, interpolated without new orders."""

    def table(per_tooth: Rows | None, average: int) -> Rows | None:
        if per_tooth is None:
            return None
        sensed = np.mean([np.roll(per_tooth, -k, axis=1) for k in range(average)], axis=0)
        spectrum = np.fft.rfft(sensed.astype(kind), axis=1)
        if rings.teeth % 2 == 0:
            spectrum[:, -1] *= 0.5  # the highest order of an even count stands for two
        fine = np.fft.irfft(spectrum, samples, axis=1) * kind(samples / rings.teeth)
        return np.concatenate([fine, fine[:, :1]], axis=1).astype(kind)

    return table(rings.tooth_rad, rings.teeth_sensed), table(rings.runout_mm, 1)


def _lookup(place: _Place, beyond: Rows, rows: int) -> Callable[[Rows], Rows]:
    """Return a function that reads a periodic table (rows, n + 1) at zero - theta + beyond.

    Linear between the table's fine samples, which are as far apart as those of the turn.
    """
    n = len(place.theta)
    first = place.zero * n / (2.0 * np.pi)
    steps = beyond * place.kind(n / (2.0 * np.pi)) + place.kind(first - np.floor(first))
    low = np.floor(steps)
    part = steps - low
    index = (low.astype(np.int32) + (int(np.floor(first)) - np.arange(n, dtype=np.int32))) % n
    if rows > 1:
        index = index + np.arange(rows, dtype=np.int32)[:, np.newaxis] * (n + 1)
    next_index = index + 1

    def read(table: Rows) -> Rows:
        flat = table.ravel()
        below = flat.take(index)
        return np.asarray(below + part * (flat.take(next_index) - below))

    return read


def _channels(
    rings: Rings, heads: Heads, motion: Motion, place: _Place, bend: Rows, length: Rows,
    tables: tuple[Rows | None, Rows | None], rng: np.random.Generator | None,
) -> tuple[Rows, Rows]:  # fmt: skip
    """Return the two channel signals of one head over the turn."""
    kind, teeth = place.kind, rings.teeth
    shift = bend - motion.lead_rad[:, np.newaxis].astype(kind)
    rows = max(1 if table is None else len(table) for table in tables)
    read = _lookup(place, shift, rows) if rows > 1 or any(t is not None for t in tables) else None
    if read is not None and tables[0] is not None:
        shift = shift - read(tables[0])
    if read is not None and tables[1] is not None:
        length = length - read(tables[1]) * kind(1.0 / heads.radius_mm)
    if motion.flank_line_rad:
        slide = motion.wobble_rad[:, np.newaxis] * np.cos(place.theta - place.angle)
        shift = shift - (slide * motion.flank_line_rad).astype(kind)
    if float(np.min(length)) * heads.radius_mm <= rings.tip_radius_mm - heads.radius_mm:
        raise ValueError("gap: the ring touches the head")
    # from here on arrays are reused in place: memory, not arithmetic, is what takes the time
    strength = np.log1p(length)
    strength *= kind(-teeth)
    np.exp(strength, out=strength)
    phase = kind(teeth) * shift
    cos, sin = np.cos(phase), np.sin(phase)
    c, s = place.cos * cos, place.cos * sin
    sin *= place.sin
    cos *= place.sin
    c, s = c - sin, s + cos
    third = _column(heads.third, place.number).astype(kind)
    if np.any(third):
        # cos 3 psi = c (4 c^2 - 3), and a quarter pitch on the third harmonic is -sin 3 psi = s (4 s^2 - 3)
        cube = third * strength**3
        c, s = (_with_third(x, strength, cube) for x in (c, s))
    else:
        c, s = c * strength, s * strength
    return _electronics(heads, place, c, s, teeth, rng)


def _with_third(wave: Rows, strength: Rows, cube: Rows) -> Rows:
    """Return wave (strength + cube (4 wave^2 - 3))."""
    factor = wave * wave
    factor *= 4.0
    factor -= 3.0
    factor = factor * cube
    factor += strength
    factor *= wave
    return factor


def _electronics(
    heads: Heads, place: _Place, c: Rows, s: Rows, teeth: int, rng: np.random.Generator | None
) -> tuple[Rows, Rows]:
    """Return the channels after quadrature, gain, offset, low pass, noise and converter."""
    kind = place.kind
    skew = _column(heads.quadrature_rad, place.number).astype(kind)
    if np.any(skew):
        s = s * np.cos(skew) + c * np.sin(skew)
    added = _column(heads.offset, place.number) + _column(heads.stray, place.number)
    c = c + added.real.astype(kind)
    s = s * (1.0 + _column(heads.gain, place.number)).astype(kind) + added.imag.astype(kind)
    if heads.corner_teeth is not None:
        c, s = (_low_pass(x, heads.corner_teeth * teeth).astype(kind) for x in (c, s))
    if heads.noise > 0.0:
        for channel, noise in zip(
            (c, s), _normal_pair(_generator(rng), c.shape, kind), strict=True
        ):
            noise *= kind(heads.noise)
            channel += noise
    if heads.bits is not None:
        step = kind(4.0 / 2**heads.bits)
        c, s = np.rint(c / step) * step, np.rint(s / step) * step
    return c, s


def _normal_pair(
    rng: np.random.Generator, shape: tuple[int, ...], kind: type[np.floating[Any]]
) -> tuple[Rows, Rows]:
    """Return two independent arrays of standard normal numbers (Box and Muller 1958).

    Two channels want a pair each time, and whole-array functions make it in a third of the time.
    """
    radius = kind(1.0) - rng.random(shape, dtype=kind)  # above 0, so that the logarithm is finite
    np.log(radius, out=radius)
    radius *= kind(-2.0)
    np.sqrt(radius, out=radius)
    angle = rng.random(shape, dtype=kind)
    angle *= kind(2.0 * np.pi)
    first = np.cos(angle)
    first *= radius
    np.sin(angle, out=angle)
    angle *= radius
    return first, angle


def _generator(rng: np.random.Generator | None) -> np.random.Generator:
    if rng is None:
        raise ValueError("rng: given none, allowed a generator where something is random")
    return rng


def _low_pass(signal: Rows, corner_per_turn: float) -> Rows:
    """Return a signal of one turn, repeated for ever, behind a first-order low pass."""
    spectrum = np.fft.rfft(signal, axis=1)
    # the ring turns so that the phase falls; time runs with the samples all the same
    order = np.arange(spectrum.shape[1])
    return np.fft.irfft(spectrum / (1.0 + 1j * order / corner_per_turn), signal.shape[1], axis=1)


def corrected_channel_signals(c: Rows, s: Rows) -> tuple[Rows, Rows]:
    """Return the channels with offset, gain and quadrature over the whole turn taken out.

    Both are (turns, samples) over whole pitches, and so is what comes back, of amplitude 1. Offset is the
    mean, gain the ratio of rms values, quadrature the correlation of the channels: exact for an ellipse over
    whole pitches (after P. L. M. Heydemann, Determination and correction of quadrature fringe measurement
    errors in interferometers, Applied Optics 20, 3382 (1981), from memory).
    """
    c, s = c - c.mean(axis=1, keepdims=True), s - s.mean(axis=1, keepdims=True)
    c = c / np.sqrt(2.0 * np.mean(c * c, axis=1, keepdims=True))
    s = s / np.sqrt(2.0 * np.mean(s * s, axis=1, keepdims=True))
    skew = 2.0 * np.mean(c * s, axis=1, keepdims=True)  # sine of the quadrature error
    return c, (s - skew * c) / np.sqrt(1.0 - skew**2)


def error_curve_spectrum(errors: Rows) -> Rows:
    """Return amplitudes per order of error curves (turns, samples): column p is order p per turn."""
    amplitudes = np.abs(np.fft.rfft(errors, axis=-1)) * (2.0 / errors.shape[-1])
    amplitudes[..., 0] *= 0.5
    return np.asarray(amplitudes)


def error_curve_half_range(errors: Rows) -> Rows:
    """Return half of peak to valley of each error curve (..., samples): a head's accuracy after zeroing."""
    return np.asarray(np.ptp(errors, axis=-1) / 2.0)
