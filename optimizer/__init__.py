"""Ringset sizes the toothed target rings of a whole robot at once, with proof.

`load_study` reads a study, `solve` answers it, `judge_answer` checks an answer without a solver. The names
are loaded when first used: a command that needs no solver must not wait for one. Their types stand in
`__init__.pyi`.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from ringset._version import __version__ as __version__

#: Public name: module and the name it has there. No folder of the package may bear one of these names:
#: importing it would hide the function.
_HOMES = {
    "Answer": "schema.answer:Answer",
    "AssumedInput": "schema.assumed_inputs:AssumedInput",
    "Assumptions": "analysis.assumptions.models:Assumptions",
    "Band": "analysis.assumptions.models:Band",
    "Certificate": "verification.certificate.document:Certificate",
    "CertifiedAnswer": "verification.certificate.document:CertifiedAnswer",
    "Comparison": "analysis.comparison.models:Comparison",
    "Entry": "analysis.comparison.compare:Entry",
    "ErrorChange": "analysis.alternatives.models:ErrorChange",
    "Explanation": "analysis.explanation.models:Explanation",
    "Fault": "errors:Fault",
    "FieldFact": "schema.field_docs:FieldFact",
    "Front": "analysis.front.models:Front",
    "Ground": "analysis.alternatives.models:Ground",
    "JointRing": "schema.answer:JointRing",
    "Loss": "analysis.losses.models:Loss",
    "Losses": "analysis.losses.models:Losses",
    "OpenProofs": "verification.open_proofs.proofs:OpenProofs",
    "SheetKind": "export.models:SheetKind",
    "Sheets": "export.models:Sheets",
    "StandingRing": "analysis.alternatives.models:StandingRing",
    "Study": "schema.study:Study",
    "StudyError": "errors:StudyError",
    "SweepPlan": "analysis.sweep.sweep:SweepPlan",
    "SweepRow": "analysis.sweep.sweep:SweepRow",
    "ToothOutline": "drawing.tooth_outline:ToothOutline",
    "Wish": "schema.study:Wish",
    "WishStep": "analysis.next_steps.models:WishStep",
    "WishSteps": "analysis.next_steps.models:WishSteps",
    "alternatives_among": "analysis.alternatives.alternatives:alternatives_among",
    "alternatives_of": "analysis.alternatives.alternatives:alternatives_of",
    "assumed_inputs": "schema.assumed_inputs:assumed_inputs",
    "bore_for_rim": "analysis.alternatives.single_ring:bore_for_rim",
    "certify": "solving.certify:certify",
    "compare_answers": "analysis.comparison.compare:compare_answers",
    "error_changes": "analysis.alternatives.advice:error_changes",
    "explain_study": "analysis.explanation.explain:explain_study",
    "find_band": "analysis.assumptions.band:find_band",
    "find_front": "analysis.front.front:find_front",
    "front_faults": "analysis.front.axes:front_faults",
    "find_joint": "analysis.alternatives.single_ring:find_joint",
    "find_losses": "analysis.losses.losses:find_losses",
    "find_path": "schema.field_paths:resolve_field_path",
    "grounds_among": "analysis.alternatives.alternatives:alternatives_among",
    "grounds_of": "analysis.alternatives.alternatives:alternatives_of",
    "judge_answer": "verification.judge.judge:judge",
    "load_answer": "schema.loading:load_answer",
    "load_model": "schema.loading:load_model",
    "load_piece": "schema.loading:load_model",
    "load_study": "schema.loading:load_study",
    "make_sheets": "export.bundle:make_sheets",
    "open_proofs": "verification.open_proofs.proofs:open_proofs",
    "outline_of_tooth": "drawing.tooth_outline:outline_of_tooth",
    "previous_faults": "schema.earlier_names:earlier_name_faults",
    "progress_gap_percent": "reporting.progress:progress_gap_percent",
    "rank_assumptions": "analysis.assumptions.effects:rank_assumptions",
    "rate_one": "analysis.alternatives.single_ring:rate_one",
    "resolve_path": "schema.field_paths:resolve_field_path",
    "sheet_faults": "drawing.drawable_names:sheet_faults",
    "shop_data": "manufacturing.part_data:shop_data",
    "simulate_yield": "analysis.simulation.monte_carlo:simulate_yield",
    "solve": "solving.pipeline:solve",
    "solve_certified": "solving.certified_answer:solve_certified",
    "solve_losses": "analysis.losses.losses:solve_losses",
    "solve_steps": "analysis.next_steps.steps:solve_steps",
    "standards_table": "standards._tables:standard_table_rows",
    "standards_tables": "standards._tables:standard_table_names",
    "standing_name_faults": "schema.earlier_names:standing_name_faults",
    "study_faults": "schema.cross_checks:study_faults",
    "study_fields": "schema.field_docs:field_facts",
    "sweep_grid": "analysis.sweep.sweep:sweep_grid",
    "sweep_line": "analysis.sweep.sweep:sweep_line",
    "sweep_rows": "analysis.sweep.sweep:sweep_rows",
    "sweep_study": "analysis.sweep.sweep:sweep_study",
    "sweep_table": "analysis.sweep.sweep:sweep_table",
    "sweep_table_bytes": "analysis.sweep.sweep:sweep_table_bytes",
    "table_bytes": "analysis.sweep.sweep:sweep_table_bytes",
    "teeth_for_tip": "analysis.alternatives.single_ring:teeth_for_tip",
    "verify_certificate": "verification.certificate.verify:verify_certificate",
    "with_length_texts": "schema.length_texts:with_length_texts",
}
__all__ = sorted(_HOMES)


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        module, _, attribute = _HOMES[name].partition(":")
        return getattr(import_module(f"{__name__}.{module}"), attribute)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
