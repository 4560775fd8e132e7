"""Random studies with repeatability targets: of all joints, of single ones, and at tool points."""

from __future__ import annotations

import random

import numpy as np

from ringset.physics.toolpoint import lever_error_um
from tests.support.studies import Json, inside_rows, load, random_study


def repeatable_study(seed: int) -> Json:
    """Return the random study of `seed` with targets for its repeatability, near what its rings reach.

    Angle targets are wide in half of them, so that it is the repeatability that bears, and most have no
    ceilings, which would seldom leave an answer beside it.
    """
    rng, data = random.Random(seed + 0.125), random_study(seed)
    if rng.random() < 0.7:
        data["wishes"] = {"order": data["wishes"]["order"]}
    if rng.random() < 0.5:
        data["target"]["angle_target_arcsec"] *= 3.0
    rated = inside_rows(load(data))
    rows = rated.catalogue
    counts = np.bincount(rows.joint, minlength=len(rows.joints))
    if not counts.all() or float(np.prod(counts.astype(float))) > 4e5:
        data["target"]["angle_target_arcsec"] = random_study(seed)["target"]["angle_target_arcsec"]
        rated = inside_rows(load(data))
        rows = rated.catalogue
    if len(rows) == 0:
        data["target"]["repeatability_target_arcsec"] = 10.0
        return data
    scatter = [rated.repeatability_arcsec[rows.joint == index] for index in range(len(rows.joints))]
    if rng.random() < 0.6:
        reached = np.concatenate(scatter)
        data["target"]["repeatability_target_arcsec"] = float(
            np.quantile(reached, rng.choice((0.4, 0.7, 0.95)))
        )
    joints = {(r["name"], j["name"]): j for r in data["robots"] for j in r["joints"]}
    for ref, mine in zip(rows.joints, scatter, strict=True):
        if len(mine) and rng.random() < 0.3:
            own = float(np.quantile(mine, rng.choice((0.2, 0.5, 0.9)))) * rng.choice(
                (0.999, 1.0, 1.2)
            )
            joints[ref.robot.name, ref.joint.name]["repeatability_target_arcsec"] = own
    for robot in data["robots"]:
        best = [
            float(lever_error_um(ref.joint.reach_mm, mine.min(initial=np.inf)))
            for ref, mine in zip(rows.joints, scatter, strict=True)
            if ref.robot.name == robot["name"] and ref.joint.reach_mm > 0.0
        ]
        if best and np.isfinite(best).all() and rng.random() < 0.6:
            rule = robot.setdefault("tool_point_rule", rng.choice(("rss", "sum")))
            least = float(np.hypot.reduce(best)) if rule == "rss" else sum(best)
            robot["tool_point_repeatability_target_um"] = least * rng.uniform(0.98, 1.4)
    return data
