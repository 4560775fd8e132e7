"""Studies that state what the reading electronics must keep."""

from __future__ import annotations

import random
from typing import Any

from tests.support.narrow import present
from tests.support.studies import Json, inside_rows, joint, load, random_study, small

HEAD = {
    "sample_rate_hz": 2000.0,
    "bandwidth_hz": 1000.0,
    "backup_polling_ms": 1.0,
    "backup_counter_bits": 9,
    "backup_current_ua": 1.5,
    "position_bits": 25,
}

#: Seed of a study `with_batteries` whose rows of least shares are no answer together.
STARTS_WITH_A_SEARCH = 116


def stated() -> Json:
    """Return a study of two robots that states everything of the electronics."""
    data = small()
    data["head"] = dict(HEAD)
    data["heads"] = {"thrifty": {**HEAD, "backup_current_ua": 0.4}}
    data["target"]["lag_max_arcsec"] = 60.0
    arm = data["robots"][0]
    arm["battery"] = {"capacity_ah": 2.4, "life_min_years": 5.0}
    arm["line"] = {"cycle_max_us": 400.0}
    for row in arm["joints"]:
        row.update(unpowered_speed_rpm=100.0, turns_range=2.0)
    arm["joints"][1]["head"] = "thrifty"
    data["robots"].append({"name": "plain", "joints": [joint("plate", 40.0, tip_min_mm=60.0)]})
    return data


def one(**fields: Any) -> Json:
    """Return a study of one joint; `head`, `joint`, `robot` and `target` add fields to those."""
    row = {**joint("wrist", 40.0), **fields.get("joint", {})}
    return {
        "robots": [{"name": "arm", "joints": [row], **fields.get("robot", {})}],
        "shop": {"modules": [0.8, 1.0, 1.25]},
        "head": fields.get("head", {}),
        "target": {"angle_target_arcsec": 250.0, **fields.get("target", {})},
    }


def with_batteries(seed: int) -> Json:
    """Return a random study whose joints have heads of different currents and near-binding lives."""
    data, rng = random_study(seed), random.Random(1000 + seed)
    currents = {"a": 0.7, "b": 1.3, "c": rng.uniform(0.2, 3.0)}
    data["heads"] = {name: {"backup_current_ua": ua} for name, ua in currents.items()}
    for robot in data["robots"]:
        for row in robot["joints"]:
            row.update(head=rng.choice(list(currents)), head_counts=[1, 2])
            row.pop("head_angles_deg", None)
    rows = inside_rows(load(data)).catalogue
    for robot in data["robots"]:
        least = 0.0
        for index, ref in enumerate(rows.joints):
            if ref.robot.name == robot["name"]:
                fewest = int(rows.heads[rows.joint == index].min(initial=2))
                least += currents[present(ref.joint.head)] * fewest
        battery = {
            "capacity_ah": rng.choice((0.05, 0.2)),
            "self_discharge_per_year": rng.choice((0.0, 0.01, 0.02)),
            "unpowered_share": rng.choice((1.0, 0.3)),
        }
        current = least * battery["unpowered_share"] * rng.choice((0.98, 1.0, 1.2, 1.4, 1.6, 1.8))
        yearly = current * 8766e-6 + battery["self_discharge_per_year"] * battery["capacity_ah"]
        robot["battery"] = {**battery, "life_min_years": battery["capacity_ah"] * 0.8 / yearly}
    return data


#: Studies under which the answer to `stated` breaks a limit.
TIGHTER = {
    "head.sample_rate_hz": lambda d: d["head"].update(sample_rate_hz=100.0),
    "target.lag_max_arcsec": lambda d: d["target"].update(lag_max_arcsec=5.0),
    "unpowered_speed_rpm": lambda d: d["robots"][0]["joints"][0].update(unpowered_speed_rpm=2e3),
    "head.backup_counter_bits": lambda d: d["head"].update(backup_counter_bits=6),
    "head.width_mm": lambda d: d["head"].update(width_mm=270.0),
    "battery.life_min_years": lambda d: d["robots"][0]["battery"].update(life_min_years=39.0),
    "line.cycle_max_us": lambda d: d["robots"][0]["line"].update(cycle_max_us=186.2),
}
