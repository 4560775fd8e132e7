"""The bound by multipliers, written anew in `duality`: against its own theorem and against `lagrangian`."""

import itertools
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from ringset.reduction.table import FirstRows, Sums, Table
from ringset.reduction.units import Units
from ringset.schema.gives import Aim, WeighedSum
from ringset.schema.study import Wish
from ringset.search.bounds.lagrangian import IntegerMultipliers, lagrangian_bound
from ringset.search.model.program import build_search_program
from ringset.verification.certificate.constraints import (
    RowsInQuestion,
    certificate_line_total,
    certificate_lines,
    certificate_rows,
    certificate_wish_line,
)
from ringset.verification.certificate.duality import (
    NoProof,
    Step,
    certificate_outcome_of_prices,
    certificate_patterns,
    certified_allowed_rows,
)
from ringset.verification.certificate.listed import certificate_better_listed
from tests.published.locations import problem
from tests.support.tables import Row, table

SIZES: dict[Wish, float] = {"material": 0.25, "cost": 0.5}
WISHES: tuple[Wish, ...] = ("cutters", "ring_parts", "heads", "material", "cost")


def random_table(draw: np.random.Generator) -> Table:
    """Return three joints with a few rings each, cutters, money, and a sum over two of them, or one each."""
    joint, ring, heads = [], [], []
    for j in range(3):
        for r in sorted(draw.choice(5, size=draw.integers(2, 4), replace=False).tolist()):
            for h in (1, 2)[: draw.integers(1, 3)]:
                joint.append(j)
                ring.append(r)
                heads.append(h)
    count = len(joint)
    cutter_of = draw.integers(-1, 2, 5)
    group = np.array([0, 0, -1] if draw.random() < 0.5 else [0, 1, 1])
    names = ("target", "other")[: group.max() + 1]
    values = np.where(group[joint] >= 0, draw.uniform(0.0, 4.0, count), 0.0)
    return Table(
        joints=3, weight=draw.integers(1, 4, 3), joint=np.array(joint), ring=np.array(ring),
        cutter=cutter_of[ring], heads=np.array(heads), material_kg=draw.uniform(0.1, 5.0, count),
        cost=draw.uniform(0.0, 9.0, count), error=np.zeros(count), index=FirstRows(np.arange(count)),
        part_cost=draw.integers(0, 4, 5).astype(float), cutter_cost=draw.integers(0, 6, 2) / 1.0,
        head_cost=0.0,
        sums=(Sums(names, draw.uniform(2.0, 8.0, len(names)), group, values),),
    )  # fmt: skip


def random_step(draw: np.random.Generator, rest: RowsInQuestion, table: Table) -> Step:
    """Return multipliers of all kinds, some of them 0."""
    scale = int(draw.choice([1, 16, 1024]))
    lines = {
        line.name: int(draw.integers(0, 3 * scale)) if line.whole else float(draw.uniform(0, 3 * scale))
        for line in rest.lines
        if draw.random() < 0.7
    }  # fmt: skip
    found = certificate_patterns(table, None)
    known = found.pairs()
    pairs = {known[number] for group in found.groups for number in group.ravel().tolist()}
    return Step(
        scale=scale,
        lines=lines,
        joints=draw.integers(-20 * scale, 5 * scale, 3),
        cutters={(c, j): int(draw.integers(0, scale)) for c in (0, 1) for j in range(3)},
        heads={pair: int(draw.integers(-2 * scale, 2 * scale)) for pair in sorted(pairs)},
    )


def answers(table: Table) -> Iterator[tuple[int, ...]]:
    """Yield every way to give each joint a row."""
    return itertools.product(*(np.flatnonzero(table.joint == j) for j in range(table.joints)))


def keeps(rest: RowsInQuestion, rows: np.ndarray) -> bool:
    return all(certificate_line_total(rest.table, line, rows) <= line.right for line in rest.lines)


