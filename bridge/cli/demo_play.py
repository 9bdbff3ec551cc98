"""The demo's excerpt: locate the host, let it play, and count the bars as it reports them.

What is printed comes from the host's own position, not from a timer.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from bridge.cli.output import safe
from bridge.cli.route import Route
from bridge.cli.sending import Hands, run
from bridge.clock import SteadyClock
from bridge.errors import PeerError
from bridge.exact import Bars, Length, Place, show_mixed
from bridge.hostmap import Event, HostMap, PositionHeard, Ruler, hear
from bridge.lay import Speaking, steps_of
from bridge.osc import Port, resolve
from bridge.song import BarBeat, Song

__all__ = ["Excerpt", "play", "play_on"]

_RESEND = 0.5
"""Seconds after which an order is given again when the host does not report its effect."""
_TRIES = 6
_LATELY = 64
_NEAR = Length(Fraction(1, 64))
_SILENCE = 3.0
"""Seconds without a report after which a playing host counts as gone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Excerpt:
    """The bars to play, from the first to the last, and the one on which all land."""

    first: int
    last: int
    landing: int


def play(song: Song, host: HostMap, excerpt: Excerpt, tell: Callable[[str], None]) -> list[dict[str, Any]]:
    """Locate, play and stop; return what was told of each bar.  PeerError when the host falls silent."""
    with _at_the_desk(song, host, tell) as desk:
        start = song.bars.place(BarBeat(bar=excerpt.first))
        desk.locate(start)
        desk.say("play", start)
        told = []
        for bar in desk.bars():
            if bar > excerpt.last:
                break
            told.append(_bar(song, bar, excerpt.landing))
            tell(told[-1]["text"])
        desk.say("stop", start)
    return told


def play_on(song: Song, host: HostMap, first: int, tell: Callable[[str], None]) -> None:
    """Locate bar ``first`` and let the host play from there.  PeerError when it falls silent."""
    with _at_the_desk(song, host, tell) as desk:
        start = song.bars.place(BarBeat(bar=first))
        desk.locate(start)
        desk.say("play", start)


@contextmanager
def _at_the_desk(song: Song, host: HostMap, tell: Callable[[str], None]) -> Iterator[_Desk]:
    if host.send_to is None or host.receive_on is None:
        raise PeerError("the host map names no ports", hint="It needs send_to and receive_on.")
    _, to = resolve(host.send_to)
    with Port(host.receive_on, believe=to[0]) as port:
        yield _Desk(song, host, Hands(port=port, route=Route(host, to, tell), tell=tell))


class _Desk:
    """Gives orders to the host and hears where it is."""

    def __init__(self, song: Song, host: HostMap, hands: Hands) -> None:
        self._song, self._host, self._hands = song, host, hands
        self._ruler = Ruler(song)
        self._clock = SteadyClock()
        self._heard: deque[Place] = deque(maxlen=_LATELY)
        """Where the host said that it was while orders were given."""

    def say(self, deed: str, place: Place) -> None:
        """Give an order as the map has it; PeerError where a reply that it awaits does not come."""
        speaking = Speaking(self._ruler, self._host, steps_of(self._ruler, self._host, deed, place))
        run(speaking, self._host, self._hands, self._clock, self._keep)
        if speaking.was_given_up:
            raise PeerError(
                f"the host did not send the reply that its map awaits to {deed!r}",
                hint="Does the host run, and is the reply in its map the one that it sends?",
            )

    def locate(self, place: Place) -> None:
        """Move the host to ``place`` and see from its report that it went there."""
        for _ in range(_TRIES):
            self._heard.clear()
            self.say("locate", place)
            until = self._clock.now() + _RESEND
            while (left := until - self._clock.now()) > 0:
                if any(abs(heard - place) < _NEAR for heard in (*self._heard, *self._places(left))):
                    return
        raise PeerError("the host did not move where it was asked to")

    def _keep(self, event: Event) -> None:
        if (place := self._place(event)) is not None:
            self._heard.append(place)

    def bars(self) -> Iterator[int]:
        """Yield each bar as the host comes to it."""
        last, heard_at = 0, self._clock.now()
        while self._clock.now() - heard_at < _SILENCE:
            for place in self._places(0.1):
                heard_at = self._clock.now()
                # a report at a barline may be a rounding before it
                bar = self._song.bars.bar_at(place + Length(Fraction(1, 10**6))).number
                if bar > last:
                    last = bar
                    yield bar
        raise PeerError("the host stopped telling where it is")

    def _places(self, seconds: float) -> Iterator[Place]:
        for arrived in self._hands.port.receive(seconds):
            for message in arrived.messages:
                for event in hear(self._host, message):
                    if (place := self._place(event)) is not None:
                        yield place

    def _place(self, event: Event) -> Place | None:
        unit = self._host.hears["position"].unit
        if unit is None:
            raise PeerError("the host map names no unit for 'position'")
        return self._ruler.place(event.at.value, unit) if isinstance(event, PositionHeard) else None


def _bar(song: Song, bar: int, landing: int) -> dict[str, Any]:
    place = song.bars.start_of(bar)
    section = song.section_at(place)
    name = section.name if section else ""
    left = landing - bar
    if left > 0:
        what = f"lands in {Bars(left)}, in turns: {_turns_left(song, place, landing)}"
    elif left == 0:
        what = f"all home: {', '.join(safe(layer) for layer in _who_lands(song, landing))}"
    else:
        what = ", ".join(safe(part.layer.name) for part in section.parts) if section else ""
    text = f"   bar {bar:>4}  {safe(name):<10}{what}"
    return {"bar": bar, "section": name, "bars_to_landing": left, "text": text}


def _who_lands(song: Song, landing: int) -> tuple[str, ...]:
    """Return who is home together where the section before the payoff ends."""
    before = song.section_at(song.bars.start_of(landing - 1)) if landing > 1 else None
    return before.section.resolve if before else ()


def _turns_left(song: Song, place: Place, landing: int) -> str:
    """Say for those who will land how many of their own turns are left."""
    end = song.bars.start_of(landing)
    before = (part.layer for placed in song.sections if placed.start < end for part in placed.parts)
    layers = {layer.name: layer for layer in before}
    turns = (
        f"{safe(name)} {show_mixed(((end - place) / layers[name].turn).value)}"
        for name in _who_lands(song, landing)
    )
    return ", ".join(turns)
