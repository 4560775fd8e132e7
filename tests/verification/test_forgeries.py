"""Certificates that certify too much are refused, whoever sealed them.

The truth is the list of all answers (`tests/support/forgeries.py`); `tests/bench/bench_forgeries.py` makes
5,000 forgeries of the same ten kinds.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import pytest

from ringset.cli import main
from ringset.errors import ANSWERED, BROKEN
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import Table
from ringset.reduction.units import AMOUNT_UNITS, Units, reduction_units
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.coarse_units import coarse
from tests.support.forgeries import KINDS, Case, cases, found
from tests.support.narrow import present
from tests.support.studies import Json, inside_rows, joint, load
from tests.support.tables import Row, table
from tests.support.tiers import campaign

FIRST_SEED = 30_000
PRICES = {
    "cutter": 90.0, "set_up_per_ring_part": 35.0, "material_per_kg": 40.0, "head": 12.0,
    "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.05},
}  # fmt: skip


@pytest.fixture(scope="module", name="studies")
def _studies() -> list[Case]:
    made = list(islice(cases(FIRST_SEED), 4))
    assert any("cost" in case.order for case in made)
    return made


@pytest.mark.cases(fast=0)
@pytest.mark.parametrize("kind", KINDS)
def test_forgeries_are_refused(kind: str, studies: list[Case]) -> None:
    assert forged(kind, studies, each=2) >= 4


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("studies", [2, campaign(4)])
def test_many_forgeries_are_refused(kind: str, studies: int) -> None:
    assert forged(kind, islice(cases(FIRST_SEED + 100), studies), each=8) >= 3 * studies


def forged(kind: str, studies: Iterator[Case] | list[Case], each: int) -> int:
    """Return how many forgeries of a kind are refused, after a check that none was taken for true."""
    seen: Counter[str] = Counter()
    for case in studies:
        draw = random.Random(case.seed)
        made = [KINDS[kind](case, draw) for _ in range(each)]
        seen.update(found(case, one) for one in made if one is not None)
    assert not seen["FORGED"] + seen["true"], seen
    return seen.total()


# -- the unit ---------------------------------------------------------------------------------------


def alike(wish: str) -> Study:
    """Return 150 joints that all take the same rings, each robot built once."""
    joints = [joint(f"joint {place}", 60.0, tip_min_mm=84.0) for place in range(1, 7)]
    data: Json = {
        "robots": [{"name": f"arm {number}", "joints": joints} for number in range(1, 26)],
        "shop": {"modules": [1.0, 1.25], "bore_step_mm": 1.0, "prices": PRICES},
        "target": {"angle_target_arcsec": 200.0},
        "wishes": {"order": [wish]},
    }
    return load(data)


def spoiling(made: Table, wish: str) -> float:
    """Return a unit of which the lightest ring takes seven as the heaviest does that is a sixth above it."""
    amounts = (made.material_kg if wish == "material" else made.cost)[made.joint == 0]
    alike_in_it = amounts[amounts < 6.99 / 6.0 * amounts.min()]
    return float(f"{alike_in_it.max() / 6.9999:.6g}")


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("wish", ["material", "cost"])
def test_an_answer_an_eighth_above_the_best_is_not_certified_by_a_coarse_unit(
    wish: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Counted in this unit it is the best, and its certificate is a true proof of that."""
    study = alike(wish)
    honest = reduction_units(reduction_table(study, inside_rows(study)))
    unit = spoiling(reduction_table(study, inside_rows(study)), wish)
    units = Units(unit, honest.cost) if wish == "material" else Units(honest.material_kg, unit)
    best = solve(study)
    answer, certificate = coarse(study, units)
    assert total(answer, wish) > 1.125 * total(best, wish)
    files = [tmp_path / name for name in ("s.json", "a.json", "c.json")]
    files[0].write_text(study.model_dump_json())
    for made, sealed, code in (
        (best, certify(study, best), ANSWERED),
        (answer, certificate.sealed(), BROKEN),
    ):
        files[1].write_text(made.to_json())
        files[2].write_text(sealed.to_json())
        command = ["judge", str(files[0]), str(files[1]), "--certificate", str(files[2])]
        assert main.main(command) == code
    name = "material_unit_kg" if wish == "material" else "cost_unit"
    assert f"proof.{name}: {unit!r} stated; allowed: " in capsys.readouterr().out
    faults = verify_certificate(study, answer, certificate).faults
    assert any(
        fault.startswith(f"certificate.{name}: given {unit!r}; allowed: ") for fault in faults
    )
    assert any(fault.startswith(f"answer.proof.{name}: given") for fault in faults)


def total(answer: Answer, wish: str) -> float:
    totals = present(answer.totals)
    return totals.material_kg if wish == "material" else present(totals.cost).total


@pytest.fixture(scope="module", name="crowd")
def _crowd() -> tuple[Study, Answer]:
    study = alike("material")
    return study, solve(study)


@pytest.mark.cases(fast=1, slow=2)
@pytest.mark.parametrize(
    ("unit", "sound"),
    [
        (1e-6, True), (1e-7, False), (2e-6, False), (1.0000001e-6, False), (1e-5, True),
        (1e-4, False), (1e-3, False), (0.0, False), (1e300, False),
    ],
)  # fmt: skip
def test_the_judge_by_itself_lets_rounding_hide_a_ten_thousandth_at_most(
    unit: float, sound: bool, crowd: tuple[Study, Answer]
) -> None:
    """150 rings of 20 kg in all: rounding up to 1e-5 kg adds 0.0015 kg at most, to 1e-4 kg 0.015 kg."""
    study, answer = crowd
    proof = answer.proof.model_copy(update={"material_unit_kg": unit})
    violations = judge(study, answer.model_copy(update={"proof": proof}))
    assert any("proof.material_unit_kg" in violation for violation in violations) != sound


def test_the_unit_follows_from_the_largest_total() -> None:
    """The finest power of ten in which the heaviest rows together count no more than AMOUNT_UNITS."""
    light = [Row(0, 0, kg=1.0), Row(0, 1, kg=3.0), Row(1, 2, kg=2.0)]
    assert reduction_units(table(light)).material_kg == 1e-6
    most = AMOUNT_UNITS * 1e-6
    full = [Row(0, 0, kg=1.0), Row(0, 1, kg=most - 2.0), Row(1, 2, kg=2.0)]
    assert reduction_units(table(full)).material_kg == 1e-6
    over = [*full[:2], Row(1, 2, kg=2.1)]
    assert reduction_units(table(over)).material_kg == 1e-5
    priced = table(light, part_cost=[AMOUNT_UNITS * 1e-2] * 3)
    assert reduction_units(priced) == Units(1e-6, 1e-1)
