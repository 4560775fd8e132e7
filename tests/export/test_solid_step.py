"""STEP by the CAD kernel: volume, validity, and the same after it is read back."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GeomAPI import GeomAPI_ProjectPointOnCurve
from OCP.gp import gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_ShapeEnum

from ringset.drawing.part import Extra, drawn_parts, drawn_transverse_kg_m2
from ringset.drawing.views import Holes
from ringset.export import step
from ringset.search.engines.quiet_stdout import quiet_stdout
from ringset.solving.pipeline import solve
from tests.drawing.cases import answered, resized
from tests.physics.test_tooth_profile import shape as tooth_of
from tests.rating.test_mounting import SCREWED
from tests.support.studies import load


def properties(shape: Any) -> Any:
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found, 1e-8)
    return found


@pytest.mark.parametrize(
    ("module", "teeth", "bore", "width"), [(1.0, 17, 8.0, 6.0), (0.8, 100, 70.0, 8.0)]
)
def test_volume_is_that_of_the_closed_section_also_after_reading_back(
    tmp_path: Path, module: float, teeth: int, bore: float, width: float
) -> None:
    study, answer = answered("two_joint_table")
    (part,) = drawn_parts(study, resized(answer, module, teeth, bore, width))
    file = tmp_path / "ring.step"
    with quiet_stdout():
        step.write_step(part, file)
        reader = STEPControl_Reader()
        assert reader.ReadFile(str(file)) == IFSelect_ReturnStatus.IFSelect_RetDone
        reader.TransferRoots()
    again = reader.OneShape()
    exact = width * (part.shape.tooth.area_mm2() - math.pi * bore**2 / 4.0)
    for solid in (step.step_ring_solid(part.shape), again):
        assert solid.ShapeType() == TopAbs_ShapeEnum.TopAbs_SOLID
        assert BRepCheck_Analyzer(solid).IsValid()
        body = properties(solid)
        # splines within 0.05 um along some five modules of line a tooth
        assert body.Mass() == pytest.approx(exact, abs=5e-5 * 5.0 * module * teeth * width)
        centre = body.CentreOfMass()
        assert (centre.X(), centre.Y(), centre.Z()) == pytest.approx((0, 0, width / 2), abs=1e-5)
    assert "SI_UNIT(.MILLI.,.METRE.)" in file.read_text()
    assert "PRODUCT('R1','R1'," in file.read_text()
    assert "FILE_NAME('R1'," in file.read_text()


def test_holes_for_screws_are_cut_out() -> None:
    study, answer = answered("two_joint_table")
    holes = Holes(6, 3.4, 59.0, "M3")
    answer = resized(answer, 1.0, 70, 50.0, 8.0)
    plain, drilled = (
        drawn_parts(study, answer, extras)[0].shape for extras in ({}, {"R1": Extra(holes=holes)})
    )
    less = 6 * math.pi * 3.4**2 / 4.0 * 8.0
    volume = [properties(step.step_ring_solid(shape)).Mass() for shape in (plain, drilled)]
    assert volume[0] - volume[1] == pytest.approx(less, rel=1e-6)


@pytest.mark.parametrize("depth", [2.25, 2.4, 2.6])
def test_the_solid_weighs_what_the_answer_says(depth: float) -> None:
    """With its screw holes: volume by the kernel times density against the answer's finished mass.

    Modules below 1 are cut as deep as stated; the answer's ring is one of these.
    """
    shop = SCREWED["shop"] | {"modules": [0.8], "deeper_cut_depth_modules": depth}
    study = load(SCREWED | {"shop": shop})
    answer = solve(study)
    (part,) = drawn_parts(study, answer)
    assert part.shape.holes is not None
    assert answer.rings[0].tooth_depth_mm == pytest.approx(depth * 0.8, rel=1e-12)
    body = properties(step.step_ring_solid(part.shape))
    ring = answer.rings[0]
    # C45: 7850 kg/m3; splines within 0.05 um of some five modules of line a tooth
    room = 5e-5 * 5.0 * ring.module_mm * ring.teeth * ring.face_width_mm
    assert body.Mass() == pytest.approx(ring.finished_kg / 7850e-9, abs=room)
    inertia = body.MatrixOfInertia()
    polar = inertia.Value(3, 3) * 7850e-9 * 1e-6
    assert polar == pytest.approx(ring.inertia_kg_m2, rel=1e-5)
    for axis in (1, 2):  # through the centre of mass
        across = inertia.Value(axis, axis) * 7850e-9 * 1e-6
        assert across == pytest.approx(drawn_transverse_kg_m2(ring), rel=1e-5)


@pytest.mark.parametrize(
    ("name", "teeth"), [("full", 17), ("full", 40), ("stub", 100), ("full", 400)]
)
def test_splines_stay_within_what_is_stated(name: str, teeth: int) -> None:
    tooth = tooth_of(name, teeth)
    fillet, flank = step._pieces(tooth)[:2]
    curves = (
        (fillet, tooth.fillet(np.linspace(np.pi / 2.0, tooth.fillet_end, 60))),
        (flank, tooth.involute(np.linspace(tooth.roll_start, tooth.roll_end, 60))),
    )
    for poles, (radius, turn) in curves:
        spline = step._spline(poles)
        off = [
            GeomAPI_ProjectPointOnCurve(gp_Pnt(x, y, 0.0), spline).LowerDistance()
            for x, y in zip(radius * np.cos(turn), -radius * np.sin(turn), strict=True)
        ]
        assert max(off) < 5e-5


def test_a_file_that_cannot_be_written_whole_is_a_fault_of_the_place(tmp_path: Path) -> None:
    """A folder that is not there, and a device that is always full."""
    study, answer = answered("two_joint_table")
    (part,) = drawn_parts(study, resized(answer, 1.0, 40, 30.0, 8.0))
    for file in (tmp_path / "none" / "R1.step", Path("/dev/full")):
        with quiet_stdout(), pytest.raises(OSError):  # noqa: PT011 - the kernel's own words
            step.write_step(part, file)
