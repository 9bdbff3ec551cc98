"""Standard MIDI File 1.0, format 1: the conductor's track first, then one track a layer.

Source: RP-001 (1996).  Tick 0 is the file's first instant; names are UTF-8, which the
standard neither names nor forbids.  Notes: home loudest, the other notes of a pattern
softer; each layer has a pitch and a channel of its own (channel 10 is left to drums).
What the plan's cues send as MIDI is a last track, on the channels that the plan names.
This file knows nothing about how places become ticks or tempi microseconds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from heapq import merge
from itertools import pairwise
from typing import Any, BinaryIO

from mido import Message, MetaMessage, MidiFile, MidiTrack

from bridge.cues import midi_of
from bridge.exact import Meter, Place, exact_ticks, show_number, ticks
from bridge.out.division import Division
from bridge.out.midi_meter import Signature
from bridge.out.midi_tempo import TempoTrack
from bridge.out.request import Request, Written, refuse_too_many_notes
from bridge.out.voicing import note_number
from bridge.plan import Section
from bridge.song import (
    Bar,
    Frame,
    NoteRow,
    Part,
    asked_cues,
    counted_in,
    cue_in_words,
    landings,
    left_open,
)

__all__ = ["write"]

_HOME, _OTHER = 112, 76
"""Velocities."""
_LONGEST_DELTA = 0x0FFFFFFF
_CHANNELS = tuple(channel for channel in range(16) if channel != 9)

Event = tuple[int, Any]
"""A tick and the message at it."""


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write the song; UsageError where the format cannot hold it."""
    refuse_too_many_notes(frame.song)
    division = Division.of(frame)
    tempo = TempoTrack.of(frame, division.per_quarter)
    end = _tick(frame, frame.song.end, division)
    midi = MidiFile(type=1, ticks_per_beat=division.per_quarter, charset="utf-8")
    midi.tracks.append(_track(frame.song.plan.title, _conductor(frame, division, tempo), end))
    left_out: dict[str, int] = {}
    for number, (name, parts) in enumerate(frame.song.sounding().items()):
        hits = _hits(frame, division, parts)
        left_out[name] = sum(row.count for part in parts for row in part.rows()) - len(hits)
        midi.tracks.append(_track(name, _notes(hits, number, division, end), end))
        request.progress((number + 1) / len(frame.song.plan.layers))
    if counted := list(_count_in(frame, division, end)):
        midi.tracks.append(_track("count-in", counted, end))
    if sent := list(_sent(frame, division)):
        midi.tracks.append(_track("cues", sent, end))
    midi.save(file=file)
    return Written(
        facts={
            "ticks_per_quarter": division.per_quarter,
            "tracks": len(midi.tracks),
            "tempo_events": len(tempo.events),
            "tempo_error_ms": float(tempo.worst_us / 1000),
            "rounded_layers": list(division.rounded),
        },
        notes=tuple(_remarks(frame, division, tempo, left_out)),
    )


def _tick(frame: Frame, place: Place, division: Division) -> int:
    return ticks(place - frame.zero, division.per_quarter)


def _track(name: str, events: Iterable[Event], end: int) -> MidiTrack:
    """Turn ticks into distances; one longer than the format allows is bridged by empty texts.

    A note rounded up to the song's last tick may end one tick after it: so does the track.
    """
    track, at = MidiTrack([MetaMessage("track_name", name=name)]), 0
    for tick, message in [*events, (end, MetaMessage("end_of_track"))]:
        while tick - at > _LONGEST_DELTA:
            track.append(MetaMessage("text", text="", time=_LONGEST_DELTA))
            at += _LONGEST_DELTA
        track.append(message.copy(time=max(0, tick - at)))
        at = tick
    return track


def _conductor(frame: Frame, division: Division, tempo: TempoTrack) -> list[Event]:
    """Return tempo, meters, markers and cue points in order; at one tick, in this order."""
    events: list[Event] = [(tick, MetaMessage("set_tempo", tempo=us)) for tick, us in tempo.events]
    before: Meter | None = None
    for bar in _bars_to_check(frame):
        if bar.meter != before:
            tick = _tick(frame, bar.start, division)
            events += [(tick, message) for message in _meter(bar.meter)]
        before = bar.meter
    for marker in frame.song.markers:
        tick = _tick(frame, marker.place, division)
        events.append((tick, MetaMessage("marker", text=marker.name)))
        if marker.section is not None:
            events += [(tick, message) for message in _said(frame.song.sections[marker.section].section)]
    for landing in landings(frame.song):
        tick = _tick(frame, landing.place, division)
        name = frame.song.sections[landing.section].name
        events.append((tick, MetaMessage("cue_marker", text=f"landing of {name}")))
    for asked in asked_cues(frame.song):
        if words := cue_in_words(asked.cue):
            events.append((_tick(frame, asked.place, division), MetaMessage("cue_marker", text=words)))
    return sorted(events, key=lambda event: event[0])


def _said(section: Section) -> Iterator[MetaMessage]:
    """Say the section's rehearsal letter, whether it is a vamp or free, and its note, in text events."""
    if section.letter is not None:
        yield MetaMessage("text", text=f"letter {section.letter}")
    if words := left_open(section):
        yield MetaMessage("text", text=words)
    if section.note is not None:
        yield MetaMessage("text", text=section.note)