@pytest.mark.parametrize("seed", range(120))
def test_no_allowed_answer_is_below_the_bound_with_the_price_of_its_rows(seed: int) -> None:
    """The theorem itself, over every answer of a small table, whatever the multipliers."""
    draw = np.random.default_rng(seed)
    table = random_table(draw)
    wish = WISHES[seed % 5]
    ceilings: dict[Wish, float] = {}
    if draw.random() < 0.5:
        ceilings["heads"] = float(draw.integers(6, 14))
    if draw.random() < 0.5:
        ceilings["cost"] = float(draw.uniform(12.0, 30.0))
    held: dict[Wish, int] = {}
    if draw.random() < 0.5:
        held["ring_parts"] = int(draw.integers(1, 4))
    lines = certificate_lines(table, SIZES, ceilings, held)
    everything = certificate_rows(table, certificate_wish_line(table, SIZES, wish), lines)
    heads_max = int(ceilings["heads"]) if "heads" in ceilings else None
    rest = certified_allowed_rows(everything, heads_max)
    allowed = [np.array(rows) for rows in answers(table) if keeps(everything, np.array(rows))]
    for rows in allowed:  # no allowed answer lost
        assert np.all(np.isin(rows, rest.table.index))
    if rest.empty:
        assert not allowed
        return
    for _ in range(5):
        step = random_step(draw, rest, rest.table)
        price = certificate_outcome_of_prices(rest, step, heads_max)
        for rows in allowed:
            mine = np.searchsorted(rest.table.index, rows)
            value = int(certificate_line_total(rest.table, rest.wish, mine))
            assert step.scale * value >= price.least + max(0, price.cost[mine].max())
            assert step.scale * value >= price.least + price.own[mine].sum()
            assert np.all(price.possible(value)[mine])
            assert not price.refutes(value)
            # one of the values that these rows can come to, and no value between
            assert rest.below(value + 1) == value


@pytest.mark.parametrize("seed", range(60))
def test_the_list_finds_a_better_answer_exactly_where_there_is_one(seed: int) -> None:
    draw = np.random.default_rng(1000 + seed)
    table = random_table(draw)
    rest = certificate_rows(
        table,
        certificate_wish_line(table, SIZES, WISHES[seed % 5]),
        certificate_lines(table, SIZES, {}, {}),
    )
    step = random_step(draw, rest, table)
    price = certificate_outcome_of_prices(rest, step, None)
    values = sorted(
        int(certificate_line_total(rest.table, rest.wish, np.array(rows)))
        for rows in answers(table)
        if keeps(rest, np.array(rows))
    )
    if not values:
        return
    assert certificate_better_listed(rest, price, values[0] - 1) is False
    assert certificate_better_listed(rest, price, values[0]) is True


