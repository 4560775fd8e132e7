"""The sizes that rings come to by module, teeth and bore: diameters, rim and depth of their teeth."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.rows import Catalogue
from ringset.physics import geometry
from ringset.physics.root_fillet import least_fillet_radius_mm
from ringset.physics.tooth_factors import largest_prime_factor_of_teeth
from ringset.schema.shop import Shop
from ringset.schema.true_rack import study_dedendum, study_fillet
from ringset.standards.racks import RACKS

#: Of rings whose bore or number of heads is not looked at.
NO_LENGTHS, NO_COUNTS = np.empty(0), np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class RingSizes:
    """Rings of one shop, one array entry each; other sizes are worked out when first asked for.

    Modules and bores are in mm (float64), teeth and heads whole numbers (int64). `around` is how much wider
    than the tips a housing must be at the narrowest gap of each ring's head (mm, or one for all). Bores,
    heads and `around` may be left out where they are not looked at. Diameters, rim and depth are in mm
    (float64); the rim is negative where the bore is wider than the root circle.
    """

    shop: Shop
    module: Floats
    teeth: Ints
    bore: Floats = field(default_factory=lambda: NO_LENGTHS)
    heads: Ints = field(default_factory=lambda: NO_COUNTS)
    around: Floats = field(default_factory=lambda: NO_LENGTHS)

    @property
    def addendum(self) -> float:
        """Addendum factor h_a* by which the shop cuts teeth."""
        return RACKS[self.shop.rack].addendum

    @cached_property
    def dedendum(self) -> Floats:
        """Dedendum factor h_f* of the cutter of each ring's module."""
        return study_dedendum(self.shop, self.module)

    @cached_property
    def tip(self) -> Floats:
        """Tip diameter in mm."""
        return np.asarray(
            geometry.tip_diameter_mm(
                self.module, self.teeth, self.addendum, self.shop.profile_shift
            )
        )

    @cached_property
    def housing(self) -> Floats:
        """Least inner diameter in mm of a housing around ring and heads, at the narrowest gap."""
        return np.asarray(self.tip + self.around)

    @cached_property
    def root(self) -> Floats:
        """Root diameter in mm."""
        return np.asarray(
            geometry.root_diameter_mm(
                self.module, self.teeth, self.dedendum, self.shop.profile_shift
            ),
            dtype=np.float64,
        )

    @cached_property
    def rim(self) -> Floats:
        """Rim between root circle and bore in mm, on the radius."""
        return np.asarray(geometry.rim_thickness_mm(self.root, self.bore))

    @cached_property
    def root_radius(self) -> Floats:
        """Least radius of curvature of the root fillets in mm: what a wire must get into."""
        return least_fillet_radius_mm(
            self.module, self.teeth, self.dedendum, study_fillet(self.shop, self.module),
            self.shop.profile_shift,
        )  # fmt: skip

    @cached_property
    def largest_prime(self) -> Ints:
        """Largest prime factor of each tooth count."""
        return largest_prime_factor_of_teeth(self.teeth)

    @cached_property
    def depth(self) -> Floats:
        """Whole depth of the teeth in mm."""
        return np.asarray(geometry.whole_depth_mm(self.module, self.addendum, self.dedendum))


def catalogue_ring_sizes(shop: Shop, rows: Catalogue) -> RingSizes:
    """Return the sizes of the rings of all rows of a catalogue, in its order."""
    around = rows.per_joint(lambda ref: ref.least_around_mm)
    return RingSizes(shop, rows.module_mm(), rows.teeth, rows.bore_mm(), rows.heads, around)
