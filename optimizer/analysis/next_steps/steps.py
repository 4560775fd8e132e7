"""One solved step of every wish but the last: what one piece, or one percent, more of it would buy.

Wishes before it stay held. This one may come to one piece more (a head more on the robot built least often;
one cutter or ring part) or to one percent more (material, cost) than it does, the wishes after it are
minimised again, and last it is brought down to what they need. That is the answer to the study with this much
in `wishes.give`, so judge and certificate know what to make of it.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from ringset.analysis.next_steps.models import SolvedStep, StepValue, WishStep, WishSteps
from ringset.analysis.next_steps.words import next_step_words
from ringset.catalogue.limits import catalogue_heads_allowed
from ringset.schema.answer import SETTLED, Answer
from ringset.schema.equipment import HEADS_MOST
from ringset.schema.gives import give_exact_unit
from ringset.schema.study import Study, Wish
from ringset.search.lexicographic import Solver
from ringset.search.state.result import Choice, StageResult
from ringset.search.wishes_in_turn import minimise_onward
from ringset.solving.pipeline import (
    Progress,
    compose_chosen_answer,
    solve_in_full,
    solved_or_refused,
)
from ringset.solving.proving import solved_answer_agreed
from ringset.solving.solved import Solved
from ringset.wording import PIECES

#: By how much material or money may grow in a step, in percent.
STEP_PERCENT = 1
#: Seconds that all steps together may take unless the caller says: these, or as long as the search took.
STEPS_LEAST_S = 30.0


def next_wish_steps(solved: Solved, seconds: float | None = None) -> WishSteps:
    """Return what one step more of every wish but the last would buy; see the top of the file.

    Steps start from an answer that is proven, or that the search engines agree on. They end at the study's
    time limit, or after `seconds` (by default as long as the search itself took, half a minute at least);
    what is left undone stands under `open`.
    """
    return _Steps(solved, seconds).gathered()


def solve_steps(
    study: Study, progress: Progress | None = None, begun: float | None = None
) -> WishSteps:
    """Return the steps of a study, which is solved first; `begun` and errors are those of `solve`."""
    return next_wish_steps(solve_in_full(study, progress, begun=begun))


class _Steps:
    """The steps of one solved study, solved one after another."""

    def __init__(self, solved: Solved, seconds: float | None) -> None:
        self.solved = solved
        self.seconds = max(STEPS_LEAST_S, solved.choosing_s) if seconds is None else seconds
        self.study = solved.study
        self.order = list(self.study.wishes.order)
        self.gives = self.study.gives()
        self.open: list[str] = []

    def gathered(self) -> WishSteps:
        """Return every step as data."""
        steps = [solved.step for solved in self.each()]
        answer = self.solved.answer
        return WishSteps(
            title=answer.title, study_sha256=answer.study_sha256, status=answer.status,
            order=self.order, steps=steps, open=self.open,
        )  # fmt: skip

    def each(self) -> Iterator[SolvedStep]:
        """Yield the step of every wish but the last, with its answer."""
        solver, choice = self.solved.solver, self.solved.choice
        if self.solved.answer.status == "found":
            self.open.append("no step was solved: the answer itself is not known to be best")
        if solver is None or choice is None or self.solved.answer.status not in SETTLED:
            return
        clock = solver.context.clock
        with clock.until(time.monotonic() + self.seconds):
            for place, wish in enumerate(self.order[:-1]):
                if self._untold(wish, place) or self._at_its_ceiling(wish, choice.stages[place]):
                    continue
                if clock.over():
                    self.open.append(f"{wish.replace('_', ' ')}: not solved in the time given")
                    continue
                yield self._solved(solver, choice, place)

    def _untold(self, wish: Wish, place: int) -> bool:
        """Note that a step has no sense: its wish is weighed already, or no joint may have a head more."""
        if self._weighed(place):
            self.open.append(f"{wish.replace('_', ' ')}: weighed by a rate of wishes.give already")
            return True
        full = wish == "heads" and self._all_heads_taken()
        if full:
            self.open.append("heads: every joint has the most that its head_counts allow")
        return full

    def _all_heads_taken(self) -> bool:
        joints = {(robot.name, j.name): j for robot in self.study.robots for j in robot.joints}
        return not any(
            catalogue_heads_allowed(joints[ring.robot, ring.joint], more)
            for ring in self.solved.answer.rings
            for more in range(ring.heads + 1, HEADS_MOST + 1)
        )

    def _weighed(self, place: int) -> bool:
        """Say whether a rate weighs the wish at a place already, with the next wish or the one before."""
        mine = self.gives.get(self.order[place])
        before = self.gives.get(self.order[place - 1]) if place else None
        return any(give is not None and give.rate is not None for give in (mine, before))

    def _at_its_ceiling(self, wish: Wish, stage: StageResult) -> bool:
        """Note that a piece more of a wish would pass its ceiling, if it would."""
        most = self.study.wishes.ceilings().get(wish)
        if wish not in PIECES or most is None or _reached(stage) + self._pieces(wish) <= most:
            return False
        name = wish.replace("_", " ")
        self.open.append(f"{name}: more than now is above wishes.{wish}_max {most:g}")
        return True

    def _solved(self, solver: Solver, choice: Choice, place: int) -> SolvedStep:
        """Return the step of the wish at a place, composed and judged."""
        wish = self.order[place]
        give = {**self.study.wishes.give, wish: self._stated(wish, choice.stages[place])}
        wishes = self.study.wishes.model_copy(update={"give": give})
        study = self.study.model_copy(update={"wishes": wishes}).canonical()
        found = minimise_onward(solver, self.order, study.gives(), choice, place)
        assert self.solved.units is not None  # where there is a solver
        answer = compose_chosen_answer(study, self.solved.inside, self.solved.units, found)
        answer = solved_answer_agreed(answer)
        solved_or_refused(study, answer)
        return SolvedStep(step=self._step(study, answer, place), answer=answer)

    def _pieces(self, wish: Wish) -> int:
        """Return the fewest pieces by which a counted wish can grow: a head on the robot built least."""
        return min(robot.count for robot in self.study.robots) if wish == "heads" else 1

    def _stated(self, wish: Wish, stage: StageResult) -> float | str:
        """Return the give that allows a wish one step more than the study does."""
        given, least = self.gives.get(wish), _least(stage)
        if wish not in PIECES and given is None:
            return f"{STEP_PERCENT} %"
        more = self._pieces(wish) if wish in PIECES else least * STEP_PERCENT // 100
        assert self.solved.units is not None  # where there is a solver
        return float(
            (_reached(stage) - least + more) * give_exact_unit(self.solved.units.size(wish))
        )

    def _step(self, study: Study, answer: Answer, place: int) -> WishStep:
        """Return a step as data and in words."""
        wish, before = self.order[place], self.solved.answer
        values = [
            StepValue(
                wish=one,
                before=_amount(before, one),
                after=_amount(answer, one),
                difference=_amount(answer, one) - _amount(before, one),
                proven=answer.proof.stages[where].proven,
                settled=answer.proof.stages[where].settled,
            )
            for where, one in enumerate(self.order)
            if where >= place
        ]
        currency = "" if study.shop.prices is None else study.shop.prices.currency
        allowed = self._pieces(wish) if wish in PIECES else STEP_PERCENT
        gains = _units(answer)[place + 1 :] < _units(before)[place + 1 :]
        return WishStep(
            wish=wish, allowed=allowed, text=next_step_words(wish, allowed, values, gains, currency),
            give=study.wishes.give, gains=gains, values=values,
            proven=all(value.proven for value in values),
            settled=all(value.settled for value in values),
        )  # fmt: skip


def _reached(stage: StageResult) -> int:
    """Return what a wish may come to now, in whole units."""
    return stage.value if stage.given is None else stage.given.allowed or stage.value


def _least(stage: StageResult) -> int:
    """Return what a wish comes to alone, in whole units."""
    return stage.value if stage.given is None else stage.given.least


def _units(answer: Answer) -> list[int]:
    """Return what an answer comes to, wish by wish in whole units."""
    return [stage.value for stage in answer.proof.stages]


def _amount(answer: Answer, wish: Wish) -> float:
    """Return what an answer with rings comes to in a wish, in its own unit."""
    assert answer.totals is not None  # it has rings
    return answer.totals.by_wish()[wish]
