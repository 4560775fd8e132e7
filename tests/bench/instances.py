"""Seeded studies of invented arms, of any number of joints, for the benches.

An arm has six or seven hollow joints from base to tool. Sizes shrink along it by about a fifth a joint;
shafts come in whole millimetres, housings in half ones; a third of the joints have a head at a fixed
radius (a smallest tip diameter as well as a largest). Bore windows are 2 to 8 mm wide and the room
between bore and tips is 16 to 40 mm, as far apart as hollow joints with and without a wide bearing.
Robots come in sizes from 0.5 to 1.6 times a middle one. Nothing is drawn until it solves well: `study`
takes the seed as it comes and only asks that every joint has a ring, and `with_tool_points` puts the
target a stated part of the way between the best that is possible and what the lightest rings reach.
"""

from __future__ import annotations

import json
import random
from typing import Any

import numpy as np

from ringset.catalogue.enumerate import catalogue, catalogue_blocks
from ringset.rating.rate import rate
from ringset.rating.robot_sums import rated_tool_point_shares
from ringset.schema.loading import load_study
from ringset.schema.study import Study

Json = dict[str, Any]


def half(value: float) -> float:
    """Return a length to the next half millimetre."""
    return round(2.0 * value) / 2.0


#: Shafts in mm of the joint sizes of a maker. Invented, up from 18 mm by about two fifths, then less.
LADDER_MM = (18.0, 25.0, 35.0, 50.0, 70.0, 90.0, 112.0)


def house_arm(number: int, joints: int, draw: random.Random) -> Json:
    """Return one arm of a maker whose joints come in the sizes of a ladder, adapted case by case."""
    size = draw.randrange(2, len(LADDER_MM))
    reach = 9.0 * LADDER_MM[size] * draw.uniform(0.8, 1.2)
    made = []
    for place in range(joints):
        bore = LADDER_MM[size] + draw.choice([0.0, 0.5, 1.0, 1.5])
        tip = half(LADDER_MM[size] * 1.1 + draw.uniform(16.0, 32.0))
        joint: Json = {
            "name": f"joint {place + 1}",
            "bore_min_mm": bore,
            "bore_max_mm": bore + half(draw.uniform(2.0, 6.0)),
            "tip_max_mm": tip,
            "reach_mm": round(reach),
        }
        if draw.random() < 1 / 3:
            joint["tip_min_mm"] = tip - half(draw.uniform(4.0, 9.0))
        made.append(joint)
        size = max(0, size - draw.choice([0, 0, 1, 1, 2]))
        reach *= draw.uniform(0.6, 0.9)
    return {"name": f"arm {number}", "count": draw.choice([1, 5, 20, 50]), "joints": made}


def arm(number: int, joints: int, draw: random.Random) -> Json:
    """Return one invented arm of its own sizes."""
    scale = 0.5 * (1.6 / 0.5) ** draw.random()
    shaft = scale * draw.uniform(75.0, 110.0)
    reach = scale * draw.uniform(900.0, 1300.0)
    made = []
    for place in range(joints):
        bore = float(round(shaft)) + draw.choice([0.5, 1.0, 2.0])
        slack = half(draw.uniform(2.0, 8.0))
        tip = half(bore + draw.uniform(16.0, 40.0))
        joint: Json = {
            "name": f"joint {place + 1}",
            "bore_min_mm": bore,
            "bore_max_mm": bore + slack,
            "tip_max_mm": tip,
            "reach_mm": round(reach),
        }
        if draw.random() < 1 / 3:
            joint["tip_min_mm"] = tip - half(draw.uniform(4.0, 9.0))
        made.append(joint)
        shaft *= draw.uniform(0.72, 0.9)
        reach *= draw.uniform(0.6, 0.9)
    return {"name": f"arm {number}", "count": draw.choice([1, 5, 20, 50]), "joints": made}


def robots(joints: int, seed: int, make: Any = arm) -> list[Json]:
    """Return arms with `joints` joints in all; the last arm may be shorter."""
    draw, left = random.Random(seed), joints
    made: list[Json] = []
    while left > 0:
        size = min(left, draw.choice((6, 7)))
        made.append(make(len(made) + 1, size, draw))
        left -= size
    return made


def study(
    joints: int, seed: int, target_arcsec: float = 300.0, make: Any = arm, **parts: Any
) -> Study:
    """Return a checked study of invented arms; joints without any ring get more room."""
    data: Json = {
        "robots": robots(joints, seed, make),
        "target": {"angle_target_arcsec": target_arcsec},
        **parts,
    }
    while True:
        made = load_study(json.dumps(data)).canonical()
        tight = without_rings(made)
        if not tight:
            return made
        for robot in data["robots"]:
            for joint in robot["joints"]:
                if f"{robot['name']}/{joint['name']}" in tight:
                    joint["tip_max_mm"] += 2.0
                    joint.pop("tip_min_mm", None)


def without_rings(made: Study) -> set[str]:
    """Return the joints that no ring fits."""
    tight: set[str] = set()
    for joints, rows in catalogue_blocks(made):
        present = np.bincount(rows.joint[rate(made, rows).inside], minlength=len(rows.joints))
        tight |= {rows.joints[joint].label for joint in joints if present[joint] == 0}
    return tight


def with_tool_points(made: Study, part: float = 0.3) -> Study:
    """Return the study with a tool-point target per robot, `part` of the way from best to lightest."""
    rated = rate(made, catalogue(made))
    rated = rated.take(rated.inside)
    rows, shares = rated.catalogue, rated_tool_point_shares(rated)
    order = np.lexsort((shares, rated.blank_kg, rated.catalogue.heads, rows.joint))
    first = order[np.searchsorted(rows.joint[order], np.arange(len(rows.joints)))]
    best = np.full(len(rows.joints), np.inf)
    np.minimum.at(best, rows.joint, shares)
    changed = []
    for robot in made.robots:
        mine = np.array([ref.robot is robot for ref in rows.joints])
        ends = np.sqrt([best[mine].sum(), shares[first][mine].sum()])
        target = float(np.ceil(ends[0] + part * (ends[1] - ends[0])))
        changed.append(robot.model_copy(update={"tool_point_target_um": target}))
    return made.model_copy(update={"robots": changed})
