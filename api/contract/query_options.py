"""The query of a submission: what is asked of a study, checked before the study is accepted."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Query
from pydantic import Field

from ringset import (
    Fault,
    SheetKind,
    Study,
    StudyError,
    Wish,
    front_faults,
    resolve_path,
    sheet_faults,
)
from ringset.api.contract.questions import NAMING, OPTIONS, Find, Options
from ringset.api.problems import FieldProblem, Problem, problem_of_study_error

Target = Annotated[float, Query(gt=0.0, le=648000.0)]


async def contract_read_question(
    find: Annotated[
        Find,
        Query(
            description="What to find: the answer; the answer with the certificate that proves it; what one "
            "step more of each wish would buy; what it costs to lose each cutter, head, ring part and stock "
            "size of the answer; every answer that no other beats; what stands in the way and would free it, "
            "or what limits cost; which assumed inputs decide the answer; the answers at the hopeful and at "
            "the careful ends of them all; drawings and tables of the answer."
        ),
    ] = "answer",
    over: Annotated[
        list[Wish], Query(max_length=5, description="front: wishes; those of the study by default.")
    ] = [],  # noqa: B006 - FastAPI's way to say that a list may be absent
    targets_arcsec: Annotated[
        list[Target],
        Query(max_length=50, description="front: angle targets to sweep; the study's by default."),
    ] = [],  # noqa: B006
    fixed: Annotated[
        list[Annotated[str, Query(max_length=300)]],
        Query(max_length=100, description="blockers: paths of limits that must not change."),
    ] = [],  # noqa: B006
    step_percent: Annotated[
        float | None,
        Query(
            ge=0.1, le=25.0, description="blockers: by how much limits are moved for their prices."
        ),
    ] = None,
    step: Annotated[
        Annotated[float, Field(gt=0.0, le=50.0)] | Literal["exact"] | None,
        Query(
            description="front over both material and cost: by how many percent material comes down at a "
            "time, 5 by default; exact for every point."
        ),
    ] = None,
    only: Annotated[
        list[SheetKind],
        Query(max_length=6, description="sheets: kinds of files; all by default."),
    ] = [],  # noqa: B006
) -> tuple[Find, Options]:
    """Return what is asked with its options; raises Problem for options that do not belong to it."""
    given: dict[str, Any] = {
        "over": over, "targets_arcsec": targets_arcsec, "fixed": fixed, "step_percent": step_percent,
        "step": step, "only": only,
    }  # fmt: skip
    options = {name: value for name, value in given.items() if value not in ([], None)}
    odd = [name for name in options if name not in OPTIONS[find]]
    if odd:
        raise _refused(odd[0], f"not with find={find}")
    if over and len(set(over)) < max(2, len(over)):
        raise _refused("over", "two or more different wishes")
    return find, options


def contract_check_paths(study: Study, options: Options) -> None:
    """Refuse paths in `fixed` that the study does not have; raises Problem."""
    for path in options.get("fixed", ()):
        try:
            resolve_path(study, path)
        except StudyError as error:
            raise _refused("fixed", error.faults[0].allowed) from None


def contract_check_front(study: Study, find: str, options: Options) -> None:
    """Refuse axes, targets and step that the study has no front for; raises Problem."""
    if find != "front":
        return
    asked = (options.get(name) for name in ("over", "targets_arcsec", "step"))
    for fault in front_faults(study, *asked):
        raise _refused(fault.path, fault.allowed)


def contract_check_names(
    study: Study, find: str, options: Options, raw: bytes, prefix: str
) -> None:
    """Refuse names of the study in `raw` that the sheets asked for cannot be drawn with; raises Problem.

    `prefix` leads to the study within the body: empty, or `study.`.
    """
    faults = sheet_faults(study, options.get("only", ())) if find == "sheets" else []
    if faults:
        named = [Fault(f"{prefix}{fault.path}", fault.given, fault.allowed) for fault in faults]
        raise problem_of_study_error(StudyError(named), raw)


def contract_check_previous(find: str, given: bool) -> None:
    """Refuse an earlier answer where no ring part of the study's answer is named; raises Problem."""
    if given and find not in NAMING:
        detail = f"allowed: none with find={find}; with {', '.join(NAMING)}"
        error = FieldProblem(pointer="/previous", detail=detail)
        raise Problem("invalid", "Nothing that is asked for names ring parts.", [error])


def _refused(name: str, allowed: str) -> Problem:
    error = FieldProblem(pointer="", detail=f"query {name}: allowed: {allowed}")
    return Problem("invalid", "Query or headers are not valid.", [error])
