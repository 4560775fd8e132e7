"""What every call passes before any route: name, key, rate, size; and what every answer carries."""

from __future__ import annotations

import asyncio
import logging
import re
import time
import uuid

from anyio.to_thread import run_sync
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ringset.api.contract.caller import Caller
from ringset.api.gateway.rate_limit import TokenBuckets
from ringset.api.gateway.telemetry import Metrics
from ringset.api.problems import Problem, problem_response
from ringset.api.settings import Settings
from ringset.api.store.api_keys import check_api_key
from ringset.api.store.connections import StoreUnavailable
from ringset.api.store.studies import Store

log = logging.getLogger("ringset")

#: Paths that need no key: whether the service lives, and the page, which holds nothing of anybody's.
OPEN_PATHS = ("/livez", "/readyz", "/")
OPEN_FOLDER = "/page/"
_REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
SECURITY_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'self'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Gateway:
    """ASGI middleware: plain ASGI, so that a client that hangs up is noticed further in."""

    def __init__(self, app: ASGIApp, store: Store, settings: Settings, metrics: Metrics) -> None:
        self.app, self.store, self.settings, self.metrics = app, store, settings, metrics
        self.buckets = TokenBuckets(settings.rate_per_s, settings.rate_burst)
        self.refused = TokenBuckets(1.0, 20)
        self.hosts = {name.lower() for name in (*settings.hosts, settings.host)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one call."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        await _Call(self, scope, receive, send).serve()

    async def admit(self, scope: Scope) -> Caller:
        """Return who calls; raises Problem where the call may not pass."""
        headers = Headers(scope=scope)
        name = headers.get("host", "").lower()
        host = name.rsplit("]", 1)[0].lstrip("[") if name.startswith("[") else name.split(":")[0]
        if host not in self.hosts and "*" not in self.hosts:
            raise Problem("wrong-host")
        path = scope["path"]
        if not self.settings.keyed or path in OPEN_PATHS or path.startswith(OPEN_FOLDER):
            return Caller()
        address = (scope.get("client") or ("?",))[0]
        scheme, _, given = headers.get("authorization", "").partition(" ")
        key = None
        if scheme.lower() == "bearer":
            key = await run_sync(check_api_key, self.store, given.strip())
        wait = self.refused.take(address) if key is None else self.buckets.take(key.id)
        if wait > 0.0:
            raise Problem("too-many-calls", headers={"Retry-After": str(int(wait) + 1)})
        if key is None:
            raise Problem("no-key")
        return Caller(key.id, key.name)


class _Call:
    """One call on its way through the gateway."""

    def __init__(self, gateway: Gateway, scope: Scope, receive: Receive, send: Send) -> None:
        self.gateway, self.scope, self._receive, self._send = gateway, scope, receive, send
        given = Headers(scope=scope).get("x-request-id", "")
        self.id = given if _REQUEST_ID.fullmatch(given) else uuid.uuid4().hex
        self.started = time.monotonic()
        self.status, self.bytes, self.caller = 0, 0, Caller()

    async def serve(self) -> None:
        scope = self.scope
        state = scope.setdefault("state", {})
        state["request_id"], state["caller"] = self.id, self.caller
        try:
            self.caller = state["caller"] = await self.gateway.admit(scope)
            self._refuse_long()
            await self.gateway.app(scope, self.receive, self.send)
        except Problem as problem:
            await self._answer(problem)
        except StoreUnavailable as error:
            log.error("store", extra={"request_id": self.id, "fault": str(error)})
            await self._answer(Problem("store-unavailable", headers={"Retry-After": "2"}))
        except ClientDisconnect:
            self.status = self.status or 499  # nobody is there to hear more
        except Exception:
            log.exception("fault", extra={"request_id": self.id})
            await self._answer(Problem("internal"))
        finally:
            self._note()

    async def _answer(self, problem: Problem) -> None:
        if self.status == 0:
            response = problem_response(problem, self.id)
            await response(self.scope, self.receive, self.send)

    def _refuse_long(self) -> None:
        stated = Headers(scope=self.scope).get("content-length", "0")
        if stated.isdigit() and int(stated) > self.gateway.settings.body_max_bytes:
            raise self._too_large()

    def _too_large(self) -> Problem:
        most = self.gateway.settings.body_max_bytes
        return Problem(
            "too-large", f"A body holds at most {most} bytes.", headers={"Connection": "close"}
        )

    async def receive(self) -> Message:
        """Pass the body on, counted and timed: a stated length alone proves nothing."""
        if self.bytes < 0:  # the body is complete: what follows is only the news of a hang-up
            return await self._receive()
        left = self.gateway.settings.body_time_max_s - (time.monotonic() - self.started)
        try:
            message = await asyncio.wait_for(self._receive(), max(0.0, left))
        except TimeoutError:
            raise Problem("too-slow", headers={"Connection": "close"}) from None
        if message["type"] == "http.request":
            self.bytes += len(message.get("body", b""))
            if self.bytes > self.gateway.settings.body_max_bytes:
                raise self._too_large()
            if not message.get("more_body", False):
                self.bytes = -1
        return message

    async def send(self, message: Message) -> None:
        """Pass the answer on with the headers that every answer carries."""
        if message["type"] == "http.response.start":
            self.status = message["status"]
            headers = MutableHeaders(scope=message)
            headers["X-Request-Id"] = self.id
            for name, value in SECURITY_HEADERS.items():
                headers.setdefault(name, value)
        await self._send(message)

    def _note(self) -> None:
        seconds = time.monotonic() - self.started
        route = getattr(self.scope.get("route"), "path", "none")
        self.gateway.metrics.called(self.scope["method"], route, self.status, seconds)
        if log.isEnabledFor(logging.INFO):
            extra = {
                "request_id": self.id, "method": self.scope["method"], "path": self.scope["path"],
                "status": self.status, "ms": round(1000.0 * seconds, 1), "key": self.caller.name,
            }  # fmt: skip
            log.info("call", extra=extra)
