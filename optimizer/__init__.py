"""Ringset sizes the toothed target rings of a whole robot at once, with proof.

`load_study` reads a study, `solve` answers it, `judge` checks an answer without a solver. The names
are loaded when first used: a command that needs no solver must not wait for one.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from optimizer.answer import Answer
    from optimizer.judge import judge
    from optimizer.loading import StudyError, load_study
    from optimizer.solve import solve
    from optimizer.study import Study

__all__ = ["Answer", "Study", "StudyError", "judge", "load_study", "solve"]

_HOMES = {
    "Answer": "answer",
    "Study": "study",
    "StudyError": "loading",
    "judge": "judge",
    "load_study": "loading",
    "solve": "solve",
}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"optimizer.{_HOMES[name]}"), name)
    raise AttributeError(f"module 'optimizer' has no attribute {name!r}")
