"""What the shop asks of a ring: the cutter's depth, the blank, what is bought, how hard to clamp.

Lengths in mm, masses in kg, forces in N.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ringset.arrays import Mask
from ringset.physics import geometry, rim_bending
from ringset.physics.arguments import physics_zero_or_more
from ringset.physics.limit_rule import number_at_least
from ringset.physics.quantity import Quantity


def teeth_above_undercut(
    teeth: Quantity, dedendum: float, fillet: float, shift: float, pressure_angle_deg: float
) -> Quantity:
    """Teeth more than the least that a rack-shaped cutter leaves without undercut; negative: undercut.

    `geometry.least_teeth_without_undercut` subtracted; `dedendum`, `fillet` and `shift` are factors of the
    module.
    """
    least = geometry.least_teeth_without_undercut(dedendum, fillet, shift, pressure_angle_deg)
    return np.asarray(np.asarray(teeth) - least)[()]


def rim_below_deeper_cut_mm(
    rim_mm: Quantity, module_mm: Quantity, dedendum: float, cutter_dedendum: Quantity
) -> Quantity:
    """Rim in mm left below a cutter whose dedendum part is deeper than the rack's: t - m (h_c* - h_f*).

    Cutters of fine modules are often made for h_f* = 1.4 (2.4 m deep): the root circle is then
    m (z - 2.8). A shallower cutter counts as the rack's own. Common practice, no source; ISO 53:1998 type D
    is as deep.

    >>> print(f"{rim_below_deeper_cut_mm(6.0, 0.5, dedendum=1.25, cutter_dedendum=1.4):.3f}")
    5.925
    """
    deeper = np.maximum(0.0, np.asarray(cutter_dedendum) - dedendum)
    return np.asarray(rim_mm - np.asarray(module_mm) * deeper)[()]


def largest_jaw_force_n(
    jaws: int,
    lobe_mm: Quantity,
    bore_mm: Quantity,
    rim_mm: Quantity,
    face_width_mm: Quantity,
    youngs_modulus_gpa: Quantity,
    poisson: Quantity,
) -> Quantity:
    """Radial force in N per jaw that leaves lobes of amplitude `lobe_mm` >= 0, else ValueError.

    `rim_bending.clamping_lobe_mm` inverted: bending is linear in the force, so it is lobe_mm over the lobe
    of 1 N.

    >>> ring = {"bore_mm": 195.0, "rim_mm": 5.0, "face_width_mm": 10.0}
    >>> ring |= {"youngs_modulus_gpa": 200.0, "poisson": 0.3}
    >>> lobe = rim_bending.clamping_lobe_mm(3, 40.0, **ring)
    >>> print(f"{largest_jaw_force_n(3, lobe, **ring):.1f}")
    40.0
    """
    physics_zero_or_more(lobe_mm=lobe_mm)
    one = rim_bending.clamping_lobe_mm(
        jaws, 1.0, bore_mm, rim_mm, face_width_mm, youngs_modulus_gpa, poisson
    )
    return np.asarray(np.asarray(lobe_mm) / one)[()]


@dataclass(frozen=True)
class Blank:
    """A piece to saw off: `kind` bar, tube or plate, its sizes in mm, and what it weighs.

    `bought_kg` includes the saw cut. For a plate `outer_mm` is the side of the square.
    """

    kind: str
    outer_mm: float
    inner_mm: float
    length_mm: float
    bought_kg: float

    @property
    def text(self) -> str:
        """The blank as one orders it."""
        if self.kind == "plate":
            return f"plate {self.length_mm:.6g} thick, {self.outer_mm:.6g} square"
        inner = f" x bore {self.inner_mm:.6g}" if self.kind == "tube" else ""
        return f"{self.kind} {self.outer_mm:.6g}{inner}, {self.length_mm:.6g} long"


@dataclass(frozen=True)
class Allowances:
    """What a blank needs beyond the ring: on diameters, on the width, and the saw cut; in mm."""

    diameter_mm: float
    width_mm: float
    saw_mm: float

    def sizes(
        self, tip_mm: Quantity, bore_mm: Quantity, face_width_mm: Quantity
    ) -> tuple[Quantity, Quantity, Quantity]:
        """Return the least outer diameter, the largest bore and the least length of a blank, in mm."""
        outer, inner = tip_mm + self.diameter_mm, bore_mm - self.diameter_mm
        return outer, inner, face_width_mm + self.width_mm

    def needed(self, tip_mm: float, bore_mm: float, face_width_mm: float) -> str:
        """Return the least blank for a ring, as one asks for it where no stock is named."""
        outer, inner, length = self.sizes(tip_mm, bore_mm, face_width_mm)
        tube = f" (tube: bore up to {inner:.6g})" if inner > 0.0 else ""
        return f"round {outer:.6g} or more{tube}, {length:.6g} long"


def blank_stock_sizes(
    tip_mm: float,
    bore_mm: float,
    face_width_mm: float,
    density_kg_per_m3: float,
    allowances: Allowances,
    *,
    bars_mm: Iterable[float] = (),
    tubes_mm: Iterable[tuple[float, float]] = (),
    plates_mm: Iterable[float] = (),
) -> list[Blank]:
    """Return every stock size that a ring can be turned from, lightest first.

    Bars by diameter, tubes by (outer, bore), plates by thickness (a square is sawn out). A blank
    suits if it has the allowances on tips, bore and width; the limits themselves suit. Empty if none does.

    >>> allowed = Allowances(diameter_mm=3.0, width_mm=2.0, saw_mm=3.0)
    >>> found = blank_stock_sizes(
    ...     102.0, 80.0, 10.0, 7850.0, allowed, bars_mm=[100.0, 105.0], tubes_mm=[(110.0, 75.0)]
    ... )
    >>> [blank.text for blank in found]
    ['tube 110 x bore 75, 12 long', 'bar 105, 12 long']
    """
    outer, inner, length = map(float, allowances.sizes(tip_mm, bore_mm, face_width_mm))
    cut = density_kg_per_m3 * 1e-9

    def round_blank(kind: str, stock: float, hole: float) -> Blank:
        area = np.pi / 4.0 * (stock**2 - hole**2)
        return Blank(kind, stock, hole, length, float(cut * area * (length + allowances.saw_mm)))

    found = [round_blank("bar", bar, 0.0) for bar in bars_mm if number_at_least(bar, outer)]
    found += [
        round_blank("tube", wide, hole)
        for wide, hole in tubes_mm
        if number_at_least(wide, outer) and number_at_least(inner, hole)
    ]
    side = outer + allowances.saw_mm
    found += [
        Blank("plate", outer, 0.0, thick, float(cut * side**2 * thick))
        for thick in plates_mm
        if number_at_least(thick, length)
    ]
    return sorted(found, key=lambda blank: (blank.bought_kg, blank.kind, blank.outer_mm))


def blank_is_on_stock(
    tip_mm: Quantity,
    bore_mm: Quantity,
    face_width_mm: Quantity,
    allowances: Allowances,
    *,
    bars_mm: Iterable[float] = (),
    tubes_mm: Iterable[tuple[float, float]] = (),
    plates_mm: Iterable[float] = (),
) -> Mask:
    """Which rings some stock size suits, one yes or no each: where `blank_stock_sizes` finds a blank.

    Tips, bores and widths are in mm, numbers or columns of one length; stock is as for one ring there.

    >>> allowed = Allowances(diameter_mm=3.0, width_mm=2.0, saw_mm=3.0)
    >>> blank_is_on_stock(np.array([97.0, 98.0]), 80.0, 10.0, allowed, bars_mm=[90.0, 100.0]).tolist()
    [True, False]
    """
    outer, inner, length = allowances.sizes(tip_mm, bore_mm, face_width_mm)
    found = number_at_least(max(bars_mm, default=0.0), outer)
    found = found | number_at_least(max(plates_mm, default=0.0), length)
    for wide, hole in tubes_mm:
        found = found | (number_at_least(wide, outer) & number_at_least(inner, hole))
    return np.asarray(found)
