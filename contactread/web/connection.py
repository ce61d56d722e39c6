"""A connection that doesn't wait for ever; uvicorn's own bears a request's head of any slowness."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 10.0


class PatientConnection(H11Protocol):
    """Closes where no whole request head has come within HEAD_S seconds."""

    _patience: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        self._rest()
        super().connection_lost(exc)

    def handle_events(self) -> None:
        before: Any = self.cycle
        super().handle_events()
        if self.cycle is not before:
            self._rest()  # the head is here; the body has its own limits

    def on_response_complete(self) -> None:
        self._wait()
        super().on_response_complete()

    def _wait(self) -> None:
        self._rest()
        self._patience = self.loop.call_later(HEAD_S, self._give_up)

    def _rest(self) -> None:
        if self._patience is not None:
            self._patience.cancel()
            self._patience = None

    def _give_up(self) -> None:
        if self.cycle is None or self.cycle.response_complete:
            self.transport.close()
