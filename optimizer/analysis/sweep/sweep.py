"""What-if sweeps: many changed studies, solved in parallel, told in one table.

`sweep_grid` or `sweep_list` makes the plan, `run_sweep` solves it through an engine
(`processes.sweep_in_processes`, `cluster.sweep_on_cluster`) and a journal, `sweep_table` sets it out. A study
is known by its fingerprint: equal ones are solved once, and those in the journal not at all. The table
follows the plan, so it has the same bytes however many workers there were and however often the sweep was
stopped, as long as every study was answered repeatably (the table says so, row by row).
"""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from ringset.analysis.sweep.journal import Journal
from ringset.analysis.sweep.processes import Solved, Task
from ringset.analysis.sweep.values import VALUES_MAX, parse_sweep_value, parse_sweep_values
from ringset.analysis.sweep.worker import solve_sweep_line, sweep_line_plain
from ringset.errors import Fault, StudyError
from ringset.schema.editing import edited_study, study_value_at
from ringset.schema.field_paths import Path, resolve_field_path, split_field_path
from ringset.schema.study import Study

#: Most rows of one sweep.
ROWS_MAX = 100_000

#: Solves tasks in any order; closing what it returns ends everything at once.
Engine = Callable[[Iterator[Task]], Iterator[Solved]]
#: Called with (rows done, all rows) as a sweep goes on.
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class SweepPlan:
    """The study to change, the paths that change, and a row of values for every changed study."""

    study: Study
    paths: tuple[Path, ...]
    rows: Sequence[tuple[Any, ...]]


@dataclass(frozen=True)
class SweepRow:
    """One changed study: its values, its fingerprint unless it is invalid, and its line."""

    values: tuple[Any, ...]
    fingerprint: str | None
    line: dict[str, Any]


@dataclass(frozen=True)
class Column:
    """One column of the table: its cells, None where there is nothing, and their pandas type."""

    name: str
    kind: str
    cells: list[Any]


def sweep_grid(study: Study, options: Sequence[str], most: int = ROWS_MAX) -> SweepPlan:
    """Return the plan of every combination of options such as `head.gap_mm=0.3:0.5:0.1`.

    The last option varies fastest. Raises StudyError for unknown or repeated paths, bad values, and
    more than `most` rows.
    """
    paths, columns = [], []
    for option in options:
        _, rest = split_field_path(option)
        text = option[: len(option) - len(rest)]
        if not rest:
            raise StudyError([Fault(option, "no values", f"{option}=start:stop:step or =a,b,c")])
        paths.append(resolve_field_path(study, text))
        columns.append(parse_sweep_values(text, rest[1:], min(most, VALUES_MAX)))
    count = math.prod(len(column) for column in columns)
    if count > most:
        raise StudyError([Fault("sweep", f"{count} rows", f"at most {most}")])
    return _plan(study, paths, list(itertools.product(*columns)))


def sweep_list(study: Study, text: str) -> SweepPlan:
    """Return the plan of a CSV table: paths in its first line, a changed study in every other.

    An empty cell leaves what the study states. Raises StudyError for unknown or repeated paths, bad
    values, lines of another length, none, and more than ROWS_MAX.
    """
    try:
        lines = list(csv.reader(io.StringIO(text), strict=True))
    except csv.Error as error:
        raise StudyError([Fault("list", "text that is no CSV", f"CSV ({error})")]) from None
    numbered = [(n, cells) for n, cells in enumerate(lines, 1) if any(c.strip() for c in cells)]
    if len(numbered) < 2:
        given = f"{len(numbered)} lines with text"
        raise StudyError([Fault("list", given, "a line of paths, then lines of values")])
    if len(numbered) - 1 > ROWS_MAX:
        raise StudyError([Fault("list", f"{len(numbered) - 1} rows", f"at most {ROWS_MAX}")])
    (_, header), *body = numbered
    paths = [resolve_field_path(study, cell.strip()) for cell in header]
    stated = [study_value_at(study, path) for path in paths]
    rows = []
    for number, cells in body:
        if len(cells) != len(paths):
            fault = Fault(f"list line {number}", f"{len(cells)} cells", f"{len(paths)} cells")
            raise StudyError([fault])
        where = [f"list line {number}: {path.text}" for path in paths]
        rows.append(
            tuple(
                parse_sweep_value(*told_cell) if told_cell[1].strip() else own
                for told_cell, own in zip(zip(where, cells, strict=True), stated, strict=True)
            )
        )
    return _plan(study, paths, rows)


def sweep_rows(study: Study, paths: Sequence[str], rows: Sequence[Sequence[Any]]) -> SweepPlan:
    """Return the plan of rows of values, as JSON holds them, for the fields that `paths` name.

    Raises StudyError for unknown or repeated paths and rows of another length.
    """
    found = [resolve_field_path(study, path) for path in paths]
    for place, row in enumerate(rows):
        if len(row) != len(found):
            fault = Fault(f"rows[{place}]", f"{len(row)} values", f"{len(found)} values")
            raise StudyError([fault])
    return _plan(study, found, [tuple(row) for row in rows])


def _plan(study: Study, paths: Sequence[Path], rows: Sequence[tuple[Any, ...]]) -> SweepPlan:
    """Return the plan; every study in it is searched by one thread, as the others use the rest."""
    seen: set[tuple[str | int, ...]] = set()
    for path in paths:
        if path.keys in seen:
            raise StudyError([Fault(path.text, "twice", "each path once")])
        if path.keys == ("search", "workers"):
            allowed = "no sweep of it: every study of a sweep is searched by one thread"
            raise StudyError([Fault(path.text, "in a sweep", allowed)])
        seen.add(path.keys)
    search = study.search.model_copy(update={"workers": 1})
    return SweepPlan(study.model_copy(update={"search": search}), tuple(paths), rows)


