"""What can be asked of a study, and the function that finds it in a worker process."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, Literal

from optimizer import Answer, load_study

Tell = Callable[[str, dict[str, Any]], None]
Found = tuple[str, bool, bytes]


def perform(kind: str, document: bytes, tell: Tell) -> Found:
    """Find what is asked; returns its status, whether it may answer an identical study, its bytes."""
    return KINDS[kind](document, tell)


def _answer(document: bytes, tell: Tell) -> Found:
    def progress(stage: str, best: float | None, bound: float | None, unit: str) -> None:
        if stage == "ties":  # says nothing to a person
            return
        told = {"stage": stage, "best": best, "bound": bound, "unit": unit}
        tell("progress", {name: value for name, value in told.items() if value not in (None, "")})

    from optimizer import solve  # only a worker may know a solver

    answer = solve(load_study(document), progress)
    text = answer.model_dump_json()
    Answer.model_validate_json(text)  # a NaN would leave as null: it is a fault, not an answer
    # proven or repeatable: the same study would be answered the same way again
    reusable = answer.proof.repeatable or answer.status == "proven"
    return answer.status, reusable, text.encode()


#: What can be asked.
Find = Literal["answer"]

#: kind: function; a kind that the optimizer does not offer is not here.
KINDS: dict[str, Callable[[bytes, Tell], Found]] = {"answer": _answer}


def compact(value: Any) -> bytes:
    """Return JSON bytes, the same for the same value; NaN and infinity are refused."""
    return json.dumps(value, separators=(",", ":"), allow_nan=False).encode()
