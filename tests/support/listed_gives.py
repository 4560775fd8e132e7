"""The best answer where wishes may be given up, found by listing every combination; and gives to draw."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from fractions import Fraction

import numpy as np

from ringset.schema.study import Study, Wish
from tests.support.studies import Json

Stated = Mapping[str, float | str]
#: What the tests call one unit of a wish in a rate.
WORDS = {
    "cutters": ("cutter", "cutters"), "ring_parts": ("ring part", "ring parts"),
    "heads": ("head", "heads"), "material": ("kg", "kg"), "cost": ("money", "crowns"),
}  # fmt: skip
#: Rates by wish and next wish lie within a factor of ten of what most small studies trade at.
_KG, _MONEY = ("0.004", "0.02", "0.15", "1.25"), ("3", "25", "140.5")


def drawn_give(rng: random.Random, order: list[str], kinds: tuple[str, ...]) -> Json:
    """Return a give of one of `kinds` (amount, percent, rate) for one or two wishes but the last."""
    give: Json = {}
    for wish in rng.sample(order[:-1], min(len(order) - 1, rng.choice((1, 2, 2, 3)))):
        kind, following = rng.choice(kinds), order[order.index(wish) + 1]
        rated = [one for one in give if " per " in str(give[one])]
        near = [one for one in give if abs(order.index(one) - order.index(wish)) == 1]
        if near and (kind == "rate" or rated):
            continue  # of two neighbours neither may be rated
        if kind == "rate":
            give[wish] = f"{_rate(rng, wish, following)} {WORDS[following][0]} per {WORDS[wish][0]}"
        elif kind == "percent":
            give[wish] = f"{rng.choice(('5', '12.5', '60', '100'))} %"
        elif wish == "material":
            give[wish] = rng.choice((0.1, 1.5))
        else:
            give[wish] = rng.choice((5, 200.5)) if wish == "cost" else rng.choice((1, 2, 3, 20))
    return give


def _rate(rng: random.Random, wish: str, following: str) -> str:
    if wish in ("material", "cost"):
        return rng.choice(("0.05", "0.5", "2", "8"))
    if following in ("material", "cost"):
        return rng.choice(_KG if following == "material" else _MONEY)
    return rng.choice(("1", "0.5", "2", "3"))


def listed_best_giving(
    study: Study, values: Mapping[str, np.ndarray], allowed: np.ndarray, sizes: Mapping[str, float]
) -> tuple[dict[str, int], dict[str, int]] | None:
    """Return what the best answer comes to and the least of each wish alone, or None for no answer.

    `values` are those of every combination in whole units of `sizes`, `allowed` says which may be taken.
    """
    if not allowed.any():
        return None
    left, least = allowed.copy(), dict[str, int]()
    give, order = study.wishes.give, list(study.wishes.order)
    for place, wish in enumerate(order):
        before: Wish | None = order[place - 1] if place else None
        rate = give.get(before) if before is not None else None
        if before is not None and isinstance(rate, str) and " per " in rate:
            # a unit of the wish before weighs so many units of this one, both made whole
            asked = Fraction(rate.split()[0]) * _exact(sizes, before) / _exact(sizes, wish)
            total = asked.numerator * values[before] + asked.denominator * values[wish]
            left &= total == total[left].min()
            continue
        least[wish] = int(values[wish][left].min())
        stated = give.get(wish)
        if stated is None:
            left &= values[wish] == least[wish]
        elif not isinstance(stated, str):
            most = least[wish] + math.floor(Fraction(str(stated)) / _exact(sizes, wish))
            left &= values[wish] <= most
        elif stated.endswith("%"):
            more = math.floor(Fraction(stated.rstrip("% ")) * least[wish] / 100)
            left &= values[wish] <= least[wish] + more
    for wish in order:
        if wish in give:
            left &= values[wish] == values[wish][left].min()
    return {wish: int(values[wish][left].min()) for wish in order}, least


def _exact(sizes: Mapping[str, float], wish: str) -> Fraction:
    return Fraction(str(sizes.get(wish, 1.0)))
