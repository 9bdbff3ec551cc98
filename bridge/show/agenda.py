"""What is due in one bar of a pass: beats, homes, cues, and the host's own jumps, in order.

This file knows nothing about when a bar is played.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from bridge.cues import Bar, DueCue
from bridge.exact import Length
from bridge.hostmap import Message
from bridge.show import messages
from bridge.show.passing import Pass

__all__ = ["Item", "bar_items", "said_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Something that is due at a place."""

    into: Length
    messages: tuple[Message, ...] = ()
    """What is said there of the show; worth nothing once it is over."""
    cue: DueCue | None = None
    deed: str = ""
    """What the host has to do there: ``wrap`` back to the beginning of its loop, or ``end loop``."""


def bar_items(
    passed: Pass, bar: Bar, *, since: Length, sent: Collection[str], deeds: Iterable[Item] = ()
) -> list[Item]:
    """Return what is due in ``bar`` from ``since`` on, in order, without the cues that were ``sent``.

    A passage without bars has cues only.
    """
    end = bar.end if passed.leaves is None else min(bar.end, passed.leaves)
    items = [] if passed.is_free else [*_beats(passed, bar), *_homes(passed, bar, end)]
    items += [
        Item(into=cue.into, messages=(said_of(cue),) if cue.text else (), cue=cue)
        for cue in _cues(passed, bar, end)
        if cue.key not in sent
    ]
    items += [item for item in deeds if bar.start <= item.into < end]
    return sorted((item for item in items if item.into >= since), key=_order)


def _cues(passed: Pass, bar: Bar, end: Length) -> Iterator[DueCue]:
    """Walk through the cues of ``bar``, those at the very end of the section included."""
    yield from (cue for cue in passed.cues_in_bar(bar.number) if cue.into < end)
    if end == passed.leaves:
        number = passed.axis.bar_at(end).number
        yield from (cue for cue in passed.cues_in_bar(number) if cue.into == end)


def _order(item: Item) -> tuple[Fraction, int]:
    """At one place the host goes first, then what stands there, then the cues."""
    return item.into.whole_notes, 0 if item.deed else 2 if item.cue else 1


def _beats(passed: Pass, bar: Bar) -> Iterator[Item]:
    for into, beat in bar.beats():
        said = [_now(passed, bar, into, Fraction(beat))]
        if beat == 1:
            said.append(_next(passed, into))
        said += _turns(passed, into)
        said += _meeting(passed, into)
        yield Item(into=into, messages=tuple(said))


def _homes(passed: Pass, bar: Bar, end: Length) -> Iterator[Item]:
    on_beats = {into for into, _ in bar.beats()}
    for turner in passed.standing.turners:
        for into in turner.homes(bar.start, end):
            if into not in on_beats:
                yield Item(into=into, messages=(_turn(passed, turner.name, into),))


def _now(passed: Pass, bar: Bar, into: Length, beat: Fraction) -> Message:
    return messages.now(passed.name, bar=bar.number, bars_left=_bars_left(passed, into), beat=beat)


def _next(passed: Pass, into: Length) -> Message:
    return messages.next_section(passed.next_name, bars_until=_bars_left(passed, into))


def _bars_left(passed: Pass, into: Length) -> int:
    return messages.OPEN if passed.leaves is None else passed.axis.bars_until(into, passed.leaves)


def _turns(passed: Pass, into: Length) -> Iterator[Message]:
    for turner in passed.standing.turners:
        if turner.sounds(into):
            yield _turn(passed, turner.name, into)


def _turn(passed: Pass, name: str, into: Length) -> Message:
    turner = next(turner for turner in passed.standing.turners if turner.name == name)
    stand = turner.stand(into)
    left = messages.OPEN if passed.leaves is None else turner.turns_left(into, passed.leaves)
    return messages.turn(name, number=stand.turn, left=left, phase=stand.phase)


def _meeting(passed: Pass, into: Length) -> Iterator[Message]:
    goes_on = passed.leaves is None or passed.leaves > passed.axis.length
    at = passed.standing.meeting_after(into, held=goes_on)
    if at is not None and (passed.leaves is None or at <= passed.leaves):
        until = passed.axis.beats_between(into, at)
        yield messages.meeting(passed.standing.gather, beats_until=until)


def said_of(cue: DueCue) -> Message:
    """Return the message that a cue is told by."""
    return messages.cue(cue.text, bars_until=cue.bars_until, player=cue.player)
