"""The plan's own cues, where they fall in a pass as it is played.

Those told from the section's end move with it, and so do those of the next section that
stand before its start: they are told of in this one.  After a passage without bars they
stand in the count-in.  What a cue sends goes out with it: program changes and controllers
as MIDI 1.0 has them, messages as OSC.  Recordings are not for the wire.  This file knows
nothing about ports.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.cues.distance import barlines_between
from bridge.cues.due import DueCue
from bridge.cues.next_section import counted_in_bars
from bridge.cues.sheet import Sheet
from bridge.exact import Bars, Length, Place
from bridge.hostmap import Message
from bridge.plan.cue import Anchor, OscArg, PlanCue, Send, SendController, SendOsc, SendProgram
from bridge.song import AskedCue, asked_in

__all__ = ["midi_of", "osc_of", "own_cues", "own_cues_at_its_end"]

_NOTHING = Length(0)
_CONTROL_CHANGE, _PROGRAM_CHANGE = 0xB0, 0xC0


def own_cues(here: Sheet) -> Iterator[DueCue]:
    """Walk through the plan's own cues that fall into the pass."""
    start = here.placed.start
    for number, asked in enumerate(asked_in(here.song, here.index)):
        at = asked.cue.at
        if at.anchor is Anchor.END:
            continue
        if asked.place >= start:
            into = asked.place - start
            if here.leaves is None or into <= here.leaves:
                yield from _due(here, asked, number, into=into, target=_later(into, asked.anchor - start))
        elif counted_in_bars(here):
            yield from _due(here, asked, number, into=_counted_in(here, asked), target=_NOTHING)
    yield from own_cues_at_its_end(here)


def own_cues_at_its_end(here: Sheet) -> Iterator[DueCue]:
    """Walk through those that are told from where it is left; none while that is open."""
    if here.leaves is None:
        return
    for number, asked in enumerate(asked_in(here.song, here.index)):
        if asked.cue.at.anchor is Anchor.END:
            into = _back(here, here.leaves, asked, here.placed.end)
            yield from _due(here, asked, number, into=into, target=here.leaves)
    if here.follows is None or here.is_free:
        return
    start = here.song.sections[here.follows].start
    for number, asked in enumerate(asked_in(here.song, here.follows)):
        if asked.place < start:
            into = _back(here, here.leaves, asked, start)
            yield from _due(here, asked, number, into=into, target=here.leaves)


def midi_of(cue: PlanCue) -> tuple[bytes, ...]:
    """Return the MIDI messages that ``cue`` sends, in order."""
    return tuple(_bytes(one) for one in cue.send if not isinstance(one, SendOsc))


def osc_of(cue: PlanCue) -> tuple[Message, ...]:
    """Return the OSC messages that ``cue`` sends, in order."""
    return tuple(
        Message(one.address, one.types, tuple(map(_argument, one.args)))
        for one in cue.send
        if isinstance(one, SendOsc)
    )


def _argument(arg: OscArg) -> int | float | str:
    return arg if isinstance(arg, int | str) else float(arg)


def _bytes(one: Send) -> bytes:
    if isinstance(one, SendProgram):
        return bytes([_PROGRAM_CHANGE + one.channel - 1, one.program - 1])
    if isinstance(one, SendController):
        return bytes([_CONTROL_CHANGE + one.channel - 1, one.controller, one.value])
    raise TypeError(f"{one} is no MIDI message")


def _due(here: Sheet, asked: AskedCue, number: int, *, into: Length, target: Length) -> Iterator[DueCue]:
    cue = asked.cue
    if cue.say is None and not cue.send:
        return
    yield DueCue(
        key=f"own {asked.section}.{number}:{target}:{into}",
        into=into,
        target=target,
        text=cue.say or "",
        bars_until=barlines_between(here.axis, into, target),
        player=cue.player or "",
        osc=osc_of(cue),
        midi=midi_of(cue),
    )


def _back(here: Sheet, leaves: Length, asked: AskedCue, planned: Place) -> Length:
    """Return where ``asked`` stands before ``leaves`` as before ``planned``, in bars of this section.

    Where the section is left too early for that, it stands at its start.
    """
    if not isinstance(asked.cue.at.away, Bars):
        return _later(_NOTHING, leaves - (planned - asked.place))
    bars = here.song.bars
    bar = bars.bar_at(asked.place)
    before = bars.bar_at(planned).number - bar.number
    return _later(
        _NOTHING, here.axis.bar(here.axis.bar_at(leaves).number - before).start + (asked.place - bar.start)
    )


def _counted_in(here: Sheet, asked: AskedCue) -> Length:
    """Return where ``asked`` stands in the count-in, at its start at the earliest."""
    return _later(here.axis.bar(1 - counted_in_bars(here)).start, asked.into)


def _later(one: Length, other: Length) -> Length:
    """Return the longer of two lengths."""
    return max(one, other, key=lambda length: length.whole_notes)
