"""Ringset sizes the toothed target rings of a whole robot at once, with proof.

`load_study` reads a study, `solve` answers it, `judge_answer` checks an answer without a solver. The names
are loaded when first used: a command that needs no solver must not wait for one.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from optimizer.answer import Answer
    from optimizer.judge import judge as judge_answer
    from optimizer.line import solve
    from optimizer.loading import StudyError, load_study
    from optimizer.study import Study

__all__ = ["Answer", "Study", "StudyError", "judge_answer", "load_study", "solve"]

# no module may bear one of these names: importing it would hide the function
_HOMES = {
    "Answer": ("answer", "Answer"),
    "Study": ("study", "Study"),
    "StudyError": ("loading", "StudyError"),
    "judge_answer": ("judge", "judge"),
    "load_study": ("loading", "load_study"),
    "solve": ("line", "solve"),
}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        module, attribute = _HOMES[name]
        return getattr(import_module(f"optimizer.{module}"), attribute)
    raise AttributeError(f"module 'optimizer' has no attribute {name!r}")
