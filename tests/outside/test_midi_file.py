"""The Standard MIDI File specification's own values.

Source of every value: Standard MIDI Files 1.0, RP-001, MIDI Manufacturers Association,
1996; its format 0 example, its table of variable-length quantities, its meta events.
"""

from __future__ import annotations

import io

import mido
import pytest

from bridge.exact import Meter
from bridge.out import midi_file
from bridge.out.midi_meter import Signature
from bridge.out.request import Request
from bridge.song import Frame
from tests.out.songs import layer, section, song

FORMAT_0_EXAMPLE = bytes.fromhex(
    "4D546864 00000006 0000 0001 0060"  # header: format 0, one track, 96 ticks a quarter
    "4D54726B 0000003B"  # track of 59 bytes
    "00FF580404021808"  # 4/4, 24 clocks a click, 8 32nds a quarter
    "00FF510307A120"  # 500,000 microseconds a quarter
    "00C005 00C12E 00C246"  # programs
    "00923060 003C60"  # two notes on, running status
    "60914340 60904C20"
    "8140823040 003C40"  # the notes off
    "0081434000 804C40"
    "00FF2F00"
)


def test_the_specifications_example_is_read_and_written_byte_for_byte():
    midi = mido.MidiFile(file=io.BytesIO(FORMAT_0_EXAMPLE))
    assert (midi.type, midi.ticks_per_beat, len(FORMAT_0_EXAMPLE)) == (0, 96, 81)
    assert midi.length == pytest.approx(2.0)
    notes = [m for m in midi.tracks[0] if m.type == "note_on"]
    assert len(notes) == 4


def _file(**fields) -> bytes:
    file = io.BytesIO()
    made = song([layer("band", 1)], [section("Ebb", 2, ["band"], **fields)], title="T")
    midi_file.write(Frame.of(made), file, Request())
    return file.getvalue()


def test_our_header_is_format_1_with_a_conductor_and_a_track():
    content = _file(tempo="120")
    assert content[:14] == bytes.fromhex("4D546864 00000006 0001 0002 03C0")


def test_120_a_minute_is_written_as_07_a1_20():
    assert bytes.fromhex("00FF510307A120") in _file(tempo="120")


def test_6_8_is_written_as_06_03_24_08():
    assert bytes.fromhex("FF5804 06032408") in _file(meter="6/8")
    assert Signature.of(Meter.parse("6/8")).clocks == 0x24


def test_4_4_is_written_as_04_02_18_08():
    assert bytes.fromhex("FF5804 04021808") in _file(meter="4/4")


def test_markers_are_ff_06_and_cue_points_ff_07():
    file = io.BytesIO()
    made = song([layer("band", 1), layer("drum", "1/4")], [section("Ebb", 2, ["band", "drum"])])
    midi_file.write(Frame.of(made), file, Request())
    assert b"\xff\x06\x03Ebb" in file.getvalue()
    assert b"\xff\x06\x03End" in file.getvalue()
    assert b"\xff\x07\x0elanding of Ebb" in file.getvalue()


@pytest.mark.parametrize(
    ("ticks", "quantity"),
    [
        (0x40, "40"),
        (0x7F, "7F"),
        (0x80, "8100"),
        (0x2000, "C000"),
        (0x3FFF, "FF7F"),
        (0x4000, "818000"),
        (0x100000, "C08000"),
        (0xFFFFFFF, "FFFFFF7F"),
    ],
)
def test_distances_are_variable_length_quantities_as_in_its_table(ticks, quantity):
    track = midi_file._track("T", [(ticks, mido.MetaMessage("marker", text="x"))], ticks)
    file = io.BytesIO()
    mido.MidiFile(tracks=[track]).save(file=file)
    assert bytes.fromhex(quantity + "FF060178") in file.getvalue()
