"""Small random studies of shops that own cutters and have ring parts in production."""

from __future__ import annotations

import random

from tests.support.studies import Json, inside_rows, load, priced_study, random_study


def standing_study(seed: int) -> Json:
    """Return the random study of `seed` with things that stand: most of them among the rings that fit."""
    rng = random.Random(seed + 0.625)
    data = priced_study(seed) if rng.random() < 0.4 else random_study(seed)
    shop = data["shop"]
    rated = inside_rows(load(data))
    rows = rated.catalogue
    if rng.random() < 0.7 and len(rows):
        shop["parts_in_production"] = _parts(rng, data, rows)
    if shop.get("cutting", "hob") != "wire" and (
        rng.random() < 0.7 or "parts_in_production" not in shop
    ):
        shop["owned_cutters"] = _cutters(rng, shop, rows)
    if rng.random() < 0.25:
        data.setdefault("wishes", {})["count"] = "all"
    return data


def _parts(rng: random.Random, data: Json, rows: object) -> list[Json]:
    """Return rings of some rows as parts, and one that is near another."""
    found: dict[tuple[object, ...], Json] = {}
    for place in range(rng.choice((1, 2, 4, 8))):
        row = rng.randrange(len(rows))  # type: ignore[arg-type]
        ref = rows.joints[int(rows.joint[row])]  # type: ignore[attr-defined]
        fit = ref.joint.seat_fit
        part = {
            "name": f"RX-{place + 1}",
            "module": float(rows.module_mm()[row]),  # type: ignore[attr-defined]
            "teeth": int(rows.teeth[row]) + (rng.random() < 0.1),  # type: ignore[attr-defined]
            "bore_mm": float(rows.bore_mm()[row]),  # type: ignore[attr-defined]
            "face_width_mm": ref.joint.face_width_mm,
            "bore_zone": "H7" if fit is None else fit.partition("/")[0],
        }
        found.setdefault(tuple(part[name] for name in part if name != "name"), part)
    return list(found.values())


def _cutters(rng: random.Random, shop: Json, rows: object) -> list[Json]:
    found: dict[tuple[object, ...], Json] = {}
    for _ in range(rng.choice((1, 2))):
        if len(rows):  # type: ignore[arg-type]
            row = rng.randrange(len(rows))  # type: ignore[arg-type]
            module = float(rows.module_mm()[row])  # type: ignore[attr-defined]
            teeth = int(rows.teeth[row])  # type: ignore[attr-defined]
        else:
            module, teeth = 1.0, 60
        cutter: Json = {"module": module}
        if shop.get("cutting", "hob") != "hob":
            cutter["teeth"] = teeth
        found.setdefault((module, _range(shop, teeth)), cutter)
    return list(found.values())


def _range(shop: Json, teeth: int) -> int:
    from ringset.standards.cutters import standard_disc_range_index

    cutting = shop.get("cutting", "hob")
    if cutting == "hob":
        return 0
    return teeth if cutting == "disc_special" else int(standard_disc_range_index(cutting, teeth))
