"""The second ring of rings that are rated alone, where nothing says which it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.arrays import Ints
from ringset.catalogue.limits import sizes_kept
from ringset.catalogue.rows import NO_SECOND, Catalogue
from ringset.catalogue.windows import teeth_range
from ringset.rating.pairs import SECOND_KEEPS
from ringset.rating.rate import rate
from ringset.schema.study import Study
from ringset.standards import cutters


def with_best_second(study: Study, rows: Catalogue) -> Catalogue:
    """Return rows whose joints ask a second ring with one: the fewest teeth that keep all its limits.

    Where none keeps them it is the coprime count of fewest teeth that fits by size, or none. Rows that have
    one keep it.
    """
    second = rows.partner_teeth().copy()
    for row in range(len(rows)):
        if rows.joints[int(rows.joint[row])].joint.second_ring and not second[row]:
            second[row] = _best(study, rows.take(np.array([row])))
    return replace(rows, second_teeth=second if second.any() else NO_SECOND)


def _best(study: Study, row: Catalogue) -> int:
    """Return the teeth of the best second ring of one row, 0 for none."""
    few, most = teeth_range(study, row.joints[int(row.joint[0])])
    teeth = np.arange(few, most + 1, dtype=np.int64)
    first = int(row.teeth[0])
    fits = np.gcd(teeth, first) == 1
    if study.shop.cutting in cutters.DISC_SETS:
        ranges = cutters.disc_range_index(study.shop.cutting, np.append(teeth, first))
        fits &= ranges[:-1] == ranges[-1]
    teeth = teeth[fits]
    many: Ints = np.zeros(len(teeth), dtype=np.int64)
    others = replace(row.take(many), teeth=teeth)
    teeth = teeth[sizes_kept(study, others)]
    if not len(teeth):
        return 0
    pairs = replace(row.take(np.zeros(len(teeth), dtype=np.int64)), second_teeth=teeth)
    rated = rate(study, pairs)
    kept = rated.limits["second_ring"].copy()
    for field in SECOND_KEEPS & rated.limits.keys():
        kept &= rated.limits[field]
    return int(teeth[np.argmax(kept)])
