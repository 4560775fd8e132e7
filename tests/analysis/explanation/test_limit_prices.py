"""Prices of limits equal two independent solves; room to move ends where a ring on its own fails."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ringset.analysis.alternatives.single_ring import find_joint, rate_one
from ringset.analysis.explanation.explain import explain_prices, explain_sensitivity, explain_study
from ringset.analysis.explanation.impossible import explain_impossible
from ringset.analysis.explanation.limit_prices import (
    STEP,
    Pricing,
    explained_wishes_to_price,
)
from ringset.analysis.explanation.models import Price, Room
from ringset.cli import main
from ringset.errors import StudyError
from ringset.reporting.explanation_text import explanation_text
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.electronic_studies import with_batteries
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load, random_study, small, two_robots
from tests.support.tiers import campaign

PRICES = {
    "currency": "crowns", "cutter": 90.0, "set_up_per_ring_part": 35.0, "material_per_kg": 300.0,
    "head": 12.0, "machine_per_hour": 0.0, "cutting_minutes_per_tooth": {"6": 0.05},
}  # fmt: skip
TOTALS = {
    "cutters": "cutters",
    "ring_parts": "ring_parts",
    "heads": "heads",
    "material": "material_kg",
}


def tied() -> Json:
    """Three joints with a tool point and ceilings."""
    data = small()
    data["robots"][0]["tool_point_target_um"] = 330.0
    data["wishes"] = {"ring_parts_max": 2, "material_max_kg": 1.2, "heads_max": 12}
    return data


def solved(study: Study, path: str, value: float) -> dict[str, float] | None:
    """Return the totals of the study with one field at another value; None if it is impossible."""
    number = int(value) if isinstance(value_of(study, path), int) else value
    other = edited_study(study, {resolve_field_path(study, path): number})
    answer = solve(other)
    assert answer.status in ("proven", "impossible")
    if answer.totals is None:
        return None
    return {name: float(getattr(answer.totals, field)) for name, field in TOTALS.items()}


def value_of(study: Study, path: str) -> object:
    from ringset.schema.editing import study_value_at

    return study_value_at(study, resolve_field_path(study, path))


def full_order(data: Json) -> Study:
    """Return the study with the order in which prices count."""
    study = load(data)
    data = json.loads(json.dumps(data))
    data.setdefault("wishes", {})["order"] = explained_wishes_to_price(study)
    return load(data)


@pytest.mark.cases(fast=0)
@pytest.mark.parametrize(
    "data", [small(), campaign(tied()), campaign(two_robots())], ids=["small", "tied", "robots"]
)
def test_prices_equal_two_independent_solves(data: Json) -> None:
    study = full_order(data)
    base = solve(study).totals
    assert base is not None
    before = {name: float(getattr(base, field)) for name, field in TOTALS.items()}
    found = explain_prices(study)
    assert len(found) > 20
    moving = 0
    for price in found:
        assert price.solved
        if price.loosened is not None:
            after = solved(study, price.path, price.loosened)
            assert after is not None
            agree(before, after, price.gain, price)
        if price.tightened is not None:
            after = solved(study, price.path, price.tightened)
            assert price.tightened_impossible == (after is None)
            if after is not None:
                agree(before, after, price.loss, price)
                moving += before != after
    assert moving > 2


def agree(
    before: dict[str, float], after: dict[str, float], change: dict[str, float], price: Price
) -> None:
    """Material is counted in whole milligrams a ring: equal optima may differ by less than that."""
    for name in TOTALS:
        allowed = 1e-5 if name == "material" else 1e-12
        assert change[name] == pytest.approx(after[name] - before[name], abs=allowed), (price, name)


def check_prices(seed: int, every: int = 1) -> int:
    """Compare prices of a random study with independent solves; return how many were compared."""
    study = full_order(random_study(seed))
    base = solve(study).totals
    if base is None:
        return 0
    before = {name: float(getattr(base, field)) for name, field in TOTALS.items()}
    found = explain_prices(study)[::every]
    for price in found:
        for value, change in ((price.loosened, price.gain), (price.tightened, price.loss)):
            if value is not None:
                after = solved(study, price.path, value)
                assert (after is None) == (not change), (seed, price)
                if after is not None:
                    agree(before, after, change, price)
    return len(found)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", [3, 12, 20, 31])
def test_prices_of_random_studies_equal_independent_solves(seed: int) -> None:
    assert check_prices(seed, 3) > 5


@pytest.mark.parametrize(
    "wishes", [{"give": {"ring_parts": 1}}, {"order": ["cost", "heads"]}], ids=str
)
def test_a_few_prices_with_gives_or_money_equal_solves(wishes: Json) -> None:
    """Of a bore that leaves few rings, a ceiling that is just met, and a limit that keeps out nothing."""
    data = small() | {"wishes": {"heads_max": 6, **wishes}}
    data["robots"][0]["joints"][0].update(bore_min_mm=78.0, bore_max_mm=88.0)
    data["shop"]["prices"] = PRICES
    study = load(data)
    pricing = Pricing(study)
    limits = {limit.path: limit for limit in pricing.limits}
    impossible = []
    for path in ("robots.arm.joints.joint 1.bore_min_mm", "wishes.heads_max"):
        price = pricing.price(limits[path])
        for value, found in (
            (present(price.loosened), price.looser), (present(price.tightened), price.tighter),
        ):  # fmt: skip
            other = comes_to(study, path, value)
            impossible += [path] if other is None else []
            assert (found is None) == (other is None)
            if found is None or other is None:
                continue
            money = found.wishes.get("cost", other["cost"])  # is counted in whole cents a piece
            assert money == pytest.approx(other["cost"], abs=0.05)
            assert {**found.wishes, "cost": 0.0} == pytest.approx(other | {"cost": 0.0}, rel=1e-6)
    assert impossible == ["robots.arm.joints.joint 1.bore_min_mm", "wishes.heads_max"]
    free = pricing.price(limits["head.width_mm"])
    assert free.looser == free.tighter == pricing.base


def comes_to(study: Study, path: str, value: float) -> dict[str, float] | None:
    """Return the wishes of the study with one field at another value; None if it is impossible."""
    number = int(value) if isinstance(value_of(study, path), int) else value
    answer = solve(edited_study(study, {resolve_field_path(study, path): number}), certified=False)
    if answer.totals is None:
        return None
    amounts = {wish: float(getattr(answer.totals, field)) for wish, field in TOTALS.items()}
    return amounts | {"cost": present(answer.totals.cost).total}


def test_prices_are_ranked_by_gain_and_the_step_is_the_users() -> None:
    study = load_scenario("two_joint_table")
    found = explain_prices(study, 0.1)
    gains = [price.gain.get("material", 0.0) for price in found]
    assert gains[0] == min(gains) < 0.0
    (target,) = [p for p in found if p.path == "target.angle_target_arcsec"]
    assert (target.loosened, target.tightened) == (66.0, 54.0)
    assert STEP == 0.05


def load_scenario(name: str) -> Study:
    return load(json.loads((SCENARIOS / f"{name}.json").read_text()))


def broken(study: Study, room: Room, value: float) -> set[str]:
    """Return joints and limits that the rings of the answer break with an input at a value."""
    answer = solve(study)
    path = resolve_field_path(study, room.path)
    new = int(value) if room.path == "shop.flank_class" else value
    other = edited_study(study, {path: new})
    found = set()
    for ring in answer.rings:
        robot, joint = find_joint(other, ring.joint, ring.robot)
        _, faults = rate_one(
            other, robot, joint, ring.module_mm, ring.teeth, ring.bore_mm, ring.heads
        )
        names = {fault.partition(":")[0].partition(" ")[0] for fault in faults}
        found |= {f"{ring.robot}/{ring.joint} {name.split('.')[-1]}" for name in names}
    return found


@pytest.mark.slow
def test_room_ends_where_a_ring_on_its_own_fails() -> None:
    study = load_scenario("two_joint_table")
    found = explain_sensitivity(study, solve(study))
    assert len(found) > 15
    for room in found:
        sign = 1.0 if room.direction == "up" else -1.0
        beyond = room.holds_to + sign * (
            1.0 if room.path == "shop.flank_class" else 1e-6 * (room.room + max(1.0, room.given))
        )
        assert broken(study, room, room.holds_to) == set(), room
        assert room.limit is not None
        first = f"{room.first} {room.limit.split('.')[-1]}"
        assert first in broken(study, room, beyond), (room, first)


@pytest.mark.campaign
def test_the_room_of_a_dial_is_told_as_it_is_stated() -> None:
    """A reading has twice the room of the offset that it means, and only the one that is stated is told."""
    rooms = {}
    for field, value in (("seat_offset_um", 10.0), ("seat_tir_um", 20.0)):
        data = small()
        for joint in data["robots"][0]["joints"]:
            joint |= {field: value, "set_by": "tips"}
        study = load(data)
        found = explain_sensitivity(study, solve(study))
        mine = [room for room in found if room.path.endswith(("seat_offset_um", "seat_tir_um"))]
        assert mine
        assert all(room.path.endswith(field) and room.given == value for room in mine)
        rooms[field] = {room.path.rpartition(".")[0]: room.room for room in mine}
    assert set(rooms["seat_offset_um"]) == set(rooms["seat_tir_um"])
    for path, room in rooms["seat_offset_um"].items():
        assert rooms["seat_tir_um"][path] == pytest.approx(2.0 * room, rel=1e-4)


@pytest.mark.campaign
@pytest.mark.parametrize("seed", [22])
def test_the_gap_of_one_head_moves_no_joint_of_another(seed: int) -> None:
    study = load(with_batteries(seed))
    reads = {f"{r.name}/{j.name}": j.head for r in study.robots for j in r.joints}
    assert len(set(reads.values())) > 1
    found = [
        room for room in explain_sensitivity(study, solve(study)) if room.path.endswith(".gap_mm")
    ]
    assert found
    for room in found:
        if room.first in reads:
            assert room.path == f"heads.{reads[room.first]}.gap_mm"


@pytest.mark.campaign
def test_room_at_the_tool_point_ends_where_the_sum_does() -> None:
    study = load(tied())
    answer = solve(study)
    found = [
        room for room in explain_sensitivity(study, answer) if room.limit == "tool_point_target_um"
    ]
    assert found
    for room in found[:8]:
        assert room.first == "arm"


# -- the command ------------------------------------------------------------------------------------------


def test_the_command_prints_prices_and_room_and_writes_json_and_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = str(SCENARIOS / "two_joint_table.json")
    plot, written = tmp_path / "prices.svg", tmp_path / "why.json"
    code = main.main(["why", study, "--step", "4", "--plot", str(plot), "--json", str(written)])
    text = capsys.readouterr().out
    assert code == 0
    assert "Prices of limits" in text
    assert "Room to move for this answer" in text
    data = json.loads(written.read_text())
    assert data["status"] == "possible"
    (target,) = [p for p in data["prices"] if p["path"] == "target.angle_target_arcsec"]
    assert target["loosened"] == pytest.approx(62.4)
    assert plot.read_text().startswith("<?xml")
    assert "material kg" in text


def test_an_impossible_study_has_no_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plot = tmp_path / "prices.svg"
    study = str(SCENARIOS / "impossible_wrist.json")
    assert main.main(["why", study, "--plot", str(plot), "--json", "-"]) == 0
    captured = capsys.readouterr()
    assert json.loads(captured.out)["status"] == "impossible"
    assert "no picture" in captured.err
    assert not plot.exists()


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (["--step", "60"], "--step: given 60; allowed: 0.1 to 25"),
        (["--step", "nan"], "--step: given nan; allowed: 0.1 to 25"),
        (["--fixed", "joints.turn.tip_mx_mm"], "allowed: joints.turn.tip_max_mm"),
        (["--plot", "-"], "--plot: given '-'; allowed: a file name"),
    ],
)
def test_bad_options_are_refused(
    options: list[str], text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["why", str(SCENARIOS / "two_joint_table.json"), *options]) == 2
    assert text in capsys.readouterr().err


def test_solving_an_impossible_study_names_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main.main(["solve", str(SCENARIOS / "impossible_wrist.json")]) == 3
    assert "ringset why" in capsys.readouterr().out


@pytest.mark.slow
def test_a_search_cut_short_says_what_is_open_and_claims_no_price(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = tied() | {"search": {"time_limit_s": 1e-6}}
    path = tmp_path / "study.json"
    path.write_text(json.dumps(data))
    explanation = explain_study(load(data))
    assert explanation.prices == []
    assert main.main(["why", str(path)]) == 4
    text = capsys.readouterr().out
    if explanation.status == "possible":
        assert "Open: prices" in text
        assert len(explanation.open) == 1
    assert "without any change" not in text
    assert "Prices of limits" not in text


def test_limits_whose_price_is_open_are_not_counted_as_free() -> None:
    study = load_scenario("two_joint_table")
    found = [
        price.model_copy(update={"solved": False, "gain": {}, "loss": {}})
        for price in explain_prices(study)
    ]
    some = [price.model_copy(update={"tightened_impossible": False}) for price in found]
    text = explanation_text(explain_impossible(study).model_copy(update={"prices": some}))
    assert f"open for {len(some)} limits" in text
    assert "without any change" not in text


def test_an_explanation_is_repeatable() -> None:
    study = load_scenario("impossible_wrist")
    assert explain_study(study).to_json() == explain_study(study).to_json()
    with pytest.raises(StudyError):
        explain_study(study, ["nowhere"])
