"""Small studies for the tests of the line: a seeded generator and a few by name.

Every robot here is invented. A random study is small enough that all ways to give each joint one of
its rings can be listed, and mixed enough to meet every kind of wish, ceiling and shared limit.
"""

from __future__ import annotations

import json
import random
from typing import Any

import numpy as np

from ringset.catalogue.enumerate import catalogue
from ringset.physics.toolpoint import lever_error_um
from ringset.rating.rate import rate
from ringset.rating.rated import Rated
from ringset.schema.loading import load_study
from ringset.schema.study import Study

#: Most combinations of rows (one per joint) that a random study may have.
COMBINATIONS_MAX = 1_000_000
#: Wishes that need no prices.
WITHOUT_PRICES = ("cutters", "ring_parts", "heads", "material")

Json = dict[str, Any]


def load(data: Json) -> Study:
    """Return the checked study in `data`."""
    return load_study(json.dumps(data))


def joint(name: str, bore: float, **fields: Any) -> Json:
    """Return a joint with a bore window of 6 mm from `bore` and 30 mm of height up to the tips."""
    sizes = {"bore_min_mm": bore, "bore_max_mm": bore + 6.0, "tip_max_mm": bore + 30.0}
    return {"name": name, **sizes, **fields}


def small() -> Json:
    """Return three joints of one arm; two of them can share a ring."""
    near = {"tip_min_mm": 64.0}
    return {
        "robots": [
            {
                "name": "arm",
                "count": 2,
                "joints": [
                    joint("joint 1", 60.0, tip_min_mm=84.0, reach_mm=500.0),
                    joint("joint 2", 40.0, reach_mm=300.0, **near),
                    joint("joint 3", 41.0, reach_mm=100.0, **near),
                ],
            }
        ],
        "shop": {"modules": [1.0, 1.25], "bore_step_mm": 1.0},
        "target": {"angle_target_arcsec": 200.0},
    }


def two_robots() -> Json:
    """Return two robots with disc cutters, every limit of the study set, and a tool-point target."""
    data = small()
    data["robots"][0]["tool_point_target_um"] = 400.0
    data["robots"].append(
        {
            "name": "table",
            "count": 5,
            "joints": [joint("plate", 40.0, tip_min_mm=60.0, head_counts=[1, 2, 3])],
        }
    )
    data["shop"].update(cutting="disc_8", rim_max_mm=14.0)
    data["target"]["resolution_bits"] = 14.0
    data["wishes"] = {
        "cutters_max": 4,
        "ring_parts_max": 4,
        "heads_max": 40,
        "material_max_kg": 10.0,
    }
    return data


def inside_rows(study: Study) -> Rated:
    """Return every row of the study's catalogue that keeps the limits of its joint."""
    study = study.canonical()
    rated = rate(study, catalogue(study))
    return rated.take(rated.inside)


def combinations(rated: Rated) -> int:
    """Return how many ways there are to give each joint one of its rows."""
    counts = np.bincount(rated.catalogue.joint, minlength=len(rated.catalogue.joints))
    return int(np.prod(counts, dtype=object))


def priced_study(seed: int) -> Json:
    """Return the random study of `seed` with prices, cost among its wishes, and at times a ceiling of it."""
    rng, data = random.Random(seed + 0.5), random_study(seed)
    classes = {str(data["shop"].get("flank_class", 6)): rng.choice((0.0, 0.05, 0.4)), "11": 0.01}
    data["shop"]["prices"] = {
        "currency": "crowns",
        "cutter": rng.choice((0.0, 90.0, 400.0)),
        "set_up_per_ring_part": rng.choice((0.0, 35.0, 250.0)),
        "material_per_kg": rng.choice((0.0, 4.0, 300.0)),
        "head": rng.choice((0.0, 12.0, 150.0)),
        "machine_per_hour": rng.choice((0.0, 60.0)),
        "cutting_minutes_per_tooth": classes,
    }
    order = data["wishes"]["order"]
    order.insert(rng.randint(0, len(order)), "cost")
    return data