def run_sweep(
    plan: SweepPlan, journal: Journal, engine: Engine, progress: Progress | None = None
) -> list[SweepRow]:
    """Return the plan's rows with their lines, solving what the journal does not hold.

    A row that is no valid study has its faults as its line. So has one whose workers died; that one
    alone is not kept, and a later run tries it again.
    """
    planned: list[tuple[str | None, dict[str, Any]]] = []
    lost: dict[str, dict[str, Any]] = {}
    done = 0

    def advance(more: int) -> None:
        nonlocal done
        done += more
        if progress is not None:
            progress(done, len(plan.rows))

    def tasks() -> Iterator[Task]:
        asked: set[str] = set()
        for values in plan.rows:
            try:
                study = edited_study(plan.study, dict(zip(plan.paths, values, strict=True)))
            except StudyError as error:
                planned.append((None, sweep_line_plain("invalid", str(error).splitlines())))
                advance(1)
                continue
            key = study.fingerprint()
            planned.append((key, {}))
            if key in journal.lines or key in asked:
                advance(1)
                continue
            asked.add(key)
            yield Task(key, study.canonical().model_dump_json())

    with closing(engine(tasks())) as solved:  # type: ignore[type-var]
        for key, line, is_lost in solved:
            if is_lost:
                lost[key] = line
            else:
                journal.add(key, line)
            advance(1)
    return [
        SweepRow(values, key, line if key is None else lost.get(key) or journal.lines[key])
        for values, (key, line) in zip(plan.rows, planned, strict=True)
    ]


def sweep_study(study: Study, changes: Mapping[str, Any]) -> Study:
    """Return one row's study: `study` with the values of `changes`, by path, as a sweep solves it.

    Raises StudyError for unknown paths and for a study that is none with these values.
    """
    plan = sweep_rows(study, list(changes), [list(changes.values())])
    return edited_study(plan.study, dict(zip(plan.paths, plan.rows[0], strict=True)))


def sweep_line(study: Study, changes: Mapping[str, Any]) -> tuple[str | None, dict[str, Any]]:
    """Return fingerprint and line of one row, solved here; none and its faults if it is no study."""
    try:
        one = sweep_study(study, changes)
    except StudyError as error:
        return None, sweep_line_plain("invalid", str(error).splitlines())
    return one.fingerprint(), solve_sweep_line(one.canonical().model_dump_json())


def sweep_table(plan: SweepPlan, rows: Sequence[SweepRow]) -> list[Column]:
    """Return the columns of one row per changed study, in the order of the plan; nothing is rounded.

    Columns: the paths, status, reasons (joined by " | "), cutters, ring_parts, heads, material_kg,
    "ROBOT tool_point_um" for every robot, largest_error_arcsec and the joint that has it, repeatable,
    study_sha256, largest_repeatability_arcsec and "ROBOT tool_point_repeatability_um" (none
    where the study is invalid).
    """

    def column(name: str, kind: str) -> Column:
        return Column(name, kind, [row.line.get(name) for row in rows])

    def tool_point(robot: str, of: str, name: str) -> Column:
        cells = [row.line.get(of, {}).get(robot) for row in rows]
        return Column(f"{robot} {name}", "Float64", cells)

    varied = [
        _values_of(path.text, [row.values[place] for row in rows])
        for place, path in enumerate(plan.paths)
    ]
    return [
        *varied,
        column("status", "string"),
        Column("reasons", "string", [" | ".join(row.line["reasons"]) or None for row in rows]),
        *(column(name, "Int64") for name in ("cutters", "ring_parts", "heads")),
        column("material_kg", "Float64"),
        *(tool_point(robot.name, "tool_points_um", "tool_point_um") for robot in plan.study.robots),
        column("largest_error_arcsec", "Float64"),
        column("largest_error_joint", "string"),
        column("repeatable", "boolean"),
        Column("study_sha256", "string", [row.fingerprint for row in rows]),
        column("largest_repeatability_arcsec", "Float64"),
        *(
            tool_point(robot.name, "tool_point_repeatabilities_um", "tool_point_repeatability_um")
            for robot in plan.study.robots
        ),
    ]


def _values_of(name: str, values: list[Any]) -> Column:
    """Return values as whole numbers, numbers, or text, whichever holds them all; none stays none."""
    given = [value for value in values if value is not None]
    if given and all(type(value) is int for value in given):
        return Column(name, "Int64", values)
    if given and all(type(value) in (int, float) for value in given):
        return Column(name, "Float64", [None if v is None else float(v) for v in values])
    text = [
        value if value is None or isinstance(value, str) else json.dumps(value) for value in values
    ]
    return Column(name, "string", text)


def sweep_table_bytes(columns: Sequence[Column], ending: str) -> bytes:
    """Return the table as a file: CSV for `.csv`, Parquet (needs pandas and pyarrow) for `.parquet`."""
    if ending == ".parquet":
        import pandas as pd

        arrays = {c.name: pd.array(c.cells, dtype=c.kind) for c in columns}  # type: ignore[call-overload]
        buffer = io.BytesIO()
        pd.DataFrame(arrays).to_parquet(buffer, engine="pyarrow", index=False)
        return buffer.getvalue()
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.name for column in columns])
    writer.writerows(zip(*(column.cells for column in columns), strict=True))
    return text.getvalue().encode()
