"""Connections of the bench's server: none holds a place for long without a request, and never that of somebody else."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_SECONDS = 10.0  # for the head of a request, from the opening of the connection or from the last answer
MOST_WAITING = 100  # connections without a request; the next one takes the place of the oldest


def patient_protocol(is_caller: Callable[[str], bool]) -> type[H11Protocol]:
    """A protocol of one server whose connections wait for a request no longer than ``HEAD_SECONDS``.

    is_known : whether an address was let in before; its connections are closed last when too many wait
    """
    waiting: dict[PatientProtocol, asyncio.TimerHandle] = {}  # oldest first

    def ends_first(protocol: PatientProtocol) -> bool:
        return protocol.client is None or not is_caller(protocol.client[0])

    class PatientProtocol(H11Protocol):
        """Waits for the head of a request, and counts among those that wait until it is complete."""

        def connection_made(self, transport: Any) -> None:
            super().connection_made(transport)
            self._wait()

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            if self._is_answering():
                self._wait_no_more()

        def on_response_complete(self) -> None:
            super().on_response_complete()
            if not (self._is_answering() or self.transport.is_closing()):
                self._wait()

        def connection_lost(self, exc: Exception | None) -> None:
            self._wait_no_more()
            super().connection_lost(exc)

        def _is_answering(self) -> bool:
            return getattr(self.cycle, "response_complete", True) is False

        def _wait(self) -> None:
            self._wait_no_more()
            waiting[self] = self.loop.call_later(HEAD_SECONDS, self.transport.abort)
            if len(waiting) > MOST_WAITING:
                next(filter(ends_first, waiting), next(iter(waiting))).transport.abort()

        def _wait_no_more(self) -> None:
            timer = waiting.pop(self, None)
            if timer is not None:
                timer.cancel()

    return PatientProtocol
