"""The MIDI file, read back by what did not write it, and as close to the exact time as it says."""

from __future__ import annotations

import io
from fractions import Fraction
from itertools import pairwise

import mido
import pytest

from bridge.errors import UsageError
from bridge.exact import Meter, Place
from bridge.out import midi_file
from bridge.out.division import MOST_TICKS, Division
from bridge.out.midi_meter import Signature
from bridge.out.request import Request
from bridge.plan.model import Origin
from bridge.song import Frame
from tests import oracle
from tests.out.songs import layer, section, song, tide


def written(made, **options):
    file = io.BytesIO()
    told = midi_file.write(Frame.of(made, **options), file, Request())
    return file.getvalue(), told


def read(content: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(content), charset="utf-8")


def absolute(track):
    tick = 0
    for message in track:
        tick += message.time
        yield tick, message


def test_the_conductor_comes_first_and_then_a_track_a_layer_by_name():
    midi = read(written(tide())[0])
    assert midi.type == 1
    assert [track.name for track in midi.tracks] == ["Low Tide Relay", *tide().plan.layers]
    kinds = {message.type for message in midi.tracks[0]}
    assert kinds >= {"track_name", "set_tempo", "time_signature", "marker", "cue_marker"}
    assert not any(kind.startswith("note") for kind in kinds)
    assert not any(message.type == "set_tempo" for track in midi.tracks[1:] for message in track)


def test_markers_stand_on_the_exact_ticks_and_the_end_is_one():
    made = tide()
    midi = read(written(made)[0])
    found = [(tick, m.text) for tick, m in absolute(midi.tracks[0]) if m.type == "marker"]
    assert found == [(m.place.quarters * midi.ticks_per_beat, m.name) for m in made.markers]
    assert found[-1][1] == "End"


def test_cue_points_stand_at_the_landings():
    # Crossing and Landfall come home as two; the others have one layer or ask for none
    made = tide()
    midi = read(written(made)[0])
    found = [(tick, m.text) for tick, m in absolute(midi.tracks[0]) if m.type == "cue_marker"]
    ends = [(made.sections[1].end, "landing of Crossing"), (made.sections[4].end, "landing of Landfall")]
    assert found == [(place.quarters * midi.ticks_per_beat, text) for place, text in ends]


def test_notes_stand_on_the_exact_ticks_with_home_louder():
    made = tide()
    midi = read(written(made)[0])
    for track, (name, parts) in zip(midi.tracks[1:], made.sounding().items(), strict=True):
        hits = [(tick, m.velocity) for tick, m in absolute(track) if m.type == "note_on"]
        onsets = [onset for part in parts for onset in part.onsets()]
        assert [tick for tick, _ in hits] == [o.place.quarters * midi.ticks_per_beat for o in onsets], name
        assert {v for (_, v), o in zip(hits, onsets, strict=True) if o.home} == {112}
        assert {v for (_, v), o in zip(hits, onsets, strict=True) if not o.home} <= {76}


