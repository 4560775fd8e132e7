"""Unit propagation over linear inequalities; part of the small checker (`cutting_planes`)."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field

from tests.support.pseudo_boolean import Inequality, Literal


@dataclass(eq=False)
class Watched:
    """A constraint in use: its literals, the largest number first, and how much they may still lose.

    `open` are the terms without those that `Propagation.settle` found decided for good; it `waits` while it
    is in the queue of constraints that may say more.
    """

    terms: list[tuple[int, Literal]]
    slack: int
    used: bool = True
    waits: bool = False
    open: list[tuple[int, Literal]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.open = self.terms

    @property
    def largest(self) -> int:
        """The largest number of it that is open, 0 for none."""
        return self.open[0][0] if self.open else 0


@dataclass
class Propagation:
    """Unit propagation over all constraints in use, with the way back to an earlier state."""

    values: dict[str, int] = field(default_factory=dict)
    trail: list[tuple[Literal, Watched | None]] = field(default_factory=list)
    of_literal: dict[Literal, list[tuple[Watched, int]]] = field(default_factory=dict)
    conflict: bool = False
    settled: int = 0

    def watch(self, constraint: Inequality) -> Watched:
        """Put a constraint to use, and all that follows at once from it."""
        terms = sorted(
            ((abs(a), (x, int(a > 0))) for x, a in constraint.numbers.items()), reverse=True
        )
        left = sum(a for a, (x, value) in terms if self.values.get(x, value) == value)
        watched = Watched(terms, left - constraint.degree)
        for a, literal in terms:
            self.of_literal.setdefault(literal, []).append((watched, a))
        self._spread([watched])
        return watched

    def assume(self, literal: Literal, reason: Watched | None = None) -> list[Watched]:
        """Set a literal true; returns the constraints that lose by it and may now say more."""
        name, value = literal
        self.values[name] = value
        self.trail.append((literal, reason))
        touched = []
        for watched, a in self.of_literal.get((name, 1 - value), ()):
            watched.slack -= a
            if watched.used and not watched.waits and watched.slack < watched.largest:
                watched.waits = True
                touched.append(watched)
        return touched

    def _spread(self, first: list[Watched]) -> None:
        """Set every literal without which some constraint would fail, until none is left or one fails."""
        touched = deque(first)
        while touched:
            watched = touched.popleft()
            watched.waits = False
            self.conflict |= watched.slack < 0
            if self.conflict:  # those that still wait are taken from the queue
                continue
            for a, (name, value) in watched.open:
                if a <= watched.slack:
                    break
                if name not in self.values:
                    touched += self.assume((name, value), watched)

    def refutes(self, constraint: Inequality) -> bool:
        """Say whether propagation finds a conflict where a constraint is assumed; leaves all as it was."""
        if self.conflict:
            return True
        mark = len(self.trail)
        watched = self.watch(constraint)
        found, self.conflict = self.conflict, False
        for literal, _ in reversed(self.trail[mark:]):
            name, value = literal
            del self.values[name]
            for other, a in self.of_literal.get((name, 1 - value), ()):
                other.slack += a
        del self.trail[mark:]
        for _, literal in watched.terms:
            self.of_literal[literal].pop()  # the last one that was put there
        return found

    def settle(self, in_use: Iterable[Watched]) -> None:
        """Leave out of the open terms what is decided without any assumption, where that is much."""
        if len(self.trail) < 1.1 * self.settled + 100:
            return
        self.settled = len(self.trail)
        for watched in in_use:
            watched.open = [term for term in watched.open if term[1][0] not in self.values]

    def forget(self, gone: Iterable[Watched], kept: Iterable[Watched]) -> None:
        """Take constraints out of use, with all that only they had said; `kept` are the others."""
        for watched in gone:
            watched.used = False
        if self.conflict or any(reason and not reason.used for _, reason in self.trail):
            self._begin_anew(kept)

    def _begin_anew(self, kept: Iterable[Watched]) -> None:
        in_use = list(kept)
        for (name, value), _ in self.trail:
            for other, a in self.of_literal.get((name, 1 - value), ()):
                other.slack += a
        self.values.clear()
        self.trail.clear()
        self.conflict = False
        self.settled = 0
        for watched in in_use:
            watched.open = watched.terms
        self._spread([w for w in in_use if w.slack < w.largest])
