"""Basic racks: tooth proportions as factors of the module.

Source: ISO 53:1998, types A to D (two unnamed transcriptions agree); the stub rack is unnamed, from memory.
"""

import math
from dataclasses import dataclass

_ISO53 = "ISO 53:1998 type {} (two unnamed transcriptions agree)"


@dataclass(frozen=True)
class Rack:
    """A basic rack; lengths are factors of the module.

    Parameters
    ----------
    name : str
        Key in `RACKS`.
    title : str
        Name for people.
    pressure_angle_deg : float
        Profile angle alpha [deg].
    addendum : float
        h_a*, tip above the reference line [modules].
    dedendum : float
        h_f*, root below the reference line [modules].
    root_fillet : float
        rho_f*, fillet radius at the root [modules].
    source : str
        Where the numbers are from.
    """

    name: str
    title: str
    pressure_angle_deg: float
    addendum: float
    dedendum: float
    root_fillet: float
    source: str

    @property
    def whole_depth(self) -> float:
        """Tooth depth h* = h_a* + h_f* [modules]."""
        return self.addendum + self.dedendum

    @property
    def clearance(self) -> float:
        """Tip clearance against a mating rack of the same proportions, c* = h_f* - h_a*."""
        return self.dedendum - self.addendum


RACKS: dict[str, Rack] = {
    rack.name: rack
    for rack in (
        Rack("full", "ISO 53 type A", 20.0, 1.0, 1.25, 0.38, _ISO53.format("A")),
        Rack("full_b", "ISO 53 type B", 20.0, 1.0, 1.25, 0.30, _ISO53.format("B")),
        Rack("full_c", "ISO 53 type C", 20.0, 1.0, 1.25, 0.25, _ISO53.format("C")),
        Rack("full_d", "ISO 53 type D", 20.0, 1.0, 1.40, 0.39, _ISO53.format("D")),
        Rack(
            "stub",
            "stub teeth, depth 1.8 modules",
            20.0,
            0.8,
            1.0,
            0.30,
            "common stub proportions, unnamed and from memory; not from a standard",
        ),
    )
}
"""Racks by name. "full" is the standard rack; a fine-module cutter may cut as deep as "full_d"."""


def standard_largest_fillet(clearance: float, dedendum: float, pressure_angle_deg: float) -> float:
    """Return the largest root fillet radius a rack may have, as a factor of the module.

    Parameters
    ----------
    clearance : float
        c* [modules], above 0 and up to 0.396.
    dedendum : float
        h_f* [modules].
    pressure_angle_deg : float
        alpha [deg], above 0 and below 90.

    Returns
    -------
    float
        Upper limit of rho_f* [modules].

    Raises
    ------
    ValueError
        If the clearance or the angle is outside its range. ISO 53 type D has c* = 0.40 and so
        lies outside, though its rho_f* = 0.39 is printed in the same standard.

    Notes
    -----
    ISO 53:1998 (two unnamed transcriptions agree)::

        c* <= 0.295:          rho_f* <= c* / (1 - sin alpha)
        0.295 < c* <= 0.396:  rho_f* <= (pi/4 - h_f* tan alpha) / tan((90 deg - alpha) / 2)

    The printed 0.38 of type A is above its bound 0.37995 by rounding.

    Examples
    --------
    >>> standard = RACKS["full"]
    >>> print(f"{standard_largest_fillet(standard.clearance, standard.dedendum, 20.0):.5f}")
    0.37995
    """
    if not 0.0 < pressure_angle_deg < 90.0:
        raise ValueError(
            f"pressure angle must lie between 0 and 90 deg, given {pressure_angle_deg}"
        )
    if not 0.0 < clearance <= 0.396:
        raise ValueError(f"clearance must be above 0 and up to 0.396 modules, given {clearance}")
    alpha = math.radians(pressure_angle_deg)
    if clearance <= 0.295:
        return clearance / (1.0 - math.sin(alpha))
    return _full_round(dedendum, alpha)


def _full_round(dedendum: float, alpha: float) -> float:
    """Return the radius of the corner, in modules, at which both corners of a rack's tooth meet in its
    middle."""
    return (math.pi / 4.0 - dedendum * math.tan(alpha)) / math.tan((math.pi / 2.0 - alpha) / 2.0)


def standard_deeper_rack(depth_modules: float) -> Rack:
    """Return the rack of cutters that cut deeper than type A, with the same addendum.

    Parameters
    ----------
    depth_modules : float
        h* = 1 + h_f* [modules], 2.25 to 2.8.

    Returns
    -------
    Rack
        Type A at 2.25 and type D at 2.4; else corners as round as those of type D, or as round as the
        tooth of such a cutter has room for.

    Raises
    ------
    ValueError
        If the depth is outside its range.

    Examples
    --------
    >>> standard_deeper_rack(2.4).title, standard_deeper_rack(2.6).root_fillet
    ('ISO 53 type D', 0.28)
    """
    if not 2.25 <= depth_modules <= 2.8:
        raise ValueError(f"depth_modules: given {depth_modules:g}, allowed 2.25 to 2.8")
    for name in ("full", "full_d"):
        if math.isclose(RACKS[name].whole_depth, depth_modules, rel_tol=1e-12):
            return RACKS[name]
    deepest, dedendum = RACKS["full_d"], depth_modules - 1.0
    room = math.floor(100.0 * _full_round(dedendum, math.radians(20.0))) / 100.0
    return Rack(
        "deeper", f"depth {depth_modules:g} modules", 20.0, 1.0, dedendum,
        min(deepest.root_fillet, room), "depth as stated; corners as round as the tooth allows",
    )  # fmt: skip
