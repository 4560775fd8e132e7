"""A bar, tube or plate that cannot be had: what is turned from the next one, and what no other size suits."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from typing import Any

import numpy as np
import pytest

from ringset import shop_data
from ringset.analysis.losses.losses import find_losses, solve_losses
from ringset.analysis.losses.models import Loss
from ringset.schema.answer import Answer, RingPart
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.analysis.losses.test_losses import listed_best_without
from tests.solving.test_brute_force import table
from tests.support import second_rings
from tests.support.studies import Json, load, random_study, small

STUDIES, CHUNK = 80, 20
#: Kind, diameter or thickness, and bore.
Size = tuple[str, float, float]


def stocked(seed: int) -> Json:
    """Return a small random study with a few stock sizes near those that its rings need."""
    rng, data = random.Random(seed + 0.625), random_study(seed)
    joints = [joint for robot in data["robots"] for joint in robot["joints"]]
    low = min(joint["tip_min_mm"] for joint in joints)
    high = max(joint["tip_max_mm"] for joint in joints) + 6.0
    sizes = sorted({round(rng.uniform(low, high)) + 0.0 for _ in range(rng.choice((2, 4, 8)))})
    tubes = [
        {"outer_mm": size, "bore_mm": round(size * rng.uniform(0.3, 0.7)) + 0.0}
        for size in sizes[::2]
    ]
    data["shop"].update(bars_mm=sizes, tubes=tubes if rng.random() < 0.5 else [])
    if rng.random() < 0.3:
        data["shop"]["plates_mm"] = [rng.choice((9.0, 10.0, 12.0))]
    return data


def stock_of(study: Study) -> list[Size]:
    shop = study.shop
    return [
        *(("bar", bar, 0.0) for bar in shop.bars_mm),
        *(("tube", tube.outer_mm, tube.bore_mm) for tube in shop.tubes),
        *(("plate", plate, 0.0) for plate in shop.plates_mm),
    ]


def suiting(stock: Iterable[Size], tip: float, bore: float, width: float) -> list[Size]:
    """Return the sizes that suit a ring, lightest first; allowances are those of the defaults."""
    found = []
    for kind, outer, hole in stock:
        if kind == "plate":
            weight = (tip + 3.0 + 2.0) ** 2 * outer if outer >= width + 1.0 - 1e-6 else 0.0
        else:
            suits = outer >= tip + 3.0 - 1e-6 and hole <= max(0.0, bore - 3.0) + 1e-6
            weight = np.pi / 4.0 * (outer**2 - hole**2) * (width + 3.0) if suits else 0.0
        if weight:
            found.append((weight, (kind, outer, hole)))
    return [size for _, size in sorted(found)]


def of_part(stock: Iterable[Size], part: RingPart) -> list[Size]:
    return suiting(stock, part.tip_diameter_mm, part.bore_mm, part.face_width_mm)


def named(size: Size) -> str:
    kind, outer, hole = size
    return f"{kind} {outer:g}" + {"tube": f" x bore {hole:g}", "plate": " thick"}.get(kind, "")


def kept_rows(study: Study, answer: Answer, stock: list[Size], left: list[Size]) -> list[bool]:
    """Return, row by row of the plain table, whether its ring may be taken when only `left` is left."""
    rows, addendum = table(study), 0.8 if study.shop.rack == "stub" else 1.0
    places = [(robot.name, joint.name) for robot in study.robots for joint in robot.joints]
    parts = {part.id: part for part in answer.ring_parts}
    bare = [
        not of_part(stock, parts[ring.ring_part])
        for place in places
        for ring in answer.rings
        if ring.place == place
    ]
    kept = []
    for joint, (module, teeth, bore, width, _) in zip(rows.joint, rows.part, strict=True):
        ring = (float(module) * (int(teeth) + 2.0 * addendum), float(bore), float(width))
        unsuited = bare[joint] and not suiting(stock, *ring)
        kept.append(bool(suiting(left, *ring)) or unsuited)
    return kept


@pytest.mark.cases(fast=1, slow=2)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_losses_of_stock_are_best_of_all_combinations_left(first: int) -> None:
    """Which sizes are used, what comes instead, and the best rings of what is left, all counted plainly."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        study = load(stocked(seed)).canonical()
        answer = solve(study)
        if not answer.rings:
            continue
        stock = stock_of(study)
        used: dict[str, tuple[Size, list[RingPart]]] = {}
        for part in answer.ring_parts:
            for size in of_part(stock, part)[:1]:
                used.setdefault(named(size), (size, []))[1].append(part)
        losses = [
            x for x in find_losses(study, answer).losses if x.kind in ("bar", "tube", "plate")
        ]
        assert {loss.thing for loss in losses} == set(used), seed
        for loss in losses:
            size, parts = used[loss.thing]
            left = [other for other in stock if other != size]
            others = [of_part(left, part) for part in parts]
            assert loss.stays == all(others), seed
            if loss.stays:
                told = [blank.after.partition(",")[0] for blank in loss.blanks]
                assert told == [named(mine[0]) for mine in others], seed
                assert all(value.difference == 0.0 for value in loss.values)
                assert loss.status == answer.status
                seen["stays"] += 1
                continue
            kept = np.array(kept_rows(study, answer, stock, left))
            best = listed_best_without(study, table(study), kept, answer.proof.material_unit_kg)
            assert loss.status == ("impossible" if best is None else "proven"), seed
            if loss.answer is not None:
                assert {s.wish: s.value for s in loss.answer.proof.stages} == best, seed
                assert _still_on_stock(study, answer, loss.answer, stock, left), seed
            seen[loss.status] += 1
    assert min(seen["stays"], seen["proven"] + seen["impossible"]) >= 1, seen


