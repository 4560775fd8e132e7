"""Mass and inertia of finished toothed rings, on whole columns of rows, and the room along the axis.

Finished is a ring with its true tooth shape, before screw holes are drilled: holes belong to a ring part and
all its joints, which a row does not know, and they only take off. Heads and screws are not counted.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.partners import catalogue_second_rows
from ringset.catalogue.rows import Catalogue
from ringset.physics import geometry
from ringset.physics.geometry import Section
from ringset.physics.quantity import Quantity
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.schema.true_rack import study_cuts_deeper, study_rack
from ringset.standards.racks import Rack


def rated_finished_kg(study: Study, rows: Catalogue) -> Floats:
    """Return the mass in kg of every row's finished ring (float64), of both where it has a second one."""
    return _of_all_rings(study.shop, rows, geometry.mass_kg)


def rated_finished_inertia_kg_m2(study: Study, rows: Catalogue) -> Floats:
    """Return the moment of inertia in kg m^2 of every row's finished ring about its axis (float64).

    Of a row with a second ring it is that of both.
    """
    return _of_all_rings(study.shop, rows, geometry.inertia_kg_m2)


def _of_all_rings(
    shop: Shop, rows: Catalogue, amount: Callable[[Section, Floats, float], Quantity]
) -> Floats:
    """Return an amount (of section, width and density) of every row's ring, and of its second one on top."""
    density = shop.ring_material.density_kg_per_m3
    total = np.asarray(amount(_sections(shop, rows), _width(rows), density))
    if rows.paired:
        others, place = catalogue_second_rows(rows)
        has = place >= 0
        total[has] += _of_all_rings(shop, others, amount)[place[has]]
    return total


def rated_joint_axial_need_mm(joint: Joint, head: Head) -> float:
    """Return the room in mm along the axis that ring and heads of a joint need: the wider of the two."""
    return max(joint.face_width_mm, head.axial_width_mm)


def rated_axial_need_mm(rows: Catalogue) -> Floats:
    """Return the room in mm along the axis that every row needs (float64): for two rings, if it has two."""
    need = rows.per_joint(lambda ref: rated_joint_axial_need_mm(ref.joint, ref.head))
    return np.where(rows.second_teeth > 0, 2.0 * need, need) if rows.paired else need


def _width(rows: Catalogue) -> Floats:
    return rows.per_joint(lambda ref: ref.joint.face_width_mm)


def _sections(shop: Shop, rows: Catalogue) -> Section:
    """Return the face section of every row's finished ring; each toothing is worked out once, at module 1.

    Areas grow with the square of the module, polar moments with its fourth power; the bore comes off both.
    """
    module, deep = rows.module_mm(), np.array([study_cuts_deeper(shop, m) for m in rows.modules_mm])
    area, polar = np.empty(len(rows)), np.empty(len(rows))
    for deeper in (False, True):
        mine = deep[rows.module] == deeper
        if not mine.any():
            continue
        teeth, place = np.unique(rows.teeth[mine], return_inverse=True)
        solid = _at_module_1(shop, study_rack(shop, float(module[mine][0])), teeth)
        area[mine] = np.asarray(solid.area_mm2)[place] * module[mine] ** 2
        polar[mine] = np.asarray(solid.polar_mm4)[place] * module[mine] ** 4
    bore = geometry.annulus_section(rows.bore_mm(), 0.0)
    return Section(area - bore.area_mm2, polar - bore.polar_mm4)


def _at_module_1(shop: Shop, rack: Rack, teeth: Ints) -> Section:
    """Return the sections of solid toothed discs of module 1, one for every tooth count.

    A count that the rack cannot cut soundly, as only widened windows hold, has the section of its blank.
    """
    try:
        return geometry.toothed_section(
            1.0, teeth, 0.0, addendum=rack.addendum, dedendum=rack.dedendum,
            fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg,
            shift=shop.profile_shift,
        )  # fmt: skip
    except ValueError:
        if len(teeth) == 1:
            tip = geometry.tip_diameter_mm(1.0, teeth, rack.addendum, shop.profile_shift)
            return geometry.annulus_section(tip, 0.0)
        each = [_at_module_1(shop, rack, np.array([count])) for count in teeth.tolist()]
        return Section(
            np.concatenate([one.area_mm2 for one in each]),
            np.concatenate([one.polar_mm4 for one in each]),
        )
