"""What number of every limit rows need, their second rings too."""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.limits import SIZE_RULES, catalogue_size_needs, catalogue_tooth_counts_kept
from ringset.catalogue.partners import catalogue_second_rows
from ringset.catalogue.rows import Catalogue
from ringset.rating.limits import RULE_OF, rated_needs
from ringset.rating.pairs import SECOND_KEEPS
from ringset.rating.rate import rated_seconds
from ringset.rating.rated import Rated
from ringset.schema.study import Study


def rated_needs_in_full(study: Study, rated: Rated) -> dict[str, Floats]:
    """Return, by field, what number of each limit every row needs, of size and of all others.

    In the unit of the field, one float64 per row. Of a row with a second ring it is what the ring asks that
    asks more, for limits that both keep. NaN where no value of the limit grants a row: two tooth counts of
    which a list has neither.
    """
    rows = rated.catalogue
    needs = {**catalogue_size_needs(study, rows), **rated_needs(study, rated)}
    others, place = catalogue_second_rows(rows)
    if not len(others):
        return needs
    second = {
        **catalogue_size_needs(study, others),
        **rated_needs(study, rated_seconds(study, others)),
    }
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
    """Let rows need what both of their tooth counts ask of a limit on counts.

    Multiples: both counts are multiples of just the numbers that their greatest common divisor is one of.
    Lists: the count that the shop does not cut. Where it cuts neither, no one count added would do: the
    need is NaN, and nothing grants it.
    """
    has = place >= 0
    one, other = rows.teeth[has], others.teeth[place[has]]
    first = catalogue_tooth_counts_kept(study.shop, rows.teeth)
    for field, kept in catalogue_tooth_counts_kept(study.shop, others.teeth).items():
        if field not in needs or RULE_OF[field].side not in ("counts", "multiples"):
            continue
        mine, theirs = first[field][has], kept[place[has]]
        asked = np.where(mine | theirs, np.where(theirs, one, other), np.nan)
        if RULE_OF[field].side == "multiples":
            asked = np.gcd(one, other).astype(np.float64)
        needs[field] = needs[field].copy()
        needs[field][has] = asked
