"""What is drawn or held for each ring of an answer when it is simulated: one case a ring on its joint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringset.catalogue.joints import JointRef, catalogue_joints
from ringset.catalogue.rows import Catalogue
from ringset.rating.sizes import (
    Sizes,
    rated_gap_changes_mm,
    rated_mounting_offset_um,
    rated_sizes,
    rated_tips_off_bore_um,
)
from ringset.schema.answer import Answer, JointRing
from ringset.schema.answer_checks import refuse_unknown_field_names
from ringset.schema.study import Study
from ringset.standards.iso1328 import iso1328_cumulative_pitch_um, iso1328_single_pitch_um

Rows = NDArray[Any]


@dataclass(frozen=True)
class Case:
    """Everything that is drawn or held for one ring on its joint: mm, um, rad, fractions.

    `offset_um` is that of the circle that sets the ring, `tips_um` how far its tips may lie off its bore
    where they are this circle, else 0.
    """

    ref: JointRef
    ring: JointRing
    pitch_radius_mm: float
    tip_radius_mm: float
    gaps_mm: tuple[float, float, float]
    offset_um: float
    tips_um: float
    ovality_um: float
    lobe_um: float
    lobes: int
    cumulative_um: float
    single_um: float
    pitch_exponent: float
    pitch_share_stated: bool
    expansion_per_k: float
    flank_line_rad: float
    zero_rad: Rows

    def strength(self, gap_mm: Rows | float, harmonic: int = 1) -> Rows:
        """Field of a harmonic at a gap over the one at which the head's errors are stated.

        Over the ring (r_a / (r_a + g))^(k z); the stated point is a rack, exp(-2 k g / m).
        """
        head = self.ref.head
        here = (self.tip_radius_mm / (self.tip_radius_mm + gap_mm)) ** (harmonic * self.ring.teeth)
        if head.bandwidth_hz is not None:
            tooth_rate = self.ring.teeth * self.ref.joint.speed_max_rpm / 60.0
            here = here / np.hypot(1.0, tooth_rate / head.bandwidth_hz)
        return np.asarray(
            here / np.exp(-2.0 * harmonic * head.stated_gap_mm / head.stated_module_mm)
        )


def simulation_cases(study: Study, answer: Answer) -> list[Case]:
    """Return a case for every ring of an answer, in its order."""
    refuse_unknown_field_names(study, answer)
    return simulation_cases_of(study, answer.rings)


def simulation_cases_of(study: Study, rings: Sequence[JointRing]) -> list[Case]:
    """Return a case for every one of some rings of joints of a study, in their order."""
    study = study.canonical()
    rows, refs = _as_catalogue(study, rings)
    sizes = rated_sizes(study, rows)
    narrower, wider = rated_gap_changes_mm(study, rows, sizes)
    ends = np.stack([narrower, wider], axis=1)
    seats = np.stack(
        [rated_mounting_offset_um(study, rows), rated_tips_off_bore_um(rows, sizes.runout_um)],
        axis=1,
    )
    return [
        _case(study, refs[i], ring, sizes, i, tuple(ends[i].tolist()), tuple(seats[i].tolist()))
        for i, ring in enumerate(rings)
    ]


def _as_catalogue(
    study: Study, rings: Sequence[JointRing]
) -> tuple[Catalogue, tuple[JointRef, ...]]:
    refs = catalogue_joints(study)
    modules = np.array(sorted({ring.module_mm for ring in rings}))
    place = {(ref.robot.name, ref.joint.name): index for index, ref in enumerate(refs)}
    columns = [
        np.array([place[(ring.robot, ring.joint)] for ring in rings]),
        np.searchsorted(modules, [ring.module_mm for ring in rings]),
        np.array([ring.teeth for ring in rings]),
        np.array([round(ring.bore_mm / study.shop.bore_step_mm) for ring in rings]),
        np.array([ring.heads for ring in rings]),
    ]
    rows = Catalogue(refs, modules, study.shop.bore_step_mm, *(c.astype(np.int64) for c in columns))
    return rows, tuple(refs[index] for index in rows.joint)


def _case(
    study: Study, ref: JointRef, ring: JointRing, sizes: Sizes, i: int,
    ends_mm: tuple[float, float], seat_um: tuple[float, float],
) -> Case:  # fmt: skip
    tolerance = (ring.pitch_diameter_mm, ring.module_mm, study.shop.flank_class)
    stated = study.shop.pitch_share | study.shop.worst_pitch_share
    slack = ref.head.gap_tolerance_mm
    narrow = max(0.01, ring.gap_mm - slack + ends_mm[0])
    return Case(
        ref=ref,
        ring=ring,
        pitch_radius_mm=ring.pitch_diameter_mm / 2.0,
        tip_radius_mm=ring.tip_diameter_mm / 2.0,
        gaps_mm=(narrow, ring.gap_mm, ring.gap_mm + slack + ends_mm[1]),
        offset_um=seat_um[0],
        tips_um=seat_um[1],
        ovality_um=float(sizes.ovality_um[i]),
        lobe_um=float(sizes.lobe_um[i]),
        lobes=study.shop.clamp_jaws,
        cumulative_um=float(iso1328_cumulative_pitch_um(*tolerance, extrapolate=True)),
        single_um=float(iso1328_single_pitch_um(*tolerance, extrapolate=True)),
        pitch_exponent=study.shop.pitch_spectrum_exponent,
        pitch_share_stated=str(ring.heads) in stated,
        expansion_per_k=study.shop.ring_material.expansion_per_k,
        flank_line_rad=study.shop.flank_line_mrad * 1e-3,
        zero_rad=np.radians([ring.head_angles_deg]),
    )
