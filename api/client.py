"""A small typed client of the service, for programs written in Python.

    with Client("http://127.0.0.1:8730") as ringset:
        study = ringset.submit(document, wait_s=10)
        answer = ringset.answer(ringset.wait(study))

Every call raises `ServiceProblem` where the service answers with a problem (RFC 9457).
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import httpx

from ringset import (
    Answer,
    Assumptions,
    Band,
    CertifiedAnswer,
    Comparison,
    Explanation,
    Front,
    JointRing,
    Losses,
    Sheets,
    WishSteps,
)  # fmt: skip

ENDED = ("done", "failed", "cancelled")


class ServiceProblem(Exception):
    """A problem the service answered with."""

    def __init__(self, document: dict[str, Any], status: int) -> None:
        self.document, self.status = document, status
        self.code = str(document.get("code", ""))
        self.errors: list[dict[str, str]] = document.get("errors", [])
        lines = [f"{document.get('title', status)}: {document.get('detail', '')}"]
        lines += [f"{error['pointer']}: {error['detail']}" for error in self.errors]
        super().__init__("\n".join(lines))


@dataclass(frozen=True)
class Submitted:
    """A submitted study as it stood when last heard of."""

    id: str
    find: str
    state: str
    status: str | None = None
    progress: dict[str, Any] | None = None
    problem: dict[str, Any] | None = None
    links: dict[str, str] = field(default_factory=dict)
    result: dict[str, Any] | None = None

    @property
    def ended(self) -> bool:
        """Whether no more will happen to it."""
        return self.state in ENDED


@dataclass(frozen=True)
class SubmittedSweep:
    """A submitted sweep as it stood when last heard of; `rows` counts them by how they stand."""

    id: str
    state: str
    paths: list[str]
    rows: dict[str, int]
    links: dict[str, str]

    @property
    def ended(self) -> bool:
        """Whether no more will happen to it."""
        return self.state in ENDED


Named = TypeVar("Named", Submitted, SubmittedSweep)


@dataclass(frozen=True)
class Event:
    """Something that happened to a study or a sweep."""

    number: int
    name: str
    data: dict[str, Any]


class Client:
    """One connection pool to one service; close it, or use it in a `with` statement."""

    def __init__(
        self,
        url: str = "http://127.0.0.1:8730",
        key: str | None = None,
        timeout_s: float = 30.0,
        tries: int = 5,
    ) -> None:
        headers = {"Authorization": f"Bearer {key}"} if key else {}
        self.http = httpx.Client(base_url=url, headers=headers, timeout=timeout_s)
        self.tries = tries

    def __enter__(self) -> Client:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close every connection."""
        self.http.close()

    def submit(
        self,
        study: dict[str, Any] | str | bytes,
        find: str = "answer",
        wait_s: int | None = None,
        repeat_key: str | None = None,
        previous: Answer | dict[str, Any] | None = None,
        **options: Any,
    ) -> Submitted:
        """Submit a study, and wait up to `wait_s` for its end.

        `find` is answer, certificate, steps, losses, front (with `over`, `targets_arcsec`, `step`), blockers
        (with `fixed`, `step_percent`), assumptions, band or sheets (with `only`). Ring parts keep their
        names in an earlier answer `previous` (with answer, certificate and sheets). Safe to repeat: the
        same study is the same resource, with `repeat_key` also after it has ended.
        """
        if previous is not None:
            study = {"study": _plain(study), "previous": _plain(previous)}
        body = json.dumps(study) if isinstance(study, dict) else study
        params = {"find": find, **options}
        return _submitted(self._submit("/v1/studies", body, wait_s, repeat_key, params))

    def _submit(
        self,
        path: str,
        body: str | bytes,
        wait_s: int | None,
        repeat_key: str | None,
        params: dict[str, Any] | None = None,
    ) -> dict[str, Any]:
        headers = {"Content-Type": "application/json"}
        if wait_s is not None:
            headers["Prefer"] = f"wait={wait_s}"
        if repeat_key is not None:
            headers["Idempotency-Key"] = repeat_key
        read_s = (self.http.timeout.read or 30.0) + (wait_s or 0)
        timeout = httpx.Timeout(self.http.timeout.connect, read=read_s)
        given = self._call(
            "POST", path, params=params, content=body, headers=headers, timeout=timeout
        )
        return dict(given.json())

    def state(self, study: Submitted | str) -> Submitted:
        """Read how a study stands."""
        return _submitted(self._call("GET", f"/v1/studies/{_id(study)}").json())

    def wait(self, study: Submitted | str, timeout_s: float = 600.0) -> Submitted:
        """Return the study once it has ended; raises TimeoutError."""
        given = study if isinstance(study, Submitted) else None
        return _wait(given, lambda: self.state(study), timeout_s)

    def follow(self, study: Submitted | str, after: int = 0) -> Iterator[Event]:
        """Yield what happens to a study until it has ended; a broken connection is taken up again."""
        return self._follow(f"/v1/studies/{_id(study)}/events", after)

    def _follow(self, path: str, after: int) -> Iterator[Event]:
        tries = self.tries
        while True:
            try:
                for event in self._events(path, after):
                    after, tries = event.number, self.tries
                    yield event
                    if event.name in ENDED:
                        return
            except httpx.TransportError:
                tries -= 1
                if tries <= 0:
                    raise
            time.sleep(0.2)  # the service has ended the stream: it is stopping, or was restarted

    def _events(self, path: str, after: int) -> Iterator[Event]:
        with self.http.stream("GET", path, headers={"Last-Event-ID": str(after)}) as stream:
            if stream.status_code != 200:
                stream.read()
                raise _problem(stream)
            members: dict[str, str] = {}
            for line in stream.iter_lines():
                if line:
                    name, _, value = line.partition(": ")
                    members[name] = value
                elif "event" in members:
                    data = json.loads(members["data"])
                    yield Event(int(members["id"]), members["event"], data)
                    members = {}

    def cancel(self, study: Submitted | str) -> Submitted:
        """Stop the work on a study; returns how it stands then."""
        return _submitted(self._call("POST", f"/v1/studies/{_id(study)}/cancel").json())

    def result(self, study: Submitted) -> bytes:
        """Fetch what was found, byte for byte."""
        return self._call("GET", f"/v1/studies/{study.id}/{study.find}").content

    def answer(self, study: Submitted) -> Answer:
        """Fetch the answer to a study."""
        return Answer.model_validate_json(self.result(study))

    def certificate(self, study: Submitted) -> CertifiedAnswer:
        """Fetch answer and certificate of a study submitted with find=certificate."""
        return CertifiedAnswer.model_validate_json(self.result(study))

    def steps(self, study: Submitted) -> WishSteps:
        """Fetch what one step more of each wish would buy, of a study submitted with find=steps."""
        return WishSteps.model_validate_json(self.result(study))

    def losses(self, study: Submitted) -> Losses:
        """Fetch what it costs to lose a thing of the answer, of a study submitted with find=losses."""
        return Losses.model_validate_json(self.result(study))

    def front(self, study: Submitted) -> Front:
        """Fetch the front of a study submitted with find=front."""
        return Front.model_validate_json(self.result(study))

    def blockers(self, study: Submitted) -> Explanation:
        """Fetch what stands in the way of a study submitted with find=blockers."""
        return Explanation.model_validate_json(self.result(study))

    def assumptions(self, study: Submitted) -> Assumptions:
        """Fetch which assumed inputs decide the answer to a study submitted with find=assumptions."""
        return Assumptions.model_validate_json(self.result(study))

    def band(self, study: Submitted) -> Band:
        """Fetch the hopeful and the careful answer to a study submitted with find=band."""
        return Band.model_validate_json(self.result(study))

    def sweep(
        self,
        study: dict[str, Any],
        vary: Sequence[str] = (),
        paths: Sequence[str] = (),
        rows: Sequence[Sequence[Any]] = (),
        wait_s: int | None = None,
        repeat_key: str | None = None,
    ) -> SubmittedSweep:
        """Submit a sweep: every combination of `vary`, or the `rows` of values for `paths`."""
        body = {"study": study, "vary": list(vary), "paths": list(paths), "rows": list(rows)}
        return _swept(self._submit("/v1/sweeps", json.dumps(body), wait_s, repeat_key))

    def sweep_state(self, sweep: SubmittedSweep | str) -> SubmittedSweep:
        """Read how a sweep stands."""
        return _swept(self._call("GET", f"/v1/sweeps/{_id(sweep)}").json())

    def wait_sweep(self, sweep: SubmittedSweep | str, timeout_s: float = 3600.0) -> SubmittedSweep:
        """Return the sweep once it has ended; raises TimeoutError."""
        given = sweep if isinstance(sweep, SubmittedSweep) else None
        return _wait(given, lambda: self.sweep_state(sweep), timeout_s)

    def follow_sweep(self, sweep: SubmittedSweep | str, after: int = 0) -> Iterator[Event]:
        """Yield how many rows stand how until all have ended."""
        return self._follow(f"/v1/sweeps/{_id(sweep)}/events", after)

    def cancel_sweep(self, sweep: SubmittedSweep | str) -> SubmittedSweep:
        """Stop the work on a sweep; returns how it stands then."""
        return _swept(self._call("POST", f"/v1/sweeps/{_id(sweep)}/cancel").json())

    def rows(self, sweep: SubmittedSweep | str) -> Iterator[dict[str, Any]]:
        """Yield the rows of a sweep as they now stand, in its order."""
        query: dict[str, Any] = {"limit": 200}
        while True:
            page = self._call("GET", f"/v1/sweeps/{_id(sweep)}/rows", params=query).json()
            yield from page["rows"]
            if "next" not in page:
                return
            query["cursor"] = page["next"]

    def table(self, sweep: SubmittedSweep | str) -> bytes:
        """Fetch the table of a sweep that has ended, as CSV."""
        return self._call("GET", f"/v1/sweeps/{_id(sweep)}/table").content

    def sheets(self, study: Submitted) -> Sheets:
        """Fetch drawings and tables of a study submitted with find=sheets."""
        return Sheets.model_validate_json(self.result(study))

    def rate(
        self, study: dict[str, Any], joint: str, module_mm: float, **ring: Any
    ) -> tuple[JointRing, list[str]]:
        """Rate one ring; returns it with the limits it breaks.

        `ring` holds `teeth` or `tip_mm`, `bore_mm` or `rim_mm`, and `robot` and `heads` if need be.
        """
        body = {"study": study, "joint": joint, "module_mm": module_mm, **ring}
        given = self._call("POST", "/v1/ratings", json=body).json()
        return JointRing.model_validate_json(json.dumps(given["ring"])), given["broken"]

    def judge(
        self, study: dict[str, Any], answer: dict[str, Any], previous: Any = None
    ) -> list[str]:
        """Return every violation that a judge finds without a solver; names must be those of `previous`."""
        body = {"study": study, "answer": answer, "previous": _plain(previous)}
        return list(self._call("POST", "/v1/judgements", json=body).json()["violations"])

    def verify(
        self, study: dict[str, Any], answer: dict[str, Any], certificate: dict[str, Any]
    ) -> dict[str, Any]:
        """Return what a certificate proves of an answer, checked without a solver.

        It says `complete`, `refused`, `faults`, and of every one of the `stages` its wish, state and text.
        """
        body = {"study": study, "answer": answer, "certificate": certificate}
        found: dict[str, Any] = self._call("POST", "/v1/judgements", json=body).json()
        return dict(found["certificate"])

    def compare(self, answers: dict[str, Submitted | dict[str, Any]]) -> Comparison:
        """Set answers side by side by their names: submitted studies, or answers themselves."""
        entries = [
            {"name": name, "study_id": given.id}
            if isinstance(given, Submitted)
            else {"name": name, "answer": given}
            for name, given in answers.items()
        ]
        given = self._call("POST", "/v1/comparisons", json={"entries": entries})
        return Comparison.model_validate_json(given.content)

    def standards(self) -> list[str]:
        """Return the names of the tables of published standards."""
        tables: list[str] = self._call("GET", "/v1/standards").json()["tables"]
        return tables

    def standard(self, name: str) -> list[dict[str, str]]:
        """Return the rows of a table."""
        rows: list[dict[str, str]] = self._call("GET", f"/v1/standards/{name}").json()["rows"]
        return rows

    def _call(self, method: str, path: str, **given: Any) -> httpx.Response:
        """Call; what says "later" is tried again after the time it asks for."""
        for left in reversed(range(self.tries)):
            response = self.http.request(method, path, **given)
            if response.status_code not in (429, 503) or not left:
                break
            time.sleep(min(10.0, float(response.headers.get("Retry-After", "1"))))
        if response.status_code >= 400:
            raise _problem(response)
        return response


