"""DXF read back: version, units, layers, area against the closed tooth area, distance from the curve."""

import io
import math

import numpy as np
import pytest
from ezdxf import units
from ezdxf.document import Drawing
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.filemanagement import read as read_dxf
from ezdxf.math import bulge_to_arc

from ringset.arrays import Floats
from ringset.drawing.part import Extra, Part, drawn_parts
from ringset.drawing.views import Holes
from ringset.export.dxf import AXES, BORE, HOLES, NOTES, OUTLINE, REFERENCE, profile_dxf
from ringset.solving.pipeline import solve
from tests.drawing.cases import Size, answered, resized
from tests.rating.test_true_depth import fine
from tests.support.studies import load

SIZES = [(1.0, 17, 8.0, 6.0), (1.0, 100, 90.0, 8.0), (0.8, 400, 300.0, 8.0), (10.0, 20, 40.0, 8.0)]


def data(size: Size, **extras: Extra) -> Part:
    study, answer = answered("two_joint_table")
    (part,) = drawn_parts(study, resized(answer, *size), extras)
    return part


def read(part: Part, chord_error_mm: float = 0.0005) -> Drawing:
    return read_dxf(io.StringIO(profile_dxf(part, chord_error_mm)))


def outline(part: Part, chord_error_mm: float = 0.0005) -> LWPolyline:
    """Return the only polyline of the file."""
    (polyline,) = read(part, chord_error_mm).modelspace().query("LWPOLYLINE")
    assert isinstance(polyline, LWPolyline)
    return polyline


def segments(polyline: LWPolyline) -> tuple[Floats, Floats, Floats]:
    """Start, end and bulge of every segment."""
    points = np.array(list(polyline.get_points("xyb")))
    return points[:, :2], np.roll(points[:, :2], -1, axis=0), points[:, 2]


def area(polyline: LWPolyline) -> float:
    """Green's theorem on the chords, and a circular segment added for every arc."""
    start, end, bulge = segments(polyline)
    chords = np.sum(start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]) / 2.0
    angle = 4.0 * np.arctan(bulge)
    chord = np.hypot(*(end - start).T)
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where(bulge == 0.0, 0.0, chord / (2.0 * np.sin(angle / 2.0)))
    return float(chords + np.sum(radius**2 * (angle - np.sin(angle)) / 2.0))


def test_it_is_what_it_says_and_any_auditor_is_content() -> None:
    drawing = read(data(SIZES[1]))
    assert drawing.acad_release == "R2010"
    assert drawing.units == units.MM
    assert not drawing.audit().has_errors
    assert {OUTLINE, BORE, REFERENCE, AXES, NOTES} <= {layer.dxf.name for layer in drawing.layers}
    space = drawing.modelspace()
    (bore,) = space.query(f'CIRCLE[layer=="{BORE}"]')
    assert bore.dxf.radius == 45.0
    radii = sorted(circle.dxf.radius for circle in space.query(f'CIRCLE[layer=="{REFERENCE}"]'))
    assert radii == pytest.approx([48.75, 50.0, 51.0])
    words = " ".join(text.dxf.text for text in space.query("TEXT"))
    assert "module 1 mm, 100 teeth" in words
    assert "chords within 0.5 um" in words


def test_holes_for_screws_have_a_layer_of_their_own() -> None:
    drawing = read(data((1.0, 70, 50.0, 8.0), R1=Extra(holes=Holes(5, 3.4, 59.0, "M3"))))
    holes = drawing.modelspace().query(f'CIRCLE[layer=="{HOLES}"]')
    assert [hole.dxf.radius for hole in holes] == [1.7] * 5
    turns = sorted(math.degrees(hole.dxf.center.angle) % 360 for hole in holes)
    # a tooth at 0 degrees stands midway of two holes
    assert turns == pytest.approx([36, 108, 180, 252, 324])
    assert [hole.dxf.center.magnitude for hole in holes] == pytest.approx([29.5] * 5)


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("size", SIZES)
def test_the_area_is_that_of_the_tooth(size: Size) -> None:
    part = data(size)
    exact = part.shape.tooth.area_mm2()
    fine, finer = outline(part, 0.0005), outline(part, 0.00005)
    assert fine.closed
    # flanks and fillets, about five modules of line on a tooth, off by the chord error at most
    assert area(fine) == pytest.approx(exact, abs=0.0005 * 5.5 * size[0] * size[1])
    assert abs(area(finer) - exact) < abs(area(fine) - exact) / 5.0


@pytest.mark.parametrize("size", SIZES)
def test_arcs_are_arcs_about_the_axis_and_chords_are_short(
    size: Size,
) -> None:
    part = data(size)
    form = part.shape.tooth
    polyline = outline(part)
    start, end, bulge = segments(polyline)
    arcs = np.flatnonzero(bulge)
    assert len(arcs) == 2 * form.teeth
    for index in arcs[:4]:
        centre, *_, radius = bulge_to_arc(start[index], end[index], bulge[index])
        assert tuple(centre) == pytest.approx((0.0, 0.0), abs=1e-6)
        assert min(abs(radius - form.tip_mm), abs(radius - form.root_mm)) < 1e-6
    assert math.hypot(*start.max(axis=0)) <= math.sqrt(2.0) * form.tip_mm
    # a tooth on the positive x axis: its tip arc is symmetric about it
    (first,) = [i for i in arcs if start[i][0] > 0 and start[i][1] < 0 < end[i][1]]
    assert start[first] == pytest.approx(end[first] * (1.0, -1.0), abs=1e-9)


def test_the_profile_is_as_deep_as_the_cutter() -> None:
    """A fine module cut 2.4 deep: nearest point to the axis, root circle and area are those of the answer."""
    study = load(fine(2.4))
    answer = solve(study)
    (part,), (ring,) = drawn_parts(study, answer), answer.rings
    root = ring.module_mm * (ring.teeth - 2.8) / 2.0
    start, _, _ = segments(outline(part))
    assert np.hypot(*start.T).min() == pytest.approx(root, abs=1e-6)
    circles = read(part).modelspace().query(f'CIRCLE[layer=="{REFERENCE}"]')
    assert min(circle.dxf.radius for circle in circles) == pytest.approx(root, abs=1e-9)
    section = area(outline(part)) - math.pi * ring.bore_mm**2 / 4.0
    # chords within 0.5 um of some six modules of line a tooth
    room = 5e-4 * 6.0 * ring.module_mm * ring.teeth
    kept = ring.finished_kg / 7850e-9 / ring.face_width_mm
    assert section == pytest.approx(kept, abs=room)
