"""The true shape of a tooth as data, for whoever draws a ring themselves."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ringset.errors import Fault, StudyError
from ringset.physics.tooth_profile import rack_tooth_profile
from ringset.schema.base import AnswerModel
from ringset.standards.racks import RACKS, standard_deeper_rack

Rack = Literal["full", "stub"]


class ToothOutline(AnswerModel):
    """One pitch of a ring; turned `teeth` times by 360 degrees over `teeth` it is the whole outline."""

    module_mm: float
    teeth: int
    tip_radius_mm: float
    pitch_radius_mm: float
    root_radius_mm: float
    undercut: bool = Field(description="Whether the fillet cuts into the involute.")
    chord_um: float = Field(description="No chord is further off the true curve than this.")
    x_mm: list[float] = Field(
        description="From the middle of a gap, counter-clockwise over a tooth on the positive x axis, to "
        "the middle of the next gap (not repeated); the origin is the axis of the ring."
    )
    y_mm: list[float]


def outline_of_tooth(
    module_mm: float, teeth: int, rack: Rack = "full", profile_shift: float = 0.0,
    chord_um: float = 2.0, depth_modules: float | None = None,
) -> ToothOutline:  # fmt: skip
    """Return one pitch of the outline that a rack of the shop leaves (lengths in mm, chords in um).

    `depth_modules`, 2.25 to 2.8, is the whole depth over module of a cutter deeper than the rack `full`; it
    takes the place of `rack`. Raises StudyError where no tooth can have this shape. Source:
    `ringset.physics.tooth_profile`.
    """
    try:
        form = RACKS[rack] if depth_modules is None else standard_deeper_rack(depth_modules)
        shape = rack_tooth_profile(
            module_mm, teeth, addendum=form.addendum, dedendum=form.dedendum,
            fillet=form.root_fillet, pressure_angle_deg=form.pressure_angle_deg,
            shift=profile_shift,
        )  # fmt: skip
    except ValueError as error:
        field = str(error).partition(":")[0].replace(" ", "_")
        raise StudyError([Fault(field, "", str(error).partition(": ")[2])]) from None
    points = shape.outline(chord_um / 1e3)
    one = points[: len(points) // teeth]
    return ToothOutline(
        module_mm=module_mm, teeth=teeth, tip_radius_mm=shape.tip_mm,
        pitch_radius_mm=module_mm * teeth / 2.0, root_radius_mm=shape.root_mm,
        undercut=shape.undercut, chord_um=chord_um, x_mm=one[:, 0].tolist(), y_mm=one[:, 1].tolist(),
    )  # fmt: skip
