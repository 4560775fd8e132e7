"""Sweeps: the table, the journal, stops at any point, workers that die, bad input."""

from __future__ import annotations

import csv
import io
import json
import os
import random
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from optimizer import cli
from optimizer.compose import versions
from optimizer.line import solve
from optimizer.loading import StudyError, load_study
from optimizer.paths import changed, resolve
from optimizer.study import Study
from optimizer.sweep import ROWS_MAX, grid, listed, run, table, table_bytes
from optimizer.sweep_journal import Journal, JournalError
from optimizer.sweep_processes import EngineError, Solved, Task, in_processes
from optimizer.sweep_work import solve_one
from tests.line import sweeps
from tests.line.studies import load, random_study
from tests.line.sweeps import ROWS, STUDIES, TABLE, VARY, solved, start, until

BASE = load_study(TABLE.read_text())
STOPS = [signal.SIGKILL, signal.SIGKILL, signal.SIGTERM, signal.SIGINT]
INTERRUPTED = STOPS.index(signal.SIGINT)


def here(tasks: Iterator[Task]) -> Iterator[Solved]:
    """Solve tasks in this process."""
    return (Solved(task.key, solve_one(task.study)) for task in tasks)


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


@pytest.mark.parametrize("seed", range(4))
def test_a_sweep_stopped_at_random_points_equals_one_that_was_not(
    seed: int, whole: bytes, tmp_path: Path
) -> None:
    rng = random.Random(seed)
    path = tmp_path / "t.csv"
    kept: list[str] = []
    stops = 0
    while True:
        sweep = start(path, "--processes", str(rng.choice((1, 2, 3))))
        if stops < 3:
            # at any time: while workers start, while a line is written, after the last
            reached = rng.randrange(len(kept), STUDIES + 1)
            until(lambda: len(solved(path)) >= reached or sweep.poll() is not None)  # noqa: B023
            if seed == INTERRUPTED and reached == len(kept):
                # before that the interrupt would meet Python's own start
                until(lambda: sweeps.children(sweep.pid))  # noqa: B023
            time.sleep(rng.uniform(0.0, 0.05))
            if seed == INTERRUPTED and sweep.poll() is None:
                os.killpg(sweep.pid, signal.SIGINT)  # as a terminal does
            else:
                sweep.send_signal(STOPS[seed])
            stops += 1
        workers = sweeps.children(sweep.pid)
        sent = time.monotonic()
        out, err = sweep.communicate(timeout=120)
        if stops and sweep.returncode != 0:
            assert sweep.returncode == -STOPS[seed], err
            assert time.monotonic() - sent < 5.0
            until(lambda: not any(map(sweeps.alive, workers)), 10.0)  # noqa: B023
            assert "Traceback" not in err
        assert solved(path)[: len(kept)] == kept, "what was solved stays"
        before, kept = len(kept), solved(path)
        assert len(kept) == len(set(kept)), "nothing is solved twice"
        if sweep.returncode == 0:
            break
        assert not path.exists(), "no half table"
    assert path.read_bytes() == whole
    assert f"{STUDIES - before} studies solved now" in out
    assert len(kept) == STUDIES


