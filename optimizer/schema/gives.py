"""What a give means: how much of a wish may be given up, in whole units; the one place where it is rounded.

A wish is counted in whole units: pieces, or material and money in the units of `reduction/units.py`. A give
is one of three:

- an amount, in the wish's own unit: after its least v is proven, the wish is held at floor(v + amount);
- a percent: it is held at floor(v + percent / 100 * v);
- a rate, so much of the next wish per unit of this one: the next wish and this one are minimised together,
  as a sum in which each counts a whole number of times (`give_rate_weights`).

Rounding down is the safe side: never more is given up than the study says.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ringset.schema.ranking import Wish, Wishes

#: Most of a wish that a percent may give up, most that a rate may ask, and the least.
PERCENT_MAX, RATE_MAX, RATE_MIN = 100, 10**6, Fraction(1, 10**6)
#: The larger of the two weights of a rate stays near this, so that sums stay whole numbers of 64 bits.
WEIGHT_MAX = 10**6

_NUMBER = r"([0-9]{1,12}(?:\.[0-9]{1,12})?)"
_PERCENT = re.compile(rf"{_NUMBER} ?%")
_RATE = re.compile(rf"{_NUMBER} (\S.*\S|\S) per (\S.*\S|\S)")
#: What people call one unit of a wish; money may be called by its currency as well.
_UNIT_WORDS: dict[str, Wish] = {
    "cutter": "cutters", "cutters": "cutters", "ring part": "ring_parts", "ring parts": "ring_parts",
    "head": "heads", "heads": "heads", "kg": "material", "money": "cost",
}  # fmt: skip
#: How a wish, or a weighed sum of two, is written where it is one text.
AIM_PATTERN = (
    r"^([0-9]{1,18} [a-z_]{4,10} \+ [0-9]{1,18} )?(cutters|ring_parts|heads|material|cost)$"
)
FORMS = 'a number, a percent such as "5 %", or a rate with its units such as "0.15 kg per head"'


@dataclass(frozen=True)
class Give:
    """How much of a wish may be given up: one of `amount`, `share` and `rate`; exact numbers.

    `amount` is in the wish's own unit (pieces, kg, money), `share` a share of its least, and `rate` how much
    of the wish `of` one unit of this one must save.
    """

    amount: Fraction | None = None
    share: Fraction | None = None
    rate: Fraction | None = None
    of: Wish | None = None

    def allowed(self, least: int, unit: float) -> int | None:
        """Return what a wish may come to, in its whole units, if its least is `least`; None by a rate."""
        if self.amount is not None:
            return least + math.floor(self.amount / give_exact_unit(unit))
        return None if self.share is None else least + math.floor(self.share * least)


@dataclass(frozen=True)
class WeighedSum:
    """Two wishes minimised as one: `weight` times `wish` and `later_weight` times `later`, whole units."""

    wish: Wish
    weight: int
    later: Wish
    later_weight: int

    def __str__(self) -> str:
        return f"{self.weight} {self.wish} + {self.later_weight} {self.later}"

    @property
    def parts(self) -> tuple[tuple[Wish, int], tuple[Wish, int]]:
        """Both wishes with their weights."""
        return (self.wish, self.weight), (self.later, self.later_weight)


#: What is minimised or held: a wish, or two of them as a sum.
Aim = Wish | WeighedSum


def study_plain_wishes(aims: Iterable[Aim]) -> frozenset[Wish]:
    """Return every wish that counts where these are minimised or held."""
    found: set[Wish] = set()
    for aim in aims:
        found |= {part for part, _ in aim.parts} if isinstance(aim, WeighedSum) else {aim}
    return frozenset(found)


def read_give_field(stated: float | str, currency: str = "") -> Give | None:
    """Return what a stated give means; None for a text that is neither percent nor rate.

    The units of a rate are those of `_UNIT_WORDS`, or the currency for money. Of a rate whose second unit is
    unknown the rest is not read either.
    """
    if not isinstance(stated, str):
        return Give(amount=Fraction(str(stated)))
    text = " ".join(stated.split())
    if found := _PERCENT.fullmatch(text):
        return Give(share=Fraction(found[1]) / 100)
    found = _RATE.fullmatch(text)
    of = None if found is None else give_unit_wish(found[2], currency)
    if found is None or of is None or give_unit_wish(found[3], currency) is None:
        return None
    return Give(rate=Fraction(found[1]), of=of)


def give_rate_wish(stated: float | str, currency: str = "") -> Wish | None:
    """Return the wish whose unit stands behind `per` in a rate; None where there is none."""
    found = _RATE.fullmatch(" ".join(stated.split())) if isinstance(stated, str) else None
    return None if found is None else give_unit_wish(found[3], currency)


def give_unit_wish(word: str, currency: str = "") -> Wish | None:
    """Return the wish that is counted in a unit; None for an unknown one."""
    return "cost" if currency and word == currency else _UNIT_WORDS.get(word)


def study_gives(wishes: Wishes, currency: str = "") -> dict[Wish, Give]:
    """Return the gives of checked wishes, in the order of the wishes."""
    found = {
        wish: read_give_field(wishes.give[wish], currency)
        for wish in wishes.order
        if wish in wishes.give
    }
    return {wish: give for wish, give in found.items() if give is not None}


def give_weighed_sum(wish: Wish, give: Give, unit: float, later_unit: float) -> WeighedSum | None:
    """Return what is minimised where `wish` is given up by a rate; units are those of both wishes."""
    if give.rate is None or give.of is None:
        return None
    weight, later_weight = give_rate_weights(give.rate, unit, later_unit)
    return WeighedSum(wish, weight, give.of, later_weight)


def give_rate_weights(rate: Fraction, unit: float, later_unit: float) -> tuple[int, int]:
    """Return how often a whole unit of a wish counts, and one of the next, so that `rate` holds.

    The ratio of the two is the rate in whole units, or the nearest to it whose larger number is about
    WEIGHT_MAX or has no fellow but 1: at most a millionth off, and exact for rates of few digits.

    >>> give_rate_weights(Fraction("0.15"), 1.0, 1e-6)
    (150000, 1)
    """
    exact = rate * give_exact_unit(unit) / give_exact_unit(later_unit)
    larger = max(exact, 1 / exact)
    near = larger.limit_denominator(max(1, WEIGHT_MAX // math.ceil(larger)))
    many, few = near.numerator, near.denominator
    return (many, few) if exact >= 1 else (few, many)


def give_exact_unit(unit: float) -> Fraction:
    """Return a unit, a power of ten or 1, as an exact number."""
    return Fraction(str(unit))


def study_idle_gives(wishes: Wishes) -> list[str]:
    """Return what to say of gives where all trade-offs are shown, and so nothing is given up."""
    if not wishes.give:
        return []
    return ["wishes.give counts nothing in a front, which shows every trade-off"]
