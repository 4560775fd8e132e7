"""Rows of a sweep that are no studies, end badly or hold text, and workers of other versions."""

from __future__ import annotations

from typing import Any

import pytest

from ringset._version import versions
from ringset.analysis.sweep.sweep import (
    Column,
    SweepPlan,
    SweepRow,
    sweep_rows,
    sweep_table,
    sweep_table_bytes,
)
from ringset.analysis.sweep.worker import (
    OtherVersions,
    solve_sweep_line,
    solve_sweep_on_cluster,
    sweep_line_plain,
)
from ringset.errors import StudyError
from tests.support.studies import load, small

STUDY = load(small())


def test_a_study_that_is_none_becomes_a_line_with_its_faults() -> None:
    line = solve_sweep_line('{"robots": [], "target": {"angle_target_arcsec": -1}}')
    assert line == sweep_line_plain(
        "invalid",
        [
            "robots: given []; allowed: at least 1 item",
            "target.angle_target_arcsec: given -1; allowed: greater than 0",
        ],
    )


@pytest.mark.parametrize("error", [MemoryError(), RuntimeError("broken")], ids=repr)
def test_a_defect_becomes_a_line_and_a_lack_of_memory_ends_the_worker(
    error: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    def ends(study: object) -> None:
        raise error

    monkeypatch.setattr("ringset.solving.pipeline.solve", ends)
    text = STUDY.model_dump_json()
    if isinstance(error, MemoryError):
        with pytest.raises(MemoryError):
            solve_sweep_line(text)
    else:
        assert solve_sweep_line(text)["reasons"] == ["RuntimeError: broken"]


def test_a_worker_of_other_versions_solves_nothing() -> None:
    other = versions() | {"numpy": "1.0"}
    with pytest.raises(OtherVersions, match=r"^a worker has ringset .*, the sweep .*numpy 1\.0"):
        solve_sweep_on_cluster("{}", other)
    assert solve_sweep_on_cluster("{}", versions())["status"] == "invalid"


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(StudyError, match=r"^rows\[1\]: given 1 values; allowed: 2 values$"):
        sweep_rows(STUDY, ["head.gap_mm", "shop.rack"], [[0.4, "full"], [0.3]])


@pytest.mark.parametrize(
    ("values", "kind", "cells"),
    [
        ([1, None, 3], "Int64", [1, None, 3]),
        ([1, 2.5, None], "Float64", [1.0, 2.5, None]),
        (["full", None, 3], "string", ["full", None, "3"]),
        ([[1, 2], True, None], "string", ["[1, 2]", "true", None]),
        ([None, None, None], "string", [None, None, None]),
    ],
)
def test_a_column_is_of_numbers_only_where_all_its_values_are(
    values: list[Any], kind: str, cells: list[Any]
) -> None:
    plan: SweepPlan = sweep_rows(STUDY, ["shop.rack"], [[value] for value in values])
    lines = [SweepRow((value,), None, sweep_line_plain("invalid", [])) for value in values]
    columns = sweep_table(plan, lines)
    assert columns[0] == Column("shop.rack", kind, cells)
    text = sweep_table_bytes(columns, ".csv").decode().splitlines()
    assert text[0].startswith("shop.rack,status,reasons,cutters,")
    assert len(text) == 1 + len(values)
