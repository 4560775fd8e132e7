"""The rings of an answer as one table, a line a joint."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ringset.schema.answer import Answer, JointRing
from ringset.schema.study import Study
from ringset.wording import in_study_order

if TYPE_CHECKING:
    import pandas as pd


def export_ring_table_csv(study: Study, answer: Answer) -> str:
    """Return `export_ring_frame` as CSV text."""
    return export_ring_frame(study, answer).to_csv(index=False, lineterminator="\n")


def export_ring_frame(study: Study, answer: Answer) -> pd.DataFrame:
    """Return one line per joint in the order of the study, unrounded, units in the column names.

    Where a joint asks a second ring, its line tells that ring's part and teeth, the margin of the pair in
    arcsec, and the mass of both.
    """
    import pandas as pd

    joints = {(robot.name, joint.name): joint for robot in study.robots for joint in robot.joints}
    seconds = {ring.place: ring for ring in answer.second_rings}
    rows = []
    for ring in in_study_order(study, answer.rings):
        row = ring.model_dump(
            exclude={"budget", "margins", "electronics", "head_angles_deg", "second"}
        )
        row |= _second(ring, seconds.get(ring.place)) if seconds else {}
        row["turns_known"] = "yes" if ring.turns_known else "no"
        row["head_angles_deg"] = " ".join(f"{angle:g}" for angle in ring.head_angles_deg)
        joint = joints[(ring.robot, ring.joint)]
        seat = (joint.seat_fit, joint.dial_on, joint.dial_reading_um)
        names = ("seat_fit", "set_by", "dial_full_reading_um")
        row |= {
            name: "" if value is None else value for name, value in zip(names, seat, strict=True)
        }
        row["expanded_arcsec"] = ring.budget.expanded_arcsec
        row["worst_case_arcsec"] = ring.budget.worst_case_arcsec
        row["repeatability_expanded_arcsec"] = ring.budget.repeatability_expanded_arcsec
        row["repeatability_worst_case_arcsec"] = ring.budget.repeatability_worst_case_arcsec
        row |= {f"{t.name}_standard_arcsec": t.standard_arcsec for t in ring.budget.terms}
        rows.append(row)
    return pd.DataFrame(rows)


def _second(ring: JointRing, second: JointRing | None) -> dict[str, object]:
    """Return what a joint's line tells of its second ring, empty where it has none."""
    told = ring.electronics.second_ring
    if second is None or told is None:
        return dict.fromkeys(
            ("second_ring_part", "second_teeth", "pair_margin_arcsec", "second_blank_kg"), ""
        )
    margin = (told.tolerance_arcsec or 0.0) - (told.relative_error_arcsec or 0.0)
    return {
        "second_ring_part": second.ring_part,
        "second_teeth": second.teeth,
        "pair_margin_arcsec": margin,
        "second_blank_kg": second.blank_kg,
    }
