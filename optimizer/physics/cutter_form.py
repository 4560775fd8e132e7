"""How far the flanks of a ring are off that a disc cutter of a set has cut.

A disc cutter copies its own form: the space between two teeth of a gear of z0 teeth. That is the right form
for z0 teeth alone, but the cutter cuts every tooth count of its range. Here is what that leaves.

**Frame.** The middle of a space lies on the y axis, and the axis of the ring at the origin. The flank at the
right of the space is an involute. At roll angle u = tan(alpha_y) it has the radius rho = r_b sqrt(1 + u^2),
with r = m z / 2 and r_b = r cos(alpha), and stands at an angle of

    phi(u) = p + u - arctan(u),   p = (pi/2 - 2 x tan(alpha)) / z - tan(alpha) + alpha

from the middle of the space (ISO 21771:2007; p is the half angle of the space on the base circle). The
form has z0 teeth and a shift x0, and so rho0, r_b0, p0 and phi0.

**Setting.** The cutter is fed in until the teeth have their right thickness on the pitch circle, as span
and dimension over pins ask. There its form passes through the true flank, at the roll angle u_p of
rho0 sin(phi0) = r sin(phi(tan alpha)), so that the axis of the form's gear stands at
e = r cos(phi(tan alpha)) - rho0 cos(phi0) above that of the ring: about m (z - z0) / 2.

**Deviation.** All curves parallel to an involute are the same involute, turned about its base circle by
distance / r_b. So a point of the form at radius R and angle theta from the middle of the space lies

    f = r_b (theta - phi(R))

off the true flank along the normal of that flank. This is exact, and it is what a profile instrument reads.
f is above 0 where the cutter takes too much (the tooth is too thin) and 0 on the pitch circle. Above z0 teeth
the form bends more than the flank, so that the tooth is too thin at its tip, less so at its root.

**Range.** f turns only where form and flank have one normal: where the normal of the form, which touches the
base circle of the form at the angle p0 + u, touches that of the ring too. This is so at
cos(p0 + u) = (r_b - r_b0) / e and nowhere else. The total deviation (F_alpha of ISO 1328-1:2013) is
therefore the span of f over the two ends of the flank, this point where it lies between them, and the 0 on
the pitch circle.

The flank goes from its start to the tip circle. It starts where the straight flank of the rack ends,
dedendum - fillet (1 - sin alpha) modules below the reference line, on ring or form, whichever is further
out. Where a rack would undercut z0 teeth, the flank of the form begins on its base circle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ringset.physics.arguments import physics_above_zero, physics_zero_or_more
from ringset.physics.quantity import Array, Quantity

#: Below this a rack leaves no flank that is worth the name.
FEWEST_TEETH = 5
#: Roll angle (rad) beyond the tips of all teeth with `FEWEST_TEETH` and more.
_FAR = 2.0


@dataclass(frozen=True)
class FormDeviation:
    """Smallest and largest deviation of a flank in um, above 0 where the tooth is too thin."""

    least_um: Array
    most_um: Array

    @property
    def total_um(self) -> Array:
        """Span of the deviation over the flank in um, comparable with F_alpha of ISO 1328-1:2013."""
        return self.most_um - self.least_um


@dataclass(frozen=True)
class _Flank:
    """The right flank of a space about the axis of its own gear; lengths in modules, angles in rad."""

    pitch: Array
    base: Array
    at_base: Array
    start: Array

    @staticmethod
    def of(teeth: Array, shift: Array, flank_depth: float, alpha: float) -> _Flank:
        """Return the flank that a rack leaves; `flank_depth` is how deep its straight flank goes."""
        at_base = (np.pi / 2.0 - 2.0 * shift * np.tan(alpha)) / teeth - np.tan(alpha) + alpha
        start = np.tan(alpha) - 4.0 * (flank_depth - shift) / (teeth * np.sin(2.0 * alpha))
        pitch = teeth / 2.0
        return _Flank(pitch, pitch * np.cos(alpha), at_base, np.maximum(start, 0.0))

    def at(self, roll: Array, above: Quantity = 0.0) -> tuple[Array, Array]:
        """Return x and y of the flank at a roll angle, its axis at the height `above`."""
        radius = self.base * np.sqrt(1.0 + roll**2)
        angle = self.at_base + roll - np.arctan(roll)
        return np.asarray(radius * np.sin(angle)), np.asarray(above + radius * np.cos(angle))

    def off(self, x: Array, y: Array) -> Array:
        """Return how far a point lies off the flank along its normal, above 0 inside the tooth."""
        roll = np.sqrt(np.maximum((x**2 + y**2) / self.base**2 - 1.0, 0.0))
        angle = self.at_base + roll - np.arctan(roll)
        return np.asarray(self.base * (np.arctan2(x, y) - angle))


def involute_form_deviation(
    module_mm: Quantity,
    teeth: Quantity,
    form_teeth: Quantity,
    *,
    addendum: float,
    dedendum: float,
    fillet: float,
    pressure_angle_deg: float,
    shift: Quantity = 0.0,
    form_shift: Quantity = 0.0,
) -> FormDeviation:
    """Return how far off the flanks of a ring are that a cutter with the form of `form_teeth` teeth cuts.

    Parameters
    ----------
    module_mm : float or array
        Module m in mm, above 0. The deviation is proportional to it.
    teeth, form_teeth : float or array
        Tooth counts z of the ring and z0 of the form, 5 or more. z0 may be a fraction, as for a form in the
        middle of a range, and either may be the larger.
    addendum, dedendum, fillet : float
        Factors of the module of the basic rack (ISO 53:1998).
    pressure_angle_deg : float
        Pressure angle alpha in degrees.
    shift, form_shift : float or array
        Profile shift factors x of the ring and x0 of the form. Sets are formed for x0 = 0 (unnamed: common
        practice).

    Returns
    -------
    FormDeviation
        Arrays in the broadcast shape of what was given; 0 where ring and form are alike.

    Raises
    ------
    ValueError
        If a value is outside of what is allowed, not finite, or if the form has no flank at the height of
        the ring's pitch circle, so that no setting gives the right thickness.

    >>> rack = {"addendum": 1.0, "dedendum": 1.25, "fillet": 0.38, "pressure_angle_deg": 20.0}
    >>> found = involute_form_deviation(1.0, 89, 55, **rack)
    >>> print(f"{found.most_um:.1f} {found.least_um:.1f} {found.total_um:.1f}")
    32.8 -1.4 34.2
    """
    _allowed(module_mm, teeth, form_teeth, shift, form_shift)
    physics_above_zero(addendum=addendum, dedendum=dedendum)
    physics_zero_or_more(fillet=fillet)
    m, z, z0, x, x0 = np.broadcast_arrays(
        *(
            np.asarray(v, dtype=np.float64)
            for v in (module_mm, teeth, form_teeth, shift, form_shift)
        )
    )
    alpha = float(np.radians(pressure_angle_deg))
    depth = dedendum - fillet * (1.0 - np.sin(alpha))
    ring, form = _Flank.of(z, x, depth, alpha), _Flank.of(z0, x0, depth, alpha)
    across, up = ring.at(np.full(z.shape, np.tan(alpha)))
    narrowest, _ = form.at(form.start)
    if np.any(narrowest > across):
        first = int(np.argmax(np.ravel(narrowest > across)))
        most = largest_shift_of_form(
            z.flat[first], z0.flat[first], dedendum=dedendum, fillet=fillet,
            pressure_angle_deg=pressure_angle_deg, form_shift=x0.flat[first],
        )  # fmt: skip
        raise ValueError(
            f"shift: given {x.flat[first]:g}, allowed {most:.4g} at most for {z.flat[first]:g} teeth from a "
            f"form of {z0.flat[first]:g}"
        )
    at_pitch = _halved(lambda roll: form.at(roll)[0] < across, form.start)
    above = up - form.at(at_pitch)[1]

    def within(radius: Array) -> Array:
        """Return the roll angle of the form at a radius of the ring, its start where that is further out."""
        return _halved(lambda roll: np.hypot(*form.at(roll, above)) < radius, form.start)

    low = within(ring.base * np.sqrt(1.0 + ring.start**2))
    high = within(ring.pitch + addendum + x)
    with np.errstate(divide="ignore", invalid="ignore"):
        turns = np.arccos((ring.base - form.base) / above) - form.at_base
    turns = np.where((turns > low) & (turns < high), turns, at_pitch)
    off = 1e3 * m * np.stack([ring.off(*form.at(u, above)) for u in (low, turns, high)])
    off = np.where((z == z0) & (x == x0), 0.0, off)  # alike: no trace of rounding
    return FormDeviation(
        np.asarray(np.minimum(off.min(axis=0), 0.0)), np.asarray(np.maximum(off.max(axis=0), 0.0))
    )


@lru_cache(maxsize=4096)
def involute_total_deviation_modules(
    teeth: int, form_teeth: float, addendum: float, dedendum: float, fillet: float,
    pressure_angle_deg: float, shift: float,
) -> float:  # fmt: skip
    """Return the total deviation of one ring in um for each mm of module, from a form without shift.

    As `involute_form_deviation` at module 1, remembered: the rings of an answer have few tooth counts.
    """
    found = involute_form_deviation(
        1.0, teeth, form_teeth, addendum=addendum, dedendum=dedendum, fillet=fillet,
        pressure_angle_deg=pressure_angle_deg, shift=shift,
    )  # fmt: skip
    return float(found.total_um)


def largest_shift_of_form(
    teeth: Quantity, form_teeth: Quantity, *, dedendum: float, fillet: float, pressure_angle_deg: float,
    form_shift: Quantity = 0.0,
) -> Quantity:  # fmt: skip
    """Return the largest profile shift factor of a ring that the form of `form_teeth` teeth can still cut.

    There the space of the ring is as narrow on its pitch circle as the form where its flank starts:
    r sin(phi(tan alpha)) = rho0 sin(phi0) of the module's text, solved for x. Arguments as
    `involute_form_deviation`.
    """
    alpha = float(np.radians(pressure_angle_deg))
    depth = dedendum - fillet * (1.0 - np.sin(alpha))
    z, z0 = np.asarray(teeth, dtype=np.float64), np.asarray(form_teeth, dtype=np.float64)
    form = _Flank.of(z0, np.asarray(form_shift, dtype=np.float64), depth, alpha)
    narrowest, _ = form.at(form.start)
    half = np.arcsin(narrowest / (z / 2.0))
    return np.asarray((np.pi / 2.0 - z * half) / (2.0 * np.tan(alpha)))


def _allowed(
    module_mm: Quantity,
    teeth: Quantity,
    form_teeth: Quantity,
    shift: Quantity,
    form_shift: Quantity,
) -> None:
    """Raise ValueError naming the first argument that is not finite or outside of what is allowed."""
    physics_above_zero(module_mm=module_mm)
    for name, value in (("teeth", teeth), ("form_teeth", form_teeth)):
        if not np.all(np.asarray(value) >= FEWEST_TEETH):
            raise ValueError(f"{name}: given {np.min(value)}, allowed {FEWEST_TEETH} or more")
    given = {
        "module_mm": module_mm, "teeth": teeth, "form_teeth": form_teeth, "shift": shift,
        "form_shift": form_shift,
    }  # fmt: skip
    for name, value in given.items():
        if not np.all(np.isfinite(value)):
            raise ValueError(f"{name}: given {np.max(value)}, allowed a finite number")


def _halved(holds: Callable[[Array], NDArray[np.bool_]], start: Array) -> Array:
    """Return the roll angle from `start` on where a statement ceases to hold; `start` where it never does."""
    low, high = start.copy(), np.full(start.shape, _FAR)
    for _ in range(50):
        middle = (low + high) / 2.0
        yes = holds(middle)
        low, high = np.where(yes, middle, low), np.where(yes, high, middle)
    return np.asarray(low)
