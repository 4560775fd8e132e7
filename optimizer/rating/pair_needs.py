"""What number of every limit rows need, their second rings too."""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.limits import SIZE_RULES, size_needs, tooth_counts_kept
from ringset.catalogue.partners import second_rows
from ringset.catalogue.rows import Catalogue
from ringset.rating.limits import RULE_OF, rated_needs
from ringset.rating.pairs import SECOND_KEEPS
from ringset.rating.rate import rated_seconds
from ringset.rating.rated import Rated
from ringset.schema.study import Study


def every_need(study: Study, rated: Rated) -> dict[str, Floats]:
    """Return, by field, what number of each limit every row needs, of size and of all others.

    In the unit of the field, one float64 per row. Of a row with a second ring it is what the ring asks that
    asks more, for limits that both keep.
    """
    rows = rated.catalogue
    needs = {**size_needs(study, rows), **rated_needs(study, rated)}
    others, place = second_rows(rows)
    if not len(others):
        return needs
    second = {**size_needs(study, others), **rated_needs(study, rated_seconds(study, others))}
    has = place >= 0
    for field in (
        {*SECOND_KEEPS, *(rule.field for rule in SIZE_RULES)} & needs.keys() & second.keys()
    ):
        mine, theirs = needs[field][has], second[field][place[has]]
        at_most = RULE_OF[field].side == "at most"
        worse = np.maximum(mine, theirs) if at_most else np.minimum(mine, theirs)
        needs[field] = needs[field].copy()
        needs[field][has] = worse
    _of_counts(study, needs, rows, others, place)
    return needs


def _of_counts(
    study: Study, needs: dict[str, Floats], rows: Catalogue, others: Catalogue, place: Ints
) -> None:  # fmt: skip
    """Let rows need the tooth count of their second ring where it is the one that the shop does not cut.

    Where the shop cuts neither, no one count added would do: nothing grants it.
    """
    has = place >= 0
    first = tooth_counts_kept(study.shop, rows.teeth)
    for field, kept in tooth_counts_kept(study.shop, others.teeth).items():
        if field in needs and RULE_OF[field].side in ("counts", "multiples"):
            mine, theirs = first[field][has], kept[place[has]]
            teeth = np.where(theirs, rows.teeth[has], others.teeth[place[has]]).astype(np.float64)
            needs[field] = needs[field].copy()
            needs[field][has] = np.where(mine | theirs, teeth, np.nan)
