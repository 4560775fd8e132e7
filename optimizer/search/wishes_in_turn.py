"""All wishes of a study in turn: some answer under all ceilings, wish after wish, then ties.

Each wish is minimised and then held at its least, so that no later wish spoils it. Where the study gives some
of a wish up (`schema/gives.py`), it is held at what is allowed instead; by a rate it is minimised alone first
and then once more together with the next wish, as a weighed sum, which later wishes hold. At the end every
wish given up is brought down again with all others held: no more is given up than the later wishes need.
What later wishes come to stays as it is, for each of them is at its least and held there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ringset.errors import Fault, StudyError
from ringset.reduction.table import FirstRows, Table
from ringset.reduction.units import Units
from ringset.schema.gives import Aim, Give, WeighedSum, give_weighed_sum
from ringset.schema.study import Search, Wish
from ringset.search.lexicographic import Solver
from ringset.search.model.constraints import Ceilings
from ringset.search.state.context import Progress
from ringset.search.state.result import Choice, GivenUp, StageResult, search_unproven_reason

#: Largest total of a weighed sum: far below 2^63, and a number that doubles tell apart from the next.
SUM_MAX = 2**52
NO_GIVES: Mapping[Wish, Give] = {}


def minimise_wishes(
    table: Table, units: Units, order: Sequence[Wish], ceilings: Ceilings, search: Search,
    progress: Progress | None = None, gives: Mapping[Wish, Give] = NO_GIVES,
) -> Choice:  # fmt: skip
    """Return the best rows of a table for the wishes in `order`, with what is proven.

    Raises BoundBroken if an answer on the way is better than what was proven, StudyError for a rate whose
    sums are too large to be counted.
    """
    return minimise_with(Solver(table, units, ceilings, search, progress), order, gives)


def minimise_with(
    solver: Solver, order: Sequence[Wish], gives: Mapping[Wish, Give] = NO_GIVES
) -> Choice:
    """Return what `minimise_wishes` does, by a solver that stays at hand for further questions."""
    for many in range(len(order), 0, -1):  # what fewer wishes need is part of what more of them do
        solver.reduced(frozenset(order[:many]) | frozenset(solver.ceilings))
    aims = _aims(solver, order, gives)
    start = solver.start()
    if start.rows is None:
        return Choice(start.status, reasons=start.reasons, clock_ended=solver.clock_ended)
    return _Turn(solver, order, aims, gives, start.rows).finished()


def minimise_onward(
    solver: Solver, order: Sequence[Wish], gives: Mapping[Wish, Give], known: Choice, first: int
) -> Choice:
    """Return the choice for other gives of the same order, which agree before the wish at place `first`.

    What `known` found of the wishes up to that place, alone, holds here too and is not searched again.
    """
    searched = known.searched[: first + 1]
    aims = _aims(solver, order, gives)
    return _Turn(solver, order, aims, gives, known.rows, list(searched)).finished()


def _aims(solver: Solver, order: Sequence[Wish], gives: Mapping[Wish, Give]) -> list[Aim]:
    """Return what is minimised for each wish: itself, or its sum with the wish before it."""
    aims: list[Aim] = list(order)
    for place, wish in enumerate(order[:-1]):
        size, later = solver.units.size(wish), solver.units.size(order[place + 1])
        joined = give_weighed_sum(wish, gives[wish], size, later) if wish in gives else None
        if joined is not None:
            _refuse_large(solver, joined)
            aims[place + 1] = joined
    return aims


def _refuse_large(solver: Solver, joined: WeighedSum) -> None:
    """Raise StudyError where a sum could pass what is counted exactly."""
    most = sum(many * solver.most(wish) for wish, many in joined.parts)
    if most > SUM_MAX:
        path = f"wishes.give.{joined.wish}"
        given = f"a rate that counts {joined.wish} {joined.weight} times"
        allowed = "a rate with fewer digits, or one that weighs both wishes more alike"
        raise StudyError([Fault(path, given, allowed)])


@dataclass
class _Turn:
    """The wishes of one order, some of them searched; `rows` keep all that is held."""

    solver: Solver
    order: Sequence[Wish]
    aims: list[Aim]
    gives: Mapping[Wish, Give]
    rows: FirstRows
    searched: list[StageResult] = field(default_factory=list)
    lowered: dict[Wish, StageResult] = field(default_factory=dict)

    def finished(self) -> Choice:
        """Search what is not searched, bring down what was given up, and break ties."""
        for aim in self.aims[len(self.searched) :]:
            wishes_left = len(self.aims) - len(self.searched)
            with self.solver.context.clock.leaving(1.0 - 1.0 / wishes_left):
                stage, self.rows = self.solver.minimise(aim, self.held(), self.rows)
            self.searched = [*self._overtaken(), stage]
        for wish in self.gives:
            self._bring_down(wish)
        self.rows = self.solver.break_ties(self.held(), self.rows)
        self.searched = self._overtaken()
        stages = [self._stage(place) for place in range(len(self.order))]
        reasons = [search_unproven_reason(stage) for stage in stages if not stage.proven]
        return Choice(
            "found" if reasons else "proven", self.rows, stages, reasons, self.solver.clock_ended,
            self.solver.rows_searched, self.searched,
        )  # fmt: skip

    def held(self) -> dict[Aim, int]:
        """Return what every wish searched, and every sum, may come to from now on."""
        found: dict[Aim, int] = {}
        for stage in self.searched:
            give = self.gives.get(stage.wish)
            if give is None or stage.sum is not None:
                found[stage.aim] = stage.value
                continue
            allowed = give.allowed(stage.value, self.solver.units.size(stage.wish))
            if allowed is not None:
                found[stage.wish] = allowed
        return {**found, **{wish: stage.value for wish, stage in self.lowered.items()}}

    def _overtaken(self) -> list[StageResult]:
        """Return the stages with what the rows reach where that is less; what is given up may be more."""
        given = [stage for stage in self.searched if stage.wish in self.gives]
        now = self.solver.overtaken(self.searched, self.rows)
        return [
            min(one, later, key=lambda stage: stage.value) if one in given else later
            for one, later in zip(self.searched, now, strict=True)
        ]

    def _bring_down(self, wish: Wish) -> None:
        """Give up no more of a wish than all others need as they are held."""
        alone = self.searched[list(self.order).index(wish)]
        now = self.solver.value(wish, self.rows)
        if now == alone.bound and alone.confirmed_by != "nothing":
            self.lowered[wish] = replace(alone, value=now)  # the least of all is the least of these
            return
        held = {aim: most for aim, most in self.held().items() if aim != wish}
        self.lowered[wish], self.rows = self.solver.minimise(wish, held, self.rows)

    def _stage(self, place: int) -> StageResult:
        """Return what is known of a wish at the end."""
        wish, alone = self.order[place], self.searched[place]
        value = self.solver.value(wish, self.rows)
        if alone.sum is not None:
            return replace(
                alone.of_later(self.solver.value(alone.sum.wish, self.rows)), value=value
            )
        if wish not in self.lowered:
            return alone
        lowered, size = self.lowered[wish], self.solver.units.size(wish)
        given = GivenUp(
            least=alone.value,
            allowed=self.gives[wish].allowed(alone.value, size),
            bound=lowered.bound,
            confirmed_by=lowered.confirmed_by,
        )
        return replace(alone, value=value, given=given, reason=alone.reason or lowered.reason)
