"""Wakes the calls that wait for a study to move; the store remains the only truth."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Iterator


class Notifications:
    """Told of changes from any thread, waited on in the event loop."""

    def __init__(self) -> None:
        self.loop = asyncio.get_running_loop()
        self.stopping = asyncio.Event()
        self._waiting: dict[str, set[asyncio.Event]] = {}

    def changed(self, identity: str) -> None:
        """Wake whoever waits for a study; may be called from any thread."""
        with contextlib.suppress(RuntimeError):  # the loop has ended: nobody waits
            self.loop.call_soon_threadsafe(self._set, identity)

    def stop(self) -> None:
        """Let every wait end: the service is stopping."""
        with contextlib.suppress(RuntimeError):
            self.loop.call_soon_threadsafe(self._set_all)

    def _set(self, identity: str) -> None:
        for flag in self._waiting.get(identity, ()):
            flag.set()

    def _set_all(self) -> None:
        self.stopping.set()
        for identity in list(self._waiting):
            self._set(identity)

    @contextlib.contextmanager
    def watch(self, identity: str) -> Iterator[asyncio.Event]:
        """Return a flag that is set whenever the study moves, from now on."""
        flag = asyncio.Event()
        self._waiting.setdefault(identity, set()).add(flag)
        try:
            yield flag
        finally:
            self._waiting[identity].discard(flag)
            if not self._waiting[identity]:
                del self._waiting[identity]


async def service_await_notification(flag: asyncio.Event, timeout_s: float) -> None:
    """Wait until the flag is set or the time is over, and clear it."""
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(flag.wait(), timeout_s)
    flag.clear()
