"""What a sweep sends and answers, as models for the OpenAPI document."""

from __future__ import annotations

import json
from typing import Annotated, Any

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from ringset import Study
from ringset.api.contract.base import RequestModel, ResponseModel, State, contract_time_text
from ringset.api.store.records import Job
from ringset.api.store.sweeps import RowOf, Sweep

#: `head.gap_mm=0.3:0.5:0.1`; a comma list of many values may be long.
Option = Annotated[str, Field(min_length=1, max_length=20_000)]
PathText = Annotated[str, Field(min_length=1, max_length=1000)]


def _finite(cells: list[Any]) -> list[Any]:
    """Refuse NaN and infinity, which the type of any value lets pass."""
    try:
        json.dumps(cells, allow_nan=False)
    except ValueError:
        raise PydanticCustomError("not_finite", "finite numbers") from None
    return cells


Cells = Annotated[list[Any], Field(min_length=1, max_length=50), AfterValidator(_finite)]


class SweepRequest(RequestModel):
    """A study and what changes in it: a grid (`vary`), or a list (`paths` and `rows`)."""

    study: Study
    vary: list[Option] = Field(
        default=[],
        max_length=20,
        description="A path and its values, such as `target.angle_target_arcsec=40:80:5`: every "
        "combination becomes a row, the last option varying fastest.",
    )
    paths: list[PathText] = Field(default=[], max_length=50, description="Or: what changes.")
    rows: list[Cells] = Field(
        default=[], max_length=10_000, description="One value for each path, as JSON holds it."
    )


class SweepLinks(ResponseModel):
    """Paths of what belongs to a sweep; `table` once it has ended."""

    state: str
    rows: str
    table: str
    events: str
    cancel: str


class RowCounts(ResponseModel):
    """How many rows stand how."""

    all: int
    queued: int
    running: int
    done: int
    failed: int
    cancelled: int


class SweepState(ResponseModel):
    """A submitted sweep: how it stands."""

    id: str
    state: State
    paths: list[str] = Field(description="What changes from row to row.")
    rows: RowCounts
    content_sha256: str = Field(description="The same for the same sweep and versions.")
    created: str
    started: str | None = None
    ended: str | None = None
    links: SweepLinks


class SweepList(ResponseModel):
    """One page of submitted sweeps, newest first."""

    sweeps: list[SweepState]
    next: str | None = Field(
        default=None, description="Cursor of the next page; absent on the last."
    )


class SweepRowState(ResponseModel):
    """One row of a sweep: what changed, and what became of it."""

    row: int = Field(description="Its place in the sweep, from 0.")
    values: dict[str, Any] = Field(description="The values of its paths.")
    state: State
    status: str | None = Field(
        default=None, description="Status of its answer; invalid if the changed study is none."
    )
    reasons: list[str] | None = Field(
        default=None, description="Why it is impossible, undecided or invalid."
    )
    cutters: int | None = None
    ring_parts: int | None = None
    heads: int | None = None
    material_kg: float | None = None
    tool_points_um: dict[str, float] | None = Field(default=None, description="By robot.")
    largest_error_arcsec: float | None = None
    largest_error_joint: str | None = None
    largest_repeatability_arcsec: float | None = None
    tool_point_repeatabilities_um: dict[str, float] | None = Field(
        default=None, description="By robot."
    )
    repeatable: bool | None = None
    study_sha256: str | None = Field(default=None, description="Fingerprint of the changed study.")
    problem: dict[str, Any] | None = Field(default=None, description="Why it failed (RFC 9457).")


class SweepRowPage(ResponseModel):
    """Rows of a sweep, in its order."""

    rows: list[SweepRowState]
    next: str | None = Field(
        default=None, description="Cursor of the next page; absent on the last."
    )


def contract_sweep_state(sweep: Sweep) -> dict[str, Any]:
    """Return the state document of a sweep; what is not known is absent."""
    here = f"/v1/sweeps/{sweep.id}"
    members = {
        "id": sweep.id,
        "state": sweep.state,
        "paths": sweep.paths,
        "rows": {"all": sum(sweep.counts.values()), **sweep.counts},
        "content_sha256": sweep.content,
        "created": contract_time_text(sweep.created),
        "started": contract_time_text(sweep.started),
        "ended": contract_time_text(sweep.ended),
        "links": {
            "state": here,
            **{name: f"{here}/{name}" for name in ("rows", "table", "events", "cancel")},
        },
    }
    return {name: value for name, value in members.items() if value is not None}


def contract_sweep_row(row: RowOf, paths: list[str]) -> dict[str, Any]:
    """Return the document of a row; what is not known is absent."""
    job: Job = row.job
    members = {
        "row": row.place,
        "values": dict(zip(paths, row.cells, strict=True)),
        "state": job.state,
        "problem": json.loads(job.problem) if job.problem else None,
        **(row.line or {}),
    }
    return {name: value for name, value in members.items() if value is not None}