def mixed_fits(seed: int) -> Json:
    """Return a small random study whose joints ask up to three zones of their bores.

    H7/h6, H7/g6 and no fit ask the same bore (H7), N7/h6 and H8/f7 others. Widths are one, so that nothing
    but the zones keeps rings apart, and at times a ceiling lies near what the zones let be one part.
    """
    rng = random.Random(seed + 0.25)
    data = _drawn(rng, seed)
    fits = rng.choice((("H7/h6", "N7/h6"), ("H7/g6", "N7/h6", None), ("H7/h6", "H8/f7", "H7/g6")))
    joints = [joint for robot in data["robots"] for joint in robot["joints"]]
    for joint in joints:
        fit = rng.choice(fits)
        joint.pop("seat_fit", None)
        joint["face_width_mm"] = 8.0
        if fit is not None:
            for field in ("seat_offset_um", "seat_tir_um", "set_by"):
                joint.pop(field, None)
            joint["seat_fit"] = fit
    _limited(rng, data)
    if rng.random() < 0.5:
        data["wishes"]["ring_parts_max"] = rng.randint(1, len(joints))
    if "ring_parts" not in data["wishes"]["order"]:
        data["wishes"]["order"].insert(rng.randint(0, 1), "ring_parts")
    return data


def without_money(data: Json) -> Study:
    """Return the study of `data` with no wish about money, for it states no prices."""
    order = [wish for wish in data["wishes"].get("order", []) if wish != "cost"]
    data["wishes"]["order"] = order or ["material"]
    return load(data)


def random_study(seed: int) -> Json:
    """Return the small random study of `seed`; most are possible, some are not."""
    rng = random.Random(seed)
    data = _drawn(rng, seed)
    _limited(rng, data)
    return data


def _drawn(rng: random.Random, seed: int) -> Json:
    """Return a study without limits over joints."""
    joints = rng.choice((2, 2, 3, 3, 3, 4, 4))
    data: Json = {
        "robots": _robots(rng, joints),
        "shop": _shop(rng),
        "target": {
            "angle_target_arcsec": rng.choice((180.0, 250.0, 350.0, 500.0)),
            "basis": rng.choice(("expanded", "expanded", "worst_case")),
        },
        "wishes": {"order": rng.sample(WITHOUT_PRICES, rng.choice((1, 2, 3, 4, 4, 4)))},
        "search": {"seed": seed % 7},
    }
    if data["target"]["basis"] == "worst_case":
        data["target"]["angle_target_arcsec"] *= 2.2
    if rng.random() < 0.2:
        data["target"]["resolution_bits"] = rng.choice((13.0, 14.0, 15.0))
    _set_by_dial(random.Random(seed + 0.75), data)
    return data


def _set_by_dial(rng: random.Random, data: Json) -> None:
    """Let some rings without a fit be set by their tips, and some offsets be full readings of the dial.

    Drawn by itself: all else of a study stays as it is.
    """
    for robot in data["robots"]:
        for row in robot["joints"]:
            by_tips, by_reading = rng.random() < 0.3, rng.random() < 0.5
            if "seat_fit" not in row and by_tips:
                row["set_by"] = "tips"
            if "seat_offset_um" in row and by_reading:
                row["seat_tir_um"] = 2.0 * row.pop("seat_offset_um")


def _limited(rng: random.Random, data: Json) -> None:
    """Leave so few rings that all ways can be listed, and add limits over joints."""
    while combinations(inside_rows(load(data))) > COMBINATIONS_MAX:
        _narrow(data)
    _shared_limits(rng, data)
    if data["shop"]["cutting"] == "disc_15" and rng.random() < 0.5:
        data["shop"]["cutting"] = "disc_special"  # drawn last: all other studies stay as they are


