"""The tiers of the tests: which place needs more than the fast tier has, and is left out unless asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.tiers import share_out

TESTS = Path(__file__).parent
#: Folder or file of tests, and the marker that all tests in it carry.
TIERS = {
    "analysis/sweep/test_cluster.py": "service",
    "api": "service",
    "export/test_solid_step.py": "cad",
    "page": "page",
}


def tier_of(path: Path) -> str | None:
    """Return the marker that a file's place gives to its tests."""
    for place, marker in TIERS.items():
        if path.is_relative_to(TESTS / place):
            return marker
    return None


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Do not even import a tier that `-m` rules out: what it needs may not be installed."""
    tier = tier_of(collection_path)
    return True if tier and f"not {tier}" in config.option.markexpr else None


@pytest.hookimpl(tryfirst=True)  # before pytest selects by markers
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the cases of tests that share theirs out, then every test by its place."""
    share_out(items)
    for item in items:
        if tier := tier_of(item.path):
            item.add_marker(tier)
