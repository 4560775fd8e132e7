"""The second ring of rings that are rated alone, where nothing says which it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.catalogue.limits import catalogue_sizes_kept
from ringset.catalogue.partners import catalogue_partners_tell_pitches
from ringset.catalogue.rows import NO_SECOND, Catalogue
from ringset.catalogue.windows import catalogue_teeth_range
from ringset.rating.pairs import SECOND_KEEPS
from ringset.rating.rate import rate
from ringset.schema.study import Study


def rated_with_best_second(study: Study, rows: Catalogue) -> Catalogue:
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
    few, most = catalogue_teeth_range(study, row.joints[int(row.joint[0])])
    teeth = np.arange(few, most + 1, dtype=np.int64)
    teeth = teeth[
        catalogue_partners_tell_pitches(study.shop, teeth, np.full_like(teeth, row.teeth[0]))
    ]
    teeth = teeth[catalogue_sizes_kept(study, replace(_repeated(row, len(teeth)), teeth=teeth))]
    if not len(teeth):
        return 0
    pairs = replace(_repeated(row, len(teeth)), second_teeth=teeth)
    rated = rate(study, pairs)
    kept = rated.limits["second_ring"].copy()
    for field in SECOND_KEEPS & rated.limits.keys():
        kept &= rated.limits[field]
    return int(teeth[np.argmax(kept)])


def _repeated(row: Catalogue, times: int) -> Catalogue:
    """Return one row so many times."""
    return row.take(np.zeros(times, dtype=np.int64))
