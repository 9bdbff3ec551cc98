"""What the plan's cues send as MIDI stands in the MIDI file, on its channels and at its places."""

from __future__ import annotations

import io

import mido

from bridge.out import midi_file
from bridge.out.request import Request
from bridge.song import Frame, Song
from tests.cues.songs import RELAY, unrolled

SENDING = (
    RELAY[0],
    (
        f"{RELAY[1]}, cues: [{{at: end - 8 bars, say: eight, send: [{{program: 12, channel: 3}},"
        " {controller: 64, value: 127, channel: 16}]}, {at: end, send: {program: 128, channel: 1}}]"
    ),
    RELAY[2],
)


def written(song: Song, *, count_in: int = 0) -> mido.MidiFile:
    file = io.BytesIO()
    midi_file.write(Frame.of(song, count_in=count_in), file, Request())
    file.seek(0)
    return mido.MidiFile(file=file)


def sent(midi: mido.MidiFile) -> list[tuple[float, str]]:
    (track,) = [one for one in midi.tracks if one.name == "cues"]
    at, found = 0, []
    for message in track:
        at += message.time
        if not message.is_meta:
            found.append((at / midi.ticks_per_beat / 4, message.hex()))
    return found


def test_programs_and_controllers_are_events_at_their_places() -> None:
    assert sent(written(unrolled(*SENDING))) == [(24, "C2 0B"), (24, "BF 40 7F"), (32, "C0 7F")]


def test_a_count_in_moves_them_with_everything_else() -> None:
    assert [at for at, _ in sent(written(unrolled(*SENDING), count_in=2))] == [26, 26, 34]


def test_a_song_whose_cues_send_nothing_has_no_such_track() -> None:
    song = unrolled(RELAY[0], f"{RELAY[1]}, cues: [{{at: end, say: cut}}]", RELAY[2])
    assert "cues" not in {track.name for track in written(song).tracks}
