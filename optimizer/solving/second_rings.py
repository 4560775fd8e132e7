"""The second rings of an answer, as rings of their own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.catalogue.check import Check
from ringset.catalogue.limits import SIZE_RULES
from ringset.catalogue.partners import catalogue_second_rows
from ringset.catalogue.rows import Catalogue
from ringset.rating.pairs import SECOND_KEEPS
from ringset.rating.rate import rate_in_full, rated_second_gaps_mm
from ringset.rating.rated import RatedInFull
from ringset.schema.answer import JointRing, Margin
from ringset.schema.study import Study
from ringset.solving.margins import solved_margins


def solved_second_ratings(study: Study, rows: Catalogue) -> RatedInFull | None:
    """Return the second rings of rows rated, one for each row that has one, in their order; None without any.

    Of their limits only those are left that a second ring keeps.
    """
    others, place = catalogue_second_rows(rows)
    if not len(others):
        return None
    chosen = others.take(place[place >= 0])
    rated = rate_in_full(study, chosen, rated_second_gaps_mm(study, chosen))
    kept = SECOND_KEEPS | {rule.field for rule in SIZE_RULES}
    return replace(rated, checks={name: c for name, c in rated.checks.items() if name in kept})


def solved_ring_with_second_part(ring: JointRing, part: str | None) -> JointRing:
    """Return a ring that names the part of its second one."""
    told = ring.electronics.second_ring
    if told is None or part is None:
        return ring
    told = told.model_copy(update={"ring_part": part})
    return ring.model_copy(
        update={"electronics": ring.electronics.model_copy(update={"second_ring": told})}
    )


def solved_second_ring(ring: JointRing, first: JointRing) -> JointRing:
    """Return a ring as a second one; of its joint after power loss it tells what the first one does."""
    place = {"second": True, "absolute_by": first.absolute_by, "turns_known": first.turns_known}
    return ring.model_copy(update=place)


def solved_second_places(rows: Catalogue) -> list[int]:
    """Return the place of every row's second ring in `solved_second_ratings` of the rows, -1 for none."""
    has = rows.partner_teeth() > 0
    return [int(place) for place in np.where(has, np.cumsum(has) - 1, -1)]


def solved_margins_of_both(
    study: Study, rows: Catalogue, checks: dict[str, Check]
) -> list[list[Margin]]:
    """Return the margins of every row, and behind them those of its second ring."""
    seconds, places = solved_second_ratings(study, rows), solved_second_places(rows)
    return [
        solved_margins(checks, row)
        + (solved_margins(seconds.checks, place) if seconds is not None and place >= 0 else [])
        for row, place in enumerate(places)
    ]
