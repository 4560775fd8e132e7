"""The estimate among rated rows: what groups of joints come to, beside the best answer of small studies."""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import pytest

from ringset.analysis.assumptions import structure
from ringset.analysis.assumptions.structure import Structure
from ringset.arrays import Ints
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.narrow import present
from tests.support.studies import Json, inside_rows, joint, load, small


def groups(*members: list[int]) -> list[Ints]:
    return [np.array(one) for one in members]


def structure_of(data: Json) -> tuple[Study, Structure]:
    study = load(data).canonical()
    return study, Structure(study, inside_rows(study))


def best_of(study: Study) -> tuple[int, int, int, float]:
    """Return ring parts, modules, heads and material of the best answer."""
    answer = solve(study, certified=False)
    totals = present(answer.totals)
    modules = len({ring.module_mm for ring in answer.rings})
    return totals.ring_parts, modules, totals.heads, totals.material_kg


def two_modules() -> Json:
    """Two joints, of which one asks tips that only module 1 reaches and the other ones of 1.25 only."""
    data = small()
    data["robots"][0]["joints"] = [
        joint("coarse", 60.0, tip_min_mm=83.7, tip_max_mm=83.8),
        joint("fine", 40.0, tip_min_mm=66.0, tip_max_mm=66.1),
    ]
    return data


def test_given_groups_come_to_the_best_answer_with_these_groups() -> None:
    study, rows = structure_of(small())
    found = present(rows.served(groups([0], [1, 2])))
    assert astuple(found)[:4] == pytest.approx(best_of(study))
    assert found.money == 0.0
    assert rows.served(groups([0, 1], [2])) is None, "no ring fits joints of such different sizes"
    assert rows.served_by_one_cutter()
    assert rows.mergeable(groups([1], [2]))
    assert not rows.mergeable(groups([0], [1, 2]))


def test_broken_groups_are_grouped_anew_by_the_rings_that_serve_most() -> None:
    study, rows = structure_of(small())
    found = present(rows.regrouped(groups([0, 1], [2])))
    assert astuple(found)[:4] == pytest.approx(best_of(study))


def test_beyond_many_joints_those_of_broken_groups_stand_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    _, rows = structure_of(small())
    monkeypatch.setattr(structure, "JOINTS_MOST", 2)
    kept = present(rows.regrouped(groups([1, 2])))
    assert kept.parts == 2, "a group that is whole stays"
    alone = present(rows.regrouped(groups([0, 1], [2])))
    assert alone.parts == 3
    assert alone.material_kg <= kept.material_kg


def test_modules_are_mixed_only_where_no_one_serves_all() -> None:
    study, rows = structure_of(two_modules())
    assert not rows.served_by_one_cutter()
    found = present(rows.regrouped(groups([0, 1])))
    assert (found.parts, found.modules) == (2, 2)
    assert astuple(found)[:4] == pytest.approx(best_of(study))


def test_a_tool_point_is_kept_by_more_heads_or_nothing_is_found() -> None:
    data = small()
    data["robots"][0]["tool_point_target_um"] = 400.0
    study, rows = structure_of(data)
    found = present(rows.regrouped(groups([0, 1], [2])))
    assert found.heads == 8.0
    assert astuple(found)[:4] == pytest.approx(best_of(study))
    data["robots"][0]["tool_point_target_um"] = 50.0
    study, rows = structure_of(data)
    assert solve(study).status == "impossible"
    assert rows.regrouped(groups([0, 1], [2])) is None
