"""Routes that several tests make the search take, by switching others off."""

from __future__ import annotations

import numpy as np
import pytest

from ringset.search import lexicographic as searching
from ringset.search import one_wish as staging
from ringset.search.exact import by_cutter, improvement
from tests.support.tuned import tune


def as_it_is(patch: pytest.MonkeyPatch) -> None:
    """Change nothing."""


def unlisted(patch: pytest.MonkeyPatch) -> None:
    """List nothing at the end, split nothing, spend nothing on good answers before: engines must search."""
    tune(patch, listed_max=0, kernel_nodes=0)
    for module in (staging, by_cutter):
        patch.setattr(module, "settle_by_branching", lambda *_: False)


def unimproved(patch: pytest.MonkeyPatch) -> None:
    """Look for no better answer near the relaxation: the listing has to find it."""
    patch.setattr(improvement, "improve_incumbent", lambda *_: False)
    patch.setattr(staging, "search_relaxed_answer", lambda *_: None)


def unreduced(patch: pytest.MonkeyPatch) -> None:
    """Search all rows."""
    patch.setattr(searching, "reduce", lambda table, _: table)
    patch.setattr(
        searching,
        "reduction_dominating_joints",
        lambda table, _: np.bincount(table.joint, minlength=table.joints) > 0,
    )
