"""What goes wrong, worded for people: faults of a study, and what is refused."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One fault of a study: path of the field, what was given, what is allowed."""

    path: str
    given: str
    allowed: str

    def __str__(self) -> str:
        return f"{self.path}: given {self.given}; allowed: {self.allowed}"


class StudyError(ValueError):
    """A study that cannot be used; `faults` holds every fault found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


def shown_in_error(value: object) -> str:
    """Return a given value as JSON, cut after 60 letters."""
    text = json.dumps(value, ensure_ascii=True, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


#: Exit codes of the command.
ANSWERED, BROKEN, BAD_INPUT, IMPOSSIBLE, UNDECIDED = 0, 1, 2, 3, 4


class Refused(Exception):
    """Bad input, worded for people."""
