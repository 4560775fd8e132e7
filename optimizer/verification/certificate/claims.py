"""What an answer claims, wish by wish: the least of each under what is held, and last of what was given up.

All follows from study, answer and units. A wish of which nothing is given up is claimed at the value of the
answer, and held there. One that is given up is claimed at its least alone, and held at what its give allows;
where the answer takes more than the least, a second claim says that no less will do with all others held. By
a rate, the sum of two wishes is claimed in place of the later one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ringset.reduction.reduce import reduce
from ringset.reduction.table import Table
from ringset.reduction.units import Units
from ringset.schema.answer import Answer, stage_unit
from ringset.schema.gives import Aim, WeighedSum, give_weighed_sum, study_plain_wishes
from ringset.schema.study import Study, Wish
from ringset.verification.certificate.constraints import (
    Line,
    RowsInQuestion,
    certificate_lines,
    certificate_rows,
    certificate_wish_line,
)
from ringset.verification.certificate.covers import certificate_covered_table
from ringset.verification.certificate.duality import certified_allowed_rows


@dataclass(frozen=True)
class Claim:
    """One wish, or a sum of two, under ceilings, with wishes held, in whole units of `sizes`.

    `stage` is the wish whose stage it belongs to. `bound` is what the answer says is proven, `confirmed_by`
    how. `alone` says that the answer itself may come to more, `again` that a wish given up is brought down.
    """

    wish: Aim
    value: int
    ceilings: Mapping[Wish, float]
    held: Mapping[Aim, int]
    sizes: Mapping[Wish, float]
    stage: Wish
    bound: int
    confirmed_by: str
    unit: str
    alone: bool = False
    again: bool = False

    @property
    def heads_max(self) -> int | None:
        """Most heads that an answer may have."""
        return self._most("heads")

    def _most(self, wish: Wish) -> int | None:
        limits = [self.ceilings.get(wish), self.held.get(wish)]
        return min((int(most) for most in limits if most is not None), default=None)

    @property
    def covers(self) -> bool:
        """Whether ring parts are limited, so that rings may be too many by what they serve."""
        return self._most("ring_parts") is not None

    @property
    def needed(self) -> frozenset[Wish]:
        """All wishes that count."""
        return study_plain_wishes({self.wish, *self.ceilings, *self.held})

    @property
    def held_by_name(self) -> dict[str, int]:
        """What is held, by name, in the order in which it was found."""
        return {str(aim): most for aim, most in self.held.items()}

    def aim_named(self, name: str) -> Aim | None:
        """Return the claim's own wish or sum, or one that is held; None for any other."""
        return next((aim for aim in (self.wish, *self.held) if str(aim) == name), None)

    def rest(self, table: Table) -> RowsInQuestion:
        """Return all rows of a table, with the wish and every limit."""
        return certificate_rows(table, *self.lines(table))

    def lines(self, table: Table) -> tuple[Line, list[Line]]:
        """Return the wish and every limit, for all rows of a table."""
        lines = certificate_lines(table, self.sizes, self.ceilings, self.held)
        return certificate_wish_line(table, self.sizes, self.wish), lines

    def allowed(self, table: Table) -> RowsInQuestion:
        """Return the rows of a table that some allowed answer might use."""
        return certified_allowed_rows(self.rest(table), self.heads_max)

    def table(self, table: Table, rows: str) -> Table:
        """Return all rows of a table, or those that the exact reduction leaves, or covers with it."""
        if rows == "covered":
            most = self._most("cutters"), self._most("ring_parts")
            return certificate_covered_table(table, self.needed, *most)
        return table if rows == "all" else reduce(table, self.needed)


def certificate_claims(study: Study, answer: Answer, units: Units) -> list[Claim]:
    """Return what the answer claims, in the order of its wishes and then of what is brought down again.

    Its stages are those of the study's wishes, and agree with its gives (`certificate_give_mismatches`).
    """
    sizes: dict[Wish, float] = {"material": units.material_kg, "cost": units.cost}
    sums, gives = _sums(study, units), study.gives()
    held: dict[Aim, int] = {}
    claims = []

    def claim(wish: Wish, aim: Aim, value: int, bound: int, confirmed: str, **more: bool) -> None:
        unit = stage_unit(wish, units.material_kg, units.cost)
        if isinstance(aim, WeighedSum) and aim.later_weight > 1:
            unit = f"1/{aim.later_weight} of {unit}"
        before = {other: most for other, most in held.items() if other != aim}
        claims.append(
            Claim(
                aim,
                value,
                study.wishes.ceilings(),
                before,
                sizes,
                wish,
                bound,
                confirmed,
                unit,
                **more,
            )
        )

    for stage in answer.proof.stages:
        wish, joined = stage.wish, sums.get(stage.wish)
        if joined is not None and stage.weighed is not None:
            claim(wish, joined, stage.weighed.value, stage.weighed.bound, stage.confirmed_by)
            held[joined] = stage.weighed.value
        elif wish in gives and stage.given is not None:
            least = stage.given.least
            claim(wish, wish, least, stage.bound, stage.confirmed_by, alone=True)
            allowed = gives[wish].allowed(least, units.size(wish))
            held |= {} if allowed is None else {wish: allowed}
        else:
            claim(wish, wish, stage.value, stage.bound, stage.confirmed_by)
            held[wish] = stage.value
    for stage in answer.proof.stages:
        if stage.given is None:
            continue
        if stage.value > stage.given.least:
            given = stage.given
            claim(stage.wish, stage.wish, stage.value, given.bound, given.confirmed_by, again=True)
        held[stage.wish] = stage.value
    return claims


def _sums(study: Study, units: Units) -> dict[Wish, WeighedSum]:
    """Return the sums that the study's rates ask, by their later wish."""
    found = {}
    for wish, give in study.gives().items():
        if give.of is not None:
            joined = give_weighed_sum(wish, give, units.size(wish), units.size(give.of))
            if joined is not None:
                found[give.of] = joined
    return found


def certificate_give_mismatches(study: Study, answer: Answer, units: Units) -> Iterator[str]:
    """Yield where the stages of an answer are not what the study's gives make of them."""
    sums, gives = _sums(study, units), study.gives()
    values = {stage.wish: stage.value for stage in answer.proof.stages}
    for stage in answer.proof.stages:
        give, given = gives.get(stage.wish), stage.given
        joined, weighed = sums.get(stage.wish), stage.weighed
        if (give is None) != (given is None) or (joined is None) != (weighed is None):
            yield f"{stage.wish}: what is given up is not what wishes.give says"
        if give is not None and given is not None:
            allowed = give.allowed(given.least, units.size(stage.wish))
            if given.allowed != allowed:
                yield f"{stage.wish}: given {given.allowed} to be allowed; allowed: {allowed}"
            elif allowed is not None and stage.value > allowed:
                yield f"{stage.wish}: given {stage.value}; allowed: {allowed}, by wishes.give"
            if stage.value < given.least:
                yield f"{stage.wish}: given {stage.value}, less than its least {given.least}"
        if joined is not None and weighed is not None:
            stated = (weighed.wish, weighed.weight, weighed.own_weight)
            if stated != (joined.wish, joined.weight, joined.later_weight):
                yield f"{stage.wish}: given other weights than wishes.give asks"
            left = weighed.bound - joined.weight * values.get(joined.wish, 0)
            if stage.bound != max(0, -(-left // joined.later_weight)):
                yield f"{stage.wish}: given a bound of {stage.bound}, not what the sum leaves"
