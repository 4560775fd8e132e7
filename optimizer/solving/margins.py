"""How far a row is inside every limit that applies to it."""

from __future__ import annotations

import numpy as np

from ringset.catalogue.joints import JointRef, least_rim_mm
from ringset.rating.check import Check
from ringset.rating.rated import Rated
from ringset.schema.answer import Margin
from ringset.schema.study import Study


def margins(
    study: Study, rated: Rated, row: int, ref: JointRef, checks: dict[str, Check]
) -> list[Margin]:
    """Return the margin of one row to every limit that applies to it."""
    rows, shop, joint, head = rated.catalogue, study.shop, ref.joint, ref.head
    module = float(rows.module_mm()[row])
    bore, tip = float(rows.bore_mm()[row]), float(rated.tip_mm[row])
    rim_mm, teeth = float(rated.rim_mm[row]), float(rows.teeth[row])
    least_rim = float(least_rim_mm(shop, np.array([module]))[0])
    rim_rule = "shop.rim_min_mm" if least_rim <= shop.rim_min_mm else "shop.rim_min_depths"
    at_least = [
        ("bore_min_mm", bore, joint.bore_min_mm, "mm"),
        (rim_rule, rim_mm, least_rim, "mm"),
        ("tip_min_mm", tip, joint.tip_min_mm, "mm"),
        ("head.module_min_mm", module, head.module_min_mm, "mm"),
        ("head.teeth_min", teeth, float(head.teeth_min), "teeth"),
        (
            "target.resolution_bits",
            float(rated.usable_bits[row]),
            study.target.resolution_bits,
            "bits",
        ),
    ]
    at_least.append(
        ("head.gap_left_min_mm", float(rated.gap_left_mm[row]), head.gap_left_min_mm, "mm")
    )
    share = shop.clamp_runout_share
    at_most = [
        ("bore_max_mm", bore, joint.bore_max_mm, "mm"),
        ("tip_max_mm", tip, joint.tip_max_mm, "mm"),
        ("shop.rim_max_mm", rim_mm, shop.rim_max_mm, "mm"),
        ("head.module_max_mm", module, head.module_max_mm, "mm"),
        ("head.teeth_max", teeth, float(head.teeth_max), "teeth"),
        ("head.tooth_rate_max_hz", float(rated.tooth_rate_hz[row]), head.tooth_rate_max_hz, "Hz"),
        (
            "shop.clamp_runout_share",
            2.0 * float(rated.lobe_um[row]),
            None if share is None else share * float(rated.runout_um[row]),
            "um",
        ),
        ("angle_target_arcsec", float(rated.error_arcsec[row]), ref.target_arcsec, "arcsec"),
    ]
    for name, check in checks.items():
        if np.isfinite(check.allowed[row]):
            group = at_most if check.sign > 0 else at_least
            group.append((name, float(check.value[row]), float(check.allowed[row]), check.unit))
    return [
        Margin(
            limit=name,
            value=value,
            allowed=allowed,
            unit=unit,
            margin=sign * (allowed - value) + 0.0,
        )
        for sign, group in ((-1.0, at_least), (1.0, at_most))
        for name, value, allowed, unit in group
        if allowed is not None
    ]
