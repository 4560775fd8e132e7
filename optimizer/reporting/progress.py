"""Progress of long work, told on standard error."""

from __future__ import annotations

import sys
import time

#: Progress appears once a search has taken this long, and not more often than this, in seconds.
PROGRESS_EVERY_S = 1.0


class SearchProgress:
    """Prints bound and best so far of a long search on standard error."""

    def __init__(self) -> None:
        self.started = self.last = time.monotonic()

    def __call__(self, stage: str, best: float | None, bound: float | None, unit: str) -> None:
        """Tell best and bound of a stage, if enough time has passed."""
        now = time.monotonic()
        if now - self.last < PROGRESS_EVERY_S or stage == "ties":
            return
        self.last = now
        shown = [
            "nothing yet" if value is None else f"{value:g} {unit}".strip()
            for value in (best, bound)
        ]
        print(
            f"{now - self.started:7.1f} s  {stage}: best {shown[0]}, proven at least {shown[1]}",
            file=sys.stderr,
        )


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
