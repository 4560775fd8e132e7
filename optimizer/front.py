"""The front: every answer that no other answer beats on the wishes asked for, each proven.

One wish is an amount (material, or cost) and is minimised; the others are counted and act as ceilings.
With the ceilings of a cell the amount is minimised, then every count with the amount held, so that each
point is final when it is told. Completeness: with a ceiling a on an axis, the front of the other axes is
found first; none of its points needs more than some a' <= a, so the next ceiling is a' - 1, until the
least value that is possible at all. A point that nothing beats with value c on the axis is found under
the ceiling a >= c > next ceiling: there it is the best of its cell, and its counts are minimised. A cell
whose looser neighbour's point already keeps its ceilings has the same point.

Angle targets are walked from the tightest: a point whose values a tighter target reached already is that
same answer, so it is told once and holds down to that target. Only proven answers are points; what was
found in a cell without proof is told under `open`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from pydantic import Field

from optimizer.answer import Answer, Piece, Wish, stage_unit
from optimizer.catalogue import catalogue
from optimizer.choose import Choice, Solver, Start, shortfall
from optimizer.compare import Entry, compare
from optimizer.line import answer_of, judged, possible
from optimizer.loading import Fault, StudyError, cross_faults
from optimizer.program import units_of
from optimizer.rate import Rated, rate
from optimizer.stage import Confirmation, Rows, StageResult
from optimizer.study import Study, Wishes
from optimizer.table import table_of

COUNTED: tuple[Wish, ...] = ("cutters", "ring_parts", "heads")


class Point(Piece):
    """One answer of the front."""

    targets_arcsec: list[float] = Field(
        description="Angle targets on whose front it stands, loosest first."
    )
    study: dict[str, object] = Field(
        description="The study it is the answer to: yours, with this cell's ceilings and order of wishes."
    )
    answer: Answer
    step: str = Field(description="What it changes against the point before it, in words.")


class Cell(Piece):
    """One search: the least of a wish under the ceilings of a cell.

    A cell of the grid is settled by the least of `Front.minimised` under its own or looser ceilings, if a
    point reaches it within the cell, or by the least of a count that passes the cell's ceiling.
    """

    target_arcsec: float
    ceilings: dict[Wish, int]
    wish: Wish = Field(description="The wish that was minimised under these ceilings.")
    value: int = Field(description="What was reached, in the wish's whole units.")
    unit: str = Field(description="Its unit; empty for counts.")
    bound: int = Field(description="No answer within the ceilings comes to less.")
    confirmed_by: Confirmation = Field(description="What confirms the bound.")
    proven: bool = Field(description="Value and bound are equal and confirmed.")


class Front(Piece):
    """Every answer that no other beats on the wishes `over`.

    Points stand by target, loosest first, then by the wishes in their order, least first.
    """

    title: str
    study_sha256: str
    over: list[Wish]
    minimised: Wish = Field(description="The wish of `over` that is minimised in every cell.")
    targets_arcsec: list[float] = Field(description="The angle targets, loosest first.")
    points: list[Point]
    cells: list[Cell]
    complete: bool = Field(description="No point is missing: every cell is proven.")
    open: list[str] = Field(description="What is not proven, if it is not complete.")
    impossible: list[str] = Field(description="Targets without any answer, with the reasons.")

    def to_json(self) -> str:
        """Return the front as JSON text, the same bytes for the same front."""
        return self.model_dump_json(indent=2) + "\n"


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
    targets = sorted(set(targets_arcsec or [study.target.angle_target_arcsec]))
    ends = time.monotonic() + study.search.time_limit_s
    walks: list[_Walk] = []
    for target in targets:
        known = walks[-1].found if walks else []
        walk = _Walk(_at_target(study, target), axes, ends, told, stop or (lambda: False), known)
        walk.run()
        walks.append(walk)
    return _gathered(study, axes, walks[::-1])


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


def _minimised(axes: list[Wish]) -> Wish:
    """Return the amount among the axes, or else the last count."""
    return next((wish for wish in axes if wish not in COUNTED), axes[-1])


@dataclass
class _Found:
    """The best of one cell: its ceilings, rows, and stages in the order they were searched."""

    ceilings: dict[Wish, int]
    rows: Rows
    stages: list[StageResult]

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
    """A point: the values of its stages in real units, its answer, and the study it answers."""

    values: tuple[float, ...]
    answer: Answer
    study: Study


@dataclass
class _Walk:
    """The front at one target; `known` are the points of the next tighter target."""

    study: Study
    axes: list[Wish]
    ends: float
    told: Told | None
    stop: Callable[[], bool]
    known: list[_Proven]
    inside: Rated = field(init=False)
    best: list[_Found] = field(default_factory=list)
    found: list[_Proven] = field(default_factory=list)
    cells: list[Cell] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)

    @property
    def target_arcsec(self) -> float:
        return self.study.target.angle_target_arcsec

    def run(self) -> None:
        """Find every point."""
        if self._ended(self._where({})):
            return
        self.inside, self.reasons = possible(self.study, rate(self.study, catalogue(self.study)))
        if self.reasons:
            return
        table = table_of(self.study, self.inside)
        self.units = units_of(table)
        left = max(0.5, self.ends - time.monotonic())
        search = self.study.search.model_copy(update={"time_limit_s": left})
        self.solver = Solver(
            table, self.units, self.study.wishes.ceilings(), search, self._end_if_asked
        )
        start = self.solver.start()
        if start.rows is None:
            self._none(start)
            return
        self.minimised = _minimised(self.axes)
        self.counts = [wish for wish in self.axes if wish != self.minimised]
        self._explore({}, self.counts, start.rows)

    def _none(self, start: Start) -> None:
        """Note that there is no answer at this target, or that none was found in the time."""
        if start.status == "impossible":
            self.reasons = ["the ceilings and shared limits cannot hold together"]
        else:
            self.open += [f"{self._where({})}: {reason}" for reason in start.reasons]

    def _end_if_asked(self, *_: object) -> None:
        """End the search in the middle of a cell when a stop is asked for."""
        if self.stop():
            self.solver.ends = time.monotonic()

    def _explore(self, ceilings: dict[Wish, int], axes: list[Wish], rows: Rows) -> list[_Found]:
        """Return the front over `axes` and the amount under `ceilings`; see the top of the file."""
        if not axes:
            best = self._best(ceilings, rows)
            return [best] if best is not None else []
        axis, rest = axes[0], axes[1:]
        found = self._explore(ceilings, rest, rows)
        if not found:
            return []
        most = max(one.value(axis) for one in found) - 1
        if self._ended(self._where({**ceilings, axis: most})):
            return found
        least, fewest = self.solver.minimise(axis, ceilings, found[-1].rows)
        self._note(ceilings, least)
        while most >= least.value:
            more = self._explore({**ceilings, axis: most}, rest, fewest)
            if not more:
                break
            found += more
            most = max(one.value(axis) for one in more) - 1
        return found

    def _ended(self, where: str) -> bool:
        """Note what stays open because the search was stopped or its time is over."""
        if not self.stop() and time.monotonic() < self.ends:
            return False
        self.open.append(f"{where}: not searched")
        return True

    def _where(self, ceilings: dict[Wish, int]) -> str:
        cell = ", ".join(
            f"at most {most} {wish.replace('_', ' ')}" for wish, most in ceilings.items()
        )
        return f"target {self.target_arcsec:g} arcsec, {cell or 'no ceilings'}"

    def _best(self, ceilings: dict[Wish, int], rows: Rows) -> _Found | None:
        """Return the best of a cell: the amount, then every count with the amount held."""
        for known in self.best:
            if known.keeps(ceilings):
                return known
        if self._ended(self._where(ceilings)):
            return None
        held: dict[Wish, int] = dict(ceilings)
        stages: list[StageResult] = []
        others = [w for w in self.study.wishes.order if w not in self.axes]
        for wish in [self.minimised, *self.counts, *others]:
            without = {name: most for name, most in held.items() if name != wish}
            stage, rows = self.solver.minimise(wish, without, rows)
            stages.append(stage)
            held[wish] = stage.value
        one = _Found(dict(ceilings), rows, stages)
        if one.proven:
            self._tell(one, held)
        for stage in stages if not one.proven else stages[:1]:
            self._note(ceilings, stage)
        self.best.append(one)
        return one

    def _note(self, ceilings: dict[Wish, int], stage: StageResult) -> None:
        """Keep what a search proved, or say that it did not."""
        self.cells.append(
            Cell(
                target_arcsec=self.target_arcsec,
                ceilings=ceilings,
                wish=stage.wish,
                value=stage.value,
                unit=stage_unit(stage.wish, self.units.material_kg, self.units.cost),
                bound=stage.bound,
                confirmed_by=stage.confirmed_by,
                proven=stage.proven,
            )
        )
        if not stage.proven:
            self.open.append(f"{self._where(ceilings)}: {shortfall(stage)}")

    def _tell(self, one: _Found, held: dict[Wish, int]) -> None:
        """Judge and tell a cell's answer, unless one with the same values is told already."""
        sizes = {"material": self.units.material_kg, "cost": self.units.cost}
        by_wish = {stage.wish: stage.value * sizes.get(stage.wish, 1.0) for stage in one.stages}
        first = [by_wish.pop(wish) for wish in self.axes]
        values = (*first, *by_wish.values())
        if any(point.values == values for point in self.found):
            return
        for point in self.known:
            if point.values == values:
                self.found.append(point)
                return
        rows = self.solver.break_ties(held, one.rows)
        study = _cell_study(self.study, one.ceilings, [stage.wish for stage in one.stages])
        choice = Choice(
            "proven", rows, one.stages, [], self.solver.clock_ended, self.solver.rows_searched
        )
        answer = judged(study, answer_of(study, self.inside, self.units, choice))
        self.found.append(_Proven(values, answer, study))
        if self.told is not None:
            self.told(answer)


def _cell_study(study: Study, ceilings: dict[Wish, int], order: list[Wish]) -> Study:
    """Return the study whose answer a cell's best is: its ceilings, and its order of wishes."""
    stated = {f"{wish}_max": most for wish, most in ceilings.items()}
    wishes = Wishes(**{**study.wishes.model_dump(), **stated, "order": order})
    return study.model_copy(update={"wishes": wishes})


def _gathered(study: Study, axes: list[Wish], walks: list[_Walk]) -> Front:
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
        over=axes,
        minimised=_minimised(axes),
        targets_arcsec=[walk.target_arcsec for walk in walks],
        points=points,
        cells=[cell for walk in walks for cell in walk.cells],
        complete=not left_open,
        open=left_open,
        impossible=reasons,
    )


def _step(before: Answer, after: Answer) -> str:
    """Return what the step from one point to the next buys and costs, in words."""
    return compare([Entry("before", before), Entry("after", after)]).changes[0].summary
