"""The functions that find what is asked of a study, each run in a worker process.

A further question is a function here, what is said of it in `contract/questions.py`, and a route that fetches
its result.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from typing import Any

from ringset import (
    Answer,
    Assumptions,
    Band,
    CertifiedAnswer,
    Front,
    Sheets,
    Study,
    progress_gap_percent,
)
from ringset.api.contract.questions import Options
from ringset.api.contract.submission import contract_read_submission
from ringset.api.store.records import ROW
from ringset.api.workers.worker import Found, Tell


def perform_task(kind: str, document: bytes, options: Options, tell: Tell) -> Found:
    """Find what is asked of the study in a document."""
    return TASKS[kind](document, options, tell)


def _answer(document: bytes, _: Options, tell: Tell) -> Found:
    answer = _solved(document, tell)[1]
    return answer.status, _reusable(answer), checked_result_bytes(answer)


def _solved(document: bytes, tell: Tell) -> tuple[Study, Answer]:
    """Return the study of a document and its answer; the study's time counts from here."""
    begun = time.monotonic()
    from ringset import solve  # here and below: only a worker may load a solver

    given = contract_read_submission(document)
    return given.study, solve(given.study, _progress(tell), begun=begun, previous=given.previous)


def _study(document: bytes) -> Study:
    """Return the study of a document, for what names no ring part of an answer."""
    return contract_read_submission(document).study


def checked_result_bytes(result: Any) -> bytes:
    """Return the bytes of a result that reads as what it is: a NaN would leave as null."""
    text: str = result.model_dump_json()
    type(result).model_validate_json(text)
    return text.encode()


def _reusable(answer: Answer) -> bool:
    """Say whether the same study would be answered the same way again."""
    return answer.proof.repeatable or answer.status == "proven"


def _progress(tell: Tell) -> Callable[[str, float | None, float | None, str], None]:
    def told(stage: str, best: float | None, bound: float | None, unit: str) -> None:
        if stage != "ties":  # says nothing to a person
            gap = progress_gap_percent(best, bound)
            known = {
                "stage": stage, "best": best, "bound": bound, "unit": unit, "gap_percent": gap,
            }  # fmt: skip
            tell(
                "progress",
                {name: value for name, value in known.items() if value not in (None, "")},
            )

    return told


def _certificate(document: bytes, _: Options, tell: Tell) -> Found:
    begun = time.monotonic()
    from ringset import solve_certified

    given = contract_read_submission(document)
    found: CertifiedAnswer = solve_certified(given.study, _progress(tell), begun, given.previous)
    return found.answer.status, _reusable(found.answer), checked_result_bytes(found)


def _steps(document: bytes, _: Options, tell: Tell) -> Found:
    begun = time.monotonic()
    from ringset import solve_steps

    found = solve_steps(_study(document), _progress(tell), begun)
    return found.status, found.complete, checked_result_bytes(found)


def _losses(document: bytes, _: Options, tell: Tell) -> Found:
    begun = time.monotonic()
    from ringset import solve_losses

    found = solve_losses(_study(document), _progress(tell), begun)
    return found.status, found.complete and found.repeatable, checked_result_bytes(found)


def _front(document: bytes, options: Options, tell: Tell) -> Found:
    from ringset import find_front

    begun, told = time.monotonic(), 0
    study = _study(document)

    def point(answer: Answer) -> None:
        nonlocal told
        told += 1
        tell("point", {"number": told, "status": answer.status, **_figures(answer)})

    asked = (options.get("over"), options.get("targets_arcsec"))
    front: Front = find_front(study, *asked, told=point, step=options.get("step"), begun=begun)
    final = front.complete and all(_reusable(point.answer) for point in front.points)
    return "complete" if front.complete else "open", final, checked_result_bytes(front)


def _figures(answer: Answer) -> dict[str, Any]:
    """Return what a point is plotted by."""
    return {
        "totals": None if answer.totals is None else answer.totals.model_dump(mode="json"),
        "target_arcsec": max((ring.target_arcsec for ring in answer.rings), default=None),
        "largest_error_arcsec": max((ring.error_arcsec for ring in answer.rings), default=None),
        "tool_points": {point.robot: point.error_um for point in answer.tool_points},
        "largest_repeatability_arcsec": max(
            (ring.repeatability_arcsec for ring in answer.rings), default=None
        ),
        "tool_point_repeatabilities": {p.robot: p.repeatability_um for p in answer.tool_points},
    }


def _blockers(document: bytes, options: Options, _: Tell) -> Found:
    from ringset import explain_study

    more = {} if "step_percent" not in options else {"step": options["step_percent"] / 100.0}
    found = explain_study(_study(document), options.get("fixed", ()), **more)
    return found.status, found.status != "undecided", checked_result_bytes(found)


def _assumptions(document: bytes, _: Options, tell: Tell) -> Found:
    from ringset import rank_assumptions

    study, answer = _solved(document, tell)
    tell("progress", {"stage": "assumptions"})
    found: Assumptions = rank_assumptions(study, answer)
    return answer.status, found.repeatable, checked_result_bytes(found)


def _band(document: bytes, _: Options, tell: Tell) -> Found:
    from ringset import find_band

    study, answer = _solved(document, tell)
    tell("progress", {"stage": "band"})
    found: Band = find_band(study, answer)
    every = (found.hopeful, found.stated, found.careful)
    return (
        answer.status,
        not found.causes_open and all(map(_reusable, every)),
        checked_result_bytes(found),
    )


def _row(document: bytes, options: Options, _: Tell) -> Found:
    """Find the line of one row of a sweep."""
    from ringset import sweep_line

    fingerprint, line = sweep_line(_study(document), options["changes"])
    status = line["status"]
    if status == "failed":  # a defect of ours: the row has failed, and may be tried again
        raise RuntimeError(" ".join(line["reasons"]))
    reusable = bool(line["repeatable"]) or status in ("proven", "invalid")
    told = {**line, "study_sha256": fingerprint}
    return status, reusable, json.dumps(told, allow_nan=False).encode()


def _sheets(document: bytes, options: Options, tell: Tell) -> Found:
    from ringset import make_sheets

    study, answer = _solved(document, tell)
    tell("progress", {"stage": "sheets"})
    made: Sheets = make_sheets(study, answer, options.get("only", ()))
    # what is left out today may be there once its extra is installed
    return answer.status, _reusable(answer) and not made.left_out, checked_result_bytes(made)


TASKS: dict[str, Callable[[bytes, Options, Tell], Found]] = {
    "answer": _answer,
    "certificate": _certificate,
    "steps": _steps,
    "losses": _losses,
    "front": _front,
    "blockers": _blockers,
    "assumptions": _assumptions,
    "band": _band,
    ROW: _row,
    "sheets": _sheets,
}
