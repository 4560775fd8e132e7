"""From the body of a sweep to the rows that are worked on, and back to the table that tells of them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from ringset import (
    Study,
    StudyError,
    SweepPlan,
    SweepRow,
    resolve_path,
    sweep_grid,
    sweep_rows,
    sweep_table,
    sweep_table_bytes,
)
from ringset.api.contract.sweeps import SweepRequest
from ringset.api.problems import FieldProblem, Problem
from ringset.api.service.content_hash import service_content_hash, service_content_hash_of
from ringset.api.store.hashing import stored_sha256
from ringset.api.store.idempotency import IdempotencyKey
from ringset.api.store.records import ROW
from ringset.api.store.sweeps import RowOf, RowSubmission, SweepSubmission


def service_sweep_plan_of(body: SweepRequest, most: int) -> SweepPlan:
    """Return the rows asked for; raises Problem for paths, values and counts that cannot be."""
    if bool(body.vary) == bool(body.paths or body.rows):
        raise _refused("", ["allowed: vary, or paths and rows"])
    study = body.study
    if body.vary:
        for place, option in enumerate(body.vary):
            with _faults_at(f"/vary/{place}"):
                sweep_grid(study, [option], most)
        with _faults_at("/vary"):
            return sweep_grid(study, body.vary, most)
    if not body.paths or not 1 <= len(body.rows) <= most:
        raise _refused("/rows", [f"allowed: at least one path, 1 to {most} rows"])
    for place, path in enumerate(body.paths):
        with _faults_at(f"/paths/{place}"):
            resolve_path(study, path)
    with _faults_at("/rows"):
        return sweep_rows(study, body.paths, body.rows)


@contextmanager
def _faults_at(pointer: str) -> Iterator[None]:
    try:
        yield
    except StudyError as error:
        raise _refused(pointer, [f"allowed: {fault.allowed}" for fault in error.faults]) from None


def _refused(pointer: str, details: Sequence[str]) -> Problem:
    errors = [FieldProblem(pointer=pointer, detail=detail) for detail in details]
    return Problem("invalid", "There is no such sweep.", errors)


def service_sweep_submission(
    holder: str, plan: SweepPlan, raw: bytes, idempotency_key: IdempotencyKey | None = None
) -> SweepSubmission:
    """Return a plan as the store takes it."""
    paths, study = [path.text for path in plan.paths], plan.study
    fingerprint = study.fingerprint()
    return SweepSubmission(
        holder=holder,
        content=service_content_hash("sweep", study, {"paths": paths, "rows": list(plan.rows)}),
        study=study.model_dump_json(exclude_unset=True).encode(),
        paths=paths,
        rows=[_row_submission(fingerprint, paths, list(cells)) for cells in plan.rows],
        request_hash=stored_sha256(f"sweep {stored_sha256(raw)}".encode()),
        idempotency_key=idempotency_key,
    )


def _row_submission(fingerprint: str, paths: list[str], cells: list[Any]) -> RowSubmission:
    options: dict[str, object] = {"changes": dict(zip(paths, cells, strict=True))}
    options_text = json.dumps(options, sort_keys=True)
    return RowSubmission(cells, options_text, service_content_hash_of(ROW, fingerprint, options))


def service_sweep_csv_table(study: Study, paths: list[str], rows: Sequence[RowOf]) -> bytes:
    """Return the table of a sweep that has ended, as the command line writes it."""
    plan = sweep_rows(study, paths, [row.cells for row in rows])
    lines = [SweepRow(tuple(row.cells), *_line(row)) for row in rows]
    return sweep_table_bytes(sweep_table(plan, lines), ".csv")


def _line(row: RowOf) -> tuple[str | None, dict[str, Any]]:
    """Return fingerprint and line of a row; one without an answer tells why."""
    if row.line is not None:
        return row.line["study_sha256"], row.line
    problem = json.loads(row.job.problem) if row.job.problem else None
    reasons = [] if problem is None else [f"{problem['title']}: {problem['detail']}"]
    return None, {"status": row.job.state, "reasons": reasons}
