"""Bodies that no service should have to read, and what must be true of every answer to them."""

from __future__ import annotations

import copy
import json
from typing import Any

import httpx
from hypothesis import strategies as st

from tests.api.running import JSON, study

#: Statuses a body may be answered with; anything else, and any 5xx above all, is a defect.
ALLOWED = {200, 202, 400, 413, 422}

_numbers = st.one_of(
    st.integers(-(10**30), 10**30),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from([0, -0.0, 1e308, 5e-324, 2**53 + 1, 10**400]),
)
_texts = st.one_of(
    st.text(max_size=40),
    st.sampled_from(
        ["", "\x00", "\ud800", "‮", "=1+1", "a" * 5000, "NaN", "1", "true", "../..", "\r\n"]
    ),
)
_values = st.recursive(
    st.one_of(st.none(), st.booleans(), _numbers, _texts),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(_texts, inner, max_size=4)
    ),
    max_leaves=12,
)


def _places(value: Any, here: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [here] if here else []
    if isinstance(value, dict):
        for key, member in value.items():
            found += _places(member, (*here, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            found += _places(item, (*here, index))
    return found


@st.composite
def _changed(draw: st.DrawFn, good: Any) -> bytes:
    """Return a good body with some places changed, removed or added to."""
    body = copy.deepcopy(good)
    for _ in range(draw(st.integers(1, 3))):
        place = draw(st.sampled_from(_places(body)))
        parent = body
        for part in place[:-1]:
            parent = parent[part]
        match draw(st.sampled_from(["change", "remove", "add"])):
            case "change":
                parent[place[-1]] = draw(_values)
            case "remove":
                del parent[place[-1]]
            case "add" if isinstance(parent, dict):
                parent[draw(_texts)] = draw(_values)
            case _:
                parent.append(draw(_values))
        if not _places(body):
            break
    return _bytes(body)


@st.composite
def _broken(draw: st.DrawFn) -> bytes:
    """Return the bytes of a good study with some bytes changed, cut or doubled."""
    body = bytearray(json.dumps(_GOOD).encode())
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, max(0, len(body) - 1)))
        match draw(st.sampled_from(["change", "cut", "double", "put"])):
            case "change" if body:
                body[place] = draw(st.integers(0, 255))
            case "cut":
                del body[place : place + draw(st.integers(1, 30))]
            case "double":
                body[place:place] = body[place : place + 40]
            case _:
                body[place:place] = draw(st.binary(max_size=20))
    return bytes(body)


_GOOD: dict[str, Any] = study(
    "body", joints=2, heads={"x": {"gap_mm": 0.5}}, wishes={"cutters_max": 2}
)
_deep = st.builds(
    lambda opening, closing, depth: opening * depth + b"1" + closing * depth,
    st.sampled_from([b"[", b'{"a":', b'[{"robots":']),
    st.sampled_from([b"", b"]", b"}", b"}]"]),
    st.integers(1, 20_000),
)
_huge = st.builds(
    lambda head, middle, count: head + middle * count,
    st.sampled_from([b"", b"[", b'{"title":"', b'{"robots":[']),
    st.sampled_from([b"0,", b"{},", b"\xff", b"\\u0000", b" ", b'"a":1,', b"9"]),
    st.integers(1, 300_000),
)


def _bytes(value: Any) -> bytes:
    return json.dumps(value).encode("utf-8", "surrogatepass")


_SWEEPS: list[Any] = [
    {"study": _GOOD, "vary": ["target.angle_target_arcsec=80,90:110:10", "shop.flank_class=6"]},
    {"study": _GOOD, "paths": ["heads.x.gap_mm", "shop.modules"], "rows": [[0.4, [1]], [0.5, [2]]]},
]
#: One of everything.
bodies = st.one_of(
    _changed(_GOOD),
    _changed(_GOOD),
    _changed(_GOOD),
    _broken(),
    _values.map(_bytes),
    st.binary(max_size=200),
    _deep,
    _huge,
)


#: A path and a body for it.
cases = st.one_of(
    st.tuples(st.just("/v1/studies"), bodies),
    st.tuples(st.just("/v1/studies"), bodies),
    st.tuples(st.just("/v1/sweeps"), st.one_of(*map(_changed, _SWEEPS), _values.map(_bytes))),
)


def send(http: httpx.Client, path: str, body: bytes) -> None:
    """Send a body and check what comes back."""
    given = http.post(path, content=body, headers=JSON)
    assert given.status_code in ALLOWED, (given.status_code, given.text[:500])
    answer = given.json()
    if given.status_code >= 400:
        assert given.headers["content-type"] == "application/problem+json"
        assert answer["status"] == given.status_code
        for error in answer.get("errors", []):
            assert error["pointer"] == "" or error["pointer"].startswith("/")
    else:
        http.post(answer["links"]["cancel"])