def test_the_journal_serves_a_wider_sweep(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "t.csv"
    first = ["sweep", str(TABLE), "--table", str(path), "--processes", "1", "--vary"]
    assert cli.main([*first, "joints.turn.tip_max_mm=126,128"]) == 0
    assert "2 studies solved now" in capsys.readouterr().out
    assert cli.main([*first, "joints.turn.tip_max_mm=130:126:-2,128.0"]) == 0
    assert "4 rows, 4 proven\n1 studies solved now" in capsys.readouterr().out
    assert pd.read_csv(path)["joints.turn.tip_max_mm"].tolist() == [130, 128, 126, 128]


def test_the_same_rows_in_this_process_and_by_workers(whole: bytes, tmp_path: Path) -> None:
    plan = grid(BASE, VARY)
    told: list[tuple[int, int]] = []
    with Journal(tmp_path / "j", versions()) as journal:
        rows = run(plan, journal, here, lambda done, all_rows: told.append((done, all_rows)))
    assert table_bytes(table(plan, rows), ".csv") == whole
    assert [done for done, _ in told] == list(range(1, ROWS + 1))
    assert {all_rows for _, all_rows in told} == {ROWS}


def test_parquet_holds_what_csv_holds(
    whole: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("pyarrow", reason="the extra parquet is not installed")
    first, second = tmp_path / "a.parquet", tmp_path / "b.parquet"
    for path, processes in ((first, "1"), (second, "2")):
        words = sweeps.command(path, "--processes", processes)[3:]
        assert cli.main(words) == 0
    assert first.read_bytes() == second.read_bytes()
    frame = pd.read_parquet(first)
    assert frame["shop.flank_class"].dtype == "Int64"
    assert table_bytes(frame, ".csv") == whole


def test_a_list_gives_its_rows_in_order_and_empty_cells_change_nothing() -> None:
    text = (
        'joints.turn.tip_max_mm,shop.modules,target.basis\n120,"[1, 2]",worst_case\n\n,din780_i,\n'
    )
    plan = listed(BASE, text)
    assert plan.rows == [(120, [1, 2], "worst_case"), (130.0, "din780_i", "expanded")]
    study = changed(plan.study, dict(zip(plan.paths, plan.rows[0], strict=True)))
    assert study.shop.modules == [1.0, 2.0]


def test_a_grid_is_the_product_with_the_last_fastest() -> None:
    plan = grid(BASE, ["joints.turn.tip_max_mm=120,121", "shop.cutting=hob,wire"])
    assert plan.rows == [(120, "hob"), (120, "wire"), (121, "hob"), (121, "wire")]
    assert plan.study.search.workers == 1


@pytest.mark.parametrize("seed", range(8))
def test_random_sweeps_tell_the_totals_of_solve(seed: int, tmp_path: Path) -> None:
    study = load(random_study(seed))
    field = f"robots.{study.robots[0].name}.joints.{study.robots[0].joints[0].name}.tip_max_mm"
    top = study.robots[0].joints[0].tip_max_mm
    plan = grid(study, [f"{field}={top:g},{top - 2:g},{top - 20:g}"])
    with Journal(tmp_path / "j", versions()) as journal:
        rows = run(plan, journal, here)
    for row in rows:
        if row.fingerprint is None:
            assert row.line["status"] == "invalid"
            continue
        answer = solve(changed(study, {resolve(study, field): row.values[0]}))
        assert row.line["status"] == answer.status
        if answer.totals is not None:
            assert row.line["material_kg"] == answer.totals.material_kg


# -- workers that die


def tasks(*texts: str) -> Iterator[Task]:
    return (Task(str(number), text) for number, text in enumerate(texts))


def test_a_study_whose_worker_dies_is_tried_once_more(tmp_path: Path) -> None:
    files = [str(tmp_path / f"{n}") for n in range(3)]
    done = list(in_processes(tasks("well", *files, "well"), 2, sweeps.die_once))
    assert sorted(s.key for s in done) == ["0", "1", "2", "3", "4"]
    assert not any(s.lost for s in done)
    assert all(Path(file).exists() for file in files)


@pytest.mark.parametrize(
    ("work", "how"), [(sweeps.die_on_bad, "SIGKILL"), (sweeps.short_of_memory, "exit code 1")]
)
def test_a_study_over_which_two_workers_die_becomes_an_error_row(work: object, how: str) -> None:
    done = list(in_processes(tasks("well", "bad", "well", "well"), 2, work))  # type: ignore[arg-type]
    (bad,) = [s for s in done if s.lost]
    assert bad.key == "1"
    assert bad.line["status"] == "failed"
    assert bad.line["reasons"] == [f"2 workers died over this study ({how}); memory may be short"]
    assert sorted(s.key for s in done if not s.lost) == ["0", "2", "3"]


def test_a_lost_study_is_a_row_but_not_in_the_journal(tmp_path: Path) -> None:
    plan = grid(BASE, ["joints.turn.tip_max_mm=120,121"])

    def lossy(given: Iterator[Task]) -> Iterator[Solved]:
        line = {"status": "failed", "reasons": ["lost"], "repeatable": None}
        first, second = given
        yield Solved(first.key, line, lost=True)
        yield Solved(second.key, solve_one(second.study))

    with Journal(tmp_path / "j", versions()) as journal:
        assert [row.line["status"] for row in run(plan, journal, lossy)] == ["failed", "proven"]
        assert len(journal.lines) == 1
    with Journal(tmp_path / "j", versions()) as journal:
        assert [row.line["status"] for row in run(plan, journal, here)] == ["proven", "proven"]


def test_workers_that_cannot_begin_end_the_sweep() -> None:
    with pytest.raises(EngineError, match="before they can begin"):
        list(in_processes(tasks("a", "b"), 2, sweeps.NeverBegins()))


def test_closing_ends_workers_in_the_middle_of_their_work() -> None:
    def two_then_stop() -> Iterator[Task]:
        yield from tasks("a", "b")

    began = in_processes(two_then_stop(), 2, sweeps.sleep)
    before = set(sweeps.children(os.getpid()))
    signal.signal(signal.SIGALRM, lambda *_: (_ for _ in ()).throw(TimeoutError()))
    signal.setitimer(signal.ITIMER_REAL, 2.0)
    with pytest.raises(TimeoutError):
        next(began)
    began.close()  # type: ignore[attr-defined]
    left = [pid for pid in set(sweeps.children(os.getpid())) - before if "spawn_main" in words(pid)]
    assert not left


def words(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text()
    except OSError:
        return ""


def test_a_defect_is_a_row_and_the_others_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_: Study) -> None:
        raise ZeroDivisionError("oh")

    monkeypatch.setattr("optimizer.line.solve", broken)
    line = solve_one(BASE.model_dump_json())
    assert (line["status"], line["reasons"]) == ("failed", ["ZeroDivisionError: oh"])


# -- the journal


def filled(path: Path, lines: int) -> bytes:
    with Journal(path, versions()) as journal:
        for n in range(lines):
            journal.add(f"{n:02d}", {"status": "proven", "reasons": [], "material_kg": n / 7})
    return path.read_bytes()


def test_a_journal_cut_at_any_byte_keeps_its_whole_lines(tmp_path: Path) -> None:
    path = tmp_path / "j"
    text = filled(path, 3)
    for cut in range(len(text) + 1):
        path.write_bytes(text[:cut])
        with Journal(path, versions()) as journal:
            whole_lines = max(0, text[:cut].count(b"\n") - 1)
            assert list(journal.lines) == ["00", "01", "02"][:whole_lines]
            journal.add("new", {"status": "proven", "reasons": []})
        with Journal(path, versions()) as journal:
            assert list(journal.lines) == [*["00", "01", "02"][:whole_lines], "new"]


def test_the_end_of_a_journal_may_be_zeros_but_not_its_middle(tmp_path: Path) -> None:
    path = tmp_path / "j"
    text = filled(path, 3)
    path.write_bytes(text + b"\0" * 100)
    with Journal(path, versions()) as journal:
        assert len(journal.lines) == 3
    assert path.read_bytes() == text
    lines = text.split(b"\n")
    path.write_bytes(b"\n".join([*lines[:2], b"rubbish", *lines[2:]]))
    with pytest.raises(JournalError, match="line 3"), Journal(path, versions()):
        pass
    assert b"rubbish" in path.read_bytes(), "left as it was"


@pytest.mark.parametrize("text", ["a,b\n1,2\n", "notes", "{}\n", "[]\n", '{"journal": 1}\n', "\n"])
def test_a_file_that_is_no_journal_is_refused_and_left_alone(text: str, tmp_path: Path) -> None:
    path = tmp_path / "j"
    path.write_text(text)
    with pytest.raises(JournalError, match="no sweep wrote"), Journal(path, versions()):
        pass
    assert path.read_text() == text


def test_a_journal_of_other_versions_is_refused(tmp_path: Path) -> None:
    filled(tmp_path / "j", 1)
    with (
        pytest.raises(JournalError, match="given a journal of ringset"),
        Journal(tmp_path / "j", versions() | {"numpy": "1.0"}),
    ):
        pass


def test_two_sweeps_do_not_write_one_journal(tmp_path: Path) -> None:
    path = tmp_path / "j"
    with (
        Journal(path, versions()),
        pytest.raises(JournalError, match="in use"),
        Journal(path, versions()),
    ):
        pass


# -- bad input


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["--vary", "joints.turn.tip_max=1"], "allowed: joints.turn.tip_max_mm"),
        (["--vary", "joints.turm.tip_max_mm=1"], "allowed: joints.turn.tip_max_mm"),
        (["--vary", "joints.turn.tip_max_mm"], "given no values"),
        (["--vary", "joints.turn.tip_max_mm="], "given an empty value"),
        (["--vary", "joints.turn.tip_max_mm=60:70"], "allowed: start:stop:step"),
        (["--vary", "search.workers=1,2"], "searched by one thread"),
        (["--vary", "head.gap_mm=0.3", "--vary", "head.gap_mm=0.4"], "given twice"),
        (
            ["--vary", "head.gap_mm=0.3", "--vary", "joints.turn.tip_max_mm=1", "--vary",
             "robots.table.joints.turn.tip_max_mm=2"],
            "given twice",
        ),
        (["--vary", "head.gap_mm=1:1000:1", "--vary", "shop.clamp_force_n=1:1000:1"], "1000000 rows"),
        ([], "given neither"),
        (["--vary", "head.gap_mm=0.3", "--list", "x.csv"], "given both"),
        (["--list", "none.csv"], "cannot be read"),
        (["--vary", "head.gap_mm=0.3", "--processes", "0"], "allowed: 1 to 256"),
        (["--vary", "head.gap_mm=0.3", "--scheduler", "here"], "allowed: tcp://HOST:PORT"),
        (
            ["--vary", "head.gap_mm=0.3", "--scheduler", "tcp://h:1", "--processes", "2"],
            "beside --scheduler",
        ),
    ],
)  # fmt: skip
def test_bad_options_are_refused_before_any_work(
    words: list[str], text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["sweep", str(TABLE), "--table", str(tmp_path / "t.csv"), *words]) == 2
    assert text in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["t.txt", "t", "-", "no/t.csv", "t.csv/"])
