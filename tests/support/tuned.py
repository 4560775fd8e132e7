"""Another tuning of the search for the rest of a test."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ringset.search import tuning as tuning_module
from ringset.search.tuning import Strategy, search_tuning


def tune(patch: pytest.MonkeyPatch, **changes: Any) -> None:
    """Change values of the tuning in use; changes of one test add up."""
    patch.setattr(tuning_module, "_in_use", replace(search_tuning(), **changes))


def switch_off(patch: pytest.MonkeyPatch, *strategies: Strategy) -> None:
    """Switch strategies off, beside those that are off already."""
    tune(patch, without=search_tuning().without | set(strategies))
