"""Sweeps: the table, the journal, stops at any point, workers that die, bad input."""

from __future__ import annotations

import csv
import io
import json
import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from ringset._version import versions
from ringset.analysis.sweep.journal import Journal
from ringset.analysis.sweep.processes import EngineError, Solved, Task, _work, sweep_in_processes
from ringset.analysis.sweep.sweep import (
    run_sweep,
    sweep_grid,
    sweep_list,
    sweep_table,
    sweep_table_bytes,
)
from ringset.analysis.sweep.worker import solve_sweep_line
from ringset.cli import main
from ringset.errors import StudyError
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support import sweeps
from tests.support.places import ROOT
from tests.support.processes import children
from tests.support.studies import load, random_study
from tests.support.sweeps import ROWS, STUDIES, TABLE, VARY, solved, start, until

BASE = load_study(TABLE.read_text())
STOPS = [signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGINT]
INTERRUPTED = STOPS.index(signal.SIGINT)


def here(tasks: Iterator[Task]) -> Iterator[Solved]:
    """Solve tasks in this process."""
    return (Solved(task.key, solve_sweep_line(task.study)) for task in tasks)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the table of the small sweep, never interrupted, by two processes."""
    path = tmp_path_factory.mktemp("whole") / "t.csv"
    run = start(path, "--processes", "2")
    out, err = run.communicate(timeout=120)
    assert run.returncode == 0, err
    assert f"{ROWS} rows" in out
    assert f"{STUDIES} studies solved now" in out
    assert sorted(p.name for p in path.parent.iterdir()) == ["t.csv", "t.csv.journal"]
    assert len(solved(path)) == len(set(solved(path))) == STUDIES
    return path.read_bytes()


@pytest.mark.campaign
def test_every_row_is_what_solving_its_study_tells(whole: bytes) -> None:
    lines = list(csv.DictReader(io.StringIO(whole.decode())))
    assert len(lines) == ROWS
    statuses = set()
    for row in lines:
        data = json.loads(TABLE.read_text())
        data["robots"][0]["joints"][0]["tip_max_mm"] = float(row["joints.turn.tip_max_mm"])
        data["shop"]["flank_class"] = int(row["shop.flank_class"])
        statuses.add(row["status"])
        if row["status"] == "invalid":
            with pytest.raises(StudyError) as refused:
                load(data)
            assert row["reasons"] == " | ".join(str(refused.value).splitlines())
            assert row["study_sha256"] == ""
            continue
        answer = solve(load(data))
        assert row["status"] == answer.status
        assert row["study_sha256"] == answer.study_sha256
        assert row["repeatable"] == str(answer.proof.repeatable)
        if answer.totals is None:
            assert row["reasons"] == " | ".join(answer.reasons)
            assert row["cutters"] == ""
            continue
        got = [float(row[name]) for name in ("cutters", "ring_parts", "heads", "material_kg")]
        totals = answer.totals
        assert got == [totals.cutters, totals.ring_parts, totals.heads, totals.material_kg]
        assert float(row["largest_error_arcsec"]) == max(ring.error_arcsec for ring in answer.rings)
        assert row["largest_error_joint"] in ("table/turn", "table/tilt")
    assert statuses == {"proven", "impossible", "invalid"}


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("seed", range(4))
def test_a_sweep_stopped_at_random_points_equals_one_that_was_not(
    seed: int, whole: bytes, tmp_path: Path
) -> None:
    """Three times stopped by a signal and begun again: solved lines stay, none twice, and the same table.

    A stopped sweep ends within seconds, leaves no worker behind, and never half a table.
    """
    rng = random.Random(seed)
    path = tmp_path / "t.csv"
    kept: list[str] = []
    workers: list[int] = []
    stops = seen = 0
    while True:
        sweep = start(path, "--processes", str(rng.choice((1, 2, 3))))
        if stops < 3:
            # at any time: while workers start, while a line is written, after the last
            reached = rng.randrange(len(kept), STUDIES + 1)
            until(lambda: len(solved(path)) >= reached or sweep.poll() is not None)  # noqa: B023
            if seed == INTERRUPTED and reached == len(kept):
                # before that the interrupt would meet Python's own start
                until(lambda: children(sweep.pid) or sweep.poll() is not None)  # noqa: B023
            time.sleep(rng.uniform(0.0, 0.05))
            workers = children(sweep.pid)  # before the signal: orphans have another parent
            if seed == INTERRUPTED and sweep.poll() is None:
                os.killpg(sweep.pid, signal.SIGINT)  # as a terminal does
            else:
                sweep.send_signal(STOPS[seed])
            stops += 1
        sent = time.monotonic()
        out, err = sweep.communicate(timeout=120)
        if stops and sweep.returncode != 0:
            assert sweep.returncode == -STOPS[seed], err
            assert time.monotonic() - sent < 5.0
            seen += len(workers)
            until(lambda: not any(map(sweeps.alive, workers)), 10.0)  # noqa: B023
            assert "Traceback" not in err
        assert solved(path)[: len(kept)] == kept, "what was solved stays"
        before, kept = len(kept), solved(path)
        assert len(kept) == len(set(kept)), "nothing is solved twice"
        if sweep.returncode == 0:
            break
        assert not path.exists() or path.read_bytes() == whole, "no half table"
    assert path.read_bytes() == whole
    assert f"{STUDIES - before} studies solved now" in out
    assert len(kept) == STUDIES
    assert seen > 0, "workers that outlive their sweep would have been seen"


def test_the_journal_serves_a_wider_sweep(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "t.csv"
    first = ["sweep", str(TABLE), "--table", str(path), "--processes", "1", "--vary"]
    assert main.main([*first, "joints.turn.tip_max_mm=126,128"]) == 0
    assert "2 studies solved now" in capsys.readouterr().out
    assert main.main([*first, "joints.turn.tip_max_mm=130:126:-2,128.0"]) == 0
    assert "4 rows, 4 proven\n1 studies solved now" in capsys.readouterr().out
    assert pd.read_csv(path)["joints.turn.tip_max_mm"].tolist() == [130, 128, 126, 128]


@pytest.mark.slow
def test_the_same_rows_in_this_process_and_by_workers(whole: bytes, tmp_path: Path) -> None:
    plan = sweep_grid(BASE, VARY)
    told: list[tuple[int, int]] = []
    with Journal(tmp_path / "j", versions()) as journal:
        rows = run_sweep(plan, journal, here, lambda done, all_rows: told.append((done, all_rows)))
    assert sweep_table_bytes(sweep_table(plan, rows), ".csv") == whole
    assert [done for done, _ in told] == list(range(1, ROWS + 1))
    assert {all_rows for _, all_rows in told} == {ROWS}


@pytest.mark.campaign
def test_parquet_holds_what_csv_holds(
    whole: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = tmp_path / "a.parquet", tmp_path / "b.parquet"
    for path, processes in ((first, "1"), (second, "2")):
        words = sweeps.command(path, "--processes", processes)[3:]
        assert main.main(words) == 0
    assert first.read_bytes() == second.read_bytes()
    frame = pd.read_parquet(first)
    assert frame["shop.flank_class"].dtype == "Int64"
    assert frame.to_csv(index=False, lineterminator="\n").encode() == whole


def test_a_list_gives_its_rows_in_order_and_empty_cells_change_nothing() -> None:
    text = (
        'joints.turn.tip_max_mm,shop.modules,target.basis\n120,"[1, 2]",worst_case\n\n,din780_i,\n'
    )
    plan = sweep_list(BASE, text)
    assert plan.rows == [(120, [1, 2], "worst_case"), (130.0, "din780_i", "expanded")]
    study = edited_study(plan.study, dict(zip(plan.paths, plan.rows[0], strict=True)))
    assert study.shop.modules == [1.0, 2.0]


def test_a_grid_is_the_product_with_the_last_fastest() -> None:
    plan = sweep_grid(BASE, ["joints.turn.tip_max_mm=120,121", "shop.cutting=hob,wire"])
    assert plan.rows == [(120, "hob"), (120, "wire"), (121, "hob"), (121, "wire")]
    assert plan.study.search.workers == 1


@pytest.mark.cases(fast=3)
@pytest.mark.parametrize("seed", range(8))
def test_random_sweeps_tell_the_totals_of_solve(seed: int, tmp_path: Path) -> None:
    study = load(random_study(seed))
    field = f"robots.{study.robots[0].name}.joints.{study.robots[0].joints[0].name}.tip_max_mm"
    top = study.robots[0].joints[0].tip_max_mm
    assert top is not None
    plan = sweep_grid(study, [f"{field}={top:g},{top - 2:g},{top - 20:g}"])
    with Journal(tmp_path / "j", versions()) as journal:
        rows = run_sweep(plan, journal, here)
    for row in rows:
        if row.fingerprint is None:
            assert row.line["status"] == "invalid"
            continue
        answer = solve(edited_study(study, {resolve_field_path(study, field): row.values[0]}))
        assert row.line["status"] == answer.status
        if answer.totals is not None:
            assert row.line["material_kg"] == answer.totals.material_kg


# -- workers that die


def tasks(*texts: str) -> Iterator[Task]:
    return (Task(str(number), text) for number, text in enumerate(texts))


@pytest.mark.slow
def test_a_study_whose_worker_dies_is_tried_once_more(tmp_path: Path) -> None:
    files = [str(tmp_path / f"{n}") for n in range(3)]
    done = list(sweep_in_processes(tasks("well", *files, "well"), 2, sweeps.die_once))
    assert sorted(s.key for s in done) == ["0", "1", "2", "3", "4"]
    assert not any(s.lost for s in done)
    assert all(Path(file).exists() for file in files)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(
    ("work", "how"), [(sweeps.die_on_bad, "SIGKILL"), (sweeps.short_of_memory, "exit code 1")]
)
def test_a_study_over_which_two_workers_die_becomes_an_error_row(work: object, how: str) -> None:
    done = list(sweep_in_processes(tasks("well", "bad", "well", "well"), 2, work))  # type: ignore[arg-type]
    (bad,) = [s for s in done if s.lost]
    assert bad.key == "1"
    assert bad.line["status"] == "failed"
    assert bad.line["reasons"] == [f"2 workers died over this study ({how}); memory may be short"]
    assert sorted(s.key for s in done if not s.lost) == ["0", "2", "3"]


def test_a_worker_whose_sweep_is_gone_ends_without_a_word() -> None:
    """Gone before the worker says that it is ready, or while it is at a study."""
    for before in (True, False):
        ours, theirs = multiprocessing.Pipe()
        ours.send("a study")
        if before:
            ours.close()

        def work(_: str, ours: Connection = ours) -> dict[str, Any]:
            ours.close()
            return {}

        _work(theirs, work)
        assert ours.closed
        theirs.close()


def test_a_lost_study_is_a_row_but_not_in_the_journal(tmp_path: Path) -> None:
    plan = sweep_grid(BASE, ["joints.turn.tip_max_mm=120,121"])

    def lossy(given: Iterator[Task]) -> Iterator[Solved]:
        line = {"status": "failed", "reasons": ["lost"], "repeatable": None}
        first, second = given
        yield Solved(first.key, line, lost=True)
        yield Solved(second.key, solve_sweep_line(second.study))

    with Journal(tmp_path / "j", versions()) as journal:
        assert [row.line["status"] for row in run_sweep(plan, journal, lossy)] == [
            "failed",
            "proven",
        ]
        assert len(journal.lines) == 1
    with Journal(tmp_path / "j", versions()) as journal:
        assert [row.line["status"] for row in run_sweep(plan, journal, here)] == [
            "proven",
            "proven",
        ]


def test_workers_that_cannot_begin_end_the_sweep() -> None:
    with pytest.raises(EngineError, match="before they can begin"):
        list(sweep_in_processes(tasks("a", "b"), 2, sweeps.NeverBegins()))


@pytest.mark.slow
def test_a_killed_sweep_leaves_no_worker_in_the_middle_of_its_work(tmp_path: Path) -> None:
    files = [tmp_path / "a", tmp_path / "b"]
    code = (
        "import sys\n"
        "from ringset.analysis.sweep.processes import Task, sweep_in_processes\n"
        "from tests.support.sweeps import sleep\n"
        "list(sweep_in_processes((Task(file, file) for file in sys.argv[1:]), 2, sleep))\n"
    )
    words = [sys.executable, "-c", code, *map(str, files)]
    with subprocess.Popen(words, cwd=ROOT, env=sweeps.environment()) as sweep:
        until(lambda: all(file.exists() for file in files))
        workers = children(sweep.pid)
        sweep.kill()
    assert len(workers) == 3, "two, and Python's resource tracker"
    until(lambda: not any(map(sweeps.alive, workers)), 10.0)


@pytest.mark.slow
def test_closing_ends_workers_in_the_middle_of_their_work() -> None:
    def two_then_stop() -> Iterator[Task]:
        yield from tasks("a", "b")

    began = sweep_in_processes(two_then_stop(), 2, sweeps.sleep)
    before = set(children(os.getpid()))
    signal.signal(signal.SIGALRM, lambda *_: (_ for _ in ()).throw(TimeoutError()))
    signal.setitimer(signal.ITIMER_REAL, 2.0)
    with pytest.raises(TimeoutError):
        next(began)
    began.close()  # type: ignore[attr-defined]
    left = [pid for pid in set(children(os.getpid())) - before if "spawn_main" in words(pid)]
    assert not left


def words(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text()
    except OSError:
        return ""


def test_a_defect_is_a_row_and_the_others_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_: Study) -> None:
        raise ZeroDivisionError("oh")

    monkeypatch.setattr("ringset.solving.pipeline.solve", broken)
    line = solve_sweep_line(BASE.model_dump_json())
    assert (line["status"], line["reasons"]) == ("failed", ["ZeroDivisionError: oh"])
