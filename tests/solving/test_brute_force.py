"""The whole line against two other ways to find the best: listing everything, and a plain MILP.

Both start from every rated row that keeps the limits of its joint, know nothing of the reduction or
of the search, and hold ceilings and tool-point targets in real numbers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import optimize, sparse

from ringset.catalogue.joints import JointRef
from ringset.physics.limit_rule import (
    number_at_least,
    number_at_most,
    number_in_whole_units,
    rounding_allowance,
)
from ringset.physics.toolpoint import lever_error_um
from ringset.rating.rated import Rated
from ringset.schema.study import WISHES, Robot, Study, Wish
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.plain_names import (
    plain_cutter,
    plain_owned,
    plain_produced,
    plain_zone,
    standing_used,
)
from tests.support.sized_studies import RING_SUMS, finished_columns
from tests.support.studies import Json, inside_rows, load, mixed_fits, random_study

STUDIES = 240
#: Studies whose joints ask different bores.
MIXED = 504
CHUNK = 24
#: Money is counted in hundredths here.
CENT = 0.01


@dataclass(frozen=True)
class Table:
    """Columns of all allowed rows: joint, names of ring part and cutter, and numbers.

    `finished` has two columns, mass and inertia of one undrilled ring, where a robot limits either.
    """

    study: Study
    joint: np.ndarray
    part: list[tuple[float | str, ...]]
    cutter: list[tuple[float, int] | None]
    heads: np.ndarray
    kg: np.ndarray
    money: np.ndarray
    lever_um: np.ndarray
    scatter_um: np.ndarray
    current_ua: np.ndarray
    finished: np.ndarray
    joints: int

    def of(self, index: int) -> np.ndarray:
        return np.flatnonzero(self.joint == index)


def table(study: Study) -> Table:
    """Read the rated rows; heads and mass are for all robots built."""
    study = study.canonical()
    rated: Rated = inside_rows(study)
    rows = rated.catalogue
    refs = [rows.joints[j] for j in rows.joint]
    count = np.array([ref.robot.count for ref in refs], dtype=np.int64)
    numbers = zip(rows.module_mm().tolist(), rows.teeth.tolist(), strict=True)
    toothing = list(numbers)
    part: list[tuple[float | str, ...]]
    part = [
        (*t, b, ref.joint.face_width_mm, plain_zone(ref.joint.seat_fit))
        for t, b, ref in zip(toothing, rows.bore_mm().tolist(), refs, strict=True)
    ]
    return Table(
        study=study,
        joint=rows.joint,
        part=part,
        cutter=[plain_cutter(study.shop.cutting, *t) for t in toothing],
        heads=rows.heads * count,
        kg=rated.blank_kg * count,
        money=count * _money_each(study, rated),
        lever_um=_levers(refs, rated.error_arcsec),
        scatter_um=_levers(refs, rated.repeatability_arcsec),
        current_ua=rows.heads * np.array([ref.head.backup_current_ua or 0.0 for ref in refs]),
        finished=finished_columns(study, rated),
        joints=len(rows.joints),
    )


def _levers(refs: list[JointRef], angle_arcsec: np.ndarray) -> np.ndarray:
    pairs = zip(refs, angle_arcsec, strict=True)
    return np.array([float(lever_error_um(ref.joint.reach_mm, angle)) for ref, angle in pairs])


#: Targets at the tool point, and the column that is added up against each.
TOOL_POINTS = {
    "tool_point_target_um": "lever_um",
    "tool_point_repeatability_target_um": "scatter_um",
}


def _money_each(study: Study, rated: Rated) -> np.ndarray:
    """Money of one ring with its heads, nothing without prices."""
    prices = study.shop.prices
    if prices is None:
        return np.zeros(len(rated.catalogue))
    hours = prices.cutting_minutes_per_tooth[str(study.shop.flank_class)] / 60.0
    cutting = rated.catalogue.teeth * hours * prices.machine_per_hour
    heads = rated.catalogue.heads * prices.head
    return np.asarray(rated.blank_kg * prices.material_per_kg + cutting + heads)


def _numbers(names: Sequence[object]) -> np.ndarray:
    known = {name: i for i, name in enumerate(dict.fromkeys(names))}
    return np.array([known[name] for name in names], dtype=np.int64)


def _different(values: list[np.ndarray]) -> np.ndarray:
    """Count different values over the grid of all combinations; one axis per joint."""
    joints = len(values)
    grid = _axes(values)
    total = np.ones(np.broadcast_shapes(*(g.shape for g in grid)), dtype=np.int64)
    for j in range(1, joints):
        total += ~np.logical_or.reduce(np.broadcast_arrays(*(grid[j] == grid[k] for k in range(j))))
    return total


def _summed(values: list[np.ndarray]) -> np.ndarray:
    grid = _axes(values)
    return sum(grid[1:], start=grid[0])


def _axes(values: list[np.ndarray]) -> list[np.ndarray]:
    axes = range(len(values))
    return [v.reshape([-1 if k == j else 1 for k in axes]) for j, v in enumerate(values)]


def listed_best(rows: Table, unit_kg: float) -> dict[str, int] | None:
    """List every combination; return the best stage values in the order of the wishes, or None."""
    listed = listed_values(rows, unit_kg)
    if listed is None:
        return None
    values, allowed = listed
    best: dict[str, int] = {}
    for wish in rows.study.wishes.order:
        if not allowed.any():
            return None
        best[wish] = int(values[wish][allowed].min())
        allowed &= values[wish] == best[wish]
    return best


def listed_values(rows: Table, unit_kg: float) -> tuple[dict[str, np.ndarray], np.ndarray] | None:
    """List every combination; return what each comes to, wish by wish, and which are allowed."""
    study, of = rows.study, [rows.of(j) for j in range(rows.joints)]
    if any(len(mine) == 0 for mine in of):
        return None
    wishes = study.wishes
    part, cutter = _numbers(rows.part), _numbers(rows.cutter)
    values = {
        "cutters": _different([cutter[mine] for mine in of]),
        "ring_parts": _different([part[mine] for mine in of]),
        "heads": _summed([rows.heads[mine] for mine in of]),
        "material": _summed([number_in_whole_units(rows.kg[mine], unit_kg) for mine in of]),
    }
    if study.shop.cutting == "wire":
        values["cutters"] = np.zeros_like(values["cutters"])
    values["cost"] = _summed([number_in_whole_units(rows.money[mine], CENT) for mine in of])
    # what stands already costs nothing once, and counts only where all does
    owned = plain_owned(study)
    produced: set[object] = plain_produced(study)
    there: dict[str, tuple[Sequence[object], set[object]]]
    there = {"cutters": (rows.cutter, owned), "ring_parts": (rows.part, produced)}
    new = {wish: values[wish] - standing_used(of, *used) for wish, used in there.items()}
    prices = study.shop.prices
    if prices is not None:
        once = {"cutters": prices.cutter, "ring_parts": prices.set_up_per_ring_part}
        for wish, price in once.items():
            values["cost"] = values["cost"] + new[wish] * int(number_in_whole_units(price, CENT))
    if wishes.count == "new":
        values |= new
    allowed = np.ones(values["heads"].shape, dtype=bool)
    for wish in ("cutters", "ring_parts", "heads"):
        ceiling = getattr(wishes, f"{wish}_max")
        if ceiling is not None:
            allowed &= values[wish] <= ceiling
    if wishes.cost_max is not None and prices is not None:
        money = _summed([rows.money[mine] for mine in of])
        money = money + sum(new[wish] * price for wish, price in once.items())
        allowed &= number_at_most(money, wishes.cost_max)
    if wishes.material_max_kg is not None:
        allowed &= number_at_most(_summed([rows.kg[mine] for mine in of]), wishes.material_max_kg)
    for first, robot in _robots(study):
        mine = range(first, first + len(robot.joints))

        def added(column: np.ndarray, mine: range = mine) -> np.ndarray:
            return _summed([column[of[j]] * (j in mine) for j in range(rows.joints)])

        for field, name in TOOL_POINTS.items():
            if getattr(robot, field) is not None:
                power = 2.0 if robot.tool_point_rule == "rss" else 1.0
                error = added(getattr(rows, name) ** power) ** (1.0 / power)
                allowed &= number_at_most(error, getattr(robot, field))
        for place, field in enumerate(RING_SUMS):
            most = getattr(robot, field)
            if most is not None:
                allowed &= number_at_most(added(rows.finished[:, place]), most)
        battery = robot.battery
        if battery is not None and battery.life_min_years is not None:
            current = added(rows.current_ua)
            yearly_ah = current * battery.unpowered_share * 8766e-6
            yearly_ah += battery.self_discharge_per_year * battery.capacity_ah
            life = battery.capacity_ah * battery.usable_share / yearly_ah
            allowed &= number_at_least(life, battery.life_min_years)
    return values, allowed


def _robots(study: Study) -> Iterator[tuple[int, Robot]]:
    first = 0
    for robot in study.robots:
        yield first, robot
        first += len(robot.joints)


def milp_best(rows: Table, unit_kg: float) -> dict[str, int] | None:
    """Solve the same by a plain MILP: a 0/1 per row, per ring part and per cutter, stage by stage."""
    n, study = len(rows.joint), rows.study
    if any(len(rows.of(j)) == 0 for j in range(rows.joints)):
        return None
    part, cutter = _numbers(rows.part), _numbers(rows.cutter)
    parts = int(part.max()) + 1
    cutters = 0 if study.shop.cutting == "wire" else int(cutter.max()) + 1
    width = n + parts + cutters
    weights = {wish: np.zeros(width) for wish in WISHES}
    weights["heads"][:n] = rows.heads
    weights["material"][:n] = number_in_whole_units(rows.kg, unit_kg)
    weights["ring_parts"][n : n + parts] = 1.0
    weights["cutters"][n + parts :] = 1.0
    weights["cost"][:n] = number_in_whole_units(rows.money, CENT)
    if study.shop.prices is not None:
        weights["cost"][n : n + parts] = number_in_whole_units(
            study.shop.prices.set_up_per_ring_part, CENT
        )
        weights["cost"][n + parts :] = number_in_whole_units(study.shop.prices.cutter, CENT)
    row = np.arange(n)
    pick = sparse.csr_array((np.ones(n), (rows.joint, row)), (rows.joints, width))
    owners = [n + part, n + parts + cutter] if cutters else [n + part]
    needs = [
        sparse.csr_array(
            (np.repeat((1.0, -1.0), n), (np.append(row, row), np.append(row, owner))), (n, width)
        )
        for owner in owners
    ]
    limits = [optimize.LinearConstraint(pick, 1.0, 1.0)]
    limits += [optimize.LinearConstraint(need, -np.inf, 0.0) for need in needs]
    for row, most in _real_limits(rows, width, weights):
        limits.append(optimize.LinearConstraint(row / most, -np.inf, 1.0))
    best: dict[str, int] = {}
    for wish in study.wishes.order:
        result = optimize.milp(
            weights[wish],
            constraints=limits,
            integrality=np.ones(width, dtype=np.int64),
            bounds=optimize.Bounds(0.0, 1.0),
            options={"mip_rel_gap": 0.0},
        )
        if result.status == 2:
            return None
        assert result.status == 0, result.message
        best[wish] = round(result.fun)
        limits.append(optimize.LinearConstraint(weights[wish], -np.inf, best[wish] + 0.5))
    return best


def _real_limits(
    rows: Table, width: int, weights: Mapping[Wish, np.ndarray]
) -> Iterator[tuple[np.ndarray, float]]:
    """Yield (weights, most) of ceilings and tool points in real numbers."""
    study, n = rows.study, len(rows.joint)
    for wish in ("cutters", "ring_parts", "heads"):
        ceiling = getattr(study.wishes, f"{wish}_max")
        if ceiling is not None:
            yield weights[wish], ceiling + 0.5
    if study.wishes.material_max_kg is not None:
        kg = study.wishes.material_max_kg
        yield np.pad(rows.kg, (0, width - n)), kg + float(rounding_allowance(kg))
    prices = study.shop.prices
    if study.wishes.cost_max is not None and prices is not None:
        money = np.pad(rows.money, (0, width - n))
        money += weights["ring_parts"] * prices.set_up_per_ring_part
        money += weights["cutters"] * prices.cutter
        yield money, study.wishes.cost_max + float(rounding_allowance(study.wishes.cost_max))
    for first, robot in _robots(study):
        for field, column in TOOL_POINTS.items():
            target = getattr(robot, field)
            if target is None:
                continue
            power = 2.0 if robot.tool_point_rule == "rss" else 1.0
            mine = (rows.joint >= first) & (rows.joint < first + len(robot.joints))
            most = target + float(rounding_allowance(target))
            shares = np.where(mine, getattr(rows, column) ** power, 0.0)
            yield np.pad(shares, (0, width - n)), most**power
        for place, field in enumerate(RING_SUMS):
            stated = getattr(robot, field)
            if stated is not None:
                mine = (rows.joint >= first) & (rows.joint < first + len(robot.joints))
                values = np.where(mine, rows.finished[:, place], 0.0)
                yield np.pad(values, (0, width - n)), stated + float(rounding_allowance(stated))
        battery = robot.battery
        if battery is not None and battery.life_min_years is not None:
            mine = (rows.joint >= first) & (rows.joint < first + len(robot.joints))
            yearly_ah = battery.capacity_ah * battery.usable_share / battery.life_min_years
            yearly_ah -= battery.self_discharge_per_year * battery.capacity_ah
            most = yearly_ah / 8766e-6 / battery.unpowered_share * (1.0 + 1e-9)
            yield np.pad(np.where(mine, rows.current_ua, 0.0), (0, width - n)), most


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_stage_values_are_the_best_of_all_combinations(first: int) -> None:
    _compare_with_all(random_study, range(first, first + CHUNK), CHUNK // 2)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, MIXED, CHUNK))
def test_so_they_are_where_joints_ask_different_bores(first: int) -> None:
    """A bore is turned to one zone: rings of equal sizes are one part only where their zones agree."""
    _compare_with_all(mixed_fits, range(first, first + CHUNK), CHUNK // 4)


def _compare_with_all(make: Callable[[int], Json], seeds: range, proven: int) -> None:
    seen: Counter[str] = Counter()
    for seed in seeds:
        study = load(make(seed))
        answer = solve(study)
        seen[answer.status] += 1
        assert judge(study, answer) == [], seed
        assert answer.status in ("proven", "impossible"), (seed, answer.reasons)
        unit = answer.proof.material_unit_kg or 1e-6
        rows = table(study)
        best = listed_best(rows, unit)
        assert milp_best(rows, unit) == best, seed
        reached = {stage.wish: stage.value for stage in answer.proof.stages}
        assert (reached or None) == best, seed
        assert (answer.status == "impossible") == (best is None), seed
    # many studies must be possible and some not, or the comparison says little
    assert seen["proven"] >= proven
    assert seen["impossible"] >= 1


@pytest.mark.slow
def test_the_studies_meet_every_kind_of_limit() -> None:
    """The generator is worth its time only if it mixes what it promises."""
    studies = [load(random_study(seed)) for seed in range(STUDIES)]
    assert {s.shop.cutting for s in studies} == {"hob", "disc_8", "disc_15", "disc_special", "wire"}
    assert {s.target.basis for s in studies} == {"expanded", "worst_case"}
    assert {tuple(s.wishes.order[:1]) for s in studies} == {
        ("cutters",), ("ring_parts",), ("heads",), ("material",),
    }  # fmt: skip
    for field in ("cutters_max", "ring_parts_max", "heads_max", "material_max_kg"):
        assert sum(getattr(s.wishes, field) is not None for s in studies) >= 20, field
    rules = Counter(
        r.tool_point_rule for s in studies for r in s.robots if r.tool_point_target_um is not None
    )
    assert min(rules["rss"], rules["sum"]) >= 20
    assert sum(len(s.robots) > 1 for s in studies) >= 40
    assert sum(j.seat_fit is not None for s in studies for r in s.robots for j in r.joints) >= 40
    assert {len(r.joints) for s in studies for r in s.robots} >= {1, 2, 3, 4}


@pytest.mark.slow
def test_sharing_pays_in_many_studies() -> None:
    """Ring parts shared by joints are the hard part of the search."""
    shared = 0
    for seed in range(60):
        answer = solve(load(random_study(seed)))
        used = [p.used_on for p in answer.ring_parts]
        shared += any(len(labels) > 1 for labels in used)
        assert sum(len(labels) for labels in used) == len(answer.rings)
    assert shared >= 15


def test_counting_different_values_over_a_grid() -> None:
    """The counting on which the listing rests, against a plain set on every cell."""
    values = [np.array([0, 1, 2]), np.array([1, 2]), np.array([2, 0, 5, 1])]
    counted = _different(values)
    for place in np.ndindex(*counted.shape):
        picked = {int(v[i]) for v, i in zip(values, place, strict=True)}
        assert counted[place] == len(picked)
