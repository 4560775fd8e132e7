"""Faults of `wishes.give`: what may be given up of a wish depends on the wishes after it."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.errors import Fault, shown_in_error
from ringset.schema.gives import (
    FORMS,
    PERCENT_MAX,
    RATE_MAX,
    RATE_MIN,
    Give,
    give_rate_wish,
    read_give_field,
    study_gives,
)
from ringset.schema.ranking import Wish, Wishes

#: Most of each wish that a number may give up: the largest ceiling that a study may state.
_MOST: dict[Wish, float] = {
    "cutters": 1e5, "ring_parts": 1e5, "heads": 1e9, "material": 1e9, "cost": 1e12,
}  # fmt: skip
#: One unit of every wish, as a rate names it.
UNIT_WORD: dict[Wish, str] = {
    "cutters": "cutter", "ring_parts": "ring part", "heads": "head", "material": "kg",
    "cost": "money",
}  # fmt: skip


def give_faults(wishes: Wishes, currency: str) -> Iterator[Fault]:
    """Yield every give that its wish, its unit or its place in the order does not allow."""
    order = list(wishes.order)
    for wish, stated in wishes.give.items():
        path, given = f"wishes.give.{wish}", shown_in_error(stated)
        give = read_give_field(stated, currency)
        if wish not in order:
            yield Fault(path, given, f"a wish of wishes.order: {', '.join(order)}")
        elif wish == order[-1]:
            yield Fault(path, given, f"none for the last wish of wishes.order, {wish}")
        elif give is None:
            yield Fault(path, given, FORMS)
        elif give.rate is not None:
            yield from _rate_faults(path, given, wish, give, wishes, currency)
        else:
            yield from _size_faults(path, given, wish, give)


def _size_faults(path: str, given: str, wish: Wish, give: Give) -> Iterator[Fault]:
    if give.share is not None and not 0 < 100 * give.share <= PERCENT_MAX:
        yield Fault(path, given, f"more than 0 %, at most {PERCENT_MAX} %")
    if give.amount is None:
        return
    if wish not in ("material", "cost") and give.amount.denominator != 1:
        yield Fault(path, given, "a whole number of pieces")
    if give.amount > _MOST[wish]:
        yield Fault(path, given, f"at most {_MOST[wish]:g}")


def _rate_faults(
    path: str, given: str, wish: Wish, give: Give, wishes: Wishes, currency: str
) -> Iterator[Fault]:
    order = list(wishes.order)
    following = order[order.index(wish) + 1]
    form = f'"... {UNIT_WORD[following]} per {UNIT_WORD[wish]}"'
    if give_rate_wish(wishes.give[wish], currency) != wish:
        yield Fault(path, given, f"a rate per unit of its own wish, {form}")
    elif give.of != following:
        yield Fault(path, given, f"a rate in units of the next wish, {form}")
    elif give.rate is None or not RATE_MIN <= give.rate <= RATE_MAX:
        yield Fault(path, given, f"a rate from {float(RATE_MIN):g} to {RATE_MAX}")
    before = [earlier for earlier, one in study_gives(wishes, currency).items() if one.of == wish]
    if before:
        yield Fault(path, given, f"no rate, for wishes.give.{before[0]} is one and ends at {wish}")
    elif following in wishes.give:
        stated = study_gives(wishes, currency).get(following)
        if stated is not None and stated.rate is None:
            allowed = f"no rate while wishes.give.{following} gives up what it would save"
            yield Fault(path, given, allowed)
