"""The best answer of a study without each thing of its answer, and what that costs.

Rows are rated once. For every thing the rows that need it are left out, and the rest goes the ordinary way:
reduction, search, composing, certificate, judge. Its proof speaks of the rows left.
"""

from __future__ import annotations

import time
from typing import Literal

import numpy as np

from ringset.analysis.losses.lost import Lost, lost_things
from ringset.analysis.losses.lost_stock import lost_stock
from ringset.analysis.losses.models import Loss, Losses, LossValue
from ringset.analysis.losses.words import loss_words
from ringset.errors import Fault, StudyError
from ringset.rating.rated import Weighed
from ringset.rating.robot_sums import rated_ring_count
from ringset.schema.answer import Answer, Stage, Status
from ringset.schema.cross_checks import cross_faults
from ringset.schema.study import Study
from ringset.solving.pipeline import (
    JudgeRefused,
    Progress,
    solve_in_full,
    solved_from_rows,
    solved_or_refused,
    solving_end_time,
    solving_possible_rows,
    solving_sum_reasons,
)
from ringset.verification.judge.judge import judge

State = Literal["proven", "agreed", "open", "not ranked"]


def find_losses(study: Study, answer: Answer, begun: float | None = None) -> Losses:
    """Return what the loss of each cutter, head, ring part and stock size of an answer costs.

    Losses are solved one after another until `search.time_limit_s` of the study is over, counted from
    `begun`, a time of `time.monotonic` (now by default); what is left undone stands under `open`. Raises
    StudyError if the study's fields do not agree, and for an answer without rings, of another study, or in
    which the judge finds a fault.
    """
    ends = solving_end_time(study, begun)
    faults = list(cross_faults(study))
    faults = faults or _answer_faults(study, answer)
    if faults:
        raise StudyError(faults)
    study = study.canonical()
    inside, _ = solving_possible_rows(study)
    return _Losses(study, answer, inside, ends).gathered()


def solve_losses(
    study: Study, progress: Progress | None = None, begun: float | None = None
) -> Losses:
    """Return the losses of a study's answer, which is solved first; none where it has no rings.

    `begun` and errors are those of `solve`.
    """
    ends = solving_end_time(study, begun)
    solved = solve_in_full(study, progress, begun=begun)
    return _Losses(solved.study, solved.answer, solved.inside, ends).gathered()


def _answer_faults(study: Study, answer: Answer) -> list[Fault]:
    """Return why an answer cannot be one of which something is lost; only the first kind of fault."""
    wanted = study.fingerprint()
    if answer.study_sha256 != wanted:
        allowed = f"{wanted[:16]}..., the fingerprint of this study"
        return [Fault("answer.study_sha256", f"{answer.study_sha256[:16]}...", allowed)]
    if not answer.rings:
        allowed = "one with a ring for every joint, of which something can be lost"
        return [Fault("answer.rings", f"none, for its status is {answer.status}", allowed)]
    allowed = "an answer in which the judge finds no fault"
    return [Fault("answer", f"one with a fault ({text})", allowed) for text in judge(study, answer)]


