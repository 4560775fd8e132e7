"""The true tooth of one ring as exact curves and as a polyline with a stated chord error.

A rack with rounded corners (ISO 53:1998) rolls on the pitch circle. Its straight flank leaves an
involute, its corner a fillet, which is the curve parallel to a trochoid; where there are few teeth
the fillet cuts into the involute (undercut). `ringset.physics.geometry` has areas of whole columns
of rings without undercut in closed form; here is the shape of one ring, undercut or not.

A tooth stands on the positive x axis and is symmetric about it. One half of it is told by polar
radius r in mm and half angle t in rad from the middle of the tooth: t falls from pi/z in the middle
of the gap to the half angle of the tip.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ringset.physics.arguments import physics_above_zero, physics_zero_or_more
from ringset.physics.quantity import Array, Quantity

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)

#: Chord error of a polyline unless another is asked for: half a micrometre, below what class 4 sees.
CHORD_ERROR_MM = 0.0005


@dataclass(frozen=True)
class Tooth:
    """One tooth of a ring; lengths in mm, angles in rad.

    `fillet_end` is the angle of the normal at which the fillet meets the involute (the pressure angle
    without undercut) and `roll_start`, `roll_end` are the roll angles tan(alpha_y) between which the
    involute is used. `tip_half_angle` is half the angle of the tip land, `root_half_angle` half that of
    the root arc (0 where the corner is fully round).
    """

    module_mm: float
    teeth: int
    pressure_angle: float
    shift: float
    corner_x: float
    corner_depth: float
    fillet_radius: float
    tip_mm: float
    root_mm: float
    base_mm: float
    fillet_end: float
    roll_start: float
    roll_end: float
    tip_half_angle: float
    root_half_angle: float
    undercut: bool

    def fillet(self, normal: Quantity) -> tuple[Array, Array]:
        """Return r and t of the fillet where its normal stands at `normal` rad, pi/2 at the root.

        The corner circle of the rack touches the tooth where the common normal passes through the
        pitch point (meshing condition); valid from pi/2 down to `fillet_end`.
        """
        pitch = self.module_mm * self.teeth / 2.0
        eta = self.shift * self.module_mm - self.corner_depth - self.fillet_radius * np.sin(normal)
        along = -eta / np.tan(normal)
        rolled = along - self.corner_x - self.fillet_radius * np.cos(normal)
        radius = np.hypot(along, pitch + eta)
        return radius, np.pi / self.teeth - (np.arctan2(along, pitch + eta) - rolled / pitch)

    def involute(self, roll: Quantity) -> tuple[Array, Array]:
        """Return r and t of the involute at roll angle tan(alpha_y) (ISO 21771:2007)."""
        return self.base_mm * np.sqrt(1.0 + roll**2), self._base_half_angle() - _inv(roll)

    def involute_half_angle(self, radius_mm: Quantity) -> Array:
        """Return t of the involute at a radius of at least the base radius."""
        ratio = np.maximum(np.asarray(radius_mm) / self.base_mm, 1.0)
        return np.asarray(self._base_half_angle() - _inv(np.sqrt(ratio**2 - 1.0)))

    def half_outline(self, chord_error_mm: float = CHORD_ERROR_MM) -> tuple[Array, Array]:
        """Return r and t of fillet and involute from root to tip, no chord further off than `chord_error_mm`.

        ValueError for an error that is not above zero, or too fine to be drawn.
        """
        fillet = _sampled(self.fillet, np.pi / 2.0, self.fillet_end, chord_error_mm)
        flank = _sampled(self.involute, self.roll_start, self.roll_end, chord_error_mm)
        return (
            np.concatenate([fillet[0], flank[0][1:]]),
            np.concatenate([fillet[1], flank[1][1:]]),
        )

    def outline(self, chord_error_mm: float = CHORD_ERROR_MM) -> Array:
        """Return the closed outline of all teeth, shape (n, 2) in mm, counter-clockwise, not repeated.

        Root and tip arcs are chords too, of the same error. Errors as `half_outline`.
        """
        radius, angle = self.half_outline(chord_error_mm)
        tip = _arc_angles(self.tip_mm, self.tip_half_angle, chord_error_mm)
        root = _arc_angles(self.root_mm, self.root_half_angle, chord_error_mm)
        middle = np.pi / self.teeth
        gap = np.linspace(middle, middle - self.root_half_angle, len(root) // 2 + 1)[:-1]
        # the middle of the gap belongs to two teeth: only the later one draws it
        r = np.concatenate(
            [
                np.full(len(gap), self.root_mm),
                radius,
                np.full(len(tip) - 2, self.tip_mm),
                radius[::-1],
                np.full(max(len(gap) - 1, 0), self.root_mm),
            ]
        )
        t = np.concatenate([-gap, -angle, tip[1:-1], angle[::-1], gap[:0:-1]])
        turns = 2.0 * middle * np.arange(self.teeth)[:, np.newaxis]
        whole = t[np.newaxis, :] + turns
        return np.column_stack([(r * np.cos(whole)).ravel(), (r * np.sin(whole)).ravel()])

    def area_mm2(self) -> float:
        """Return the area in mm^2 inside the outline, z/2 times the closed integral of r^2 dt over one pitch.

        Arcs and involute in closed form, the fillet by 32 Gauss nodes: relative error below 1e-11.
        """
        start, end = np.pi / 2.0, self.fillet_end
        normal = (start + end) / 2.0 + (end - start) / 2.0 * _NODES
        step = 1e-5
        radius, _ = self.fillet(normal)
        slope = (self.fillet(normal + step)[1] - self.fillet(normal - step)[1]) / (2.0 * step)
        swept = -np.sum(_WEIGHTS * radius**2 * slope) * (end - start) / 2.0
        cubes = (self.roll_end**3 - self.roll_start**3) / 3.0
        half = (
            self.root_mm**2 * self.root_half_angle
            + swept
            + self.base_mm**2 * cubes
            + self.tip_mm**2 * self.tip_half_angle
        )
        return float(self.teeth * half)

    def _base_half_angle(self) -> float:
        x, alpha = self.shift, self.pressure_angle
        thickness = (np.pi / 2.0 + 2.0 * x * np.tan(alpha)) / self.teeth
        return float(thickness + np.tan(alpha) - alpha)


def rack_tooth_profile(
    module_mm: float,
    teeth: int,
    *,
    addendum: float,
    dedendum: float,
    fillet: float,
    pressure_angle_deg: float,
    shift: float = 0.0,
) -> Tooth:
    """Return the tooth that a rack of these proportions (factors of the module) leaves.

    Valid from 5 teeth up; raises ValueError where the corner of the rack is wider than its tooth, where
    a tooth would end in a point below the tip circle, or where undercut would cut it off.
    Source: rack generation after ISO 53:1998 and ISO 21771:2007, worked out here; the tests roll the
    rack over a disc to confirm it.

    >>> rack = {"addendum": 1.0, "dedendum": 1.25, "fillet": 0.38, "pressure_angle_deg": 20.0}
    >>> many, few = rack_tooth_profile(2.0, 24, **rack), rack_tooth_profile(2.0, 10, **rack)
    >>> print(many.tip_mm, many.root_mm, many.undercut, few.undercut)
    26.0 21.5 False True
    """
    physics_above_zero(module_mm=module_mm, addendum=addendum, dedendum=dedendum)
    physics_zero_or_more(fillet=fillet)
    if teeth < 5:
        raise ValueError(f"teeth: given {teeth}, allowed 5 or more")
    alpha = float(np.radians(pressure_angle_deg))
    depth = dedendum - fillet
    corner_x = np.pi / 4.0 - depth * np.tan(alpha) - fillet / np.cos(alpha)
    if corner_x < -1e-9:
        raise ValueError(f"fillet: given {fillet:g}, wider than the rack's tooth")
    m, pitch = module_mm, module_mm * teeth / 2.0
    base, tip = pitch * np.cos(alpha), pitch + m * (addendum + shift)
    flank_end = dedendum - fillet * (1.0 - np.sin(alpha))
    roll_start = np.tan(alpha) - 4.0 * (flank_end - shift) / (teeth * np.sin(2.0 * alpha))
    if tip <= base:
        raise ValueError(
            f"profile shift: given {shift:g}, the tip would lie inside the base circle"
        )
    roll_end = float(np.sqrt((tip / base) ** 2 - 1.0))
    at_base = (np.pi / 2.0 + 2.0 * shift * np.tan(alpha)) / teeth + np.tan(alpha) - alpha
    tip_half = float(at_base - _inv(roll_end))
    if tip_half <= 0.0:
        raise ValueError("profile shift: the teeth would end in a point below the tip circle")
    whole = Tooth(
        module_mm=m, teeth=teeth, pressure_angle=alpha, shift=shift, corner_x=m * max(corner_x, 0.0),
        corner_depth=m * depth, fillet_radius=m * fillet, tip_mm=tip,
        root_mm=pitch - m * (dedendum - shift), base_mm=base, fillet_end=alpha,
        roll_start=float(roll_start), roll_end=roll_end, tip_half_angle=tip_half,
        root_half_angle=m * max(corner_x, 0.0) / pitch, undercut=bool(roll_start < 0.0),
    )  # fmt: skip
    return _with_undercut(whole) if whole.undercut else whole


def _with_undercut(whole: Tooth) -> Tooth:
    """Return the tooth with its involute begun where the fillet leaves it.

    Along the fillet from the base circle outwards the gap first lies inside the involute's tooth and
    then outside of it; the crossing between is found by halving.
    """

    def below_base(normal: float) -> bool:
        return bool(whole.fillet(normal)[0] < whole.base_mm)

    def undercut(normal: float) -> bool:
        radius, half = whole.fillet(normal)
        return bool(half < whole.involute_half_angle(radius))

    inner = np.pi / 2.0
    if whole.root_mm < whole.base_mm:
        inner = _halved(below_base, inner, whole.pressure_angle)
    end = _halved(undercut, inner, whole.pressure_angle)
    meeting = float(whole.fillet(end)[0])
    if meeting >= whole.tip_mm:
        raise ValueError(f"teeth: given {whole.teeth}, undercut would cut the whole flank away")
    roll = float(np.sqrt(max((meeting / whole.base_mm) ** 2 - 1.0, 0.0)))
    return replace(whole, fillet_end=end, roll_start=roll)


def _halved(holds: Callable[[float], bool], low: float, high: float) -> float:
    """Return where between `low`, where it holds, and `high` a statement ceases to hold."""
    for _ in range(80):
        middle = (low + high) / 2.0
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _inv(roll: Quantity) -> Array:
    return np.asarray(roll - np.arctan(np.asarray(roll)))


def _arc_angles(radius_mm: float, half_angle: float, chord_error_mm: float) -> Array:
    """Return angles from -half to half whose chords stay within the error; one where half is 0."""
    if half_angle <= 0.0:
        return np.zeros(1)
    step = 2.0 * np.arccos(max(1.0 - chord_error_mm / radius_mm, -1.0))
    # an even number of chords, so that the middle of a gap is a point
    count = 2 * max(int(np.ceil(half_angle / step)), 1)
    return np.linspace(-half_angle, half_angle, count + 1)


def _sampled(
    curve: Callable[[Quantity], tuple[Array, Array]], start: float, end: float, error_mm: float
) -> tuple[Array, Array]:
    """Return r and t of a curve at as few points as keep every chord within the error.

    A chord of length l is off by l^2 / (8 rho), so equal errors ask for points in steps of equal
    integral of ds / sqrt(rho); the largest error is then measured between the points, not believed.
    """
    physics_above_zero(chord_error_mm=error_mm)
    fine = np.linspace(start, end, 513)
    r, t = curve(fine)
    x, y = r * np.cos(t), r * np.sin(t)
    heading = np.unwrap(np.arctan2(np.diff(y), np.diff(x)))
    length = np.hypot(np.diff(x), np.diff(y))
    bend = np.abs(np.gradient(heading)) / np.maximum(length, 1e-300)
    measure = np.concatenate([[0.0], np.cumsum(np.sqrt(bend) * length)])
    count = max(int(np.ceil(measure[-1] / np.sqrt(8.0 * error_mm))), 1)
    while True:
        at = np.interp(np.linspace(0.0, measure[-1], count + 1), measure, fine)
        off = _largest_chord_error(curve, at)
        if off <= error_mm:
            return curve(at)
        if count > 50_000:
            raise ValueError(f"chord_error_mm: given {error_mm:g}, too fine to be drawn")
        # the error falls with the square of the number of chords
        count = max(count + 1, int(count * (off / error_mm) ** 0.5))


def _largest_chord_error(curve: Callable[[Quantity], tuple[Array, Array]], at: Array) -> float:
    """Return how far the curve leaves the chords between its points at `at`, seen at seven places."""
    r, t = curve(at[:-1, np.newaxis] + np.diff(at)[:, np.newaxis] * np.arange(9) / 8.0)
    x, y = r * np.cos(t), r * np.sin(t)
    chord_x, chord_y = x[:, -1:] - x[:, :1], y[:, -1:] - y[:, :1]
    length = np.maximum(np.hypot(chord_x, chord_y), 1e-300)
    apart = chord_x * (y - y[:, :1]) - chord_y * (x - x[:, :1])
    return float(np.max(np.abs(apart) / length))
