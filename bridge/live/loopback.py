"""What we send comes back, and how long it took: through a MIDI loop, or by asking the host over OSC.

MIDI: controller 119 on channel 16, one of those that MIDI 1.0 leaves undefined, its value
a count: it makes no sound, and each is known again.  OSC: the question what markers there
are, which changes nothing in the host; its first answer counts, so the time in which the
host thinks is part of it.  Pauses vary, so that no driver's period beats with them.

This file does not know what follows from the times.
"""

from __future__ import annotations

import queue
import select
import time
from collections.abc import Callable
from dataclasses import dataclass

from bridge.errors import PlanError
from bridge.hostmap import HostMap, MarkerEnd, MarkerHeard, hear
from bridge.hostmap.template import Fact, Field
from bridge.live.inputs import MidiChoice, midi_input
from bridge.midi import MidiOut
from bridge.osc import Port, decode, resolve

__all__ = ["Looped", "loop_midi", "loop_osc"]

_PROBE = b"\xbf\x77"
_PATIENCE = 1.0
"""Seconds after which what has not come back is lost."""
_GIVE_UP = 5
"""Lost from the start on: nothing is connected."""
_PAUSE, _MORE = 0.03, 0.03
_GOLDEN = 0.6180339887
_QUIET = 0.05
_LONGEST_LIST = 5.0
"""Seconds without a quiet moment after which the next question is asked all the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looped:
    """How often something was sent, and the seconds until it came back, of those that did."""

    sent: int
    seconds: tuple[float, ...]


def loop_midi(out: str, back: MidiChoice, *, times: int) -> Looped:
    """Send to the MIDI port ``out`` and listen at ``back``; DeviceError for a port that is not there."""
    heard: queue.SimpleQueue[tuple[float, bytes]] = queue.SimpleQueue()

    def probe(number: int) -> float | None:
        message = _PROBE + bytes((number % 128,))
        sent_at = time.monotonic()
        port.send(message)
        while (left := sent_at + _PATIENCE - time.monotonic()) > 0:
            try:
                at, came = heard.get(timeout=left)
            except queue.Empty:
                return None
            if came == message and at >= sent_at:
                return at - sent_at
        return None

    with midi_input(back, take=lambda at, message: heard.put((at, message))), MidiOut(out) as port:
        return _all(probe, times, time.sleep)


def loop_osc(host: HostMap, *, times: int) -> Looped:
    """Ask ``host`` for its markers; PlanError where its map lacks the words, DeviceError for a held port."""
    for key in ("send_to", "receive_on", "says.list"):
        host.need(key, command="receive --measure-delay loop")
    if host.send_to is None or host.receive_on is None or "marker" not in host.hears:
        raise PlanError(
            f"the host map {host.name!r} does not say how markers are told ('hears.marker'):"
            " no answer would be known",
            hint="Measure with a tap instead: --measure-delay tap.",
            where=host.where,
        )
    _, to = resolve(host.send_to)
    question = [said.fill(_no_field)[0] for said in host.says["list"]]
    with Port(host.receive_on, believe=to[0]) as port:

        def probe(_: int) -> float | None:
            sent_at = time.monotonic()
            for message in question:
                port.send(message, to)
            at = _first_answer(host, port, sent_at + _PATIENCE)
            return None if at is None else at - sent_at

        return _all(probe, times, lambda seconds: _let_finish(host, port, seconds))


def _all(probe: Callable[[int], float | None], times: int, pause: Callable[[float], None]) -> Looped:
    """Probe so many times, with a pause before each; give up where nothing at all comes back."""
    seconds: list[float] = []
    for number in range(times):
        pause(_PAUSE + _MORE * (number * _GOLDEN % 1.0))
        took = probe(number)
        if took is not None:
            seconds.append(took)
        elif not seconds and number + 1 >= _GIVE_UP:
            return Looped(sent=number + 1, seconds=())
    return Looped(sent=times, seconds=tuple(seconds))


def _first_answer(host: HostMap, port: Port, until: float) -> float | None:
    """Return when the first answer came, on the steady clock; None where none came in time."""
    while (left := until - time.monotonic()) > 0:
        select.select([port], [], [], left)
        for packet in port.drain(512):
            if _answers(host, packet.data):
                return packet.at
    return None


def _let_finish(host: HostMap, port: Port, pause: float) -> None:
    """Wait for ``pause`` seconds and until no answer has come for a moment: the list may be long."""
    now = time.monotonic()
    ends, quiet_from = now + pause, now + max(pause, _QUIET)
    latest = now + _LONGEST_LIST
    while (now := time.monotonic()) < min(max(ends, quiet_from), latest):
        select.select([port], [], [], max(ends, quiet_from) - now)
        if any(_answers(host, packet.data) for packet in port.drain(512)):
            quiet_from = time.monotonic() + _QUIET


def _answers(host: HostMap, packet: bytes) -> bool:
    messages, _ = decode(packet)
    meanings = (meaning for message in messages for meaning in hear(host, message))
    return any(isinstance(meaning, MarkerHeard | MarkerEnd) for meaning in meanings)


def _no_field(field: Field) -> Fact:
    raise KeyError(field.name)
