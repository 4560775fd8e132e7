"""How a ring without fit is set: on which circle a dial indicator runs, and what it may read there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.physics.dial_reading import flat_anvil_sinks_um, full_reading_um
from ringset.physics.tooth_profile import rack_tooth_profile
from ringset.schema.answer import JointRing
from ringset.schema.joint import Joint, SetBy
from ringset.schema.shop import Shop
from ringset.schema.true_rack import study_rack


@dataclass(frozen=True)
class DialSetting:
    """A dial `on` a circle of the ring reads `full_reading_um` (TIR) at most: twice the radial offset.

    Tips are toothed. A flat anvil spans a gap between them if it is `anvil_mm` wide (one pitch of the
    tips) or wider, and sinks by `sinks_um` there; both None for a bore.
    """

    on: SetBy
    full_reading_um: float
    anvil_mm: float | None = None
    sinks_um: float | None = None


def shop_dial_setting(shop: Shop, joint: Joint, ring: JointRing) -> DialSetting | None:
    """Return how `ring` is set on `joint`; None where a fit seats it."""
    if joint.dial_on is None:
        return None
    reading = float(full_reading_um(joint.set_offset_um))
    if joint.dial_on == "bore":
        return DialSetting("bore", reading)
    rack, pitch = study_rack(shop, ring.module_mm), np.pi / ring.teeth
    tooth = rack_tooth_profile(
        ring.module_mm, ring.teeth, addendum=rack.addendum, dedendum=rack.dedendum,
        fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg, shift=ring.profile_shift,
    )  # fmt: skip
    return DialSetting(
        "tips",
        reading,
        anvil_mm=float(2.0 * tooth.tip_mm * np.sin(pitch)),
        sinks_um=float(flat_anvil_sinks_um(tooth.tip_mm, pitch - tooth.tip_half_angle)),
    )
