"""What a running bridge answers to the commands that talk to it.

    status              how it stands
    control             a control in words: do, and perhaps a name
    stop                end
    watch               every event as it happens, until the asker goes
    through             what the host sends, and a way to send to it from the bridge's port

This file knows nothing about sockets.
"""

from __future__ import annotations

import asyncio
import contextlib
from typing import TYPE_CHECKING, Any

from bridge.errors import PeerError, UsageError
from bridge.live.telling import status_line, view_record
from bridge.show import control

if TYPE_CHECKING:
    from bridge.live.control_socket import Wire
    from bridge.live.daemon import Daemon
    from bridge.live.inputs import Arrival

__all__ = ["Answers", "status_record"]


class Answers:
    """Answers questions about one daemon, and does what is asked."""

    def __init__(self, daemon: Daemon) -> None:
        self._daemon = daemon
        self._asks = {
            "status": self._status,
            "control": self._control,
            "stop": self._stop,
            "through": self._through,
        }

    async def answer(self, question: dict[str, Any], wire: Wire) -> None:
        """Answer one question; UsageError for one that there is not."""
        asked = self._asks.get(str(question.get("ask")))
        if asked is None:
            raise UsageError(f"a bridge cannot be asked {str(question.get('ask'))[:40]!r}")
        await asked(question, wire)

    async def _status(self, _: dict[str, Any], wire: Wire) -> None:
        wire.write(status_record(self._daemon))

    async def _control(self, question: dict[str, Any], wire: Wire) -> None:
        words = question.get("words")
        if not isinstance(words, list) or not words:
            raise UsageError("a control has a name")
        told = self._daemon.control(control(*map(str, words)))
        wire.write({"done": True, "text": "; ".join(tell.text for tell in told)})

    async def _stop(self, _: dict[str, Any], wire: Wire) -> None:
        wire.write({"stopping": True, "process": self._daemon.running.pid if self._daemon.running else None})
        self._daemon.stop()

    async def _through(self, _: dict[str, Any], wire: Wire) -> None:
        """Lend the host's port: packets as they come in, and out what the client sends."""
        inputs = self._daemon.inputs
        if inputs is None or inputs.port is None:
            raise PeerError("this bridge listens to no host over OSC")
        port, ended = inputs.port, asyncio.get_running_loop().create_future()

        def tap(arrival: Arrival) -> None:
            if arrival.recorded.midi is not None:
                return
            sent = wire.write({"packet": arrival.packet.hex(), "from": arrival.sender})
            if not sent and not ended.done():
                ended.set_result(None)

        wire.write({"place": list(port.place), "buffer": port.buffer})
        self._daemon.taps.add(tap)
        reading = asyncio.create_task(self._send_on(wire))
        try:
            await asyncio.wait({reading, ended}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            self._daemon.taps.discard(tap)
            reading.cancel()
            with contextlib.suppress(asyncio.CancelledError, PeerError):
                await reading

    async def _send_on(self, wire: Wire) -> None:
        assert self._daemon.inputs is not None  # noqa: S101  looked at by the caller
        port = self._daemon.inputs.port
        async for record in wire.lines():
            with contextlib.suppress(KeyError, TypeError, ValueError, PeerError):
                host, number = record["to"]
                if port is not None:
                    port.send_packet(bytes.fromhex(record["send"]), (str(host), int(number)))


def status_record(daemon: Daemon) -> dict[str, Any]:
    """Return how a bridge stands, for ``status --json``; what does not apply is null."""
    running, view, outputs = daemon.running, daemon.view(), daemon.outputs
    receivers = daemon.sender.receivers if daemon.sender else ()
    return {
        "what": daemon.settings.what,
        "process": running.pid if running else None,
        "since": running.since if running else None,
        "ports": list(running.ports) if running else [],
        "log": running.log if running else None,
        "show": view_record(view),
        "line": status_line(view),
        "cues": {
            "sent": outputs.sent,
            "failed": outputs.failed,
            "worst_ms": outputs.worst * 1000,
            "to": [
                {"address": str(one), "sent": one.sent, "failed": one.failed, "error": one.error}
                for one in receivers
            ],
        },
        "controls": {
            "taken": daemon.controls.orders.taken,
            "refused": daemon.controls.orders.wrong,
            "without_token": daemon.controls.orders.strangers,
            "stranger": daemon.controls.orders.stranger,
            "double_presses": daemon.settings.feet.guarded,
            "too_many": daemon.controls.too_many,
        },
        "stage": None if daemon.stage_record is None else daemon.stage_record(),
        "host": {"unusable": daemon.unusable},
        "lost": {"journal": daemon.lost[0], "log": daemon.lost[1]},
    }
