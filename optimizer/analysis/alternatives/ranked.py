"""In what order the wishes tell one answer from another, where some of them may be given up.

Without gives they count as the study ranks them. A wish that may be given up counts at its place against a
neighbour that takes more of it: the answer takes as much as is allowed and pays, so more is not allowed or
pays nothing. A neighbour that takes less is held against the answer by the later wishes first. By a rate,
the sum of two wishes counts in place of the later, and the earlier last. So an answer that is best is never
worse than its neighbours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ringset.schema.gives import Give, give_weighed_sum
from ringset.schema.study import Wish


def alternative_changes_ranked(
    order: Sequence[Wish], gives: Mapping[Wish, Give], more: Mapping[Wish, int],
    sizes: Mapping[Wish, float],
) -> list[tuple[Wish, int]]:  # fmt: skip
    """Return what is added to each wish, in whole units of `sizes`, in the order in which it counts."""
    found: list[tuple[Wish, int]] = []
    last: list[tuple[Wish, int]] = []
    for place, wish in enumerate(order):
        give, before = gives.get(wish), order[place - 1] if place else None
        rated = None if before is None else gives.get(before)
        joined = None
        if before is not None and rated is not None:
            joined = give_weighed_sum(before, rated, sizes.get(before, 1.0), sizes.get(wish, 1.0))
        if joined is not None:
            found.append((wish, sum(many * more[part] for part, many in joined.parts)))
        elif give is not None and (give.rate is not None or more[wish] < 0):
            last.append((wish, more[wish]))
        else:
            found.append((wish, more[wish]))
    return found + last
