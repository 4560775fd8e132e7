"""Imported once by the fork server: everything a study needs is loaded, and nothing is run."""

from __future__ import annotations

import gc
import importlib

import ringset

# the search imports its solvers when it first needs them; a worker must not wait for that
for _name in ("ortools.sat.python.cp_model", "scipy.optimize", "scipy.sparse"):
    importlib.import_module(_name)
for _name in ringset.__all__:
    getattr(ringset, _name)
gc.collect()
gc.freeze()  # the collector must not touch, and so copy, what all workers share
