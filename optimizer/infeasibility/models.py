"""Blockers as data, and how long they are looked for."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.rating.limits import Limit

#: Most blockers that are listed, most sets held while they are worked out, longest search for them.
BLOCKERS_MAX, SETS_MAX, SEARCH_S = 12, 20_000, 20.0


Members = frozenset[int]


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


class Undecided(RuntimeError):
    """The search ended before it knew."""
