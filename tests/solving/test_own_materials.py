"""Materials of the user's own: the values of C45 under another name give the answer of C45, at every door."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from ringset import shop_data, simulate_yield
from ringset.drawing.part import drawn_parts
from ringset.errors import Fault, StudyError
from ringset.export.tables import export_order_lines
from ringset.schema.answer import Answer
from ringset.schema.assumed_inputs import assumed_inputs, study_with_inputs
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.standards.materials import MATERIALS
from ringset.verification.judge.judge import judge
from tests.support.own_materials import as_stated
from tests.support.studies import Json, joint, load

PRESSED: dict[str, Any] = {
    "seat_fit": "H7/s6", "hub_bore_mm": 30.0, "hub_material": "en_aw_6082_t6",
    "acceleration_max_rad_s2": 5000.0, "slip_safety_min": 4.0, "stress_safety_min": 1.8,
    "burst_safety_min": 5.0, "speed_max_rpm": 60.0,
}  # fmt: skip
#: Every study asks of its materials what it can: seats, strength, screws, heat, mass.
ASKED: dict[str, Json] = {
    "plain": {"joints": [joint("a", 60.0, temperature_max_c=90.0), joint("b", 40.0)]},
    "pressed": {"joints": [joint("a", 40.0, **PRESSED)]},
    "screwed": {
        "joints": [
            joint(
                "a", 40.0, fastening="screws", acceleration_max_rad_s2=20000.0,
                slip_safety_min=3.0, burst_safety_min=20.0,
            )
        ]
    },
    "weighed": {
        "joints": [joint("a", 40.0, ring_mass_max_kg=0.05, ring_inertia_max_kg_m2=7e-5)]
    },
    "treated": {"joints": [joint("a", 40.0, burst_safety_min=20.0)], "treatment": "+N"},
}  # fmt: skip


def study_of(name: str, own: bool) -> Json:
    """Return one of the studies, its materials those of the standards or the same as the user's own."""
    asked = copy.deepcopy(ASKED[name])
    shop: Json = {"modules": [0.8, 1.0, 1.25]}
    if "treatment" in asked:
        shop["material_treatment"] = asked["treatment"]
    if own:
        shop.update(
            material="Steel 7",
            materials={"Steel 7": as_stated("c45"), "Alu": as_stated("en_aw_6082_t6")},
        )
        for one in asked["joints"]:
            one["housing_material"] = "Alu"
            if "hub_material" in one:
                one["hub_material"] = "Alu"
    return {
        "robots": [{"name": "arm", "joints": asked["joints"]}],
        "shop": shop,
        "target": {"angle_target_arcsec": 250.0},
    }


def bare(answer: Answer) -> Json:
    """Return an answer without what names the study and its material."""
    text = answer.model_dump_json().replace("Steel 7", "c45")
    return {key: value for key, value in json.loads(text).items() if key != "study_sha256"}


@pytest.mark.parametrize("name", ASKED)
def test_own_values_of_c45_give_the_answer_of_c45(name: str) -> None:
    known, own = load(study_of(name, own=False)), load(study_of(name, own=True))
    first, second = solve(known), solve(own)
    assert first.status == second.status == "proven"
    assert bare(first) == bare(second)
    assert judge(own, second) == []
    assert second.rings[0].material.startswith("Steel 7")


def test_limits_on_finished_rings_weigh_the_own_material() -> None:
    data = study_of("weighed", own=True)
    data["shop"]["materials"]["Steel 7"]["density_kg_per_m3"] = 20000.0
    (reason,) = solve(load(data)).reasons
    assert "ring_mass_max_kg 0.05" in reason


def test_shop_data_tables_and_simulation_know_it_too() -> None:
    known, own = load(study_of("pressed", own=False)), load(study_of("pressed", own=True))
    first, second = solve(known), solve(own)
    (mine,), (other,) = shop_data(own, second), shop_data(known, first)
    # strength limits count the yield of +N, the weakest of C45 at this size, so that is ordered
    assert mine.making.material == "Steel 7 +N"
    assert other.making.material == "C45 (1.0503) +N"
    assert mine.making.jaw_force_n == other.making.jaw_force_n
    told = [note for note in mine.notes if note.startswith("values of ")]
    assert told == [
        "values of Steel 7 as the study states them, from: copy of c45",
        "values of Alu as the study states them, from: copy of en_aw_6082_t6",
    ]
    assert not [note for note in other.notes if note.startswith("values of ")]
    turned, _ = simulate_yield(own, second, turns=20, seed=3)
    as_known, _ = simulate_yield(known, first, turns=20, seed=3)
    assert turned[0].half_range_arcsec.tolist() == as_known[0].half_range_arcsec.tolist()