def _sent(frame: Frame, division: Division) -> Iterator[Event]:
    """Walk through the programs and controllers that the plan's cues send, on the channels they name."""
    for asked in asked_cues(frame.song):
        tick = _tick(frame, asked.place, division)
        yield from ((tick, Message.from_bytes(data)) for data in midi_of(asked.cue))


def _bars_to_check(frame: Frame) -> Iterator[Bar]:
    """Walk through every bar before which the meter may change."""
    yield from frame.lead_in()
    for placed in frame.song.sections:
        meters, place = placed.section.meters, placed.start
        for number in range(placed.bars if len(meters.row) > 1 else 1):
            meter = meters.bar(number + 1)
            yield Bar(number=placed.first_bar + number, start=place, meter=meter)
            place += meter.length


def _meter(meter: Meter) -> Iterator[MetaMessage]:
    signature = Signature.of(meter)
    yield MetaMessage(
        "time_signature",
        numerator=signature.top,
        denominator=signature.unit,
        clocks_per_click=signature.clocks,
        notated_32nd_notes_per_beat=8,
    )
    if len(meter.groups) > 1 or not signature.exact:
        yield MetaMessage("text", text=f"meter {meter}")


def _hits(frame: Frame, division: Division, parts: tuple[Part, ...]) -> list[tuple[int, bool]]:
    """Return the tick of each note and whether it is home; of notes on one tick, the home one."""
    ticks = merge(*(_row_ticks(frame, division, row) for part in parts for row in part.rows()))
    found: dict[int, bool] = {}
    for tick, home in ticks:
        found[tick] = found.get(tick, False) or home
    return list(found.items())


def _row_ticks(frame: Frame, division: Division, row: NoteRow) -> Iterator[tuple[int, bool]]:
    first = exact_ticks(row.first - frame.zero, division.per_quarter)
    step = exact_ticks(row.step, division.per_quarter)
    if first.denominator == step.denominator == 1:
        whole, each = first.numerator, step.numerator
        return ((whole + number * each, row.home) for number in range(row.count))
    return ((round(first + number * step), row.home) for number in range(row.count))


def _notes(hits: list[tuple[int, bool]], number: int, division: Division, end: int) -> Iterator[Event]:
    """Make notes of a sixteenth, or half the way to the next note where that is shorter."""
    channel, note = _CHANNELS[number % len(_CHANNELS)], note_number(number)
    for (tick, home), (after, _) in pairwise([*hits, (end, True)]):
        length = max(1, min(division.per_quarter // 4, (after - tick) // 2))
        yield tick, Message("note_on", channel=channel, note=note, velocity=_HOME if home else _OTHER)
        yield tick + length, Message("note_off", channel=channel, note=note)


def _count_in(frame: Frame, division: Division, end: int) -> Iterator[Event]:
    """Count in on the drum channel (General MIDI's high and low wood block, from memory).

    Before bar 1 where that was asked for, and before the sections that the plan counts in.
    """
    song = frame.song
    beats = {place: first for placed in song.sections for place, first in counted_in(song, placed)}
    before = [beat for bar in frame.count_in() for beat in bar.beats()]
    within = sorted(beats.items(), key=lambda beat: beat[0].whole_notes)
    hits = [(_tick(frame, place, division), first) for place, first in (*before, *within)]
    for (tick, first), (after, _) in pairwise([*hits, (end, True)]):
        note = 76 if first else 77
        yield tick, Message("note_on", channel=9, note=note, velocity=_HOME)
        # In a free passage the ticks of the next beat may be near.
        length = max(1, min(division.per_quarter // 16, (after - tick) // 2))
        yield tick + length, Message("note_off", channel=9, note=note)


def _remarks(frame: Frame, division: Division, tempo: TempoTrack, left_out: dict[str, int]) -> Iterator[str]:
    per_quarter = division.per_quarter
    if division.rounded:
        yield (
            f"at {per_quarter} ticks a quarter the notes of {', '.join(division.rounded)} are rounded to "
            "the nearest tick (half a tick at most, never adding up); all else is exact"
        )
    for name, count in left_out.items():
        if count:
            yield f"{count} notes of {name} share a tick with another of its notes and were left out"
    yield from _free_remarks(frame, per_quarter)
    if tempo.worst_us:
        ramps = f", ramps in {tempo.steps} steps" if tempo.steps else ""
        yield (
            f"tempi in whole microseconds a quarter{ramps}: never more than "
            f"{show_number(_up(tempo))} ms from the exact time"
        )
    if frame.lead_seconds and not frame.lead:
        yield f"the host's {float(frame.lead_seconds):g} s before bar 1 have no bars and are not in the file"
    meters = {meter for placed in frame.song.sections for meter in placed.section.meters.row}
    for meter in sorted(meters, key=str):
        signature = Signature.of(meter)
        if not signature.exact:
            yield f"meter {meter} is written as {signature.top}/{signature.unit}: the format holds no more"


def _free_remarks(frame: Frame, per_quarter: int) -> Iterator[str]:
    free = [placed.section for placed in frame.song.sections if placed.section.free is not None]
    if free:
        names = ", ".join(section.name for section in free)
        half_a_tick_ms = Fraction(60_000, 2 * per_quarter) / min(section.tempo.start for section in free)
        yield (
            f"{names}: free, as bars at a tempo that makes them last as long; "
            f"what is counted in there is at most {-(-half_a_tick_ms // 1)} ms off"
        )


def _up(tempo: TempoTrack) -> Fraction:
    """Round the largest error up to a thousandth of a millisecond, so that the sentence stays true."""
    return Fraction(-(-tempo.worst_us // 1), 1000)
