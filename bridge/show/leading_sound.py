"""What is heard while a show is led: the click, each layer's notes, a bell where all meet.

Past its planned end a held section goes on: the click in its meters, each layer in its
turns, one that has tightened in its last ones.  A player may have a click of their own
pulse on a channel of their own.  In a passage without bars nothing is heard.  This file
knows nothing about sounds or sound cards.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from heapq import merge
from itertools import chain
from operator import attrgetter

from bridge.cues import Standing
from bridge.errors import UsageError
from bridge.exact import Length, Place
from bridge.show.leading_leg import Leg
from bridge.show.leading_moment import Moment, Rank, Strike
from bridge.song import NoteRow, Part, Song, pulse_rows

__all__ = ["OwnClick", "Sounding", "sound_moments"]

_NOTHING = Length(0)
_ON_AND_ON = Length(1_000_000)
"""Longer than any section is held."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnClick:
    """A player's, or a layer's, own pulse on one channel, counted from 1."""

    who: str
    channel: int

    def layers(self, song: Song) -> tuple[str, ...]:
        """Return whose pulse it is in ``song``: layers, in order; none where it knows nobody so called."""
        layers = song.plan.layers
        if self.who in layers:
            return (self.who,)
        return tuple(name for name, layer in layers.items() if layer.player == self.who)

    def refuse_unknown(self, songs: Sequence[Song]) -> None:
        """Raise UsageError where none of ``songs`` knows such a player or layer."""
        if any(self.layers(song) for song in songs):
            return
        layers = {name: layer for song in songs for name, layer in song.plan.layers.items()}
        players = sorted({layer.player for layer in layers.values() if layer.player})
        raise UsageError(
            f"there is no player or layer {self.who[:80]!r} to click for",
            hint=f"Players: {', '.join(players) or 'none'}; layers: {', '.join(layers)}.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounding:
    """What is to be heard: the guide (click, layers, bell) on the first channels, and own clicks."""

    guide: bool = True
    clicks: tuple[OwnClick, ...] = ()


def sound_moments(leg: Leg, sounding: Sounding) -> Iterator[Moment]:
    """Walk through all that is struck in ``leg``, in order, as good as without an end."""
    if leg.is_free:
        return iter(())
    streams: list[Iterable[Moment]] = []
    if sounding.guide:
        streams = [_counted(leg, None), *_layers(leg), _bell(leg)]
    for click in sounding.clicks:
        rows = list(_own_rows(leg, click.layers(leg.song)))
        if rows:
            streams.append(_counted(leg, click.channel, only_count_in=True))
            streams += [_row(leg, row, ("downbeat", "click"), click.channel) for row in rows]
        else:
            streams.append(_counted(leg, click.channel))
    return merge(*streams, key=attrgetter("due"))


def _counted(leg: Leg, channel: int | None, *, only_count_in: bool = False) -> Iterator[Moment]:
    """Strike the counted beats; those before it enters sound as a count-in."""
    axis = leg.axis
    number = axis.bar_at(leg.sounds_from).number
    while True:
        bar = axis.bar(number)
        if only_count_in and bar.start >= leg.enters:
            return
        for into, beat in bar.beats():
            counts = into < leg.enters
            if into >= leg.sounds_from and (counts or not only_count_in):
                yield _strike(leg, into, "count" if counts else "click" if beat > 1 else "downbeat", channel)
        number += 1


def _layers(leg: Leg) -> Iterator[Iterator[Moment]]:
    numbers = {name: number for number, name in enumerate(leg.song.plan.layers)}
    for part in leg.axis.placed.parts:
        number = numbers[part.layer.name]
        for stretch in _going_on(leg, part):
            for row in stretch.rows():
                yield _row(leg, row, (f"home {number}", f"note {number}"), None)


def _own_rows(leg: Leg, names: tuple[str, ...]) -> Iterator[NoteRow]:
    """Walk through the pulse of the first of the layers that sounds."""
    placed, song = leg.axis.placed, leg.song
    for name in names:
        for part in placed.parts:
            if part.layer.name == name:
                entered = song.section_at(part.entry) or placed
                for stretch in _going_on(leg, part):
                    given = stretch.given or song.plan.layers[name]
                    yield from pulse_rows(stretch, given, entered.section.meters)
                return


def _going_on(leg: Leg, part: Part) -> Iterator[Part]:
    """Walk through its stretches; where it sounds up to the section's end, the last goes on past it."""
    *earlier, last = part.stretches
    goes_on = part.end == leg.axis.placed.end
    # the pickup of the pass before has sounded there; that of the next section belongs to its own pass
    return chain(earlier, [replace(last, end=last.end + _ON_AND_ON) if goes_on else last])


def _row(leg: Leg, row: NoteRow, kinds: tuple[str, str], channel: int | None) -> Iterator[Moment]:
    start: Place = leg.axis.placed.start
    for place in row.places():
        into = place - start
        if into >= leg.enters:
            yield _strike(leg, into, kinds[not row.home], channel)


def _bell(leg: Leg) -> Iterator[Moment]:
    """Ring at every meeting, and as the section begins with the landing of the one before."""
    standing = Standing(leg.song, leg.index)
    if leg.index and leg.enters == _NOTHING and leg.song.sections[leg.index - 1].resolved:
        yield _strike(leg, _NOTHING, "landing", None)
    into: Length | None = leg.enters
    while into is not None:
        into = standing.meeting_after(into, held=True)
        if into is not None:
            yield _strike(leg, into, "landing" if into == leg.axis.length else "meeting", None)


def _strike(leg: Leg, into: Length, kind: str, channel: int | None) -> Moment:
    at = leg.at(into)
    due = float(at)
    return Moment(at=at, due=due, rank=Rank.TICK, effect=Strike(due=due, kind=kind, channel=channel))