def test_a_lighter_material_makes_lighter_rings_in_proportion() -> None:
    data = study_of("plain", own=True)
    heavy = solve(load(data))
    data["shop"]["materials"]["Steel 7"]["density_kg_per_m3"] = 7850.0 / 2
    light = solve(load(data))
    for one, other in zip(heavy.rings, light.rings, strict=True):
        assert other.blank_kg == pytest.approx(one.blank_kg / 2, rel=1e-12)


def test_the_judge_reckons_with_the_values_stated() -> None:
    data = study_of("plain", own=True)
    answer = solve(load(data))
    data["shop"]["materials"]["Steel 7"]["density_kg_per_m3"] = 7000.0
    other = load(data)
    faults = judge(other, answer.model_copy(update={"study_sha256": other.fingerprint()}))
    assert any("blank_kg" in fault for fault in faults)


def test_a_value_is_changed_by_its_path() -> None:
    study = load(study_of("plain", own=True))
    path = resolve_field_path(study, "shop.materials.Steel 7.expansion_um_per_m_k")
    changed = edited_study(study, {path: 20.0})
    assert changed.shop.ring_material.expansion_per_k == 2e-5
    assert changed.shop.material_of("Alu").expansion_per_k == 23.3e-6


def test_every_material_of_the_standards_may_be_copied() -> None:
    for key, known in MATERIALS.items():
        data = study_of("plain", own=True)
        data["shop"]["materials"]["Alu"] = as_stated(key)
        mine = load(data).shop.material_of("Alu")
        for field in ("density_kg_per_m3", "youngs_modulus_gpa", "poisson", "expansion_per_k"):
            assert getattr(mine, field) == getattr(known, field)


def test_listing_materials_and_yields_otherwise_states_the_same_study() -> None:
    data = study_of("pressed", own=True)
    other = copy.deepcopy(data)
    other["shop"]["materials"] = dict(reversed(data["shop"]["materials"].items()))
    for one in other["shop"]["materials"].values():
        one["yields"].reverse()
    assert load(other).fingerprint() == load(data).fingerprint()


def faults_of(change: Any, name: str = "pressed") -> tuple[Fault, ...]:
    data = study_of(name, own=True)
    change(data)
    with pytest.raises(StudyError) as caught:
        load(data)
    return caught.value.faults


def own(data: Json) -> Json:
    steel: Json = data["shop"]["materials"]["Steel 7"]
    return steel