def _problem(response: httpx.Response) -> ServiceProblem:
    try:
        document = response.json()
    except ValueError:  # not from the service itself, but from something before it
        document = {"title": response.reason_phrase, "detail": response.text[:200]}
    return ServiceProblem(document, response.status_code)


def _plain(given: Answer | dict[str, Any] | str | bytes | None) -> Any:
    given = json.loads(given) if isinstance(given, str | bytes) else given
    return given.model_dump(mode="json") if isinstance(given, Answer) else given


def _id(named: Submitted | SubmittedSweep | str) -> str:
    return named if isinstance(named, str) else named.id


def _wait(given: Named | None, look: Callable[[], Named], timeout_s: float) -> Named:
    """Look again and again, ever more rarely, until what was asked for has ended."""
    ends, pause = time.monotonic() + timeout_s, 0.02
    now = given if given is not None and given.ended else look()
    while not now.ended:
        if time.monotonic() > ends:
            raise TimeoutError(f"{now.id}: {now.state} after {timeout_s:g} s")
        time.sleep(pause)
        pause = min(1.0, 1.5 * pause)
        now = look()
    return now


def _submitted(document: dict[str, Any]) -> Submitted:
    known = {name: document.get(name) for name in ("status", "progress", "problem")}
    find = document["find"]
    return Submitted(
        id=document["id"],
        find=find,
        state=document["state"],
        links=document["links"],
        result=document.get(find),
        **known,
    )


def _swept(document: dict[str, Any]) -> SubmittedSweep:
    known = {name: document[name] for name in ("id", "state", "paths", "rows", "links")}
    return SubmittedSweep(**known)
