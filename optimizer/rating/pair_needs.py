"""What number of every limit rows need, their second rings too."""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats
from ringset.catalogue.limits import SIZE_RULES, size_needs
from ringset.catalogue.partners import second_rows
from ringset.rating.limits import RULE_OF, rated_needs
from ringset.rating.pairs import SECOND_KEEPS
from ringset.rating.rate import rate
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
    second = {**size_needs(study, others), **rated_needs(study, rate(study, others))}
    has = place >= 0
    for field in (
        {*SECOND_KEEPS, *(rule.field for rule in SIZE_RULES)} & needs.keys() & second.keys()
    ):
        mine, theirs = needs[field][has], second[field][place[has]]
        at_most = RULE_OF[field].side == "at most"
        worse = np.maximum(mine, theirs) if at_most else np.minimum(mine, theirs)
        needs[field] = needs[field].copy()
        needs[field][has] = worse
    return needs
