"""Small studies with second rings, and every answer to them, listed from rings that are rated alone.

The listing knows nothing of rows with two rings: first rings are those of the study without second rings,
second ones those of a study with one head and without any target, and the pair is made here.
"""

from __future__ import annotations

import copy
import itertools
import math
import random
from dataclasses import dataclass

import numpy as np

from ringset.catalogue.enumerate import catalogue
from ringset.physics.limit_rule import number_at_least, number_at_most, number_in_whole_units
from ringset.physics.toolpoint import lever_error_um
from ringset.rating.rate import rate, rate_in_full
from ringset.schema.study import Study
from ringset.standards.cutters import standard_disc_range_index
from tests.support.studies import Json, load, random_study

#: Most answers that a study may have.
ANSWERS_MAX = 60_000
#: What rings must do nothing for, where they only name the pitch.
NO_TARGET = 600_000.0

Part = tuple[float, int, float, float, str]


@dataclass(frozen=True)
class Way:
    """One way to serve a joint: its ring parts, cutter, heads, blanks, money, and what robots sum."""

    parts: tuple[Part, ...]
    cutter: tuple[float, int] | None
    heads: int
    kg: float
    money: float
    lever_um: float
    current_ua: float


def paired_study(seed: int) -> Json:
    """Return the small random study of `seed`, in which some joints ask a second ring.

    Rings are so true, and heads so good, that the tolerance of pairs lets some pass and not all.
    """
    rng, data = random.Random(seed + 0.125), random_study(seed)
    good = {"residual_offset": 0.001, "residual_gain": 0.001, "residual_quadrature_deg": 0.05}
    data["head"] = {
        "third_harmonic": rng.choice((0.0001, 0.0005, 0.001)),
        "stray_field": 0.0002,
        **good,
    }
    data["shop"]["flank_class"] = rng.choice((1, 2, 3))
    data["shop"]["modules"] = sorted({max(1.25, module) for module in data["shop"]["modules"]})
    for robot in data["robots"]:
        robot.pop("tool_point_rule", None)
        robot.pop("tool_point_target_um", None)
    if data["shop"]["cutting"] == "disc_special":
        data["shop"]["cutting"] = "hob"
    if rng.random() < 0.5:
        data["head"]["backup_current_ua"] = 1.5
    data["wishes"] = {"order": data["wishes"]["order"]}
    joints = [joint for robot in data["robots"] for joint in robot["joints"]]
    for joint in joints:
        for field in ("seat_fit", "seat_tir_um", "set_by"):
            joint.pop(field, None)
        offset = rng.choice((1.0, 2.0, 4.0))
        joint.update(
            seat_offset_um=offset, bearing_shift_um=1.0, tip_min_mm=joint["tip_max_mm"] - 9.0
        )
        joint["second_ring"] = rng.random() < 0.7
        if joint["bore_min_mm"] > 70.0:  # large rings have too many teeth
            for field in ("bore_min_mm", "bore_max_mm", "tip_max_mm", "tip_min_mm"):
                joint[field] -= 40.0
    joints[0]["second_ring"] = True
    if rng.random() < 0.4:
        data["shop"]["prices"] = {
            "cutter": 90.0, "set_up_per_ring_part": rng.choice((0.0, 35.0)), "material_per_kg": 40.0,
            "head": 12.0, "machine_per_hour": 60.0,
            "cutting_minutes_per_tooth": {str(data["shop"]["flank_class"]): 0.2},
        }  # fmt: skip
        data["wishes"]["order"].insert(rng.randint(0, 2), "cost")
    ways = ways_of(load(data))
    while math.prod(len(mine) for mine in ways) > ANSWERS_MAX:
        for joint in joints:
            joint["tip_min_mm"] = (joint["tip_min_mm"] + 2.0 * joint["tip_max_mm"]) / 3.0
        data["shop"]["bore_step_mm"] = min(6.0, data["shop"]["bore_step_mm"] * 1.5)
        if max(joint["tip_max_mm"] - joint["tip_min_mm"] for joint in joints) < 2.0:
            data["shop"]["modules"] = data["shop"]["modules"][:-1] or [1.0]
            for joint in joints:
                joint["head_counts"] = joint["head_counts"][:1]
                joint.pop("head_angles_deg", None)
        ways = ways_of(load(data))
    _limited(rng, data, ways)
    return data