def test_every_note_ends_before_the_next_of_its_layer_begins():
    midi = read(written(tide())[0])
    for track in midi.tracks[1:]:
        kinds = [m.type for m in track if m.type.startswith("note")]
        assert kinds == ["note_on", "note_off"] * (len(kinds) // 2)


def test_pretty_midi_hears_every_marker_and_note_within_the_stated_error():
    pretty_midi = oracle("pretty_midi")
    made = tide()
    content, told = written(made)
    heard = pretty_midi.PrettyMIDI(io.BytesIO(content))
    bound = told.facts["tempo_error_ms"] / 1000 + 1e-6
    assert told.facts["tempo_error_ms"] <= 0.25
    for instrument, parts in zip(heard.instruments, [p for p in made.sounding().values() if p], strict=True):
        onsets = [float(made.seconds(onset.place)) for part in parts for onset in part.onsets()]
        assert len(instrument.notes) == len(onsets)
        for note, onset in zip(sorted(instrument.notes, key=lambda one: one.start), onsets, strict=True):
            assert abs(note.start - onset) <= bound
    meters = [(m.numerator, m.denominator) for m in heard.time_signature_changes]
    assert meters[:3] == [(4, 4), (7, 8), (4, 4)]


def test_symusic_reads_the_same_markers_and_times():
    symusic = oracle("symusic")
    made = tide()
    content, told = written(made)
    score = symusic.Score.from_midi(content)
    assert score.tpq == told.facts["ticks_per_quarter"]
    assert [m.text for m in score.markers][:7] == [s.name for s in made.sections]
    seconds = score.to("second")
    bound = told.facts["tempo_error_ms"] / 1000 + 1e-3  # its seconds are single floats
    for marker, ours in zip(seconds.markers, made.markers, strict=False):
        assert abs(marker.time - float(made.seconds(ours.place))) <= bound


def test_music21_reads_the_meters_tempi_and_notes():
    music21 = oracle("music21")
    made = tide()
    score = music21.midi.translate.midiStringToStream(written(made)[0])
    meters = [m.ratioString for m in score.parts[0].recurse().getElementsByClass("TimeSignature")]
    assert meters[:4] == ["4/4", "7/8", "4/4", "7/8"]
    (first, *_) = score.recurse().getElementsByClass("MetronomeMark")
    assert first.number == pytest.approx(115.2, abs=0.01)
    names = [part.partName for part in score.parts]
    assert [name for name in names if name] == list(made.plan.layers)


def _drift_ms(midi: mido.MidiFile, made) -> float:
    """The largest distance between the file's time and the exact one, at every tempo event and marker."""
    worst, seconds, us, before = Fraction(0), Fraction(0), 500_000, 0
    for tick, message in absolute(midi.tracks[0]):
        seconds += Fraction((tick - before) * us, midi.ticks_per_beat * 1_000_000)
        place = Place(Fraction(tick, midi.ticks_per_beat * 4))
        worst = max(worst, abs(seconds - made.seconds(place)))
        before, us = tick, message.tempo if message.type == "set_tempo" else us
    return float(worst * 1000)


@pytest.mark.parametrize(
    ("tempo", "to", "bars"),
    [("115.2", None, 720), ("90", None, 720), ("20", "400", 16), ("97", "97.5", 300), ("4", "1000", 2)],
)
def test_rounded_tempi_do_not_add_up(tempo, to, bars):
    made = song([layer("band", 1)], [section("Ebb", bars, ["band"], tempo=tempo, to=to)])
    content, told = written(made)
    midi = read(content)
    assert _drift_ms(midi, made) <= told.facts["tempo_error_ms"] + 1e-9
    assert told.facts["tempo_error_ms"] <= 0.25
    assert told.facts["tempo_events"] < 1300


def test_a_ramp_between_two_tempo_events_stays_within_the_stated_error():
    made = song([layer("band", 1)], [section("Ebb", 8, ["band"], tempo="60", to="240")])
    content, told = written(made)
    midi, bound = read(content), told.facts["tempo_error_ms"] / 1000
    tempi = [(tick, m.tempo) for tick, m in absolute(midi.tracks[0]) if m.type == "set_tempo"]
    seconds = Fraction(0)
    for (tick, us), (after, _) in pairwise(tempi):
        for part in range(0, after - tick, 7):
            here = seconds + Fraction(part * us, midi.ticks_per_beat * 1_000_000)
            exact = made.seconds(Place(Fraction(tick + part, midi.ticks_per_beat * 4)))
            assert abs(float(here - exact)) <= bound
        seconds += Fraction((after - tick) * us, midi.ticks_per_beat * 1_000_000)


def test_the_division_holds_every_subdivision_of_the_plan():
    made = song(
        [layer("keys", 1, pulses=7), layer("slow", "12/16", rate="73/72"), layer("three", "1/12")],
        [section("Ebb", 4, ["keys", "slow", "three"], resolve=[])],
    )
    division = Division.of(Frame.of(made))
    assert division.rounded == ()
    for parts in made.sounding().values():
        for part in parts:
            for onset in part.onsets():
                assert (onset.place.quarters * division.per_quarter).denominator == 1


def test_a_long_song_keeps_below_ten_million_ticks_where_that_is_exact():
    layers = [layer("slow", "12/16", rate="73/72"), layer("keys", 1, pulses=5)]
    made = song(layers, [section("Drift", 360, ["slow", "keys"], resolve=[])])
    content, told = written(made)
    assert told.facts["ticks_per_quarter"] * 1440 <= 10_000_000
    assert told.facts["rounded_layers"] == []
    oracle("pretty_midi").PrettyMIDI(io.BytesIO(content))


def test_what_no_division_holds_is_rounded_alone_and_said():
    made = song(
        [layer("drum", "3/16"), layer("odd", "1/9973", rate="1/997")],
        [section("Ebb", 12, ["drum", "odd"], resolve=[])],
    )
    content, told = written(made)
    midi = read(content)
    assert told.facts["rounded_layers"] == ["odd"]
    assert any("odd" in remark and "half a tick" in remark for remark in told.notes)
    assert midi.ticks_per_beat <= MOST_TICKS
    for track, parts in zip(midi.tracks[1:], made.sounding().values(), strict=True):
        hits = [tick for tick, m in absolute(track) if m.type == "note_on"]
        for tick, onset in zip(hits, [o for part in parts for o in part.onsets()], strict=True):
            assert abs(tick - onset.place.quarters * midi.ticks_per_beat) <= Fraction(1, 2)


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        ("4/4", (4, 4, 24, True)),
        ("6/8", (6, 8, 36, True)),
        ("2+2+3/8", (7, 8, 12, True)),
        ("1/16", (1, 16, 6, True)),
        ("31/8", (31, 8, 12, True)),
        ("3/64", (3, 64, 3, True)),  # a click in a 64th is one and a half clocks: two of them are three
        ("6/1", (6, 1, 96, True)),  # its beat of three whole notes has 288 clocks, more than a byte
        ("512/64", (8, 1, 3, False)),
        ("301/4", (43, 4, 24, False)),
        ("257/4", (1, 4, 24, False)),
    ],
)
def test_meters_become_what_the_format_can_say(meter, expected):
    found = Signature.of(Meter.parse(meter))
    assert (found.top, found.unit, found.clocks, found.exact) == expected


