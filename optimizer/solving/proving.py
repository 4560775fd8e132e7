"""Whether an answer is proven: the search has ended, and our own check of a certificate has the last word.

What the search settles is no more than agreed on by its engines. A certificate is made of what it knows,
and checked by `verification/certificate` on the rows alone, as `ringset judge --certificate` checks the file:
only then does an answer state that it is proven. All of this is within the time of the study.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import NamedTuple

from ringset.rating.rated import Weighed
from ringset.schema.answer import SETTLED, Answer, Stage, Status
from ringset.schema.study import Study
from ringset.search.lexicographic import Solver
from ringset.solving.certify import solved_rows_certificate
from ringset.verification.certificate.document import BY_SEARCH, SEARCHED, Certificate
from ringset.verification.certificate.verify import (
    Verdict,
    Verification,
    verify_certificate_on_rows,
)

#: Share of the time left in which a certificate may be found; its check takes less than finding it.
FINDING_SHARE = 0.7
#: Nodes that a tree may have: those of the scenarios have up to 167, and some would not end in hours. A count
#: and no clock, so that a study has the same status wherever it is solved in time.
NODES = 200
#: Why no certificate of a wish was verified, where none was tried.
NO_TIME = "the time ended before a certificate was found"
NOT_ASKED = "no certificate was asked for"


class Proving(NamedTuple):
    """An answer with what is proven of it, and the certificate, if one was made."""

    answer: Answer
    certificate: Certificate | None


def solved_answer_proven(
    study: Study, answer: Answer, inside: Weighed, solver: Solver, ends: float, nodes: int = NODES
) -> Proving:
    """Return an answer of `solved_answer_agreed` with what a certificate proves of it until `ends`.

    `study` is canonical, `inside` are its rows inside all limits, `ends` is a time of `time.monotonic`, and
    no tree has more than so many nodes.
    """
    if not any(stage.settled for stage in answer.proof.stages):
        return Proving(answer, None)
    left = ends - time.monotonic()
    if left <= 0.0:
        return Proving(
            _told(answer, dict.fromkeys(_wishes(answer), NO_TIME), clock_ended=True), None
        )
    certificate = solved_rows_certificate(
        study, answer, inside, solver.table, solver, time.monotonic() + FINDING_SHARE * left, nodes
    )
    found = verify_certificate_on_rows(study, answer, certificate, inside, solver.table)
    clock_ended = any(stage.note == SEARCHED["time"] for stage in certificate.stages)
    return Proving(_told(answer, dict(_unverified(answer, found)), clock_ended), certificate)


def solved_answer_agreed(answer: Answer, why: str = NOT_ASKED) -> Answer:
    """Return an answer of which nothing is proven, and why: whatever is settled, the engines agree on."""
    return _told(answer, dict.fromkeys(_wishes(answer), why), clock_ended=False)


def _wishes(answer: Answer) -> list[str]:
    return [stage.wish for stage in answer.proof.stages]


def _unverified(answer: Answer, found: Verification) -> Iterator[tuple[str, str]]:
    """Yield the wishes of which not all that the answer claims was verified, and why."""
    for wish in _wishes(answer):
        mine = [verdict for verdict in found.stages if verdict.wish == wish]
        short = next((verdict for verdict in mine if verdict.state != "verified"), None)
        if found.faults or short is not None:
            yield wish, _why(found, short)


def _why(found: Verification, verdict: Verdict | None) -> str:
    """Return in words why a certificate does not prove a wish."""
    if verdict is None or verdict.state == "refused":
        text = "; ".join(found.faults) if verdict is None else verdict.text
        return f"the check refused its certificate ({text})"
    if verdict.text.startswith(BY_SEARCH):
        more = verdict.text.removeprefix(BY_SEARCH).removeprefix(", for ")
        return more or "no certificate was found"
    return verdict.text


def _told(answer: Answer, unverified: dict[str, str], clock_ended: bool) -> Answer:
    """Return the answer with status, reasons and wishes as far as each is verified."""
    stages = [
        stage.model_copy(update={"agreed": stage.settled and stage.wish in unverified})
        for stage in answer.proof.stages
    ]
    status: Status = answer.status
    if status in SETTLED:
        status = "agreed" if any(stage.agreed for stage in stages) else "proven"
    agreed = [_agreed_reason(stage, unverified[stage.wish]) for stage in stages if stage.agreed]
    repeatable = answer.proof.repeatable and not (clock_ended and agreed)
    proof = answer.proof.model_copy(update={"stages": stages, "repeatable": repeatable})
    return answer.model_copy(
        update={"status": status, "proof": proof, "reasons": [*answer.reasons, *agreed]}
    )


def _agreed_reason(stage: Stage, why: str) -> str:
    """Say in a sentence why a wish is agreed on and not proven."""
    name = stage.wish.replace("_", " ")
    return f"{name}: the search engines agree that nothing less is possible, but it is not proven: {why}"