def _limited(rng: random.Random, data: Json, ways: list[list[Way]]) -> None:
    """Add ceilings, targets and a battery near what can just be reached."""
    if not all(ways):
        return
    built = [robot.get("count", 1) for robot in data["robots"] for _ in robot["joints"]]
    pairs = list(zip(built, ways, strict=True))
    if rng.random() < 0.35:
        data["wishes"]["ring_parts_max"] = rng.randint(2, len(ways) + 3)
    if rng.random() < 0.3:
        least = sum(count * min(way.heads for way in mine) for count, mine in pairs)
        data["wishes"]["heads_max"] = least + rng.choice((-1, 0, 2))
    if rng.random() < 0.3:
        least_kg = sum(count * min(way.kg for way in mine) for count, mine in pairs)
        data["wishes"]["material_max_kg"] = least_kg * rng.uniform(0.99, 1.4)
    first = 0
    for robot in data["robots"]:
        mine = ways[first : first + len(robot["joints"])]
        first += len(mine)
        best = [min(way.lever_um for way in some) for some in mine]
        if rng.random() < 0.3 and any(best):
            robot["tool_point_rule"] = "sum"
            robot["tool_point_target_um"] = sum(best) * rng.uniform(0.99, 1.6)
        if "backup_current_ua" in data["head"] and rng.random() < 0.7:
            drawn = sum(min(way.current_ua for way in some) for some in mine) + rng.choice(
                (-0.5, 0.5, 2.0, 4.0)
            )
            life = 0.2 * 0.8 / (drawn * 8766e-6 + 0.02 * 0.2)
            robot["battery"] = {"capacity_ah": 0.2, "life_min_years": life}


def ways_of(study: Study) -> list[list[Way]]:
    """Return every way to serve each joint of a study, which keeps all limits of its own."""
    data = study.canonical().model_dump(mode="json")
    bare, plain = copy.deepcopy(data), copy.deepcopy(data)
    for robot in [*bare["robots"], *plain["robots"]]:
        for joint in robot["joints"]:
            joint["second_ring"] = False
    for robot in plain["robots"]:
        for joint in robot["joints"]:
            joint.update(head_counts=[1], head_angles_deg={}, angle_target_arcsec=None)
    plain["target"].update(angle_target_arcsec=NO_TARGET, resolution_bits=None)
    first = rate(load(bare), catalogue(load(bare)))
    first = first.take(first.inside)
    second = rate_in_full(load(plain), catalogue(load(plain)))
    worst: dict[tuple[int, float, float, int], float] = {}
    others: dict[tuple[int, float, float], list[tuple[int, float]]] = {}
    rows = second.catalogue
    for row in range(len(rows)):
        key = (int(rows.joint[row]), float(rows.module_mm()[row]), float(rows.bore_mm()[row]))
        worst[*key, int(rows.teeth[row])] = float(np.ravel(second.budget.worst_case)[row])
        if second.inside[row]:
            others.setdefault(key, []).append((int(rows.teeth[row]), float(second.blank_kg[row])))
    rows, prices = first.catalogue, study.shop.prices
    found: list[list[Way]] = [[] for _ in rows.joints]
    cutting = study.shop.cutting
    for row in range(len(rows)):
        index, teeth = int(rows.joint[row]), int(rows.teeth[row])
        ref = rows.joints[index]
        asks = study.canonical().robots
        joint = next(
            j
            for r in asks
            if r.name == ref.robot.name
            for j in r.joints
            if j.name == ref.joint.name
        )
        module, bore = float(rows.module_mm()[row]), float(rows.bore_mm()[row])
        choices: list[tuple[int, float]] = [(0, 0.0)]
        if joint.second_ring:
            choices = [
                (other, kg)
                for other, kg in others.get((index, module, bore), [])
                if math.gcd(teeth, other) == 1
                and _cutter(cutting, module, teeth) == _cutter(cutting, module, other)
                and bool(
                    number_at_most(
                        worst[index, module, bore, teeth] + worst[index, module, bore, other],
                        1_296_000.0 / 2.0 / (teeth * other),
                    )
                )
            ]
        zone = "H7"
        for other, kg in choices:
            heads = int(rows.heads[row]) + (other > 0)
            blanks, money = float(first.blank_kg[row]) + kg, 0.0
            if prices is not None:
                hours = prices.cutting_minutes_per_tooth[str(study.shop.flank_class)] / 60.0
                money = blanks * prices.material_per_kg + heads * prices.head
                money += (teeth + other) * hours * prices.machine_per_hour
            parts = [
                (module, z, bore, joint.face_width_mm, zone)
                for z in ((teeth, other) if other else (teeth,))
            ]
            found[index].append(
                Way(
                    tuple(parts), _cutter(cutting, module, teeth), heads, blanks, money,
                    float(lever_error_um(joint.reach_mm, first.error_arcsec[row])),
                    heads * (ref.head.backup_current_ua or 0.0),
                )
            )  # fmt: skip
    return found


