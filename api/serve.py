"""Running the service: one uvicorn process, loopback unless keys guard it.

Application, store and their libraries are imported inside functions: the fork server must have begun to
load the solver before, so that both load side by side.
"""

from __future__ import annotations

import asyncio
import signal
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING

from ringset.api.settings import Settings
from ringset.api.workers.forkserver import forkserver_context

if TYPE_CHECKING:
    from ringset.api.store.studies import Store

#: Seconds that open calls get to end when the service stops, and that a connection may stay idle.
GRACE_S, KEEP_ALIVE_S = 3, 30
STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM)


class ServeError(RuntimeError):
    """The service cannot be started, worded for people."""


def serve_http(settings: Settings, perform: str | None = None) -> None:
    """Serve until stopped by SIGINT or SIGTERM; raises ServeError, SettingsError."""
    forkserver_context()  # first: it also keeps numpy, imported below, from starting helper threads
    import uvicorn

    from ringset.api.app import create_app
    from ringset.api.gateway.head_timeout import head_timeout_protocol
    from ringset.api.gateway.telemetry import telemetry_log_config
    from ringset.api.workers.supervisor import DEFAULT_PERFORM

    app = create_app(settings, perform or DEFAULT_PERFORM, _open_store(settings))

    class Server(uvicorn.Server):
        """Tells open calls to end before it waits for them."""

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            if app.state.service is not None:
                app.state.service.notifications.stop()
            super().handle_exit(sig, frame)

        @contextmanager
        def capture_signals(self) -> Iterator[None]:
            """Stop in order on both signals and end with exit code 0, not by the signal."""
            before = {sig: signal.signal(sig, self.handle_exit) for sig in STOP_SIGNALS}
            try:
                yield
            finally:
                for sig, handler in before.items():
                    signal.signal(sig, handler)

    config = uvicorn.Config(
        app, host=settings.host, port=settings.port, log_config=telemetry_log_config(settings.log_level),
        access_log=False, server_header=False, timeout_graceful_shutdown=GRACE_S,
        timeout_keep_alive=KEEP_ALIVE_S, http=head_timeout_protocol(settings.body_time_max_s),
    )  # fmt: skip
    asyncio.run(Server(config).serve([_listen(settings)]))


def _open_store(settings: Settings) -> Store:
    """Return the store; raises ServeError where it cannot be used, or lacks the key that is needed."""
    from ringset.api.store.api_keys import list_api_keys
    from ringset.api.store.connections import StoreUnavailable, StoreUrlError
    from ringset.api.store.schema import UnknownStore
    from ringset.api.store.studies import Store

    try:
        store = Store(settings.store_url)
        if settings.keyed and not any(key.withdrawn is None for key in list_api_keys(store)):
            raise ServeError(
                f"host: given {settings.host} without a key in the store; allowed: loopback, or make a "
                "key first: ringset keys make NAME"
            )
    except (StoreUrlError, UnknownStore) as error:
        raise ServeError(str(error)) from None
    except StoreUnavailable as error:
        raise ServeError(f"store_url: given a store that cannot be used ({error})") from None
    return store


def _listen(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    # the protocol is named: else asyncio leaves Nagle's algorithm on, and every answer waits 40 ms
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((settings.host, settings.port))
        return listener
    except OSError as error:
        listener.close()
        raise ServeError(
            f"host, port: given {settings.host} {settings.port}; allowed: an address of this machine "
            f"with a port that is free ({error.strerror})"
        ) from None
