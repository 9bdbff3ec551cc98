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
    PlayingHeard,
    PositionHeard,
    Unit,
    hear,
)
from bridge.learn.mark import Happening, Mark, What
from bridge.learn.saying import Deed
from bridge.learn.spell import Round
from bridge.learn.units import value_at

__all__ = ["reacted"]


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
    seen = _Seen(deed, hears, round_, tuple(events))
    return _JUDGES[deed.key](seen)


@dataclass(frozen=True, slots=True)
class _Seen:
    """What the host said since, and whether after a list was asked for."""

    deed: Deed
    hears: Mapping[str, Heard]
    round: Round
    events: tuple[tuple[bool, Event], ...]

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


_JUDGES: dict[str, Callable[[_Seen], str | None]] = {
    "play": _moves,
    "stop": _rests,
    "locate": _arrived,
    "place": _placed,
    "remove": _removed,
    "list": _listed,
}


def _is_near(value: float, unit: Unit, seen: _Seen) -> bool:
    """Whether a place told is that of the deed's bar, to five milliseconds."""
    bar = seen.deed.bar or 1
    due = value_at(unit, bar, seen.round)
    a_bar = value_at(unit, bar + 1, seen.round) - due
    seconds = seen.round.bar_quarters * 60 / (seen.round.bpm or 120)
    return abs(Fraction(value) - due) <= a_bar / seconds * Fraction(5, 1000) + Fraction(1, 10**6)
