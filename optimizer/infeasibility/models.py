"""Blockers as data, how many are listed and how long they are looked for."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.rating.stated_limits import Limit

#: Most blockers that are listed, and the longest search for them in seconds.
BLOCKERS_MAX, SEARCH_S = 12, 20.0


@dataclass(frozen=True)
class Blocker:
    """Limits that cannot hold together: of joints by number in the universe, and those over joints.

    `joint` is the joint they leave without a ring, if it is one; else `joints` are whole joints, with
    every limit of theirs, that cannot keep the `shared` limits together.
    """

    joint: int | None = None
    limits: tuple[int, ...] = ()
    shared: tuple[Limit, ...] = ()
    joints: tuple[int, ...] = ()

    @property
    def size(self) -> int:
        """How many members it has."""
        return len(self.limits) + len(self.shared) + len(self.joints)


@dataclass(frozen=True)
class Found:
    """Blockers, the fewest members first; `complete` if there are no others."""

    blockers: tuple[Blocker, ...]
    complete: bool

    @classmethod
    def of(cls, blockers: list[Blocker], *, whole: bool) -> Found:
        """Return as many of the blockers as are listed; `whole` says whether they are all there are."""
        return cls(tuple(blockers[:BLOCKERS_MAX]), whole and len(blockers) <= BLOCKERS_MAX)


class Undecided(RuntimeError):
    """The search ended before it knew."""