def _still_on_stock(
    study: Study, before: Answer, now: Answer, stock: list[Size], left: list[Size]
) -> bool:
    parts = {part.id: part for part in before.ring_parts}
    bare = {r.place for r in before.rings if not of_part(stock, parts[r.ring_part])}
    made = {part.id: part for part in now.ring_parts}
    return all(
        of_part(left, made[ring.ring_part])
        or (ring.place in bare and not of_part(stock, made[ring.ring_part]))
        for ring in now.rings
    )


def _stock_losses(data: Json) -> list[Loss]:
    return [
        loss for loss in solve_losses(load(data)).losses if loss.kind in ("bar", "tube", "plate")
    ]


def test_the_next_bar_takes_over_and_what_is_bought_more_is_told() -> None:
    """As the shop data of a study without the bar say."""
    data = small()
    data["shop"]["bars_mm"] = [300.0, 320.0]
    (loss,) = _stock_losses(data)
    assert (loss.thing, loss.name, loss.stays, loss.answer) == ("bar 300", "300", True, None)
    bought: list[dict[str, Any]] = []
    off: dict[str, int] = {}
    for bars in ([300.0, 320.0], [320.0]):
        study = load({**data, "shop": {**data["shop"], "bars_mm": bars}})
        rings = shop_data(study, solve(study))
        off |= {ring.part.id: ring.part.quantity for ring in rings}
        bought.append({ring.part.id: (ring.making.blank, ring.making.bought_kg) for ring in rings})
    for blank in loss.blanks:
        (before, few), (after, many) = (one[blank.ring_part] for one in bought)
        assert (blank.before, blank.after) == (before.text, after.text)
        assert blank.bought_more_kg == pytest.approx(off[blank.ring_part] * (many - few))
    assert loss.text.startswith("the answer stays as it is; R1 is turned from bar 320, 9 long, ")
    assert loss.text.endswith("more to buy")


def test_a_tube_that_no_other_replaces_asks_other_rings() -> None:
    """A wider bore for the tube that is left; a ring without any stock is not taken, though it may be had."""
    data = small()
    data["robots"][0]["joints"][0].update(bore_max_mm=80.0, tip_max_mm=100.0)
    answer = solve(load(data))
    bore = max(part.bore_mm for part in answer.ring_parts)
    tubes = [{"outer_mm": 120.0, "bore_mm": hole} for hole in (bore - 3.0, bore - 2.0)]
    data["shop"].update(bars_mm=[80.0], tubes=tubes)
    losses = {loss.thing: loss for loss in _stock_losses(data)}
    loss = losses[f"tube 120 x bore {bore - 3.0:g}"]
    assert (loss.name, loss.joints) == (f"120 x {bore - 3.0:g}", ["arm/joint 1"])
    assert not loss.stays
    assert loss.answer is not None
    assert [r.bore_mm > bore for r in loss.answer.rings if r.joint == "joint 1"] == [True]


def test_without_its_only_bar_nothing_can_be_turned() -> None:
    data = small()
    data["shop"]["bars_mm"] = [300.0]
    (loss,) = _stock_losses(data)
    assert loss.status == "impossible"
    assert loss.reasons == [
        f"arm/joint {number}: no ring inside its limits can be turned from the stock left"
        for number in (1, 2, 3)
    ]


def test_stock_that_nothing_is_turned_from_is_no_loss() -> None:
    data = small()
    data["shop"].update(bars_mm=[20.0, 300.0, 400.0], plates_mm=[3.0])
    assert [loss.thing for loss in _stock_losses(data)] == ["bar 300"]


def test_a_ring_that_no_stock_suits_may_stay_as_it_is() -> None:
    """Joint 1 has a ring wider than any tube: it is bought elsewhere, whatever is lost."""
    data = small()
    for joint in data["robots"][0]["joints"][1:]:
        joint.update(bore_max_mm=60.0, tip_max_mm=70.0)
    bore = min(part.bore_mm for part in solve(load(data)).ring_parts)
    tubes = [{"outer_mm": 78.0, "bore_mm": hole} for hole in (bore - 3.0, bore - 2.0)]
    data["shop"]["tubes"] = tubes
    losses = {loss.thing: loss for loss in _stock_losses(data)}
    loss = losses[f"tube 78 x bore {bore - 3.0:g}"]
    assert loss.joints == ["arm/joint 2", "arm/joint 3"]
    assert loss.answer is not None
    bores = {ring.joint: ring.bore_mm for ring in loss.answer.rings}
    assert min(bores["joint 2"], bores["joint 3"]) > bore
    assert loss.answer.rings[0].tip_diameter_mm > 78.0


@pytest.mark.cases(fast=2, slow=1)
@pytest.mark.parametrize("seed", range(30_000, 30_004))
def test_both_rings_of_a_joint_must_be_had(seed: int) -> None:
    """A bar for the smaller of two rings is left: nothing with a ring as large as the other may be taken."""
    data = second_rings.paired_study(seed)
    robot = data["robots"][0]
    robot["joints"] = [joint for joint in robot["joints"] if joint["second_ring"]][:1]
    data.update(robots=[robot], wishes={})
    tips = sorted(part.tip_diameter_mm for part in solve(load(data)).ring_parts)
    assert len(tips) == 2
    data["shop"]["bars_mm"] = [tip + 3.0 for tip in tips]
    loss = {loss.thing: loss for loss in _stock_losses(data)}[f"bar {tips[1] + 3.0:g}"]
    if loss.answer is None:
        assert loss.status == "impossible"
        return
    now = [part.tip_diameter_mm for part in loss.answer.ring_parts]
    assert len(now) == 2
    assert max(now) <= tips[0] + 1e-6
