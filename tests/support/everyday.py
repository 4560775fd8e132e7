"""Small random studies as engineers write them down: drawing, data sheet, house lists and certificate.

A study states a shop of its own (`own_shops`), sizes off a drawing (`sized_studies`) and targets for
repeatability together, and some lengths in inches.
"""

from __future__ import annotations

import random

import numpy as np

from ringset.physics.toolpoint import lever_error_um
from ringset.schema.study import Study
from tests.solving.test_brute_force import Table
from tests.support.own_shops import own_shop_study
from tests.support.plain_names import plain_cutter, plain_zone
from tests.support.plainly_listed import plain_rings
from tests.support.sized_studies import add_amounts, add_lists, add_room
from tests.support.studies import Json, combinations, inside_rows, load

#: Most combinations of rings that a study may have.
WAYS_MAX = 100_000


def everyday_study(seed: int) -> Json:
    """Return the small random study of `seed` with inputs of every kind; some are impossible."""
    rng, data = random.Random(seed + 0.375), own_shop_study(seed)
    head = data.setdefault("head", {})
    if rng.random() < 0.3:
        head.update(gap_min_mm=0.3, gap_max_mm="0.5 mm", gap_step_mm=0.1)
    head["axial_width_mm"] = rng.choice((7.0, 10.0, "0.375 in"))
    joints = [joint for robot in data["robots"] for joint in robot["joints"]]
    for joint in joints:  # all that is added takes rings away
        joint["tip_min_mm"] -= 8.0
        joint["tip_max_mm"] += 4.0
    data["target"]["angle_target_arcsec"] *= rng.choice((1.0, 1.5, 2.0))
    while combinations(inside_rows(load(data))) > WAYS_MAX:
        for joint in joints:
            joint["tip_min_mm"] = (joint["tip_min_mm"] + joint["tip_max_mm"]) / 2.0
        data["shop"]["bore_step_mm"] = min(6.0, 1.5 * data["shop"]["bore_step_mm"])
    around = 2.0 * (head.get("gap_min_mm", 0.4) + 12.0)
    for joint in joints:
        add_room(rng, joint, around)
        if "housing_max_mm" in joint and rng.random() < 0.3:
            joint["housing_max_mm"] = f"{round(joint['housing_max_mm'] / 25.4, 4)} in"
    if rng.random() < 0.3 and all(isinstance(joint["bore_max_mm"], float) for joint in joints):
        add_lists(rng, data)
    _steady(rng, data)
    add_amounts(rng, data)
    return data


def _steady(rng: random.Random, data: Json) -> None:
    """Add repeatability targets of joints and tool points near what the rings reach."""
    rated = inside_rows(load(data))
    rows = rated.catalogue
    mine = [rated.repeatability_arcsec[rows.joint == place] for place in range(len(rows.joints))]
    if any(len(one) == 0 for one in mine):
        return
    if rng.random() < 0.4:
        most = float(np.quantile(np.concatenate(mine), rng.choice((0.5, 0.8, 0.95))))
        data["target"]["repeatability_target_arcsec"] = max(most, *(one.min() for one in mine))
    for robot in data["robots"]:
        least = [
            float(lever_error_um(ref.joint.reach_mm, one.min()))
            for ref, one in zip(rows.joints, mine, strict=True)
            if ref.robot.name == robot["name"] and ref.joint.reach_mm > 0.0
        ]
        if least and rng.random() < 0.4:
            rule = robot.setdefault("tool_point_rule", "rss")
            reached = float(np.hypot.reduce(least)) if rule == "rss" else sum(least)
            robot["tool_point_repeatability_target_um"] = reached * rng.uniform(0.99, 1.4)


def plain_table(study: Study) -> Table:
    """Return all rings that plain loops and the judge let pass, in the columns of the listing."""
    study = study.canonical()
    rings = plain_rings(study)
    places = [(robot, joint) for robot in study.robots for joint in robot.joints]
    count = np.array([places[one.joint][0].count for one in rings], dtype=np.int64)
    reach = [places[one.joint][1].reach_mm for one in rings]
    heads = np.array([one.ring.heads for one in rings], dtype=np.int64)
    current = [study.head_of(places[one.joint][1]).backup_current_ua or 0.0 for one in rings]
    return Table(
        study=study,
        joint=np.array([one.joint for one in rings], dtype=np.int64),
        part=[
            (
                one.ring.module_mm, one.ring.teeth, one.ring.bore_mm, one.ring.face_width_mm,
                plain_zone(places[one.joint][1].seat_fit),
            )
            for one in rings
        ],
        cutter=[
            plain_cutter(study.shop.cutting, one.ring.module_mm, one.ring.teeth) for one in rings
        ],
        heads=heads * count,
        kg=np.array([one.blank_kg for one in rings]) * count,
        money=np.zeros(len(rings)),
        lever_um=np.array([one.lever_um for one in rings]),
        scatter_um=np.array(
            [
                float(lever_error_um(far, one.repeatability_arcsec))
                for far, one in zip(reach, rings, strict=True)
            ]
        ),
        finished=np.array([[one.finished_kg, one.inertia_kg_m2] for one in rings]).reshape(-1, 2),
        current_ua=heads * np.array(current),
        joints=len(places),
    )  # fmt: skip
