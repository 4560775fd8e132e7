"""The rows in which a comparison shows a joint's ring to people."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ringset.analysis.comparison.models import ComparedRing
from ringset.schema.absolute import PLACE_WORDS


@dataclass(frozen=True)
class Row:
    """One row of a joint: its label, the fields it shows, and how; some only where they differ."""

    label: str
    fields: tuple[str, ...]
    shown: Callable[[ComparedRing], str]
    always: bool = True


RING_ROWS = (
    Row("module x teeth", ("module_mm", "teeth"), lambda r: f"{r.module_mm:g} x {r.teeth}"),
    Row("bore mm", ("bore_mm",), lambda r: f"{r.bore_mm:.5g}"),
    Row(
        "bore limits um",
        ("bore_lower_um", "bore_upper_um"),
        lambda r: f"{r.bore_lower_um:+g}/{r.bore_upper_um:+g}",
        always=False,
    ),
    Row("rim mm", ("rim_mm",), lambda r: f"{r.rim_mm:.3f}"),
    Row("width mm", ("face_width_mm",), lambda r: f"{r.face_width_mm:g}", always=False),
    Row("tooth depth mm", ("tooth_depth_mm",), lambda r: f"{r.tooth_depth_mm:.4g}", always=False),
    Row("profile shift", ("profile_shift",), lambda r: f"{r.profile_shift:g}", always=False),
    Row("flank class", ("flank_class",), lambda r: f"{r.flank_class}", always=False),
    Row(
        "profile error um",
        ("profile_error_um",),
        lambda r: "-" if r.profile_error_um is None else f"{r.profile_error_um:.1f}",
        always=False,
    ),
    Row("material", ("material",), lambda r: r.material, always=False),
    Row("screw holes", ("holes",), lambda r: r.holes, always=False),
    Row("gap mm", ("gap_mm",), lambda r: f"{r.gap_mm:g}", always=False),
    Row("heads", ("heads",), lambda r: f"{r.heads}"),
    Row(
        "second ring, teeth", ("second_teeth",), lambda r: f"{r.second_teeth or '-'}", always=False
    ),
    Row("after power loss", ("absolute_by",), lambda r: PLACE_WORDS[r.absolute_by], always=False),
    Row(
        "heads at degrees",
        ("head_angles_deg",),
        lambda r: " ".join(f"{angle:g}" for angle in r.head_angles_deg),
        always=False,
    ),
)
TARGET_ROWS = (
    Row("target arcsec", ("target_arcsec",), lambda r: f"{r.target_arcsec:g}", always=False),
    Row(
        "repeatability target arcsec",
        ("repeatability_target_arcsec",),
        lambda r: (
            "-" if r.repeatability_target_arcsec is None else f"{r.repeatability_target_arcsec:g}"
        ),
        always=False,
    ),
)
