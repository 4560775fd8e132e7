"""Types of the public names, which `__init__.py` loads when they are first used."""

from ringset._version import __version__ as __version__
from ringset.analysis.alternatives.advice import error_changes as error_changes
from ringset.analysis.alternatives.alternatives import alternatives_among as alternatives_among
from ringset.analysis.alternatives.alternatives import alternatives_among as grounds_among
from ringset.analysis.alternatives.alternatives import alternatives_of as alternatives_of
from ringset.analysis.alternatives.alternatives import alternatives_of as grounds_of
from ringset.analysis.alternatives.models import ErrorChange as ErrorChange
from ringset.analysis.alternatives.models import Ground as Ground
from ringset.analysis.alternatives.models import StandingRing as StandingRing
from ringset.analysis.alternatives.single_ring import bore_for_rim as bore_for_rim
from ringset.analysis.alternatives.single_ring import find_joint as find_joint
from ringset.analysis.alternatives.single_ring import rate_one as rate_one
from ringset.analysis.alternatives.single_ring import teeth_for_tip as teeth_for_tip
from ringset.analysis.assumptions.band import find_band as find_band
from ringset.analysis.assumptions.effects import rank_assumptions as rank_assumptions
from ringset.analysis.assumptions.models import Assumptions as Assumptions
from ringset.analysis.assumptions.models import Band as Band
from ringset.analysis.comparison.compare import Entry as Entry
from ringset.analysis.comparison.compare import compare_answers as compare_answers
from ringset.analysis.comparison.models import Comparison as Comparison
from ringset.analysis.explanation.explain import explain_study as explain_study
from ringset.analysis.explanation.models import Explanation as Explanation
from ringset.analysis.front.axes import front_faults as front_faults
from ringset.analysis.front.front import find_front as find_front
from ringset.analysis.front.models import Front as Front
from ringset.analysis.losses.losses import find_losses as find_losses
from ringset.analysis.losses.losses import solve_losses as solve_losses
from ringset.analysis.losses.models import Loss as Loss
from ringset.analysis.losses.models import Losses as Losses
from ringset.analysis.next_steps.models import WishStep as WishStep
from ringset.analysis.next_steps.models import WishSteps as WishSteps
from ringset.analysis.next_steps.steps import solve_steps as solve_steps
from ringset.analysis.simulation.monte_carlo import simulate_yield as simulate_yield
from ringset.analysis.sweep.sweep import SweepPlan as SweepPlan
from ringset.analysis.sweep.sweep import SweepRow as SweepRow
from ringset.analysis.sweep.sweep import sweep_grid as sweep_grid
from ringset.analysis.sweep.sweep import sweep_line as sweep_line
from ringset.analysis.sweep.sweep import sweep_rows as sweep_rows
from ringset.analysis.sweep.sweep import sweep_study as sweep_study
from ringset.analysis.sweep.sweep import sweep_table as sweep_table
from ringset.analysis.sweep.sweep import sweep_table_bytes as sweep_table_bytes
from ringset.analysis.sweep.sweep import sweep_table_bytes as table_bytes
from ringset.drawing.drawable_names import sheet_faults as sheet_faults
from ringset.drawing.tooth_outline import ToothOutline as ToothOutline
from ringset.drawing.tooth_outline import outline_of_tooth as outline_of_tooth
from ringset.errors import Fault as Fault
from ringset.errors import StudyError as StudyError
from ringset.export.bundle import make_sheets as make_sheets
from ringset.export.models import SheetKind as SheetKind
from ringset.export.models import Sheets as Sheets
from ringset.manufacturing.part_data import shop_data as shop_data
from ringset.reporting.progress import progress_gap_percent as progress_gap_percent
from ringset.schema.answer import Answer as Answer
from ringset.schema.answer import JointRing as JointRing
from ringset.schema.assumed_inputs import AssumedInput as AssumedInput
from ringset.schema.assumed_inputs import assumed_inputs as assumed_inputs
from ringset.schema.cross_checks import study_faults as study_faults
from ringset.schema.earlier_names import earlier_name_faults as previous_faults
from ringset.schema.earlier_names import standing_name_faults as standing_name_faults
from ringset.schema.field_docs import FieldFact as FieldFact
from ringset.schema.field_docs import field_facts as study_fields
from ringset.schema.field_paths import resolve_field_path as find_path
from ringset.schema.field_paths import resolve_field_path as resolve_path
from ringset.schema.length_texts import with_length_texts as with_length_texts
from ringset.schema.loading import load_answer as load_answer
from ringset.schema.loading import load_model as load_model
from ringset.schema.loading import load_model as load_piece
from ringset.schema.loading import load_study as load_study
from ringset.schema.study import Study as Study
from ringset.schema.study import Wish as Wish
from ringset.solving.certified_answer import solve_certified as solve_certified
from ringset.solving.certify import certify as certify
from ringset.solving.pipeline import solve as solve
from ringset.standards._tables import standard_table_names as standards_tables
from ringset.standards._tables import standard_table_rows as standards_table
from ringset.verification.certificate.document import Certificate as Certificate
from ringset.verification.certificate.document import CertifiedAnswer as CertifiedAnswer
from ringset.verification.certificate.verify import verify_certificate as verify_certificate
from ringset.verification.judge.judge import judge as judge_answer
from ringset.verification.open_proofs.proofs import OpenProofs as OpenProofs
from ringset.verification.open_proofs.proofs import open_proofs as open_proofs

__all__ = [
    "Answer",
    "AssumedInput",
    "Assumptions",
    "Band",
    "Certificate",
    "CertifiedAnswer",
    "Comparison",
    "Entry",
    "ErrorChange",
    "Explanation",
    "Fault",
    "FieldFact",
    "Front",
    "Ground",
    "JointRing",
    "Loss",
    "Losses",
    "OpenProofs",
    "SheetKind",
    "Sheets",
    "StandingRing",
    "Study",
    "StudyError",
    "SweepPlan",
    "SweepRow",
    "ToothOutline",
    "Wish",
    "WishStep",
    "WishSteps",
    "alternatives_among",
    "alternatives_of",
    "assumed_inputs",
    "bore_for_rim",
    "certify",
    "compare_answers",
    "error_changes",
    "explain_study",
    "find_band",
    "find_front",
    "find_joint",
    "find_losses",
    "find_path",
    "front_faults",
    "grounds_among",
    "grounds_of",
    "judge_answer",
    "load_answer",
    "load_model",
    "load_piece",
    "load_study",
    "make_sheets",
    "open_proofs",
    "outline_of_tooth",
    "previous_faults",
    "progress_gap_percent",
    "rank_assumptions",
    "rate_one",
    "resolve_path",
    "sheet_faults",
    "shop_data",
    "simulate_yield",
    "solve",
    "solve_certified",
    "solve_losses",
    "solve_steps",
    "standards_table",
    "standards_tables",
    "standing_name_faults",
    "study_faults",
    "study_fields",
    "sweep_grid",
    "sweep_line",
    "sweep_rows",
    "sweep_study",
    "sweep_table",
    "sweep_table_bytes",
    "table_bytes",
    "teeth_for_tip",
    "verify_certificate",
    "with_length_texts",
]
