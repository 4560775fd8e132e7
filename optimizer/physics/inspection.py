"""Sizes by which the teeth of a finished ring are measured: over k teeth, and over two pins.

External spur teeth; lengths in mm, x the profile shift factor, angles in degrees outside and in
radians inside. Closed forms of ISO 21771 as given in an unnamed transcription of ISO/TR 10064-2's
national edition; worked cases in tests/published/test_tooth_inspection.py.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ringset.physics.quantity import Array, Quantity


def involute_function(angle_rad: Quantity) -> Quantity:
    """Involute function tan(a) - a of an angle in rad from 0 to below pi / 2.

    >>> print(f"{involute_function(np.radians(20.0)):.7f}")  # printed in every gear handbook
    0.0149044
    """
    return np.asarray(np.tan(angle_rad) - angle_rad)[()]


def involute_angle(value: Quantity) -> Quantity:
    """Angle in rad whose involute function is `value` >= 0, else ValueError (Newton, to double precision)."""
    wanted = np.asarray(value, dtype=np.float64)
    if not np.all(wanted >= 0.0):
        raise ValueError(f"involute: given {np.min(wanted):g}, allowed 0 or more")
    angle = np.arctan(np.cbrt(3.0 * wanted) + wanted)  # from above: the function is convex there
    for _ in range(40):
        slope = np.maximum(np.tan(angle) ** 2, 1e-300)
        step = (np.tan(angle) - angle - wanted) / slope
        angle = np.where(wanted > 0.0, angle - step, 0.0)
        if np.max(np.abs(step), initial=0.0) < 1e-15:
            break
    return np.asarray(angle)[()]


def _alpha(pressure_angle_deg: float) -> float:
    if not 0.0 < pressure_angle_deg < 90.0:
        raise ValueError(
            f"pressure_angle_deg: given {pressure_angle_deg:g}, allowed between 0 and 90"
        )
    return float(np.radians(pressure_angle_deg))


def involute_teeth_spanned(
    teeth: Quantity, shift: Quantity = 0.0, pressure_angle_deg: float = 20.0
) -> NDArray[np.int64]:
    """Teeth k to span so that the faces touch near mid flank, at least 1; z/9 + 0.5 at x = 0, 20 deg.

    k = round((z/pi) [sqrt((1 + 2x/z)^2 - cos^2 a)/cos a - (2x/z) tan a - inv a] + 0.5), halves up. A pressure
    angle that does not lie between 0 and 90 raises ValueError, here and below.
    """
    alpha, z = _alpha(pressure_angle_deg), np.asarray(teeth, dtype=np.float64)
    part = 2.0 * np.asarray(shift) / z
    root = np.sqrt(np.maximum(0.0, (1.0 + part) ** 2 - np.cos(alpha) ** 2)) / np.cos(alpha)
    real = z / np.pi * (root - part * np.tan(alpha) - involute_function(alpha)) + 0.5
    return np.asarray(np.maximum(1, np.floor(real + 0.5 + 1e-9)), dtype=np.int64)


def involute_span_mm(
    module_mm: Quantity,
    teeth: Quantity,
    spanned: Quantity,
    shift: Quantity = 0.0,
    pressure_angle_deg: float = 20.0,
) -> Quantity:
    """Span over k teeth: W = m cos a [pi (k - 0.5) + z inv a] + 2 x m sin a.

    `spanned` k is a whole number from 1 up; `involute_span_contact_mm` says whether the faces reach the
    flanks there. An unnamed worked example (m 2, z 20, k 3) prints 15.321.

    >>> print(f"{involute_span_mm(2.0, 20, 3):.3f}")
    15.321
    """
    alpha, m = _alpha(pressure_angle_deg), np.asarray(module_mm)
    k, z = np.asarray(spanned), np.asarray(teeth)
    straight = np.cos(alpha) * (np.pi * (k - 0.5) + z * involute_function(alpha))
    return np.asarray(m * (straight + 2.0 * np.asarray(shift) * np.sin(alpha)))[()]


def involute_span_contact_mm(base_mm: Quantity, span: Quantity) -> Quantity:
    """Diameter in mm at which the faces of a span touch the flanks: sqrt(d_b^2 + W^2)."""
    return np.asarray(np.hypot(base_mm, span))[()]


def involute_start_mm(
    module_mm: Quantity,
    teeth: Quantity,
    dedendum: float,
    fillet: float,
    shift: Quantity = 0.0,
    pressure_angle_deg: float = 20.0,
) -> Quantity:
    """Diameter where the involute begins above the fillet that a rack with rounded corners leaves.

    The straight rack flank ends h = h_f* - rho* (1 - sin a) below its reference line; its last point
    cuts at r^2 = r_b^2 + (r sin a - (h - x) / sin a)^2, all in modules. Meshing condition; needs
    no undercut. `dedendum` and `fillet` are factors of the module.
    """
    alpha, m = _alpha(pressure_angle_deg), np.asarray(module_mm)
    half = np.asarray(teeth) / 2.0
    depth = dedendum - fillet * (1.0 - np.sin(alpha)) - np.asarray(shift)
    along = half * np.sin(alpha) - depth / np.sin(alpha)
    return np.asarray(2.0 * m * np.hypot(half * np.cos(alpha), along))[()]


def involute_teeth_to_span(
    module_mm: float,
    teeth: int,
    *,
    addendum: float,
    dedendum: float,
    fillet: float,
    shift: float = 0.0,
    pressure_angle_deg: float = 20.0,
) -> int:
    """Return the k nearest to `involute_teeth_spanned` whose faces touch the involute, else ValueError.

    Above the start of the flank and below the tip circle; of two equally near the smaller one. `addendum`,
    `dedendum` and `fillet` are factors of the module.
    """
    near = int(involute_teeth_spanned(teeth, shift, pressure_angle_deg))
    start = float(involute_start_mm(module_mm, teeth, dedendum, fillet, shift, pressure_angle_deg))
    tip = module_mm * (teeth + 2.0 * (addendum + shift))
    base = module_mm * teeth * np.cos(_alpha(pressure_angle_deg))
    for k in sorted(range(1, max(2, teeth // 2)), key=lambda k: (abs(k - near), k)):
        touch = float(
            involute_span_contact_mm(
                base, involute_span_mm(module_mm, teeth, k, shift, pressure_angle_deg)
            )
        )
        if start <= touch <= tip:
            return k
    raise ValueError(f"teeth: given {teeth}, allowed more (no span touches the flanks)")


def _space_angle(teeth: Quantity, shift: Quantity, alpha: float) -> Array:
    """Return half the space width at the base circle as an angle: pi/(2z) - inv a - 2 x tan a / z."""
    z = np.asarray(teeth, dtype=np.float64)
    return np.asarray(
        np.pi / (2.0 * z) - involute_function(alpha) - 2.0 * np.asarray(shift) * np.tan(alpha) / z
    )


def involute_pin_angle_rad(
    module_mm: Quantity,
    teeth: Quantity,
    pin_mm: Quantity,
    shift: Quantity = 0.0,
    pressure_angle_deg: float = 20.0,
) -> Quantity:
    """Pressure angle in rad at the centre of a pin: inv(phi) = d_p/(m z cos a) - half space at the base.

    That is inv(a) + d_p/(m z cos a) - pi/(2z) + 2 x tan(a)/z. ValueError for a pin that falls below
    the base circle.
    """
    alpha = _alpha(pressure_angle_deg)
    base = np.asarray(module_mm) * teeth * np.cos(alpha)
    value = np.asarray(pin_mm) / base - _space_angle(teeth, shift, alpha)
    if not np.all(value > 0.0):
        raise ValueError(f"pin_mm: given {np.min(pin_mm):g}, allowed larger (it lies on the root)")
    return involute_angle(value)


def involute_over_pins_mm(
    module_mm: Quantity,
    teeth: Quantity,
    pin_mm: Quantity,
    shift: Quantity = 0.0,
    pressure_angle_deg: float = 20.0,
) -> Quantity:
    """Dimension over two pins in opposite spaces (even z) or nearly opposite ones (odd z).

    M = m z cos a / cos phi + d_p; for odd z the first term times cos(90 deg / z). Errors as
    `involute_pin_angle_rad`.

    >>> print(f"{involute_over_pins_mm(1.0, 10, 1.728):.4f}")  # handbook wire table, from memory
    12.3445
    """
    alpha = _alpha(pressure_angle_deg)
    phi = involute_pin_angle_rad(module_mm, teeth, pin_mm, shift, pressure_angle_deg)
    z = np.asarray(teeth)
    centres = np.asarray(module_mm) * z * np.cos(alpha) / np.cos(phi)
    return np.asarray(centres * _odd(z) + pin_mm)[()]


def _odd(teeth: Array) -> Array:
    """Return cos(90 deg / z) for odd tooth counts, 1 for even ones."""
    return np.where(teeth % 2 == 1, np.cos(np.pi / (2.0 * teeth)), 1.0)


def involute_ideal_pin_mm(
    module_mm: Quantity, teeth: Quantity, shift: Quantity = 0.0, pressure_angle_deg: float = 20.0
) -> Quantity:
    """Pin that touches the flanks on the circle d + 2 x m: d_p = m z cos a (inv phi + eta).

    cos a_v = z cos a / (z + 2x), phi = tan a_v + eta with eta half the space at the base circle (the
    line through contact and pin centre is tangent to the base circle).
    """
    alpha, z = _alpha(pressure_angle_deg), np.asarray(teeth, dtype=np.float64)
    eta = _space_angle(z, shift, alpha)
    touch = np.arccos(np.clip(z * np.cos(alpha) / (z + 2.0 * np.asarray(shift)), -1.0, 1.0))
    phi = np.tan(touch) + eta
    return np.asarray(np.asarray(module_mm) * z * np.cos(alpha) * (involute_function(phi) + eta))[
        ()
    ]


def involute_pin_contact_mm(
    module_mm: Quantity,
    teeth: Quantity,
    pin_mm: Quantity,
    shift: Quantity = 0.0,
    pressure_angle_deg: float = 20.0,
) -> Quantity:
    """Diameter at which a pin touches the flanks: sqrt(d_b^2 + (d_b tan phi - d_p)^2).

    Along the tangent to the base circle from its foot: d_b/2 tan phi to the centre, less d_p/2.
    """
    alpha = _alpha(pressure_angle_deg)
    phi = involute_pin_angle_rad(module_mm, teeth, pin_mm, shift, pressure_angle_deg)
    base = np.asarray(module_mm) * teeth * np.cos(alpha)
    return np.asarray(np.hypot(base, base * np.tan(phi) - pin_mm))[()]


def involute_pin_to_measure_mm(
    module_mm: float,
    teeth: int,
    sizes_mm: Sequence[float],
    *,
    addendum: float,
    dedendum: float,
    fillet: float,
    shift: float = 0.0,
    pressure_angle_deg: float = 20.0,
) -> float:
    """Return the pin of a list nearest to the ideal one that works; ValueError if none does.

    A pin works if it touches the involute (above its start, below the tips), stands clear of the
    root circle and rises above the tip circle, so that an anvil reaches it. `addendum`, `dedendum` and
    `fillet` are factors of the module; of two pins equally near the thinner one.
    """
    ideal = float(involute_ideal_pin_mm(module_mm, teeth, shift, pressure_angle_deg))
    start = float(involute_start_mm(module_mm, teeth, dedendum, fillet, shift, pressure_angle_deg))
    tip = module_mm * (teeth + 2.0 * (addendum + shift))
    root = module_mm * (teeth - 2.0 * (dedendum - shift))
    base = module_mm * teeth * np.cos(_alpha(pressure_angle_deg))
    for pin in sorted(sizes_mm, key=lambda size: (abs(size - ideal), size)):
        try:
            phi = float(involute_pin_angle_rad(module_mm, teeth, pin, shift, pressure_angle_deg))
        except ValueError:
            continue
        centres = base / np.cos(phi)
        touch = float(involute_pin_contact_mm(module_mm, teeth, pin, shift, pressure_angle_deg))
        if start <= touch <= tip and centres - pin > root and centres + pin > tip:
            return pin
    raise ValueError(f"pin sizes: none of {len(sizes_mm)} works; allowed: near {ideal:.3f} mm")


def involute_span_change(pressure_angle_deg: float = 20.0) -> float:
    """Change of the span per change of tooth thickness on the pitch circle: cos a."""
    return float(np.cos(_alpha(pressure_angle_deg)))


def involute_pin_change(
    module_mm: Quantity,
    teeth: Quantity,
    pin_mm: Quantity,
    shift: Quantity = 0.0,
    pressure_angle_deg: float = 20.0,
) -> Quantity:
    """Change of the dimension over pins per change of tooth thickness: cos a / sin phi.

    Times cos(90 deg / z) for odd z. Derivative of M; about 2.7 for many teeth at 20 deg. Errors as
    `involute_pin_angle_rad`.
    """
    phi = involute_pin_angle_rad(module_mm, teeth, pin_mm, shift, pressure_angle_deg)
    ratio = np.cos(_alpha(pressure_angle_deg)) / np.sin(phi)
    return np.asarray(ratio * _odd(np.asarray(teeth)))[()]
