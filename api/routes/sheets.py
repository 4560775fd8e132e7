"""Drawings and tables of an answer: the list, one file, or all in one archive."""

from __future__ import annotations

import base64
import io
import zipfile
from typing import Any

from anyio.to_thread import run_sync
from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from ringset import Sheets
from ringset.api.problems import Problem
from ringset.api.routes.http import route_problems
from ringset.api.routes.studies import result_response
from ringset.api.service.service import CallerDep, ServiceDep

router = APIRouter(prefix="/v1/studies", tags=["studies"])

#: Entries of an archive bear no time of day: equal answers give equal bytes.
_DATED = (1980, 1, 1, 0, 0, 0)
#: A drawing opened on its own may run nothing and load nothing.
_FILE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
_FETCH: dict[int | str, dict[str, Any]] = {
    304: {"description": "As you have it"},
    **route_problems(404, 409),
}
_FILE: dict[int | str, dict[str, Any]] = {
    200: {
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}
    },
    **route_problems(404, 409),
}


@router.get(
    "/{study_id}/sheets", operation_id="get_sheets", summary="Fetch drawings and tables",
    response_model=Sheets, responses=_FETCH,
)  # fmt: skip
async def get_sheets(
    study_id: str, request: Request, service: ServiceDep, caller: CallerDep
) -> Response:
    """Fetch all files of a study submitted with `find=sheets`: drawings are nominal and not released."""
    return await result_response(study_id, "sheets", request, service, caller)


@router.get(
    "/{study_id}/sheets/{file_name}", operation_id="get_sheet_file", summary="Fetch one file",
    response_class=Response, responses=_FILE,
)  # fmt: skip
async def get_sheet_file(
    study_id: str, file_name: str, request: Request, service: ServiceDep, caller: CallerDep
) -> Response:
    """Fetch one file by its name, or all of them as `all.zip`."""
    job = await service.find(study_id, caller)
    if job.kind != "sheets":
        raise Problem("not-found", f"This study was submitted with find={job.kind}.")
    if job.open:
        raise Problem("not-ready", headers={"Retry-After": "1"})
    if job.result is None:
        raise Problem("no-result", f"The study has {job.state}.")
    raw = await run_sync(service.kept, job.result)
    data, media_type = await run_sync(_file, raw, file_name)
    headers = {
        "Content-Disposition": f'attachment; filename="{file_name}"',
        "Content-Security-Policy": _FILE_POLICY,
        "Cache-Control": "private, max-age=31536000, immutable",
    }
    return Response(data, 200, headers, media_type=media_type)


def _file(raw: bytes, name: str) -> tuple[bytes, str]:
    """Return bytes and media type of a file; raises Problem for a name that is not among them."""
    sheets = Sheets.model_validate_json(raw)
    if name == "all.zip" and sheets.files:
        return _archive(sheets), "application/zip"
    for file in sheets.files:
        if file.name == name:
            return base64.b64decode(file.content_base64), file.media_type
    raise Problem("not-found", "There is no such file; the list is one level up.")


def _archive(sheets: Sheets) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sheets.files:
            entry = zipfile.ZipInfo(file.name, _DATED)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, base64.b64decode(file.content_base64))
    return held.getvalue()
