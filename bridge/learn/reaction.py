"""Whether the host did what it was sent, by what it said afterwards.

Silence is never a yes.  This file does not know what was sent, only which deed it was for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from bridge.hostmap import (
    Event,
    Heard,
    HostMap,
    MarkerEnd,
    MarkerGone,
    MarkerHeard,
    Message,
    MeterHeard,
    PlayingHeard,
    PositionHeard,
    TempoHeard,
    Unit,
    hear,
    read_number,
)
from bridge.learn.mark import Happening, Mark, What
from bridge.learn.saying import Deed
from bridge.learn.spell import Round
from bridge.learn.units import value_at

__all__ = ["reacted"]

_SAME_TEMPO = Fraction(1, 100)
_SAME_PLACE = Fraction(1, 1000)
_UNITS = [Unit.parse(text) for text in ("quarters", "whole_notes", "seconds", "bars")]
"""In which a loop may be told; samples and ticks have too many rates to be sure."""


def reacted(
    deed: Deed, hears: Mapping[str, Heard], happenings: Sequence[Happening], round_: Round
) -> str | None:
    """Return what shows that the host did what it was last sent, in words; None where nothing does."""
    start = max((one.at for one in happenings if _is_sent(one, deed.key)), default=float("inf"))
    listed = max((one.at for one in happenings if _is_sent(one, "list")), default=float("inf"))
    host = HostMap(name="learnt", hears=hears)
    events = [
        (one.at >= max(start, listed), event)
        for one in happenings
        if isinstance(one.said, Message) and one.at >= start
        for event in hear(host, one.said)
    ]
    seen = _Seen(deed, hears, round_, tuple(events), _fresh(happenings, start))
    return _JUDGES[deed.key](seen)


@dataclass(frozen=True, slots=True)
class _Seen:
    """What the host said since, and whether after a list was asked for."""

    deed: Deed
    hears: Mapping[str, Heard]
    round: Round
    events: tuple[tuple[bool, Event], ...]
    fresh: tuple[Message, ...]
    """What it said since and never before, of whatever meaning."""

    @property
    def positions(self) -> list[float]:
        return [float(event.at.value) for _, event in self.events if isinstance(event, PositionHeard)]

    @property
    def rolls(self) -> list[bool]:
        return [event.playing for _, event in self.events if isinstance(event, PlayingHeard)]

    def markers(self, *, listed: bool = False) -> list[MarkerHeard]:
        """Return the markers told; of the list alone where ``listed``."""
        return [
            event
            for in_list, event in self.events
            if isinstance(event, MarkerHeard) and (in_list or not listed)
        ]

    def unit(self, key: str) -> Unit | None:
        return self.hears[key].unit if key in self.hears and self.round.known else None


def _fresh(happenings: Sequence[Happening], start: float) -> tuple[Message, ...]:
    messages = [(one.at, one.said) for one in happenings if isinstance(one.said, Message)]
    before = {said for at, said in messages if at < start}
    return tuple(dict.fromkeys(said for at, said in messages if at >= start and said not in before))


def _is_sent(one: Happening, key: str) -> bool:
    return isinstance(one.said, Mark) and one.said.what is What.SENT and one.said.step == key


def _moves(seen: _Seen) -> str | None:
    if seen.rolls:
        return "it said that it plays" if seen.rolls[-1] else None
    late = seen.positions[-4:]
    rising = len(late) == 4 and all(before < after for before, after in pairwise(late))
    return "its position began to move" if rising else None


def _rests(seen: _Seen) -> str | None:
    if seen.rolls:
        return None if seen.rolls[-1] else "it said that it stands"
    late = seen.positions[-2:]
    return "its position rests" if len(late) == 2 and late[0] == late[1] else None


def _arrived(seen: _Seen) -> str | None:
    unit, positions = seen.unit("position"), seen.positions
    if not positions or unit is None or not _is_near(positions[-1], unit, seen):
        return None
    return f"its position was {positions[-1]:.10g} then"


def _placed(seen: _Seen) -> str | None:
    unit = seen.unit("marker")
    for marker in reversed(seen.markers()):
        if unit and marker.name == seen.deed.name and _is_near(float(marker.at.value), unit, seen):
            return f"the marker came back at {float(marker.at.value):.10g}"
    return None


def _removed(seen: _Seen) -> str | None:
    if any(isinstance(event, MarkerGone) for _, event in seen.events):
        return "it said that the marker is gone"
    left = seen.markers(listed=True)
    ended = any(listed and isinstance(event, MarkerEnd) for listed, event in seen.events)
    if (left or ended) and seen.deed.name not in [marker.name for marker in left]:
        return "the next list was without it"
    return None


def _listed(seen: _Seen) -> str | None:
    count = len(seen.markers())
    return f"markers came: {count}" if count else None


def _renamed(seen: _Seen) -> str | None:
    names = [marker.name for marker in seen.markers(listed=True)] or [m.name for m in seen.markers()]
    if seen.deed.name in names and seen.deed.old_name not in names:
        return f"the marker came back as {seen.deed.name}"
    return None


def _has_tempo(seen: _Seen) -> str | None:
    bpm = seen.deed.bpm
    if bpm is None:
        return None
    told = [event.bpm for _, event in seen.events if isinstance(event, TempoHeard)]
    if told and abs(told[-1].value - bpm) <= _SAME_TEMPO:
        return f"its tempo was {float(told[-1].value):.6g} then"
    return _said(seen, lambda numbers: any(abs(number - bpm) <= _SAME_TEMPO for number in numbers))


def _has_meter(seen: _Seen) -> str | None:
    meter = seen.deed.meter
    if meter is None:
        return None
    told = [(e.top, e.bottom) for _, e in seen.events if isinstance(e, MeterHeard)]
    if told and told[-1] == (meter.top, meter.unit):
        return f"its meter was {meter} then"
    wanted = (Fraction(meter.top), Fraction(meter.unit))
    return _said(seen, lambda numbers: wanted in pairwise(numbers))


def _has_region(seen: _Seen) -> str | None:
    for message in seen.fresh:
        if seen.deed.name in message.args:
            return f"it said {message} then"
    return None


def _loops(seen: _Seen) -> str | None:
    bar, until = seen.deed.bar, seen.deed.until
    if bar is None or until is None or not seen.round.known:
        return None
    spans = [(value_at(unit, bar, seen.round), value_at(unit, until, seen.round)) for unit in _UNITS]

    def is_span(numbers: list[Fraction]) -> bool:
        return any(
            abs(low - start) <= _SAME_PLACE and abs(high - end) <= _SAME_PLACE
            for low, high in pairwise(numbers)
            for start, end in spans
        )

    return _said(seen, is_span)


def _loops_no_more(seen: _Seen) -> str | None:
    return _said(seen, lambda numbers: numbers == [0])


def _said(seen: _Seen, fits: Callable[[list[Fraction]], bool]) -> str | None:
    """Return the new message whose numbers fit, in words; None where there is none."""
    for message in seen.fresh:
        if len(message.types) != len(message.args):
            continue
        pairs = zip(message.args, message.types, strict=True)
        numbers = [told.value for arg, tag in pairs if tag in "ihfdTF" and (told := read_number(arg, tag))]
        if fits(numbers):
            return f"it said {message} then"
    return None


_JUDGES: dict[str, Callable[[_Seen], str | None]] = {
    "play": _moves,
    "stop": _rests,
    "locate": _arrived,
    "place": _placed,
    "remove": _removed,
    "rename": _renamed,
    "tempo": _has_tempo,
    "meter": _has_meter,
    "region": _has_region,
    "loop": _loops,
    "loop_off": _loops_no_more,
    "list": _listed,
}


def _is_near(value: float, unit: Unit, seen: _Seen) -> bool:
    """Whether a place told is that of the deed's bar, to five milliseconds."""
    bar = seen.deed.bar or 1
    due = value_at(unit, bar, seen.round)
    a_bar = value_at(unit, bar + 1, seen.round) - due
    seconds = seen.round.bar_quarters * 60 / (seen.round.bpm or 120)
    return abs(Fraction(value) - due) <= a_bar / seconds * Fraction(5, 1000) + Fraction(1, 10**6)