def test_a_table_that_cannot_be_is_refused(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "t.csv").mkdir()
    assert cli.main(["sweep", str(TABLE), "--table", name, "--vary", "head.gap_mm=0.3"]) == 2
    assert "--table: given" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "0 lines with text"),
        ("head.gap_mm\n", "1 lines with text"),
        ("head.gap_mm,head.gap_mm\n1,2\n", "given twice"),
        ("head.gap\n1\n", "allowed: head.gap_mm"),
        ("head.gap_mm,shop.rack\n0.3\n", "list line 2: given 1 cells; allowed: 2 cells"),
        ("head.gap_mm\n0.3\n[1\n", "list line 3: head.gap_mm: given [1; allowed: JSON"),
        ('head.gap_mm\n"0.3\n', "given text that is no CSV"),
        ("head.gap_mm\n" + "0.3\n" * (ROWS_MAX + 1), f"at most {ROWS_MAX}"),
    ],
)
def test_a_bad_list_is_refused_by_line(
    text: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "l.csv"
    file.write_text(text)
    words = ["sweep", str(TABLE), "--table", str(tmp_path / "t.csv"), "--list", str(file)]
    assert cli.main(words) == 2
    assert told in capsys.readouterr().err
    file.write_bytes(b"\xff\xfe\x00")
    assert cli.main(words) == 2
    assert "not UTF-8" in capsys.readouterr().err


@pytest.mark.parametrize("module", ["pyarrow", "distributed"])
def test_a_missing_extra_is_named(
    module: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("optimizer.commands.sweeping.find_spec", lambda name: None)
    ending, more = (
        (".parquet", []) if module == "pyarrow" else (".csv", ["--scheduler", "tcp://h:1"])
    )
    words = [
        "sweep",
        str(TABLE),
        "--table",
        str(tmp_path / f"t{ending}"),
        "--vary",
        "head.gap_mm=1",
    ]
    assert cli.main([*words, *more]) == 2
    assert f"needs {module}; install it with: pip install '.[" in capsys.readouterr().err


def test_planning_loads_no_solver() -> None:
    code = (
        "import sys\nfrom optimizer.sweep import grid\nfrom optimizer.sweep_processes import in_processes\n"
        "print(sorted({'ortools', 'pandas', 'scipy', 'distributed'} & set(sys.modules)))"
    )
    import subprocess

    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=sweeps.ROOT, capture_output=True, text=True, check=True
    )
    assert ran.stdout == "[]\n"
