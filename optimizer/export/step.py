"""The solid of a ring part as STEP, by a CAD kernel (extra `cad`).

Every tooth has its true flanks: fillet and involute as splines within 0.05 um, tip and root as
arcs, extruded over the face width. Edge breaks are left to the shop and not modelled.
"""

from __future__ import annotations

import errno
from collections.abc import Callable
from math import comb
from pathlib import Path
from typing import Any

import numpy as np

from ringset._version import __version__
from ringset.drawing.part import Part
from ringset.drawing.views import Shape
from ringset.physics.quantity import Array
from ringset.physics.tooth_profile import Tooth

#: Last line of every STEP file (ISO 10303-21).
_END = b"END-ISO-10303-21;"
#: Degrees of the splines; with them they stay within 0.05 um of fillet and involute from 17 teeth up.
_FILLET_DEGREE, _FLANK_DEGREE = 11, 6


def write_step(data: Part, file: Path) -> None:
    """Write the ring as STEP, axis z, one face in the plane z = 0, a tooth on the positive x axis.

    Raises ImportError without the kernel and OSError where the file cannot be written whole.
    """
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer

    solid = step_ring_solid(data.shape)
    writer = STEPControl_Writer()
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)  # the edges lie on plain extrusions
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    writer.Transfer(solid, STEPControl_StepModelType.STEPControl_AsIs)
    _name(writer.Model(), data.part.id)
    done = writer.Write(str(file)) == IFSelect_ReturnStatus.IFSelect_RetDone
    # the kernel tells no reason, and a file cut off by a full disk is no file
    if not done or not file.read_bytes().rstrip().endswith(_END):
        raise OSError(errno.EIO, "the CAD kernel could not write all of it; is the disk full?")


def _name(model: Any, name: str) -> None:
    """Name the product and the file after the ring part; the kernel numbers them through."""
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.StepBasic import StepBasic_Product
    from OCP.TCollection import TCollection_HAsciiString

    text = TCollection_HAsciiString(name)
    for index in range(1, model.NbEntities() + 1):
        entity = model.Value(index)
        if isinstance(entity, StepBasic_Product):
            entity.SetName(text)
            entity.SetId(text)
            break
    header = APIHeaderSection_MakeHeader(model)
    header.SetName(text)
    header.SetOriginatingSystem(TCollection_HAsciiString(f"Ringset {__version__}"))


def step_ring_solid(ring: Shape) -> Any:
    """Return the solid of a ring in the kernel's own type."""
    from OCP.BRepBuilderAPI import (
        BRepBuilderAPI_MakeEdge,
        BRepBuilderAPI_MakeFace,
        BRepBuilderAPI_MakeWire,
    )
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pln, gp_Pnt, gp_Vec

    outer = _outline_wire(ring.tooth)
    face = BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), outer, True)
    circles = [(0.0, 0.0, ring.bore_mm / 2.0)]
    if ring.holes is not None:
        circles += [(x, y, ring.holes.hole_mm / 2.0) for x, y in ring.holes.centres().tolist()]
    for x, y, radius in circles:
        axis = gp_Ax2(gp_Pnt(x, y, 0), gp_Dir(0, 0, -1))  # a hole runs the other way round
        edge = BRepBuilderAPI_MakeEdge(gp_Circ(axis, radius)).Edge()
        face.Add(BRepBuilderAPI_MakeWire(edge).Wire())
    return BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, ring.face_width_mm)).Shape()


def _outline_wire(form: Tooth) -> Any:
    """Return the closed outline; neighbouring edges share their vertices."""
    from OCP.BRep import BRep_Builder
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeVertex
    from OCP.gp import gp_Pnt
    from OCP.TopoDS import TopoDS_Wire

    builder, wire = BRep_Builder(), TopoDS_Wire()
    builder.MakeWire(wire)
    pieces = _pieces(form)
    starts = [piece[0] for piece in pieces]
    corners = [BRepBuilderAPI_MakeVertex(gp_Pnt(x, y, 0.0)).Vertex() for x, y in starts]
    for index, piece in enumerate(pieces):
        first, last = corners[index], corners[(index + 1) % len(corners)]
        curve = _arc(piece) if len(piece) == 3 else _spline(piece)
        builder.Add(wire, BRepBuilderAPI_MakeEdge(curve, first, last).Edge())
    wire.Closed(True)
    return wire


def _pieces(form: Tooth) -> list[list[tuple[float, float]]]:
    """Return the outline counter-clockwise: three points of an arc, or the poles of a spline."""
    fillet = _poles(form.fillet, np.pi / 2.0, form.fillet_end, _FILLET_DEGREE)
    flank = _poles(form.involute, form.roll_start, form.roll_end, _FLANK_DEGREE)
    flank[0] = fillet[-1]  # equal to the last digit, so that they share a corner
    middle, root = np.pi / form.teeth, form.root_half_angle
    third = np.array([-1.0, 0.0, 1.0])
    tip = _place(np.full(3, form.tip_mm), third * form.tip_half_angle)
    gap = _place(np.full(3, form.root_mm), middle + third * root)
    mirror = np.array([1.0, -1.0])
    one = [fillet * mirror, flank * mirror, tip, flank[::-1], fillet[::-1]]
    one += [gap] if root > 1e-9 else []
    turns = np.exp(2j * middle * np.arange(form.teeth))
    return [_turned(points, turn) for turn in turns for points in one]


def _poles(
    curve: Callable[[Array], tuple[Array, Array]], start: float, end: float, degree: int
) -> Array:
    """Return the poles of a single-span spline through Chebyshev points of a curve, ends exact."""
    nodes = (1.0 - np.cos(np.pi * np.arange(degree + 1) / degree)) / 2.0
    points = _place(*curve(start + (end - start) * nodes))
    order = np.arange(degree + 1)
    ways = np.array([comb(degree, k) for k in order], dtype=float)
    at = nodes[:, np.newaxis]
    poles = np.linalg.solve(ways * at**order * (1.0 - at) ** (degree - order), points)
    poles[0], poles[-1] = points[0], points[-1]
    return np.asarray(poles, dtype=np.float64)


def _place(radius: Array, turn: Array) -> Array:
    return np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])


def _turned(points: Array, turn: complex) -> list[tuple[float, float]]:
    turned = points @ np.array([1.0, 1j]) * turn
    return list(zip(turned.real.tolist(), turned.imag.tolist(), strict=True))


def _arc(points: list[tuple[float, float]]) -> Any:
    from OCP.GC import GC_MakeArcOfCircle
    from OCP.gp import gp_Pnt

    return GC_MakeArcOfCircle(*(gp_Pnt(x, y, 0.0) for x, y in points)).Value()


def _spline(poles: list[tuple[float, float]]) -> Any:
    from OCP.collections import Array1_double, Array1_gp_Pnt, Array1_int
    from OCP.Geom import Geom_BSplineCurve
    from OCP.gp import gp_Pnt

    array = Array1_gp_Pnt(1, len(poles))
    for index, (x, y) in enumerate(poles, start=1):
        array.SetValue(index, gp_Pnt(x, y, 0.0))
    knots, times = Array1_double(1, 2), Array1_int(1, 2)
    for index in (1, 2):
        knots.SetValue(index, index - 1.0)
        times.SetValue(index, len(poles))
    return Geom_BSplineCurve(array, knots, times, len(poles) - 1, False)
