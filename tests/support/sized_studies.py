"""Random studies that state lengths and amounts off a drawing: housing, bores, axial room, mass, inertia.

What decides such a study by size is told here anew, ring by ring on plain numbers.
"""

from __future__ import annotations

import random

import numpy as np

from ringset.catalogue.enumerate import catalogue
from ringset.physics import geometry
from ringset.rating.rate import rate
from ringset.rating.rated import Rated
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.schema.true_rack import study_rack
from tests.support.studies import Json, combinations, inside_rows, load, random_study

#: Fields that bound what the rings of one robot come to together: mass and inertia.
RING_SUMS = ("rings_mass_max_kg", "rings_inertia_max_kg_m2")
#: Most combinations of rows that a sized study has.
WAYS_MAX = 30_000


def finished(
    shop: Shop, module: float, teeth: int, bore: float, width: float
) -> tuple[float, float]:
    """Return mass (kg) and inertia (kg m^2) of one undrilled steel ring of C45, from its own tooth shape."""
    rack = study_rack(shop, module)
    section = geometry.toothed_section(
        module, teeth, bore, addendum=rack.addendum, dedendum=rack.dedendum,
        fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg,
        shift=shop.profile_shift,
    )  # fmt: skip
    return 7850e-9 * width * float(section.area_mm2), 7850e-15 * width * float(section.polar_mm4)


def finished_columns(study: Study, rated: Rated) -> np.ndarray:
    """Return mass and inertia of every row's ring, worked out ring by ring; zeros where nothing asks."""
    rows = rated.catalogue
    if all(getattr(robot, field) is None for robot in study.robots for field in RING_SUMS):
        return np.zeros((len(rows), 2))
    known: dict[tuple[float, int, float, float], tuple[float, float]] = {}
    found = []
    for joint, *ring in zip(
        rows.joint.tolist(), rows.module_mm().tolist(), rows.teeth.tolist(),
        rows.bore_mm().tolist(), strict=True,
    ):  # fmt: skip
        key = (*ring, rows.joints[joint].joint.face_width_mm)
        if key not in known:
            known[key] = finished(study.shop, *key)
        found.append(known[key])
    return np.array(found).reshape(-1, 2)


def housing_mm(study: Study, joint: Joint, tip_mm: float, gap_mm: float) -> float:
    """Return what a drawing adds up to: the tips, and on either side the gap and the height of a head."""
    height = study.head_of(joint).height_above_tips_mm
    return height + gap_mm + tip_mm + gap_mm + height


def keeps_sizes(study: Study, joint: Joint, ring: tuple[float, int, float], gap_mm: float) -> bool:
    """Say whether a ring (module, teeth, bore) at a gap keeps what is stated of room, bores and amounts."""
    shop, head, (module, teeth, bore) = study.shop, study.head_of(joint), ring
    tip = module * (teeth + 2.0 * (study_rack(shop, module).addendum + shop.profile_shift))
    mass, inertia = finished(shop, *ring, joint.face_width_mm)
    listed = shop.bores_mm if joint.bores_mm is None else joint.bores_mm
    pairs = (
        (tip, joint.tip_max_mm),
        (housing_mm(study, joint, tip, gap_mm), joint.housing_max_mm),
        (max(joint.face_width_mm, head.axial_width_mm), joint.axial_room_mm),
        (mass, joint.ring_mass_max_kg),
        (inertia, joint.ring_inertia_max_kg_m2),
    )
    inside = all(most is None or value <= most + 1e-9 * max(1.0, most) for value, most in pairs)
    return inside and (listed is None or any(abs(bore - one) < 1e-6 for one in listed))


