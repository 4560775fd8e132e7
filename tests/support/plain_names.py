"""Plain names of cutters and zones, and what stands already counted over the grid of all combinations."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringset.schema.study import Study
from ringset.standards.cutters import standard_disc_range_index


def plain_zone(fit: str | None) -> str:
    """Return the zone of a bore: no two zones of ISO 286 have the same limits, see test_bore_zones."""
    return "H7" if fit is None else fit.partition("/")[0]


def plain_cutter(cutting: str, module: float, teeth: int) -> tuple[float, int] | None:
    if cutting == "wire":
        return None
    special = teeth if cutting == "disc_special" else 0
    disc = cutting not in ("hob", "disc_special")
    return (module, int(standard_disc_range_index(cutting, teeth)) if disc else special)


def plain_owned(study: Study) -> set[object]:
    """Return the cutters that the shop owns, as `plain_cutter` names them."""
    cutting = study.shop.cutting
    return {
        plain_cutter(cutting, one.module_mm, one.teeth or 0) for one in study.shop.owned_cutters
    }


def plain_produced(study: Study) -> set[object]:
    """Return the ring parts in production, as the columns of a table name parts."""
    return {
        (one.module_mm, one.teeth, one.bore_mm, one.face_width_mm, one.bore_zone)
        for one in study.shop.parts_in_production
    }


def standing_used(
    of: Sequence[np.ndarray], names: Sequence[object], standing: set[object]
) -> np.ndarray:
    """Count the different things that stand and are used; one axis per joint, its rows as `of` has them."""
    total = np.zeros([len(mine) for mine in of], dtype=np.int64)
    for one in standing:
        used = np.array([name == one for name in names], dtype=bool)
        some = np.zeros(total.shape, dtype=bool)
        for axis, mine in enumerate(of):
            some |= used[mine].reshape([-1 if k == axis else 1 for k in range(len(of))])
        total += some
    return total
