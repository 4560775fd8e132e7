"""The page for people: static files, read once. It uses the calls of this API and no others."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from ringset.api.problems import Problem
from ringset.api.routes.http import route_json_response, route_matches_entity_tag

router = APIRouter(include_in_schema=False)

FOLDER = Path(__file__).parents[1] / "page"
MEDIA_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
}
#: Nothing but what the service itself serves, no script or style in the document, and no text that
#: becomes markup: with trusted types the browser refuses `innerHTML`.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types 'none'"
)


@dataclass(frozen=True)
class _File:
    data: bytes
    media_type: str
    etag: str


@cache
def page_files() -> dict[str, _File]:
    """Return every file of the page by its path below the folder."""
    found = {}
    for path in sorted(FOLDER.rglob("*")):
        if path.suffix in MEDIA_TYPES:
            data = path.read_bytes()
            etag = f'"{hashlib.sha256(data).hexdigest()[:32]}"'
            name = path.relative_to(FOLDER).as_posix()
            found[name] = _File(data, MEDIA_TYPES[path.suffix], etag)
    return found


@cache
def page_languages_json() -> list[dict[str, str]]:
    """Return the languages of the page: one for each file of texts, named by itself."""
    codes = [
        name[6:-5] for name in page_files() if name.startswith("texts/") and name.endswith(".json")
    ]
    texts = {code: json.loads(page_files()[f"texts/{code}.json"].data) for code in codes}
    return [{"code": code, "name": str(text["language.name"])} for code, text in texts.items()]


@router.get("/")
async def page(request: Request) -> Response:
    """Serve the page."""
    return _serve(request, "index.html")


@router.get("/page/texts.json")
async def page_languages() -> Response:
    """List the languages of the page."""
    return route_json_response(
        {"languages": page_languages_json()}, 200, {"Cache-Control": "no-cache"}
    )


@router.get("/page/{name:path}")
async def page_file(name: str, request: Request) -> Response:
    """Serve a file of the page."""
    return _serve(request, name)


def _serve(request: Request, name: str) -> Response:
    file = page_files().get(name)
    if file is None:
        raise Problem("not-found")
    headers = {
        "ETag": file.etag,
        "Cache-Control": "no-cache",  # kept, but asked for: a new release shows at once
        "Content-Security-Policy": POLICY,
    }
    if route_matches_entity_tag(request, file.etag):
        return Response(status_code=304, headers=headers)
    return Response(file.data, 200, headers, media_type=file.media_type)
