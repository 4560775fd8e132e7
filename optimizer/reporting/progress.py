"""Progress of long work, told on standard error."""

from __future__ import annotations

import sys
import time

#: Progress appears once a command has taken this long, and not more often than this, in seconds.
PROGRESS_EVERY_S = 1.0


class SearchProgress:
    """Prints value, bound and gap of every wish of a long search on standard error.

    `begun` is a time of `time.monotonic`, by default now. A wish is told at most once a second while it is
    searched, and once more as it ends.
    """

    def __init__(self, begun: float | None = None) -> None:
        self.begun = self.last = time.monotonic() if begun is None else begun
        self.stage, self.untold = "", ""

    def __call__(self, stage: str, best: float | None, bound: float | None, unit: str) -> None:
        """Tell value and bound of a stage, if enough time has passed."""
        now = time.monotonic()
        if stage != self.stage and self.untold and now - self.begun >= PROGRESS_EVERY_S:
            self._print(now)
        self.stage, self.untold = (
            stage,
            "" if stage == "ties" else _progress_line(stage, best, bound, unit),
        )
        if self.untold and now - self.last >= PROGRESS_EVERY_S:
            self._print(now)

    def _print(self, now: float) -> None:
        print(f"{now - self.begun:7.1f} s  {self.untold}", file=sys.stderr)
        self.last, self.untold = now, ""


def _progress_line(stage: str, best: float | None, bound: float | None, unit: str) -> str:
    """Return value, bound and gap of a wish in words."""
    shown = [
        "nothing yet" if value is None else f"{value:g} {unit}".strip() for value in (best, bound)
    ]
    gap = progress_gap_percent(best, bound)
    more = "" if gap is None else f", gap {gap:.2g} %"
    name = "a first answer" if stage == "feasible" else stage.replace("_", " ")
    return f"{name}: best {shown[0]}, at least {shown[1]}{more}"


def progress_gap_percent(best: float | None, bound: float | None) -> float | None:
    """Return by how many percent of the best value the bound is below it; None where either is unknown."""
    if best is None or bound is None or best <= 0.0:
        return None
    return max(0.0, 100.0 * (best - bound) / best)


class TurnsProgress:
    """Prints how far a long simulation has come on standard error."""

    def __init__(self) -> None:
        self.last = time.monotonic()

    def __call__(self, done: int, whole: int) -> None:
        """Tell how far it has come, if enough time has passed."""
        if time.monotonic() - self.last >= PROGRESS_EVERY_S:
            self.last = time.monotonic()
            print(f"{100 * done // whole:4d} % of the turns", file=sys.stderr)


class RowsProgress:
    """Prints on standard error how many rows of a sweep are done, and about how long the rest takes."""

    def __init__(self) -> None:
        self.started = self.last = time.monotonic()

    def __call__(self, done: int, whole: int) -> None:
        """Tell how far it has come, if enough time has passed."""
        now = time.monotonic()
        if now - self.last >= PROGRESS_EVERY_S and done > 0:
            self.last = now
            left = (now - self.started) / done * (whole - done)
            print(f"{done} of {whole} studies, about {left:.0f} s left", file=sys.stderr)
