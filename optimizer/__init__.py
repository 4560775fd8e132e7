"""Ringset sizes the toothed target rings of a whole robot at once, with proof.

`load_study` reads a study, `solve` answers it, `judge_answer` checks an answer without a solver. The names
are loaded when first used: a command that needs no solver must not wait for one.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from optimizer.advice import ErrorChange
    from optimizer.advice import changes as error_changes
    from optimizer.answer import Answer, JointRing
    from optimizer.compare import Entry
    from optimizer.compare import compare as compare_answers
    from optimizer.comparison import Comparison
    from optimizer.explain import explain as explain_study
    from optimizer.explanation import Explanation
    from optimizer.fields import FieldFact
    from optimizer.fields import field_facts as study_fields
    from optimizer.front import front as find_front
    from optimizer.front_points import Front
    from optimizer.grounds import Ground, grounds_among, grounds_of
    from optimizer.handover.bundle import sheets as make_sheets
    from optimizer.handover.handed import SheetKind, Sheets
    from optimizer.judge import judge as judge_answer
    from optimizer.line import solve
    from optimizer.loading import (
        Fault,
        StudyError,
        load_answer,
        load_piece,
        load_study,
        study_faults,
    )
    from optimizer.outline import ToothOutline
    from optimizer.outline import tooth_outline as outline_of_tooth
    from optimizer.paths import resolve as find_path
    from optimizer.single import bore_for_rim, find_joint, rate_one, teeth_for_tip
    from optimizer.standards._tables import table_names as standards_tables
    from optimizer.standards._tables import table_rows as standards_table
    from optimizer.study import Study, Wish
    from optimizer.sweep import Plan as SweepPlan
    from optimizer.sweep import Row as SweepRow
    from optimizer.sweep import grid as sweep_grid
    from optimizer.sweep import row_line as sweep_line
    from optimizer.sweep import row_study as sweep_study
    from optimizer.sweep import table as sweep_table
    from optimizer.sweep import table_bytes
    from optimizer.sweep import tabled as sweep_rows
    from optimizer.trials import StandingRing

__all__ = [
    "Answer",
    "Comparison",
    "Entry",
    "ErrorChange",
    "Explanation",
    "Fault",
    "FieldFact",
    "Front",
    "Ground",
    "JointRing",
    "SheetKind",
    "Sheets",
    "StandingRing",
    "Study",
    "StudyError",
    "SweepPlan",
    "SweepRow",
    "ToothOutline",
    "Wish",
    "bore_for_rim",
    "compare_answers",
    "error_changes",
    "explain_study",
    "find_front",
    "find_joint",
    "find_path",
    "grounds_among",
    "grounds_of",
    "judge_answer",
    "load_answer",
    "load_piece",
    "load_study",
    "make_sheets",
    "outline_of_tooth",
    "rate_one",
    "solve",
    "standards_table",
    "standards_tables",
    "study_faults",
    "study_fields",
    "sweep_grid",
    "sweep_line",
    "sweep_rows",
    "sweep_study",
    "sweep_table",
    "table_bytes",
    "teeth_for_tip",
]

# no module may bear one of these names: importing it would hide the function
_HOMES = {
    "Answer": ("answer", "Answer"),
    "Comparison": ("comparison", "Comparison"),
    "Entry": ("compare", "Entry"),
    "ErrorChange": ("advice", "ErrorChange"),
    "Explanation": ("explanation", "Explanation"),
    "Fault": ("loading", "Fault"),
    "FieldFact": ("fields", "FieldFact"),
    "Front": ("front_points", "Front"),
    "Ground": ("grounds", "Ground"),
    "JointRing": ("answer", "JointRing"),
    "SheetKind": ("handover.handed", "SheetKind"),
    "Sheets": ("handover.handed", "Sheets"),
    "StandingRing": ("trials", "StandingRing"),
    "Study": ("study", "Study"),
    "StudyError": ("loading", "StudyError"),
    "SweepPlan": ("sweep", "Plan"),
    "SweepRow": ("sweep", "Row"),
    "ToothOutline": ("outline", "ToothOutline"),
    "Wish": ("study", "Wish"),
    "bore_for_rim": ("single", "bore_for_rim"),
    "compare_answers": ("compare", "compare"),
    "error_changes": ("advice", "changes"),
    "explain_study": ("explain", "explain"),
    "find_front": ("front", "front"),
    "find_joint": ("single", "find_joint"),
    "find_path": ("paths", "resolve"),
    "grounds_among": ("grounds", "grounds_among"),
    "grounds_of": ("grounds", "grounds_of"),
    "judge_answer": ("judge", "judge"),
    "load_answer": ("loading", "load_answer"),
    "load_piece": ("loading", "load_piece"),
    "load_study": ("loading", "load_study"),
    "make_sheets": ("handover.bundle", "sheets"),
    "outline_of_tooth": ("outline", "tooth_outline"),
    "rate_one": ("single", "rate_one"),
    "solve": ("line", "solve"),
    "standards_table": ("standards._tables", "table_rows"),
    "standards_tables": ("standards._tables", "table_names"),
    "study_faults": ("loading", "study_faults"),
    "study_fields": ("fields", "field_facts"),
    "sweep_grid": ("sweep", "grid"),
    "sweep_line": ("sweep", "row_line"),
    "sweep_rows": ("sweep", "tabled"),
    "sweep_study": ("sweep", "row_study"),
    "sweep_table": ("sweep", "table"),
    "table_bytes": ("sweep", "table_bytes"),
    "teeth_for_tip": ("single", "teeth_for_tip"),
}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        module, attribute = _HOMES[name]
        return getattr(import_module(f"optimizer.{module}"), attribute)
    raise AttributeError(f"module 'optimizer' has no attribute {name!r}")
