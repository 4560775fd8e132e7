"""The examples in the docstrings of physics and standards print what they say."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import ringset.physics
import ringset.standards

MODULES = [
    f"{package.__name__}.{module.name}"
    for package in (ringset.physics, ringset.standards)
    for module in pkgutil.iter_modules(package.__path__)
]


@pytest.mark.parametrize("name", MODULES)
def test_every_module_has_examples_and_all_of_them_hold(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name))
    assert found.attempted > 0
    assert found.failed == 0
