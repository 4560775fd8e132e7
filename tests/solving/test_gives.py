"""Wishes that may be given up: answers against the list of all combinations, and gives that are refused."""

from __future__ import annotations

import json
import random
from collections import Counter
from fractions import Fraction

import pytest

from ringset.errors import StudyError
from ringset.schema.gives import give_rate_weights
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.solving.test_brute_force import CENT, listed_values, table
from tests.support.listed_gives import drawn_give, listed_best_giving
from tests.support.studies import Json, load, priced_study, random_study, small

STUDIES, CHUNK = 320, 40


def giving_study(seed: int, kinds: tuple[str, ...]) -> Study | None:
    """Return a small random study with a give; None for one with a single wish."""
    rng = random.Random(seed + 0.75)
    data: Json = priced_study(seed) if rng.random() < 0.5 else random_study(seed)
    order = data["wishes"]["order"]
    if len(order) < 2:
        return None
    data["wishes"]["give"] = drawn_give(rng, order, kinds)
    return load(data)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_what_is_given_up_is_best_of_all_combinations(first: int) -> None:
    """Every kind of give on random studies: values, leasts and status are those of the listing."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        study = giving_study(seed, ("amount", "percent", "rate"))
        if study is None:
            continue
        answer = solve(study)
        assert answer.status in ("proven", "impossible"), (seed, answer.reasons)
        rows = table(study)
        unit = answer.proof.material_unit_kg or 1e-6
        listed = listed_values(rows, unit)
        sizes = {"material": unit, "cost": CENT}
        best = None if listed is None else listed_best_giving(study, *listed, sizes)
        assert (answer.status == "impossible") == (best is None), seed
        if best is None:
            continue
        values, least = best
        assert {stage.wish: stage.value for stage in answer.proof.stages} == values, seed
        for stage in answer.proof.stages:
            assert stage.proven
            assert (stage.given is not None) == (stage.wish in study.wishes.give), seed
            if stage.given is not None:
                assert stage.bound == stage.given.least == least[stage.wish], seed
                seen["given up"] += stage.value > stage.given.least
            seen["weighed"] += stage.weighed is not None
        seen["proven"] += 1
    assert seen["proven"] >= CHUNK // 3
    assert seen["given up"] >= 1
    assert seen["weighed"] >= 1


# -- what is refused, by name -----------------------------------------------------------------------------


def three_joints(give: Json, order: list[str] | None = None, **shop: object) -> Json:
    """Return a study of three joints with a give."""
    wishes: Json = {"give": give} | ({} if order is None else {"order": order})
    data = small() | {"wishes": wishes}
    data["shop"] = data["shop"] | shop
    return data


PRICES = {
    "currency": "crowns", "cutter": 90.0, "set_up_per_ring_part": 35.0, "material_per_kg": 40.0,
    "head": 12.0, "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.05},
}  # fmt: skip
FORMS = 'a number, a percent such as "5 %", or a rate with its units such as "0.15 kg per head"'
REFUSED: list[tuple[Json, str]] = [
    ({"material": 1}, "wishes.give.material: given 1.0; allowed: none for the last wish of wishes.order, "
     "material"),
    ({"cost": 1}, "wishes.give.cost: given 1.0; allowed: a wish of wishes.order: cutters, ring_parts, heads, "
     "material"),
    ({"heads": -1}, "wishes.give.heads: given -1; allowed: greater than 0"),
    ({"heads": 0}, "wishes.give.heads: given 0; allowed: greater than 0"),
    ({"heads": 1.5}, "wishes.give.heads: given 1.5; allowed: a whole number of pieces"),
    ({"heads": 1e10}, "wishes.give.heads: given 10000000000.0; allowed: at most 1e+09"),
    ({"cutters": 1e6}, "wishes.give.cutters: given 1000000.0; allowed: at most 100000"),
    ({"heads": True}, "wishes.give.heads: given true; allowed: a valid number"),
    ({"heads": [1]}, "wishes.give.heads: given [1]; allowed: a valid number"),
    ({"teeth": 1}, "wishes.give.teeth: given \"teeth\"; allowed: 'cutters', 'ring_parts', 'heads', "
     "'material' or 'cost'"),
    ({"heads": "0 %"}, 'wishes.give.heads: given "0 %"; allowed: more than 0 %, at most 100 %'),
    ({"heads": "101 %"}, 'wishes.give.heads: given "101 %"; allowed: more than 0 %, at most 100 %'),
    ({"heads": "-5 %"}, f'wishes.give.heads: given "-5 %"; allowed: {FORMS}'),
    ({"heads": "0.15"}, f'wishes.give.heads: given "0.15"; allowed: {FORMS}'),
    ({"heads": "0.15 per head"}, f'wishes.give.heads: given "0.15 per head"; allowed: {FORMS}'),
    ({"heads": "0.15 kg"}, f'wishes.give.heads: given "0.15 kg"; allowed: {FORMS}'),
    ({"heads": "0.15 lb per head"}, f'wishes.give.heads: given "0.15 lb per head"; allowed: {FORMS}'),
    ({"heads": "0.15 kg per cutter"}, 'wishes.give.heads: given "0.15 kg per cutter"; allowed: a rate per '
     'unit of its own wish, "... kg per head"'),
    ({"ring_parts": "0.15 kg per ring part"}, 'wishes.give.ring_parts: given "0.15 kg per ring part"; '
     'allowed: a rate in units of the next wish, "... head per ring part"'),
    ({"heads": "0 kg per head"}, 'wishes.give.heads: given "0 kg per head"; allowed: a rate from 1e-06 to '
     "1000000"),
    ({"heads": "10000000 kg per head"}, 'wishes.give.heads: given "10000000 kg per head"; allowed: a rate '
     "from 1e-06 to 1000000"),
    ({"ring_parts": "2 heads per ring part", "heads": "0.1 kg per head"},
     'wishes.give.heads: given "0.1 kg per head"; allowed: no rate, for wishes.give.ring_parts is one and '
     "ends at heads"),
    ({"ring_parts": "2 heads per ring part", "heads": 1},
     'wishes.give.ring_parts: given "2 heads per ring part"; allowed: no rate while wishes.give.heads gives '
     "up what it would save"),
]  # fmt: skip


@pytest.mark.parametrize(("give", "words"), REFUSED, ids=lambda one: str(one)[:40])
def test_gives_that_make_no_sense_are_refused_by_name(give: Json, words: str) -> None:
    with pytest.raises(StudyError) as refused:
        load(three_joints(give))
    assert str(refused.value) == words


@pytest.mark.parametrize(
    ("order", "give", "read"),
    [
        (["heads", "cost"], {"heads": "20 crowns per head"}, {"heads": "20 crowns per head"}),
        (["heads", "cost"], {"heads": "20  money per heads"}, {"heads": "20 money per heads"}),
        (["cost", "heads"], {"cost": "0.1 heads per crowns"}, {"cost": "0.1 heads per crowns"}),
        (["cutters", "ring_parts"], {"cutters": "1 ring part per cutter"}, None),
        (["material", "heads"], {"material": "5%"}, None),
        (["material", "heads"], {"material": 0.25}, None),
    ],
)
def test_gives_are_read_in_every_unit(order: list[str], give: Json, read: Json | None) -> None:
    """Money is called by the currency or `money`; one spelling is one study."""
    study = load(three_joints(give, order, prices=PRICES)).canonical()
    assert study.wishes.give == (read or give)
    assert set(study.gives()) == set(give)
    assert solve(study).status == "proven"


def test_a_study_without_gives_is_what_it_was() -> None:
    """No field stands in study or answer that was not there before gives were."""
    study, empty = load(small()), load(small() | {"wishes": {"give": {}}})
    assert "give" not in study.model_dump_json()
    assert study.fingerprint() == empty.fingerprint()
    stages = json.loads(solve(study).to_json())["proof"]["stages"]
    assert all(set(one) == {"wish", "unit", "value", "bound", "confirmed_by"} for one in stages)


@pytest.mark.parametrize(
    ("rate", "unit", "later", "weights"),
    [
        ("0.15", 1.0, 1e-6, (150_000, 1)),
        ("0.1234567", 1.0, 1e-6, (123_457, 1)),
        ("3", 1e-6, 1.0, (3, 1_000_000)),
        ("0.05", 1e-2, 1e-6, (500, 1)),
        ("0.5", 1.0, 1.0, (1, 2)),
        ("0.015", 1.0, 10.0, (3, 2000)),
    ],
)
def test_rates_become_whole_weights(
    rate: str, unit: float, later: float, weights: tuple[int, int]
) -> None:
    """As exactly as whole numbers of this size allow: no more than a millionth off."""
    found = give_rate_weights(Fraction(rate), unit, later)
    near = Fraction(found[0], found[1])
    exact = Fraction(rate) * Fraction(str(unit)) / Fraction(str(later))
    assert abs(near / exact - 1) <= Fraction(1, 10**6) * 4
    assert found == weights or abs(near / exact - 1) > 0


def test_weights_are_never_more_than_a_millionth_off_the_rate() -> None:
    """Near halves of large rates, just beside whole numbers, and anywhere between the least and the most."""
    rng = random.Random(5)
    rates = [
        Fraction("600000.5"),
        Fraction("500000.5"),
        3 + Fraction(1, 500_000),
        1 + Fraction(1, 2 * 10**6),
    ]
    rates += [Fraction(str(round(10 ** rng.uniform(-6, 6), 12))) for _ in range(300)]
    worst = Fraction(0)
    for rate in rates:
        for unit, later in ((1.0, 1.0), (1.0, 1e-6), (1e-6, 0.01), (0.01, 1e-6)):
            many, few = give_rate_weights(rate, unit, later)
            exact = rate * Fraction(str(unit)) / Fraction(str(later))
            worst = max(worst, abs(Fraction(many, few) / exact - 1))
    assert Fraction(1, 2 * 10**6) < worst <= Fraction(1, 10**6)


def test_a_rate_whose_sums_are_too_large_is_refused() -> None:
    data = three_joints({"material": "0.000001 heads per kg"}, ["material", "heads"])
    for robot in data["robots"]:
        robot["count"] = 1_000_000
    with pytest.raises(StudyError, match=r"wishes.give.material: given a rate that counts"):
        solve(load(data))
