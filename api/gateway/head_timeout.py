"""HTTP connections on which the head of a call must arrive in time: the library waits for it for ever."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol


def head_timeout_protocol(head_s: float) -> type[H11Protocol]:
    """Return the protocol that closes a connection whose call has not begun after `head_s` seconds.

    Between calls the library's own keep-alive time holds, and the gateway times the body.
    """

    class Protocol(H11Protocol):
        """One connection."""

        late: asyncio.TimerHandle | None = None

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            """Begin to wait for the first head."""
            super().connection_made(transport)
            self._wait_for_head()

        def data_received(self, data: bytes) -> None:
            """Wait on while a head is incomplete."""
            super().data_received(data)
            if self.conn.their_state is not h11.IDLE:
                self._wait_no_more()
            elif self.conn.trailing_data[0]:
                self._wait_for_head()

        def connection_lost(self, exc: Exception | None) -> None:
            """Forget the time."""
            self._wait_no_more()
            super().connection_lost(exc)

        def _wait_for_head(self) -> None:
            if self.late is None:
                self.late = self.loop.call_later(head_s, self.transport.close)

        def _wait_no_more(self) -> None:
            if self.late is not None:
                self.late.cancel()
                self.late = None

    return Protocol