def _cutter(cutting: str, module: float, teeth: int) -> tuple[float, int] | None:
    if cutting == "wire":
        return None
    return (module, 0 if cutting == "hob" else int(standard_disc_range_index(cutting, teeth)))


def listed_best(
    study: Study, ways: list[list[Way]], unit_kg: float, unit: float
) -> dict[str, int] | None:
    """List every answer; return the best values in the order of the wishes, None where none is allowed."""
    if not all(ways):
        return None
    study = study.canonical()
    robots = [robot for robot in study.robots for _ in robot.joints]
    count = np.array([robot.count for robot in robots])
    picks = np.array(list(itertools.product(*(range(len(mine)) for mine in ways))), dtype=np.int64)

    def column(name: str) -> np.ndarray:
        values = [
            np.array([getattr(way, name) for way in mine])[picks[:, j]]
            for j, mine in enumerate(ways)
        ]
        return np.stack(values, axis=1)

    def different(kinds: list[list[tuple[object, ...]]]) -> np.ndarray:
        names = {one: i for i, one in enumerate({n for mine in kinds for way in mine for n in way})}
        used = np.zeros((len(picks), len(names)), dtype=bool)
        for j, mine in enumerate(kinds):
            for place, way in enumerate(mine):
                for one in way:
                    used[picks[:, j] == place, names[one]] = True
        return np.asarray(used.sum(axis=1))

    kg, money, heads = column("kg") * count, column("money") * count, column("heads") * count
    values = {
        "cutters": different(
            [[() if w.cutter is None else (w.cutter,) for w in mine] for mine in ways]
        ),
        "ring_parts": different([[way.parts for way in mine] for mine in ways]),
        "heads": heads.sum(axis=1),
        "material": number_in_whole_units(kg, unit_kg).sum(axis=1),
    }
    prices, wishes = study.shop.prices, study.wishes
    if prices is not None:
        values["cost"] = number_in_whole_units(money, unit).sum(axis=1)
        values["cost"] = values["cost"] + values["cutters"] * int(
            number_in_whole_units(prices.cutter, unit)
        )
        once = int(number_in_whole_units(prices.set_up_per_ring_part, unit))
        values["cost"] = values["cost"] + values["ring_parts"] * once
    allowed = np.ones(len(picks), dtype=bool)
    for wish in ("ring_parts", "heads"):
        most = getattr(wishes, f"{wish}_max")
        allowed &= True if most is None else values[wish] <= most
    if wishes.material_max_kg is not None:
        allowed &= number_at_most(kg.sum(axis=1), wishes.material_max_kg)
    lever, current = column("lever_um"), column("current_ua")
    for robot in study.robots:
        mine = np.array([one.name == robot.name for one in robots])
        if robot.tool_point_target_um is not None:
            allowed &= number_at_most(lever[:, mine].sum(axis=1), robot.tool_point_target_um)
        battery = robot.battery
        if battery is not None and battery.life_min_years is not None:
            yearly = current[:, mine].sum(axis=1) * battery.unpowered_share * 8766e-6
            yearly = yearly + battery.self_discharge_per_year * battery.capacity_ah
            life = battery.capacity_ah * battery.usable_share / yearly
            allowed &= number_at_least(life, battery.life_min_years)
    best: dict[str, int] = {}
    for wish in wishes.order:
        if not allowed.any():
            return None
        best[wish] = int(values[wish][allowed].min())
        allowed &= values[wish] == best[wish]
    return best
