"""Small random studies whose shops state wires, tooth counts, pitches and materials of their own."""

from __future__ import annotations

import random

from tests.support.own_materials import as_stated
from tests.support.studies import Json, combinations, inside_rows, load, random_study

#: Pitches near the modules of the random studies; the last one by its circular pitch.
PITCHES = ("32 DP", "24 DP", "20 DP", "16 DP", "3 mm CP", "0.125 in CP")


def own_shop_study(seed: int) -> Json:
    """Return the random study of `seed` with two or more of these inputs; few are impossible by them."""
    rng, data = random.Random(seed + 0.125), random_study(seed)
    shop = data["shop"]
    kinds = rng.sample(("counts", "wire", "pitches", "material", "inches"), rng.choice((2, 3, 4)))
    if "counts" in kinds:
        _count_limits(rng, shop)
    if "wire" in kinds:
        shop.update(
            cutting="wire",
            wire_diameter_mm=rng.choice((0.1, 0.3, 0.5, 0.6, 0.7, "0.02 in", "0.03 in")),
        )
        if rng.random() < 0.5:
            shop["spark_gap_mm"] = rng.choice((0.0, 0.01, 0.05))
    if "pitches" in kinds:
        named = rng.sample(PITCHES, rng.choice((1, 2)))
        kept = shop["modules"] if isinstance(shop["modules"], list) else [1.0]
        shop["modules"] = [*rng.sample(kept, min(1, len(kept))), *named]
        data.setdefault("head", {}).update(module_min_mm="40 DP", module_max_mm="0.25 in")
    if "material" in kinds:
        steel = as_stated(rng.choice(("c45", "42crmo4", "x6cr17")))
        steel["density_kg_per_m3"] = rng.choice((7650.0, 7900.0, 8050.0))
        steel["youngs_modulus_gpa"] = rng.choice((160.0, 205.0))
        shop.update(materials={"Own steel": steel}, material="Own steel")
        shop.pop("material_treatment", None)
    if "inches" in kinds:
        for robot in data["robots"]:
            for row in robot["joints"]:
                row["bore_max_mm"] = f"{round((row['bore_min_mm'] + 5.0) / 25.4, 3)} in"
    _few_enough(data)
    return data


def _count_limits(rng: random.Random, shop: Json) -> None:
    kind = rng.randrange(4)
    if kind in (0, 3):
        shop["teeth_multiple_of"] = rng.choice((2, 3, 4, 5))
    if kind in (1, 3):
        shop["teeth_largest_prime"] = rng.choice((5, 7, 11, 13))
    if kind == 2:
        shop["teeth_allowed"] = sorted(rng.sample(range(32, 130), rng.choice((20, 50))))


def _few_enough(data: Json) -> None:
    """Take modules away until all ways can be listed."""
    while combinations(inside_rows(load(data))) > 300_000:
        modules = data["shop"]["modules"]
        if isinstance(modules, list) and len(modules) > 1:
            modules.pop()
            continue
        for robot in data["robots"]:
            for row in robot["joints"]:
                row["head_counts"] = row["head_counts"][:1]
        step = data["shop"].get("bore_step_mm", 0.5)
        data["shop"]["bore_step_mm"] = 2.0 * step