@pytest.mark.parametrize("file", ["cap71.txt", "cap101.txt", "cap131.txt"])
def test_both_ways_to_reckon_agree_to_the_last_unit_on_facility_location(file: str) -> None:
    """`lagrangian` counts less each joint's least and in units of the divisor: a shift and a scale."""
    given = problem(file)
    program = build_search_program(given.table, given.units, "cost", {}, {})
    objective = program.objectives["cost"]
    sizes: dict[Wish, float] = {"cost": given.units.cost}
    rest = certificate_rows(given.table, certificate_wish_line(given.table, sizes, "cost"), [])
    least = np.full(program.joints, 2**62)
    np.minimum.at(least, program.joint, rest.wish.rows)
    draw = np.random.default_rng(5)
    largest = int(objective.weights[: program.rows].max())
    nothing = np.empty(0, dtype=np.int64)
    for scale in (1, 64, 2**16):
        joints = -draw.integers(0, scale * largest // 4, program.joints)
        bound = lagrangian_bound(
            program, objective, IntegerMultipliers(scale, nothing, joints, nothing, nothing)
        )
        price = certificate_outcome_of_prices(
            rest, Step(scale, {}, objective.scale * joints - scale * least), None
        )
        assert price.least == objective.scale * bound.scaled + scale * objective.offset
        assert np.array_equal(price.cost, objective.scale * bound.costs)
        assert np.array_equal(price.own, objective.scale * bound.own_costs)


@pytest.mark.parametrize("seed", range(30))
def test_both_ways_to_reckon_agree_on_cutters_and_parts(seed: int) -> None:
    """With multipliers of whole limits and cutters as well; no shift and no scale here."""
    draw = np.random.default_rng(seed)
    table = random_table(draw)
    table = Table(**{**table.__dict__, "sums": ()})
    counted: tuple[Wish, Wish] = ("cutters", "ring_parts")
    wish, held = counted[seed % 2], counted[1 - seed % 2]
    program = build_search_program(table, Units(0.25, 0.5), wish, {wish: 3.0}, {held: 2})
    lines = certificate_lines(table, SIZES, {wish: 3.0}, {held: 2})
    rest = certificate_rows(table, certificate_wish_line(table, SIZES, wish), lines)
    assert [line.name for line in lines] == list(program.limits.names)
    most = {n: int(b) for n, b in zip(program.limits.names, program.limits.right, strict=True)}
    lines = [
        type(line)(line.name, line.rows, line.parts, line.cutters, float(most[line.name]))
        for line in lines
    ]  # a ceiling that nothing reaches is counted as what could be reached
    rest = certificate_rows(table, rest.wish, lines)
    scale = 1024
    limits, joints = draw.integers(0, scale, 2), draw.integers(-3 * scale, scale, 3)
    cutters = draw.integers(0, scale, len(program.cutters.owner))
    bound = lagrangian_bound(
        program, program.objectives[wish],
        IntegerMultipliers(scale, limits, joints, cutters, np.empty(0, dtype=np.int64)),
    )  # fmt: skip
    pairs = zip(program.cutters.key.tolist(), cutters.tolist(), strict=True)
    step = Step(
        scale, dict(zip(program.limits.names, limits.tolist(), strict=True)), joints,
        {(key // 3, key % 3): many for key, many in pairs},
    )  # fmt: skip
    price = certificate_outcome_of_prices(rest, step, None)
    assert price.least == bound.scaled
    assert np.array_equal(price.cost, bound.costs)


# -- refusals ----------------------------------------------------------------------------------------


def refused(**changes: Any) -> str:
    draw = np.random.default_rng(4)
    table = random_table(draw)
    kept: dict[Wish, int] = {"heads": 9}
    rest = certificate_rows(
        table,
        certificate_wish_line(table, SIZES, "material"),
        certificate_lines(table, SIZES, {}, kept),
    )
    plain: dict[str, Any] = {"scale": 64, "lines": {}, "joints": np.zeros(3, dtype=np.int64)}
    certificate_outcome_of_prices(rest, Step(**plain), None)
    with pytest.raises(NoProof) as caught:
        certificate_outcome_of_prices(rest, Step(**{**plain, **changes}), None)
    return str(caught.value)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"lines": {"target": -1e-9}}, "below 0"),
        ({"lines": {"target": float("nan")}}, "below 0 or too large"),
        ({"lines": {"held heads": 1.5}}, "not a whole number"),
        ({"lines": {"held rings": 1}}, "not there"),
        ({"joints": np.zeros(2, dtype=np.int64)}, "not there"),
        ({"scale": 0}, "scale"),
        ({"cutters": {(0, 1): -1}}, "below 0"),
        ({"cutters": {(7, 1): 1}}, "no cutter"),
        ({"cutters": {(0, 3): 1}}, "no cutter"),
        ({"heads": {(5, 1): 1}}, "no joint"),
        ({"heads": {(2, 1): 1}}, "patterns are not listed"),
        ({"scale": 2**59}, "too large"),
        ({"joints": np.full(3, 2**61)}, "too large"),
        ({"lines": {"target": 1e300}}, "too large"),
    ],
)
def test_multipliers_that_cannot_be_used_are_refused(changes: dict[str, Any], words: str) -> None:
    assert words in refused(**changes)


def test_sums_beyond_what_doubles_tell_apart_are_counted_exactly() -> None:
    """One head more saves one unit of a sum near 2^54: the list finds it, and holding the sum keeps it."""
    weights = 499_999, 500_000
    made = table([Row(0, 0, 1, 36_028_797_028.0), Row(0, 1, 2, 36_028_797_027.0)])
    aim: Aim = WeighedSum("heads", weights[0], "material", weights[1])
    wish = certificate_wish_line(made, {"material": 1.0}, aim)
    first, second = (certificate_line_total(made, wish, np.array([row]))
                     for row in (0, 1))  # fmt: skip
    assert second == first - 1 > 2**53
    assert float(second) != second or float(first) != first
    held: dict[Aim, int] = {aim: int(first)}
    lines = certificate_lines(made, {"material": 1.0}, {}, held)
    assert lines[0].right == first
    rest = certificate_rows(made, wish, lines)
    price = certificate_outcome_of_prices(rest, Step(1, {}, np.array([2 - int(second)])), None)
    assert certificate_better_listed(rest, price, int(second)) is True
    assert certificate_better_listed(rest, price, int(second) - 1) is False