BAD: dict[str, tuple[Any, str, str, str]] = {
    "unknown ring": (
        lambda d: d["shop"].update(material="gold"),
        "shop.material", '"gold"', "'pure_iron', 'Alu' or 'Steel 7'",
    ),
    "unknown hub": (
        lambda d: d["robots"][0]["joints"][0].update(hub_material="gold"),
        "robots[0].joints[0].hub_material", '"gold"', "'x5crni18_10', 'pure_iron', 'Alu' or",
    ),
    "unknown housing": (
        lambda d: d["robots"][0]["joints"][0].update(housing_material="gold"),
        "robots[0].joints[0].housing_material", '"gold"', "'x5crni18_10', 'pure_iron', 'Alu' or",
    ),
    "known ring that no head sees": (
        lambda d: d["shop"].update(material="x5crni18_10"),
        "shop.material", '"x5crni18_10"', "'c45', '42crmo4'",
    ),
    "own ring that no head sees": (
        lambda d: own(d).update(ferromagnetic=False),
        "shop.material", '"Steel 7"', "a ferromagnetic material",
    ),
    "name of a known one": (
        lambda d: d["shop"]["materials"].update(C45=as_stated("c45")),
        "shop.materials.C45", 'the name "C45"', "a name that no material of Ringset has",
    ),
    "title of a known one": (
        lambda d: d["shop"]["materials"].update({"c45 (1.0503)": as_stated("c45")}),
        "shop.materials.c45 (1.0503)", "the name", "a name that no material of Ringset has",
    ),
    "no source": (
        lambda d: own(d).pop("source"),
        "shop.materials.Steel 7.source", "nothing", "this field is required",
    ),
    "empty source": (
        lambda d: own(d).update(source=""), "shop.materials.Steel 7.source", '""', "at least 1",
    ),
    "density in g/cm3": (
        lambda d: own(d).update(density_kg_per_m3=7.85),
        "shop.materials.Steel 7.density_kg_per_m3", "7.85", "500",
    ),
    "modulus in MPa": (
        lambda d: own(d).update(youngs_modulus_gpa=210000.0),
        "shop.materials.Steel 7.youngs_modulus_gpa", "210000", "1000",
    ),
    "expansion per K": (
        lambda d: own(d).update(expansion_per_k=1.1e-5),
        "shop.materials.Steel 7.expansion_per_k", "an unknown field", "fields of the schema",
    ),
    "poisson of a half": (
        lambda d: own(d).update(poisson=0.5),
        "shop.materials.Steel 7.poisson", "0.5", "less than 0.5",
    ),
    "size range the wrong way": (
        lambda d: own(d)["yields"][0].update(over_mm=20.0, upto_mm=16.0),
        "shop.materials.Steel 7.yields[0].upto_mm", "16", "more than over_mm = 20",
    ),
    "two yields of one size": (
        lambda d: own(d)["yields"].append({"treatment": "+N", "upto_mm": 9, "yield_mpa": 300}),
        "shop.materials.Steel 7.yields[6]", "over 0 up to 9 mm", "of the same treatment",
    ),
    "treatment without data": (
        lambda d: d["shop"].update(material_treatment="+A"),
        "shop.material_treatment", "+A", "a treatment with data for Steel 7: +N, +QT",
    ),
    "no yields for a limit": (
        lambda d: own(d).update(yields=[]),
        "shop.materials.Steel 7.yields", "no yield of Steel 7 for bars of 40 mm and more",
        "yields for bars from 40 to 73 mm (a limit of robots[0].joints[0] needs them)",
    ),
    "yields that end too soon": (
        lambda d: own(d).update(yields=[{"upto_mm": 72.0, "yield_mpa": 300.0}]),
        "shop.materials.Steel 7.yields", "no yield of Steel 7 for bars of 72 mm and more", "73 mm",
    ),
    "yields with a gap": (
        lambda d: own(d).update(
            yields=[
                {"upto_mm": 50.0, "yield_mpa": 300.0},
                {"over_mm": 60.0, "upto_mm": 90.0, "yield_mpa": 280.0},
            ]
        ),
        "shop.materials.Steel 7.yields", "no yield of Steel 7 for bars of 50 mm and more", "73 mm",
    ),
    "yields of the hub that begin too late": (
        lambda d: d["shop"]["materials"]["Alu"].update(
            yields=[{"over_mm": 40.0, "upto_mm": 90.0, "yield_mpa": 200.0}]
        ),
        "shop.materials.Alu.yields", "no yield of Alu for bars of 40 mm and more", "from 40 to 46",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_bad_material_is_refused_by_name(name: str) -> None:
    change, path, given, allowed = BAD[name]
    (fault,) = faults_of(change)
    assert fault.path == path
    assert fault.given.startswith(given)
    assert allowed in fault.allowed


def test_yields_are_not_asked_where_no_limit_needs_them() -> None:
    data = study_of("plain", own=True)
    own(data)["yields"] = []
    assert isinstance(load(data), Study)


def test_order_lists_print_it() -> None:
    study = load(study_of("treated", own=True))
    (line,) = export_order_lines(drawn_parts(study, solve(study)))
    assert line["material"] == "Steel 7 +N"


def test_a_value_may_have_a_range_of_its_own() -> None:
    data = study_of("plain", own=True)
    data["ranges"] = {"shop.materials.Steel 7.expansion_um_per_m_k": [11.0, 12.5]}
    study = load(data)
    (ranged,) = [one for one in assumed_inputs(study) if one.stated]
    assert (ranged.given, ranged.low, ranged.high) == (11.55, 11.0, 12.5)
    assert study_with_inputs(study, [(ranged, 12.5)]).shop.ring_material.expansion_per_k == 12.5e-6