def sized_study(seed: int) -> Json:
    """Return the small random study of `seed` with limits on room, bores and amounts; some are impossible."""
    rng, data = random.Random(seed + 0.125), random_study(seed)
    joints = [joint for robot in data["robots"] for joint in robot["joints"]]
    if rng.random() < 0.4:
        data["head"] = {"gap_min_mm": 0.3, "gap_max_mm": 0.5, "gap_step_mm": 0.1}
    data.setdefault("head", {})["axial_width_mm"] = rng.choice((7.0, 12.0, 7.0))
    around = 2.0 * (data["head"].get("gap_min_mm", 0.4) + 12.0)
    while combinations(inside_rows(load(data))) > WAYS_MAX:
        for joint in joints:
            joint["tip_min_mm"] = (joint["tip_min_mm"] + joint["tip_max_mm"]) / 2.0
        data["shop"]["bore_step_mm"] = min(6.0, data["shop"]["bore_step_mm"] * 1.5)
    for joint in joints:
        add_room(rng, joint, around)
    if rng.random() < 0.4:
        add_lists(rng, data)
    add_amounts(rng, data)
    return data


def add_room(rng: random.Random, joint: Json, around: float) -> None:
    """Give a joint a housing in place of its tip limit or beside it, and at times room along the axis."""
    if rng.random() < 0.7:
        joint["housing_max_mm"] = joint["tip_max_mm"] + around - rng.choice((0.0, 0.0, 0.1, 0.5))
        joint["housing_max_mm"] = max(joint["housing_max_mm"], joint["tip_min_mm"] + around)
        if rng.random() < 0.6:
            del joint["tip_max_mm"]
    if rng.random() < 0.3:
        joint["axial_room_mm"] = rng.choice((10.0, 12.0, 12.0, 12.0, 15.0))


def add_lists(rng: random.Random, data: Json) -> None:
    """List bores for some joints, and at times for all others in the shop."""
    step, joints = data["shop"]["bore_step_mm"], [j for r in data["robots"] for j in r["joints"]]
    for joint in joints:
        if isinstance(joint["bore_max_mm"], str):
            continue  # in inches
        first, last = int(np.ceil(joint["bore_min_mm"] / step)), joint["bore_max_mm"] / step
        bores = [round(k * step, 9) for k in range(first, int(last) + 1)]
        if bores and rng.random() < 0.5:
            joint["bores_mm"] = sorted(rng.sample(bores, rng.randint(1, len(bores))))
    if rng.random() < 0.5:
        last = int(max(joint["bore_max_mm"] for joint in joints) / step)
        data["shop"]["bores_mm"] = [
            round(k * step, 9) for k in range(1, last + 1) if rng.random() < 0.8 or k == last
        ]


def add_amounts(rng: random.Random, data: Json) -> None:
    """Add limits on mass and inertia, of single rings and of robots, near what can just be reached."""
    study = load(data).canonical()
    rated = inside_rows(study)
    rows = rated.catalogue
    if combinations(rated) == 0:
        return
    both = np.array(
        [
            finished(study.shop, module, teeth, bore, rows.joints[joint].joint.face_width_mm)
            for joint, module, teeth, bore in zip(
                rows.joint.tolist(), rows.module_mm().tolist(), rows.teeth.tolist(),
                rows.bore_mm().tolist(), strict=True,
            )
        ]
    ) * (study.shop.ring_material.density_kg_per_m3 / 7850.0)  # fmt: skip
    for kind, single, whole in (
        (0, "ring_mass_max_kg", "rings_mass_max_kg"),
        (1, "ring_inertia_max_kg_m2", "rings_inertia_max_kg_m2"),
    ):
        for robot in data["robots"]:
            least = 0.0
            for joint in robot["joints"]:
                place = next(
                    index
                    for index, ref in enumerate(rows.joints)
                    if (ref.robot.name, ref.joint.name) == (robot["name"], joint["name"])
                )
                mine = both[rows.joint == place, kind]
                least += float(mine.min())
                if rng.random() < 0.25:
                    joint[single] = float(np.quantile(mine, rng.choice((0.0, 0.4, 0.8))))
            if rng.random() < 0.5:
                robot[whole] = least * rng.choice((0.99, 1.0, 1.05, 1.15, 1.3, 1.6))


