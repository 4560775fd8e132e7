"""A toothed ring made the other way: the basic rack is rolled over a disc and cut away (shapely)."""

import functools

import numpy as np
import shapely

from ringset.arrays import Floats
from ringset.standards.racks import RACKS, Rack


def _cutter(rack: Rack, fineness: int) -> Floats:
    """One tooth of the rack, reference line at height 0, lengths in modules."""
    slope = np.tan(np.radians(rack.pressure_angle_deg))
    top, bottom = rack.addendum + 1.0, -rack.dedendum
    wide, narrow = np.pi / 4.0 + top * slope, np.pi / 4.0 + bottom * slope
    sharp = shapely.Polygon([(-narrow, bottom), (narrow, bottom), (wide, top), (-wide, top)])
    inner = sharp.buffer(-rack.root_fillet, join_style="mitre")
    return np.asarray(shapely.get_coordinates(inner.buffer(rack.root_fillet, quad_segs=fineness)))


@functools.cache
def rolled_pitch(name: str, teeth: int, shift: float, fineness: int = 256) -> shapely.Geometry:
    """One pitch (middle of a tooth to middle of the next) that the rolling rack leaves, module 1.

    Six modules either way carry the rack out of contact: the longest contact, from pitch point to
    the tip circle, is (h_a* + x) / (sin alpha cos alpha) = 4.1 modules plus half a tooth. All faults
    (cutter inside its arc, steps instead of an envelope) leave material, and all are chords of
    smooth curves, so they fall with the square of `fineness`.
    """
    rack, pitch_radius = RACKS[name], teeth / 2.0
    corners = _cutter(rack, fineness) + np.array([0.0, pitch_radius + shift])
    cuts = []
    for roll in np.linspace(-6.0, 6.0, 5 * fineness + 1):
        x, y = corners[:, 0] + roll, corners[:, 1]
        cos, sin = np.cos(roll / pitch_radius), np.sin(roll / pitch_radius)
        cuts.append(shapely.Polygon(np.column_stack([cos * x - sin * y, sin * x + cos * y])))
    turn = np.pi / 2.0 + np.linspace(-1.0, 1.0, 4 * fineness + 1) * np.pi / teeth
    tip = pitch_radius + rack.addendum + shift
    arc = tip * np.column_stack([np.cos(turn), np.sin(turn)])
    left = shapely.Polygon(np.vstack([[[0.0, 0.0]], arc])).difference(shapely.union_all(cuts))
    # The cutter must not have cut the pitch in two: one piece, else the sums below mean nothing.
    assert left.geom_type == "Polygon"
    return left
