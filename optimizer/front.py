"""The front: every answer that no other answer beats on the wishes asked for, each proven.

One wish is an amount (material, or cost) and is minimised; the others are counted and act as ceilings.
With the ceilings of a cell the amount is minimised, then every count with the amount held, so that each
point is final when it is told. Completeness: with a ceiling a on an axis, the front of the other axes is
found first; none of its points needs more than some a' <= a, so the next ceiling is a' - 1, until the
least value that is possible at all. A point that nothing beats with value c on the axis is found under
the ceiling a >= c > next ceiling: there it is the best of its cell, and its counts are minimised. A cell
whose looser neighbour's point already keeps its ceilings has the same point.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from optimizer.answer import Answer, Wish
from optimizer.catalogue import catalogue
from optimizer.choose import Choice, Solver, shortfall
from optimizer.compare import Entry, compare, ring_key
from optimizer.frontier import Cell, Front, Point
from optimizer.line import answer_of, judged, possible
from optimizer.loading import Fault, StudyError, cross_faults
from optimizer.program import units_of
from optimizer.rate import Rated, rate
from optimizer.stage import Rows, StageResult
from optimizer.study import Study, Wishes
from optimizer.table import table_of

COUNTED: tuple[Wish, ...] = ("cutters", "ring_parts", "heads")


#: Called with every point as soon as it is final.
Told = Callable[[Answer], None]


def front(
    study: Study, over: list[Wish] | None = None, targets_arcsec: list[float] | None = None,
    told: Told | None = None, stop: Callable[[], bool] | None = None,
) -> Front:  # fmt: skip
    """Return the front of a study; raises StudyError for fields or axes that do not agree.

    `over` are two or more wishes (those of the study by default), `targets_arcsec` angle targets to
    sweep (the study's by default). `stop` is asked between searches; what is proven by then stays.
    """
    faults = list(cross_faults(study)) or list(
        _axis_faults(over or study.wishes.order, targets_arcsec)
    )
    if faults:
        raise StudyError(faults)
    axes = list(over or study.wishes.order)
    targets = sorted(set(targets_arcsec or [study.target.angle_target_arcsec]), reverse=True)
    ends = time.monotonic() + study.search.time_limit_s
    walks = []
    for target in targets:
        walk = _Walk(_at_target(study, target), axes, ends, told, stop or (lambda: False))
        walk.run()
        walks.append((target, walk))
    return _gathered(study, axes, walks)


def _axis_faults(over: list[Wish], targets: list[float] | None) -> list[Fault]:
    faults = []
    amounts = [wish for wish in over if wish not in COUNTED]
    if len(over) < 2 or len(set(over)) < len(over) or len(amounts) > 1:
        allowed = "two or more different wishes, one of material and cost at most"
        faults.append(Fault("over", ", ".join(over), allowed))
    for target in targets or []:
        if not 0.0 < target <= 648000.0:
            faults.append(Fault("targets", f"{target:g}", "more than 0, at most 648000 arcsec"))
    return faults


def _at_target(study: Study, target_arcsec: float) -> Study:
    target = study.target.model_copy(update={"angle_target_arcsec": target_arcsec})
    return study.model_copy(update={"target": target}).canonical()


@dataclass
class _Found:
    """The best of one cell: its ceilings, rows, and stages in the order they were proven."""

    ceilings: dict[Wish, int]
    rows: Rows
    stages: list[StageResult]
    answer: Answer
    study: Study

    def value(self, wish: Wish) -> int:
        return next(stage.value for stage in self.stages if stage.wish == wish)

    def keeps(self, ceilings: dict[Wish, int]) -> bool:
        """Say whether it is the best of a cell too: one tighter than its own whose ceilings it keeps."""
        tighter = all(ceilings.get(wish, most + 1) <= most for wish, most in self.ceilings.items())
        return tighter and all(self.value(wish) <= most for wish, most in ceilings.items())


@dataclass
class _Walk:
    """The front at one target."""

    study: Study
    axes: list[Wish]
    ends: float
    told: Told | None
    stop: Callable[[], bool]
    inside: Rated = field(init=False)
    found: list[_Found] = field(default_factory=list)
    cells: list[Cell] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)

    def run(self) -> None:
        """Find every point."""
        self.inside, self.reasons = possible(self.study, rate(self.study, catalogue(self.study)))
        if self.reasons:
            return
        table = table_of(self.study, self.inside)
        self.units = units_of(table)
        left = max(0.5, self.ends - time.monotonic())
        search = self.study.search.model_copy(update={"time_limit_s": left})
        self.solver = Solver(table, self.units, self.study.wishes.ceilings(), search)
        start = self.solver.start()
        if start.rows is None:
            self.reasons = start.reasons or ["the ceilings and shared limits cannot hold together"]
            return
        amounts = [wish for wish in self.axes if wish not in COUNTED]
        self.counts = [wish for wish in self.axes if wish in COUNTED]
        self.minimised = amounts[0] if amounts else self.counts.pop()
        self._explore({}, self.counts, start.rows)

    def _explore(self, ceilings: dict[Wish, int], axes: list[Wish], rows: Rows) -> list[_Found]:
        """Return the front over `axes` and the amount under `ceilings`; see the top of the file."""
        if not axes:
            best = self._best(ceilings, rows)
            return [best] if best is not None else []
        axis, rest = axes[0], axes[1:]
        found = self._explore(ceilings, rest, rows)
        if not found:
            return []
        least, lightest = self._least(axis, ceilings, found[-1].rows)
        most = max(one.value(axis) for one in found) - 1
        while most >= least:
            more = self._explore({**ceilings, axis: most}, rest, lightest)
            if not more:
                break
            found += more
            most = max(one.value(axis) for one in more) - 1
        return found

    def _ended(self, ceilings: dict[Wish, int]) -> bool:
        """Note a cell that stays open because the search was stopped or its time is over."""
        if not self.stop() and time.monotonic() < self.ends:
            return False
        self.open.append(f"{self._where(ceilings)}: not searched")
        return True

    def _where(self, ceilings: dict[Wish, int]) -> str:
        cell = ", ".join(
            f"at most {most} {wish.replace('_', ' ')}" for wish, most in ceilings.items()
        )
        return f"target {self.study.target.angle_target_arcsec:g} arcsec, {cell or 'no ceilings'}"

    def _least(self, axis: Wish, ceilings: dict[Wish, int], rows: Rows) -> tuple[int, Rows]:
        """Return the least value of an axis under ceilings, and rows that reach it."""
        if self._ended({**ceilings, axis: 0}):
            return 2**62, rows
        stage, rows = self.solver.minimise(axis, ceilings, rows)
        if not stage.proven:
            self.open.append(f"{self._where(ceilings)}: least {axis.replace('_', ' ')} not proven")
        return stage.value, rows

    def _best(self, ceilings: dict[Wish, int], rows: Rows) -> _Found | None:
        """Return the best of a cell: the amount, then every count with the amount held."""
        for known in self.found:
            if known.keeps(ceilings):
                return known
        if self._ended(ceilings):
            return None
        held: dict[Wish, int] = dict(ceilings)
        stages: list[StageResult] = []
        others = [w for w in self.study.wishes.order if w not in self.axes]
        for wish in [self.minimised, *self.counts, *others]:
            without = {name: most for name, most in held.items() if name != wish}
            stage, rows = self.solver.minimise(wish, without, rows)
            stages.append(stage)
            held[wish] = stage.value
        rows = self.solver.break_ties(held, rows)
        self._note(ceilings, stages)
        return self._told(ceilings, rows, stages)

    def _note(self, ceilings: dict[Wish, int], stages: list[StageResult]) -> None:
        first, proven = stages[0], all(stage.proven for stage in stages)
        self.cells.append(
            Cell(
                target_arcsec=self.study.target.angle_target_arcsec,
                ceilings=ceilings,
                amount=first.value,
                bound=first.bound,
                proven=proven,
            )
        )
        if not proven:
            self.open.append(f"{self._where(ceilings)}: best found, not proven")

    def _told(self, ceilings: dict[Wish, int], rows: Rows, stages: list[StageResult]) -> _Found:
        """Judge a cell's answer and tell it."""
        study = _cell_study(self.study, ceilings, [stage.wish for stage in stages])
        choice = Choice(
            "proven" if all(stage.proven for stage in stages) else "found", rows, stages,
            [shortfall(stage) for stage in stages if not stage.proven],
            self.solver.clock_ended, self.solver.rows_searched,
        )  # fmt: skip
        answer = judged(study, answer_of(study, self.inside, self.units, choice))
        one = _Found(dict(ceilings), rows, stages, answer, study)
        fresh = not any(known.answer.rings == answer.rings for known in self.found)
        if fresh and self.told is not None:
            self.told(answer)
        self.found.append(one)
        return one


def _cell_study(study: Study, ceilings: dict[Wish, int], order: list[Wish]) -> Study:
    """Return the study whose answer a cell's best is: its ceilings, and its order of wishes."""
    stated = {f"{wish}_max": most for wish, most in ceilings.items()}
    wishes = Wishes(**{**study.wishes.model_dump(), **stated, "order": order})
    return study.model_copy(update={"wishes": wishes})


def _key(answer: Answer) -> tuple[object, ...]:
    """Return what makes two answers the same rings, whatever their targets."""
    return tuple((r.robot, r.joint, *ring_key(r), r.heads, r.gap_mm) for r in answer.rings)


def _gathered(study: Study, axes: list[Wish], walks: list[tuple[float, _Walk]]) -> Front:
    """Return the fronts of all targets as one; rings on several of them are one point."""
    targets: dict[tuple[object, ...], list[float]] = {}
    first: dict[tuple[object, ...], _Found] = {}
    for target, walk in walks:
        ordered = sorted(walk.found, key=lambda one: [one.value(wish) for wish in axes])
        for one in ordered:
            key = _key(one.answer)
            first.setdefault(key, one)
            if target not in targets.setdefault(key, []):
                targets[key].append(target)
    points: list[Point] = []
    for key, one in first.items():
        step = _step(points[-1].answer, one.answer) if points else "the first"
        points.append(
            Point(
                targets_arcsec=targets[key],
                study=one.study.model_dump(mode="json"),
                answer=one.answer,
                step=step,
            )
        )
    open_cells = list(dict.fromkeys(text for _, walk in walks for text in walk.open))
    return Front(
        title=study.title,
        study_sha256=study.fingerprint(),
        over=axes,
        targets_arcsec=[target for target, _ in walks],
        points=points,
        cells=[cell for _, walk in walks for cell in walk.cells],
        complete=not open_cells,
        open=open_cells,
        impossible=[
            f"target {target:g} arcsec: {reason}"
            for target, walk in walks
            for reason in walk.reasons
        ],
    )


def _step(before: Answer, after: Answer) -> str:
    """Return what the step from one point to the next buys and costs, in words."""
    return compare([Entry("before", before), Entry("after", after)]).changes[0].summary