def without_amounts(study: Study) -> Study:
    """Return the study with tips as wide as any housing, and no limit on room, bores and amounts."""
    free = {
        "housing_max_mm": None, "axial_room_mm": None, "ring_mass_max_kg": None,
        "ring_inertia_max_kg_m2": None, "bores_mm": None,
    }  # fmt: skip
    robots = [
        robot.model_copy(
            update={
                "joints": [
                    joint.model_copy(
                        update={**free, "tip_max_mm": joint.tip_max_mm or joint.housing_max_mm}
                    )
                    for joint in robot.joints
                ]
            }
        )
        for robot in study.robots
    ]
    shop = study.shop.model_copy(update={"bores_mm": None})
    return study.model_copy(update={"robots": robots, "shop": shop})


def rows_by_plain_sizes(study: Study) -> set[tuple[int, float, int, float, int]]:
    """Return (joint, module, teeth, bore, heads) of every ring that keeps all limits at one of its gaps.

    Rings of the study without what is stated of room, bores and amounts are rated at every gap; that is
    then held against each ring by itself.
    """
    free, study = without_amounts(study).canonical(), study.canonical()
    rows, kept = catalogue(free), set()
    joints = [joint for robot in study.robots for joint in robot.joints]
    head = study.head
    gaps = [head.gap_mm]
    if head.gap_min_mm is not None and head.gap_max_mm is not None:
        count = round((head.gap_max_mm - head.gap_min_mm) / head.gap_step_mm) + 1
        gaps = [round(head.gap_min_mm + head.gap_step_mm * turn, 9) for turn in range(count)]
    for gap in gaps:
        rated = rate(free, rows, np.full(len(rows), gap))
        for row in np.flatnonzero(rated.inside).tolist():
            place = int(rows.joint[row])
            ring = (float(rows.module_mm()[row]), int(rows.teeth[row]), float(rows.bore_mm()[row]))
            if keeps_sizes(study, joints[place], ring, gap):
                kept.add((place, *ring, int(rows.heads[row])))
    return kept


def tight_sized_joint(seed: int, data: Json) -> Json:
    """Return a tight study of one joint with limits on room, bores and amounts near what it has."""
    rng = random.Random(seed + 0.625)
    joint, head = data["robots"][0]["joints"][0], data.setdefault("head", {})
    around = 2.0 * (head.get("gap_min_mm", head.get("gap_mm", 0.4)) + 12.0)
    tip, bore = joint["tip_max_mm"], joint["bore_min_mm"]
    if rng.random() < 0.6:
        joint["housing_max_mm"] = round(tip + around + rng.choice((-1.0, -0.1, 0.0, 1.0)), 3)
        if rng.random() < 0.5:
            joint["tip_max_mm"] = tip + 2.0
    if rng.random() < 0.3:
        joint["axial_room_mm"] = rng.choice((8.0, 11.0, 12.0, 14.0))
    step = data["shop"]["bore_step_mm"]
    if rng.random() < 0.5:
        bores = [bore + k * step for k in range(int((joint["bore_max_mm"] - bore) / step) + 1)]
        joint["bores_mm"] = sorted(rng.sample(bores, rng.randint(1, min(3, len(bores)))))
    elif rng.random() < 0.4:
        data["shop"]["bores_mm"] = [bore - 4.0 * step, bore + 2.0 * step, bore + 30.0 * step]
    solid = 7850e-9 * 8.0 * np.pi / 4.0 * (tip**2 - bore**2)
    if rng.random() < 0.3:
        joint["ring_mass_max_kg"] = float(solid * rng.uniform(0.5, 1.0))
    if rng.random() < 0.3:
        mean_mm2 = (tip**2 + bore**2) / 8.0
        joint["ring_inertia_max_kg_m2"] = float(1e-6 * solid * mean_mm2 * rng.uniform(0.5, 1.0))
    return data
