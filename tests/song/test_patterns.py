"""A pattern in the unrolled song: its notes, its homes and its pulse, in the section and in a MIDI file."""

from __future__ import annotations

import io

import mido

from bridge.exact import Length, Place
from bridge.out import midi_file
from bridge.out.form.lanes import cycle_words
from bridge.out.request import Request
from bridge.plan import load
from bridge.song import Frame, Song, pulse_rows, unroll
from tests.plan.texts import song


def played(pattern: str, *, more: str = "") -> Song:
    text = song(
        "name: A, layers: [shaker], bars: 3, resolve: []",
        layers=f"shaker: {{pattern: {pattern}, unit: 1/8{more}}}",
    )
    return unroll(load(text), [3])


def test_its_notes_are_the_hits_turn_after_turn_and_its_homes_the_first_steps() -> None:
    part = played("x..x.").sections[0].parts[0]
    assert list(part.homes()) == [Place(0), Place("5/8"), Place("5/4"), Place("15/8"), Place("5/2")]
    expected = [
        (Place(0) + Length("5/8") * turn + step, not step) for turn in range(5) for step in _steps(0, 3)
    ]
    found = [(onset.place, onset.home) for onset in part.onsets()]
    assert found == [(place, home) for place, home in expected if place < Place(3)]


def _steps(*steps: int) -> list[Length]:
    return [Length("1/8") * step for step in steps]


def test_where_the_first_step_rests_it_is_home_but_silent() -> None:
    part = played(".x.").sections[0].parts[0]
    assert list(part.homes()) == [Place(0) + Length("3/8") * turn for turn in range(8)]
    onsets = list(part.onsets())
    assert [onset.place for onset in onsets] == [home + Length("1/8") for home in part.homes()]
    assert not any(onset.home for onset in onsets)
    assert part.home_row.first == Place(0)


def test_at_a_rate_the_steps_go_at_that_rate() -> None:
    part = played("x.x", more=", rate: 3/2").sections[0].parts[0]
    assert [onset.place for onset in part.onsets()][:3] == [Place(0), Place("1/6"), Place("1/4")]


def test_the_players_pulse_is_every_step() -> None:
    made = played("x..x.")
    part = made.sections[0].parts[0]
    rows = pulse_rows(part, made.plan.layers["shaker"], made.sections[0].section.meters)
    places = sorted((place for row in rows for place in row.places()), key=lambda place: place.whole_notes)
    assert places == [Place(0) + Length("1/8") * step for step in range(24)]
    assert [row.home for row in rows] == [True, False, False, False, False]


def test_the_midi_file_has_its_notes_at_their_ticks() -> None:
    file = io.BytesIO()
    made = played(".x.X")
    midi_file.write(Frame.of(made), file, Request())
    midi = mido.MidiFile(file=io.BytesIO(file.getvalue()))
    (track,) = (one for one in midi.tracks if one.name == "shaker")
    tick, starts = 0, []
    for message in track:
        tick += message.time
        if message.type == "note_on" and message.velocity:
            starts.append(tick)
    expected = [onset.place.quarters * midi.ticks_per_beat for onset in made.sections[0].parts[0].onsets()]
    assert starts[: len(expected)] == expected


def test_it_is_called_by_its_pattern_and_a_long_one_by_its_length() -> None:
    assert cycle_words(played("x..x.").plan.layers["shaker"]) == "x..x. in 5/8"
    assert cycle_words(played("x" * 17).plan.layers["shaker"]) == "17/8"
