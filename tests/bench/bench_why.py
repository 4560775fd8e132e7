"""Speed of blockers, reliefs, prices and room; and every check of them on all random studies.

Run on demand, from the root of the checkout: python -m tests.bench.bench_why. Speeds are the medians of
three runs after a first one. The checks are those of `tests/support/why_checks.py`, on STUDIES seeds each.
"""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable

from ringset.analysis.explanation.explain import explain_prices, explain_sensitivity
from ringset.analysis.explanation.impossible import explain_impossible
from ringset.analysis.explanation.limit_prices import Pricing
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.analysis.explanation.test_limit_prices import check_prices
from tests.support.places import SCENARIOS
from tests.support.studies import Json
from tests.support.why_checks import (
    check_joint,
    check_none_missing,
    check_reliefs,
    check_shared,
    tight_joint,
    tight_study,
)

STUDIES = 220
#: Random studies whose prices are compared with independent solves.
PRICED = 40

#: Impossible variants of the six-joint arm: the wishes, then other changes.
VARIANTS: dict[str, Json] = {
    "two cutters, three ring parts": {"wishes": {"cutters_max": 2, "ring_parts_max": 3}},
    "eight heads, four ring parts": {"wishes": {"heads_max": 8, "ring_parts_max": 4}},
    "tool point 150 um": {"tool_point_target_um": 150.0},
    "40 arcsec, tool point 150 um": {"tool_point_target_um": 150.0, "arcsec": 40.0},
    "gap 0.12 mm": {"head": {"gap_mm": 0.12}},
    "wrist limit 57 mm": {"tip_max_mm": 57.0},
}


def variant(changes: Json) -> Study:
    """Return the six-joint arm with some changes."""
    data = json.loads((SCENARIOS / "six_joint_arm.json").read_text())
    robot = data["robots"][0]
    data["wishes"] = changes.get("wishes", {})
    data["head"] = changes.get("head", {})
    if "arcsec" in changes:
        data["target"]["angle_target_arcsec"] = changes["arcsec"]
    if "tool_point_target_um" in changes:
        robot["tool_point_target_um"] = changes["tool_point_target_um"]
    if "tip_max_mm" in changes:
        robot["joints"][4]["tip_max_mm"] = changes["tip_max_mm"]
    return load_study(json.dumps(data))


def forty_limits() -> Study:
    """Return the six-joint arm with forty numeric limits."""
    data = json.loads((SCENARIOS / "six_joint_arm.json").read_text())
    for joint in data["robots"][0]["joints"]:
        joint["angle_target_arcsec"] = 110
        joint["tip_min_mm"] = joint["tip_max_mm"] - 30
    data["wishes"] = {"ring_parts_max": 5, "heads_max": 14, "material_max_kg": 1.0}
    data["target"]["resolution_bits"] = 13
    return load_study(json.dumps(data))


def seconds(work: Callable[[], object]) -> float:
    """Return the median seconds of three runs after a first one."""
    taken = []
    for _ in range(4):
        started = time.perf_counter()
        work()
        taken.append(time.perf_counter() - started)
    return statistics.median(taken[1:])


def main() -> None:
    """Print the tables."""
    print("blockers and reliefs of the six-joint arm            s  blockers  reliefs")
    for name, changes in VARIANTS.items():
        study = variant(changes)
        taken = seconds(lambda study=study: explain_impossible(study))  # type: ignore[misc]
        found = explain_impossible(study)
        reliefs = len(found.singles) + sum(map(len, found.fronts)) + (found.together is not None)
        print(f"  {name:46s} {taken:6.2f} {len(found.blockers):9d} {reliefs:8d}")
    study = forty_limits()
    limits = len(Pricing(study).limits)
    print(f"prices of {limits} limits: {seconds(lambda: explain_prices(study)):.2f} s")
    answer = solve(study)
    print(f"room to move: {seconds(lambda: explain_sensitivity(study, answer)):.2f} s")
    started = time.perf_counter()
    blockers = sum(check_joint(seed) for seed in range(STUDIES))
    across = sum(check_shared(seed) for seed in range(STUDIES))
    alone = sum(check_reliefs(seed, tight_joint(seed))[1] for seed in range(STUDIES))
    several = sum(check_reliefs(seed, tight_study(seed))[1] for seed in range(STUDIES))
    for seed in range(STUDIES):
        check_none_missing(tight_joint(seed))
    priced = sum(check_prices(seed) for seed in range(PRICED))
    print(
        f"checked on {STUDIES} joints and {STUDIES} studies: {blockers} + {across} blockers, "
        f"{alone} + {several} reliefs, {priced} prices, {time.perf_counter() - started:.0f} s"
    )


if __name__ == "__main__":
    main()
