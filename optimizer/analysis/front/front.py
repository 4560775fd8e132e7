"""The front: every answer that no other answer beats on the wishes asked for, proven or agreed on.

One wish, an amount (cost or material) if there is one, is minimised; the others act as ceilings (`axes`).
With the ceilings of a cell that wish is minimised, then every other with it held, so that each point is
final when it is told. Completeness: with a ceiling a on an axis, the front of the other axes is found first;
none of its points needs more than some a' <= a, so the next ceiling is a' - 1, until the least value that is
possible at all. A point that nothing beats with value c on the axis is found under the last ceiling
a >= c: nothing on the front of the other axes beats it there, for that would need more than c on the axis,
and c would still be below the next ceiling. A cell whose looser neighbour's point already keeps its ceilings
has the same point. All this holds for an amount among the ceilings too, in its whole units.

Two amounts may have thousands of points that differ by grams or cents. So material, as a ceiling beside cost,
comes down by a step of some percent of what was reached, unless every point is asked for. What that leaves
out is never far: for every answer there is a point that comes to no more in any other wish, and to less
than one step more in material. The proof is the same, with "the next ceiling" one step below.

Angle targets are walked from the tightest: where a tighter target reached the same values on the axes, its
answer is the point here too, so it is told once and holds down to that target. Only proven answers are
points; what was found in a cell without proof is told under `open`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.front.axes import COUNTED, Axes, Step, front_axes, front_faults
from ringset.analysis.front.models import Cell, Front, Point
from ringset.errors import StudyError
from ringset.rating.rated import Weighed
from ringset.rating.stated_limits import rated_ceiling_field
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import FirstRows
from ringset.reduction.units import reduction_units
from ringset.schema.answer import Answer, Wish, stage_unit
from ringset.schema.cross_checks import cross_faults
from ringset.schema.gives import study_idle_gives
from ringset.schema.prices import study_idle_prices
from ringset.schema.study import Study, Wishes
from ringset.search.bounds.lagrangian import refuse_beaten_bound
from ringset.search.lexicographic import Solver
from ringset.search.state.result import Choice, StageResult, Start, search_unproven_reason
from ringset.solving.pipeline import (
    compose_chosen_answer,
    solved_or_refused,
    solving_end_time,
    solving_possible_rows,
)
from ringset.solving.proving import solved_answer_proven

__all__ = ["COUNTED", "Cell", "Front", "Point", "Told", "find_front"]

#: Nodes that a proof tree of a point may have: other cells wait meanwhile.
NODES_OF_A_POINT = 30
#: Called with every point as soon as it is final.
Told = Callable[[Answer], None]


def find_front(
    study: Study, over: list[Wish] | None = None, targets_arcsec: list[float] | None = None,
    told: Told | None = None, stop: Callable[[], bool] | None = None, step: Step | None = None,
    begun: float | None = None,
) -> Front:  # fmt: skip
    """Return the front of a study; raises StudyError for fields or axes that do not agree.

    `over` are two or more wishes (those of the study by default), `targets_arcsec` angle targets to
    sweep (the study's by default). `stop` is asked between searches; what is proven by then stays. `step`
    is for fronts over both material and cost: by how many percent material comes down at a time (above 0,
    at most STEP_MOST_PERCENT; STEP_PERCENT by default), or "exact" for every point. The study's time counts
    from `begun`, a time of `time.monotonic` (by default now).
    """
    faults = list(cross_faults(study)) or front_faults(study, over, targets_arcsec, step)
    if faults:
        raise StudyError(faults)
    axes = front_axes(study, over, step)
    targets = sorted(set(targets_arcsec or [study.target.angle_target_arcsec]))
    ends = solving_end_time(study, begun)
    walks: list[_Walk] = []
    for target in targets:
        known = walks[-1].found if walks else []
        walk = _Walk(_at_target(study, target), axes, ends, told, stop or (lambda: False), known)
        walk.run()
        walks.append(walk)
    return _gathered(study, axes, walks[::-1])


def _at_target(study: Study, target_arcsec: float) -> Study:
    target = study.target.model_copy(update={"angle_target_arcsec": target_arcsec})
    # a front shows every trade-off, so nothing has to be given up to see one
    wishes = study.wishes.model_copy(update={"give": {}})
    return study.model_copy(update={"target": target, "wishes": wishes}).canonical()


@dataclass
class _Found:
    """The best of one cell: its ceilings, rows, and stages in the order they were searched."""

    ceilings: dict[Wish, int]
    rows: FirstRows
    stages: list[StageResult] = field(default_factory=list)

    @property
    def held(self) -> dict[Wish, int]:
        """The ceilings, and what was minimised at its value."""
        return {**self.ceilings, **{stage.wish: stage.value for stage in self.stages}}

    def value(self, wish: Wish) -> int:
        return next(stage.value for stage in self.stages if stage.wish == wish)

    @property
    def proven(self) -> bool:
        return all(stage.proven for stage in self.stages)

    def keeps(self, ceilings: dict[Wish, int]) -> bool:
        """Say whether it is the best of a cell too: one tighter than its own whose ceilings it keeps."""
        tighter = all(ceilings.get(wish, most + 1) <= most for wish, most in self.ceilings.items())
        return tighter and all(self.value(wish) <= most for wish, most in ceilings.items())


@dataclass
class _Proven:
    """A point: its values on the axes in real units, its answer, and the study it answers."""

    values: tuple[float, ...]
    answer: Answer
    study: Study


@dataclass
class _Walk:
    """The front at one target; `known` are the points of the next tighter target."""

    study: Study
    axes: Axes
    ends: float
    told: Told | None
    stop: Callable[[], bool]
    known: list[_Proven]
    inside: Weighed = field(init=False)
    best: list[_Found] = field(default_factory=list)
    found: list[_Proven] = field(default_factory=list)
    cells: list[Cell] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    stopped: bool = False

    @property
    def target_arcsec(self) -> float:
        return self.study.target.angle_target_arcsec

    def run(self) -> None:
        """Find every point."""
        if self._ended(self._where({})):
            return
        self.inside, self.reasons = solving_possible_rows(self.study)
        if self.reasons:
            return
        table = reduction_table(self.study, self.inside)
        self.units, self.material_kg = reduction_units(table), table.material_kg
        left = max(0.5, self.ends - time.monotonic())
        search = self.study.search.model_copy(update={"time_limit_s": left})
        self.solver = Solver(
            table, self.units, self.study.wishes.ceilings(), search, self._end_if_asked
        )
        start = self.solver.start()
        if start.rows is None:
            self._none(start)
            return
        self._explore({}, self.axes.ceilings, start.rows)

    def _none(self, start: Start) -> None:
        """Note that there is no answer at this target, or that none was found in the time."""
        if start.status == "impossible":
            self.reasons = ["the ceilings and shared limits cannot hold together"]
        else:
            self.open += [f"{self._where({})}: {reason}" for reason in start.reasons]

    def _end_if_asked(self, *_: object) -> None:
        """End the search in the middle of a cell when a stop is asked for."""
        if self.stop():
            self.stopped = True
            self.solver.stop()

    def _explore(
        self, ceilings: dict[Wish, int], axes: list[Wish], rows: FirstRows
    ) -> list[_Found]:
        """Return the front over `axes` and the amount under `ceilings`; see the top of the file."""
        if not axes:
            best = self._best(ceilings, rows)
            return [best] if best is not None else []
        axis, rest = axes[0], axes[1:]
        found = self._explore(ceilings, rest, rows)
        if not found:
            return []
        most = self._next(axis, found)
        if self._ended(self._where({**ceilings, axis: most})):
            return found
        least, fewest = self.solver.minimise(axis, ceilings, found[-1].rows)
        self._note(ceilings, least)
        while most >= least.value:
            more = self._explore({**ceilings, axis: most}, rest, fewest)
            if not more:
                break
            found += more
            most = self._next(axis, more)
        return found

    def _next(self, axis: Wish, found: list[_Found]) -> int:
        """Return the ceiling on an axis after the points found under the last one."""
        return self.axes.next_ceiling(axis, max(one.value(axis) for one in found))

    def _ended(self, where: str) -> bool:
        """Note what stays open because the search was stopped or its time is over."""
        if not self.stop() and time.monotonic() < self.ends:
            return False
        self.open.append(f"{where}: not searched")
        return True

    def _where(self, ceilings: dict[Wish, int]) -> str:
        cell = ", ".join(f"at most {self._amount(*one)}" for one in ceilings.items())
        return f"target {self.target_arcsec:g} arcsec, {cell or 'no ceilings'}"

    def _amount(self, wish: Wish, value: int) -> str:
        """Return what a wish comes to, from whole units, as people read it."""
        if wish in COUNTED:
            return f"{value} {wish.replace('_', ' ')}"
        amount = f"{value * self.units.size(wish):.9g}"
        return f"{amount} kg of material" if wish == "material" else f"a cost of {amount}"

    def _best(self, ceilings: dict[Wish, int], rows: FirstRows) -> _Found | None:
        """Return the best of a cell: the amount, then every count with the amount held."""
        for known in self.best:
            if known.keeps(ceilings):
                return known
        if self._ended(self._where(ceilings)):
            return None
        one = _Found(dict(ceilings), rows)
        self._minimise(one, [self.axes.minimised, *self.axes.ceilings])
        fresh = one.proven and not self._told_already(one)
        if fresh:
            self._minimise(one, [w for w in self.study.wishes.order if w not in self.axes.over])
        self._beats_none(one)
        if self.stopped:
            self.open.append(f"{self._where(ceilings)}: not finished")
            return None
        for stage in one.stages[:1] if one.proven else one.stages:
            self._note(ceilings, stage)
        if fresh and one.proven:
            self._tell(one)
        self.best.append(one)
        return one

    def _beats_none(self, one: _Found) -> None:
        """Raise BoundBroken if a cell's best is better than is proven of a cell that it lies in."""
        value = one.value(self.axes.minimised)
        for other in self.best:
            if all(one.held.get(wish, most + 1) <= most for wish, most in other.ceilings.items()):
                refuse_beaten_bound(self.axes.minimised, value, other.stages[0].bound)

    def _minimise(self, one: _Found, wishes: list[Wish]) -> None:
        """Bring wishes to their least value in turn, under the cell's ceilings and all before them."""
        for wish in wishes:
            held = {name: most for name, most in one.held.items() if name != wish}
            stage, one.rows = self.solver.minimise(wish, held, one.rows)
            one.stages = [*self.solver.overtaken(one.stages, one.rows), stage]

    def _told_already(self, one: _Found) -> bool:
        """Say whether a point has these values on the axes; one of a tighter target is taken over."""
        values = self._values(one)
        if any(point.values == values for point in self.found):
            return True
        same = [point for point in self.known if point.values == values]
        self.found += same
        return bool(same)

    def _values(self, one: _Found) -> tuple[float, ...]:
        """Return the values on the axes in real units, the same at every target."""
        return tuple(one.value(wish) * self.units.size(wish) for wish in self.axes.over)

    def _note(self, ceilings: dict[Wish, int], stage: StageResult) -> None:
        """Keep what a search proved, or say that it did not."""
        self.cells.append(
            Cell(
                target_arcsec=self.target_arcsec,
                ceilings=ceilings,
                ceiling_unit="".join(self._unit(name) for name in ceilings if name not in COUNTED),
                wish=stage.wish,
                value=stage.value,
                unit=self._unit(stage.wish),
                bound=stage.bound,
                confirmed_by=stage.confirmed_by,
                settled=stage.proven,
            )
        )
        if not stage.proven:
            self.open.append(f"{self._where(ceilings)}: {search_unproven_reason(stage)}")

    def _unit(self, wish: Wish) -> str:
        return stage_unit(wish, self.units.material_kg, self.units.cost)

    def _stated(self, wish: Wish, most: int, rows: FirstRows) -> float:
        """Return the ceiling that the study of a point states: of material what its own rows weigh, in kg.

        A cell counts whole units, rounded up piece by piece. Stated in kg, its ceiling would let answers pass
        that it counts beyond: the point before this one, in a front of every point.
        """
        if wish != "material":
            return most * self.units.size(wish)
        return float(f"{self.material_kg[rows].sum():.12g}")

    def _tell(self, one: _Found) -> None:
        """Judge and tell a cell's answer, with what a certificate proves of it."""
        rows = self.solver.break_ties(one.held, one.rows)
        self.solver.overtaken(one.stages, rows)
        ceilings = {wish: self._stated(wish, most, rows) for wish, most in one.ceilings.items()}
        study = _cell_study(self.study, ceilings, [stage.wish for stage in one.stages])
        choice = Choice(
            "proven", rows, one.stages, [], self.solver.clock_ended, self.solver.rows_searched
        )
        found = compose_chosen_answer(study, self.inside, self.units, choice)
        found = solved_answer_proven(
            study, found, self.inside, self.solver, self.ends, NODES_OF_A_POINT
        ).answer
        answer = solved_or_refused(study, found)
        self.found.append(_Proven(self._values(one), answer, study))
        if self.told is not None:
            self.told(answer)


def _cell_study(study: Study, ceilings: dict[Wish, float], order: list[Wish]) -> Study:
    """Return the study whose answer a cell's best is: its ceilings, and its order of wishes."""
    stated = {
        rated_ceiling_field(wish).partition(".")[2]: int(most) if wish in COUNTED else most
        for wish, most in ceilings.items()
    }
    wishes = Wishes(**{**study.wishes.model_dump(), **stated, "order": order})
    return study.model_copy(update={"wishes": wishes})


def _gathered(study: Study, axes: Axes, walks: list[_Walk]) -> Front:
    """Return the fronts of all targets, loosest first, as one; an answer on several is one point."""
    targets: dict[int, list[float]] = {}
    ordered: dict[int, _Proven] = {}
    for walk in walks:
        for one in sorted(walk.found, key=lambda point: point.values):
            ordered.setdefault(id(one), one)
            targets.setdefault(id(one), []).append(walk.target_arcsec)
    points: list[Point] = []
    for key, one in ordered.items():
        step = _step(points[-1].answer, one.answer) if points else "the first"
        points.append(
            Point(
                targets_arcsec=targets[key],
                study=one.study.model_dump(mode="json"),
                answer=one.answer,
                step=step,
            )
        )
    left_open = list(dict.fromkeys(text for walk in walks for text in walk.open))
    reasons = [
        f"target {walk.target_arcsec:g} arcsec: {reason}"
        for walk in walks
        for reason in walk.reasons
    ]
    return Front(
        title=study.title,
        study_sha256=study.fingerprint(),
        over=list(axes.over),
        minimised=axes.minimised,
        step_percent=axes.step_percent,
        notes=study_idle_gives(study.wishes)
        + study_idle_prices(
            study.shop.prices, [*axes.over, *study.wishes.order], study.wishes.cost_max
        ),
        targets_arcsec=[walk.target_arcsec for walk in walks],
        points=points,
        cells=[cell for walk in walks for cell in walk.cells],
        complete=not left_open,
        open=left_open,
        impossible=reasons,
    )


def _step(before: Answer, after: Answer) -> str:
    """Return what the step from one point to the next buys and costs, in words."""
    return compare_answers([Entry("before", before), Entry("after", after)]).changes[0].summary
