"""What can be asked of a study, and the function that finds it in a worker process.

A further kind is an entry here, a route that fetches its result, and a member of `Find`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

from optimizer import Answer, load_study

Tell = Callable[[str, dict[str, Any]], None]
Options = dict[str, Any]
#: Status, whether it may answer an identical study, bytes of the result.
Found = tuple[str, bool, bytes]

#: What can be asked.
Find = Literal["answer"]


def perform(kind: str, document: bytes, options: Options, tell: Tell) -> Found:
    """Find what is asked of the study in a document."""
    return KINDS[kind](document, options, tell)


def _answer(document: bytes, _: Options, tell: Tell) -> Found:
    from optimizer import solve  # only a worker may know a solver

    answer = solve(load_study(document), _progress(tell))
    return answer.status, _reusable(answer), checked(answer)


def checked(result: Any) -> bytes:
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
            known = {"stage": stage, "best": best, "bound": bound, "unit": unit}
            tell(
                "progress",
                {name: value for name, value in known.items() if value not in (None, "")},
            )

    return told


KINDS: dict[str, Callable[[bytes, Options, Tell], Found]] = {"answer": _answer}