def test_an_additive_meter_says_its_groups_in_a_text():
    midi = read(written(tide())[0])
    assert "meter 2+2+3/8" in [m.text for m in midi.tracks[0] if m.type == "text"]


def test_a_tempo_that_24_bits_cannot_hold_is_refused():
    made = song([layer("band", 1)], [section("Ebb", 1, ["band"], tempo="3")])
    with pytest.raises(UsageError, match=r"3\.5763 to 60000000 quarter notes a minute, not 3\.0000"):
        written(made)


def test_with_a_count_in_the_song_begins_a_bar_later():
    made = tide()
    midi = read(written(made, count_in=1)[0])
    first = next(tick for tick, m in absolute(midi.tracks[0]) if m.type == "marker")
    assert first == 4 * midi.ticks_per_beat


def test_at_the_origin_the_bars_before_take_the_seconds_it_names():
    made = tide(origin=Origin(bar=3, seconds=Fraction(10)))
    midi = read(written(made, at_origin=True)[0])
    tempi = [(tick, m.tempo) for tick, m in absolute(midi.tracks[0]) if m.type == "set_tempo"]
    assert tempi[0] == (0, 1_250_000)  # 10 s for two bars of 4/4
    assert tempi[1][0] == 8 * midi.ticks_per_beat


def test_a_silence_longer_than_a_delta_can_be_is_bridged():
    # 2^28 ticks at 960 a quarter are 279,620 quarters: 70,000 bars hold more
    long = section("Ebb", 140_000, ["band"], tempo="1000", resolve=[], meter="2/1")
    late = section("Landfall", 1, ["late"], resolve=[])
    made = song([layer("band", 10_000), layer("late", 1)], [long, late])
    content, _ = written(made)
    midi = read(content)
    late = [tick for tick, m in absolute(midi.tracks[2]) if m.type == "note_on"]
    assert late == [made.sections[1].start.quarters * midi.ticks_per_beat]
    assert max(m.time for track in midi.tracks for m in track) < 2**28


def test_names_in_any_script_survive():
    names = ["潮の間", "مد وجزر", "🌊 Relay", "x" * 200]
    made = song([layer(name, 1) for name in names], [section(name, 1, names) for name in names], title="潮")
    midi = read(written(made)[0])
    assert [track.name for track in midi.tracks] == ["潮", *names]
    assert [m.text for m in midi.tracks[0] if m.type == "marker"] == [*names, "End"]


def test_a_song_of_too_many_notes_is_refused_by_the_layers_name():
    made = song([layer("dust", "1/1000000")], [section("Ebb", 4, ["dust"])])
    with pytest.raises(UsageError, match="4000000 notes, 4000000 of them in 'dust'"):
        written(made)


def test_letter_and_note_are_said_at_the_marker():
    sections = [section("Ebb", 1, ["band"]), section("Landfall", 1, ["band"], letter="B", note="softly")]
    midi = read(written(song([layer("band", 1)], sections))[0])
    said = [(tick, m.text) for tick, m in absolute(midi.tracks[0]) if m.type == "text"]
    assert said == [(4 * midi.ticks_per_beat, "letter B"), (4 * midi.ticks_per_beat, "softly")]


def test_seconds_before_bar_1_without_bars_are_said_to_be_missing():
    _, told = written(tide(origin=Origin(bar=1, seconds=Fraction(10))), at_origin=True)
    assert any("10 s before bar 1" in remark for remark in told.notes)
