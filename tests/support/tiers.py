"""Tests in three tiers: some cases of a test in the fast one, some in the slow one, the rest on demand.

`pytest -m campaign` runs the rest, beside the campaigns of `tests/bench`.
"""

from __future__ import annotations

from itertools import groupby

import pytest

_TIERS = ("slow", "service", "page", "cad", "campaign")


def slow(*values: object) -> object:
    """Return one case of a parametrized test that belongs to the slow tier."""
    return pytest.param(*values, marks=pytest.mark.slow)


def campaign(*values: object) -> object:
    """Return one case of a parametrized test that is run on demand."""
    return pytest.param(*values, marks=pytest.mark.campaign)


def share_out(items: list[pytest.Item]) -> None:
    """Give the cases of every test marked `cases(fast, slow)` their tiers, in the order in which they stand.

    The first `fast` stay in the fast tier, the next `slow` are slow (all the rest, unless said),
    and what is left is run on demand. Cases that have a tier of their own keep it and are not counted.
    """
    for _, group in groupby(items, key=lambda item: item.nodeid.split("[")[0]):
        every = [
            item for item in group if not any(item.get_closest_marker(tier) for tier in _TIERS)
        ]
        wanted = every[0].get_closest_marker("cases") if every else None
        if wanted is None:
            continue
        fast = int(wanted.kwargs["fast"])
        some = fast + int(wanted.kwargs.get("slow", len(every)))
        if not 0 <= fast < len(every):
            raise pytest.UsageError(
                f"{every[0].nodeid}: fast is {fast}; allowed: 0 to {len(every) - 1}"
            )
        for place, item in enumerate(every[fast:], fast):
            item.add_marker("slow" if place < some else "campaign")