class _Losses:
    """The losses of one answer, solved one after another."""

    def __init__(self, study: Study, answer: Answer, inside: Weighed, ends: float) -> None:
        self.study, self.answer, self.inside, self.ends = study, answer, inside, ends
        self.open: list[str] = []
        self.repeatable = _steady(answer)

    def gathered(self) -> Losses:
        """Return every loss as data."""
        losses = self._each() if self.answer.rings else []
        if self.answer.status == "undecided":
            self.open.append("no answer is known of which something could be lost")
        return Losses(
            title=self.answer.title, study_sha256=self.answer.study_sha256,
            status=self.answer.status, order=list(self.study.wishes.order), losses=losses,
            counted=None if self.answer.totals is None else self.answer.totals.counted,
            open=self.open, repeatable=self.repeatable,
        )  # fmt: skip

    def _each(self) -> list[Loss]:
        study, answer, inside = self.study, self.answer, self.inside
        things = [*lost_things(study, answer, inside), *lost_stock(study, answer, inside.catalogue)]
        waiting, found = sum(lost.searched for lost in things), list[Loss]()
        for lost in things:
            if lost.nothing:
                found.append(self._loss(lost, "impossible", [lost.nothing], None, None))
            elif lost.blanks:  # the answer stays
                found.append(self._loss(lost, answer.status, [], answer, None))
            elif time.monotonic() < self.ends:
                found.append(self._searched(lost, waiting))
                waiting -= 1
            else:
                self.open.append(f"{lost.name}, {lost.thing}: not solved in the time given")
                self.repeatable = False
        return found

    def _searched(self, lost: Lost, waiting: int) -> Loss:
        """Return a loss that is solved on the rows left, in its share of the time left for those waiting."""
        now = time.monotonic()
        inside = self.inside.take(lost.left())
        reasons = _joints_without_rows(inside, lost) or solving_sum_reasons(self.study, inside)
        solved = solved_from_rows(
            self.study, inside, reasons, now + (self.ends - now) / waiting, previous=self.answer
        ).answer
        self.repeatable &= _steady(solved)
        if solved.status in ("found", "undecided"):
            self.open.append(f"{lost.name}, {lost.thing}: {'; '.join(solved.reasons)}")
        if not solved.rings:
            return self._loss(lost, solved.status, solved.reasons, None, None)
        if lost.used(solved):
            raise JudgeRefused(f"the answer without {lost.name} has it all the same")
        return self._loss(lost, solved.status, solved.reasons, solved, self._of_study(solved, lost))

    def _of_study(self, solved: Answer, lost: Lost) -> Answer:
        """Return an answer that was searched among some rows as one of the study: it proves nothing of it."""
        proof = solved.proof.model_copy(
            update={
                "stages": [_unclaimed(stage) for stage in solved.proof.stages],
                "rings_possible": rated_ring_count(self.inside),
                "rows_possible": len(self.inside.catalogue),
            }
        )
        reason = f"searched only among answers without {lost.name} ({lost.thing})"
        update = {"status": "found", "reasons": [reason], "proof": proof}
        return solved_or_refused(self.study, solved.model_copy(update=update), self.answer)

    def _loss(
        self, lost: Lost, status: Status, reasons: list[str], solved: Answer | None, shown: Answer | None
    ) -> Loss:  # fmt: skip
        """Return a loss as data; `solved` is its answer with what is proven of it, `shown` the one shown."""
        prices = self.study.shop.prices
        values = [] if solved is None else self._values(solved)
        text = loss_words(
            status, values, reasons, lost.blanks, "" if prices is None else prices.currency
        )
        return Loss(
            kind=lost.kind, name=lost.name, thing=lost.thing, joints=lost.joints, text=text,
            status=status, stays=bool(lost.blanks), reasons=reasons, values=values,
            blanks=lost.blanks, answer=shown,
        )  # fmt: skip

    def _values(self, solved: Answer) -> list[LossValue]:
        before, after = (one.totals for one in (self.answer, solved))
        assert before is not None  # both have rings
        assert after is not None
        state = {stage.wish: _state(stage) for stage in solved.proof.stages}
        amounts = after.by_wish()
        order = [*self.study.wishes.order, *(wish for wish in amounts if wish not in state)]
        return [
            LossValue(
                wish=wish,
                before=before.by_wish()[wish],
                after=amounts[wish],
                difference=amounts[wish] - before.by_wish()[wish],
                state=state.get(wish, "not ranked"),
            )
            for wish in order
        ]


def _joints_without_rows(inside: Weighed, lost: Lost) -> list[str]:
    """Return which joints have no row left, and why."""
    rows = inside.catalogue
    counts = np.bincount(rows.joint, minlength=len(rows.joints))
    found = []
    for joint in np.flatnonzero(counts == 0).tolist():
        ref = rows.joints[joint]
        kept = ref.joint.keeps_part
        why = lost.none_left if kept is None else f"it keeps the part {kept}, which goes with it"
        found.append(f"{ref.label}: {why}")
    return found


def _steady(answer: Answer) -> bool:
    """Say whether the same study would be answered the same way again."""
    return answer.proof.repeatable or answer.status == "proven"


def _state(stage: Stage) -> State:
    return "proven" if stage.proven else "agreed" if stage.settled else "open"


def _unclaimed(stage: Stage) -> Stage:
    """Return a wish of an answer without any bound."""
    nothing: dict[str, object] = {"bound": 0, "confirmed_by": "nothing", "agreed": False}
    given, weighed = stage.given, stage.weighed
    if given is not None:
        update = {"bound": 0, "confirmed_by": "nothing"}
        nothing["given"] = given.model_copy(update=update)
    if weighed is not None:
        nothing["weighed"] = weighed.model_copy(update={"bound": 0})
    return stage.model_copy(update=nothing)