def _robots(rng: random.Random, joints: int) -> list[Json]:
    first = rng.choice((34.0, 45.0, 60.0, 82.0))
    widths = rng.choice(((8.0,), (8.0,), (8.0, 10.0)))
    wide = rng.choice((3.0, 5.0, 8.0))
    rows = []
    for number in range(1, joints + 1):
        # small shifts, so that joints can often share a ring
        bore = first + rng.choice((0.0, 0.0, 0.0, 1.0, 2.0, 18.0))
        tip = first + rng.choice((26.0, 26.0, 30.0)) + 10.0 * (bore > first + 5.0)
        row: Json = {
            "name": f"joint {number}",
            "bore_min_mm": bore,
            "bore_max_mm": bore + rng.choice((3.0, 6.0, 9.0)),
            "tip_max_mm": tip,
            "tip_min_mm": tip - wide,
            "face_width_mm": rng.choice(widths),
            "reach_mm": rng.choice((0.0, 80.0, 250.0, 700.0)),
            "head_counts": rng.choice(([1], [1, 2], [1, 2], [2, 1, 3])),
        }
        if rng.random() < 0.3:
            row["seat_fit"] = rng.choice(("H7/g6", "H7/h6", "H8/f7"))
        elif rng.random() < 0.3:
            row["seat_offset_um"] = rng.choice((5.0, 10.0, 25.0))
        if rng.random() < 0.2:
            row["angle_target_arcsec"] = rng.choice((200.0, 320.0))
        if 2 in row["head_counts"] and rng.random() < 0.2:
            row["head_angles_deg"] = {"2": [0.0, 90.0]}
        rows.append(row)
    split = rng.randint(1, joints - 1) if rng.random() < 0.4 else joints
    groups = [rows[:split], rows[split:]] if split < joints else [rows]
    return [
        {"name": f"robot {i}", "count": rng.choice((1, 1, 3, 20)), "joints": group}
        for i, group in enumerate(groups, start=1)
    ]


def _shop(rng: random.Random) -> Json:
    shop: Json = {
        "modules": sorted(rng.sample((0.8, 1.0, 1.25, 1.5, 2.0), rng.choice((1, 2, 3)))),
        "cutting": rng.choice(("hob", "disc_8", "disc_15", "wire")),
        "bore_step_mm": rng.choice((1.0, 2.0, 2.5, 4.0)),
        "rack": rng.choice(("full", "full", "stub")),
    }
    if rng.random() < 0.3:
        shop["rim_max_mm"] = rng.choice((9.0, 12.0))
    if rng.random() < 0.2:
        shop["clamp_runout_share"] = None
    return shop


def _narrow(data: Json) -> None:
    """Leave fewer rings: narrow every tip window, and make the bore step coarser."""
    for robot in data["robots"]:
        for row in robot["joints"]:
            row["tip_min_mm"] = (row["tip_min_mm"] + row["tip_max_mm"]) / 2.0
    data["shop"]["bore_step_mm"] = min(4.0, data["shop"]["bore_step_mm"] * 1.5)


def _shared_limits(rng: random.Random, data: Json) -> None:
    """Add ceilings and tool-point targets, near what can just be reached."""
    rated = inside_rows(load(data))
    rows = rated.catalogue
    if combinations(rated) == 0:
        return
    wishes, number = data["wishes"], len(rows.joints)
    if rng.random() < 0.25:
        wishes["cutters_max"] = rng.choice((1, 1, 2, 3))
    if rng.random() < 0.25:
        wishes["ring_parts_max"] = rng.randint(1, number)
    groups = [rows.joint == index for index in range(number)]
    counts = [ref.robot.count for ref in rows.joints]
    if rng.random() < 0.25:
        least = sum(c * int(rows.heads[g].min()) for c, g in zip(counts, groups, strict=True))
        wishes["heads_max"] = max(1, least + rng.choice((-1, 0, 1, 3)))
    if rng.random() < 0.25:
        least_kg = sum(
            c * float(rated.blank_kg[g].min()) for c, g in zip(counts, groups, strict=True)
        )
        wishes["material_max_kg"] = least_kg * rng.uniform(0.98, 1.35)
    for robot in data["robots"]:
        if rng.random() < 0.5 and any(row["reach_mm"] > 0.0 for row in robot["joints"]):
            rule = rng.choice(("rss", "sum"))
            best = [
                float(lever_error_um(ref.joint.reach_mm, rated.error_arcsec[g].min()))
                for ref, g in zip(rows.joints, groups, strict=True)
                if ref.robot.name == robot["name"]
            ]
            least_um = float(np.hypot.reduce(best)) if rule == "rss" else sum(best)
            robot["tool_point_rule"] = rule
            robot["tool_point_target_um"] = least_um * rng.uniform(0.98, 1.5)
