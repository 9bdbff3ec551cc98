"""MIDI clock, song position, time code and drop frame against published values."""

from fractions import Fraction

import pytest

from bridge.exact import Place
from bridge.follow import RATES, ClockSource, Timecode
from bridge.follow.messages import (
    Clock,
    Continue,
    FullFrame,
    SongPosition,
    Start,
    Stop,
    read,
    write,
)
from bridge.follow.timecode import Assembler
from tests import oracle

FILM, PAL, DROP, FULL = RATES


# MIDI 1.0 detailed specification 4.2, system common and real time messages (restated in
# a second source, arithmetic computed): F8 clock, FA start, FB continue, FC stop.
@pytest.mark.parametrize(
    ("data", "message"), [("F8", Clock()), ("FA", Start()), ("FB", Continue()), ("FC", Stop())]
)
def test_real_time_bytes(data, message):
    assert read(bytes.fromhex(data)) == message
    assert write(message) == bytes.fromhex(data)


# Same source: F2 lsb msb, in sixteenths; 8 is the third quarter.
@pytest.mark.parametrize(("data", "sixteenths"), [("F2 08 00", 8), ("F2 00 01", 128), ("F2 7F 7F", 16383)])
def test_song_position(data, sixteenths):
    assert read(bytes.fromhex(data)) == SongPosition(sixteenths=sixteenths)
    assert write(SongPosition(sixteenths=sixteenths)) == bytes.fromhex(data)


# Same source: six clocks a sixteenth, so position 8 is the third quarter of the song.
def test_song_position_8_is_two_quarters_in():
    source = ClockSource()
    source.feed(0.0, read(bytes.fromhex("F2 08 00")))
    assert source.transport(0.0).place == Place(Fraction(2, 4))


# Same source, computed: 24 clocks a quarter, at 120 bpm 20,833 µs each.
def test_clocks_of_20833_microseconds_are_120_bpm():
    source = ClockSource()
    source.feed(0.0, Start())
    for n in range(241):
        source.feed(n * 20833e-6, Clock())
    assert source.transport(240 * 20833e-6).bpm == pytest.approx(120, rel=1e-4)
    assert source.transport(240 * 20833e-6).quarters == pytest.approx(10, abs=1e-3)


# MIDI Time Code (RP-004/RP-008), restated in a second source: 01:37:52:16 at 24 frames
# a second is sent as F1 00, 11, 24, 33, 45, 52, 61, 70.
PUBLISHED = bytes.fromhex("00 11 24 33 45 52 61 70")
CODE = Timecode(rate=FILM, hours=1, minutes=37, seconds=52, frames=16)


def test_quarter_frames_of_a_published_code():
    assert bytes(write(piece)[1] for piece in CODE.pieces()) == PUBLISHED


def test_a_published_code_is_put_together():
    assembler = Assembler()
    readings = [assembler.take(read(bytes([0xF1, byte]))) for byte in PUBLISHED]
    assert readings[:7] == [None] * 7
    assert readings[7].code == CODE


# MIDI Time Code: the eight pieces take two frames, so that when the last has come the
# code is 7/4 of a frame old; "a decoder stands two frames behind".
def test_the_decoder_counts_the_frames_it_stands_behind():
    assembler = Assembler()
    for byte in PUBLISHED:
        reading = assembler.take(read(bytes([0xF1, byte])))
    assert reading.real_seconds == CODE.real_seconds + Fraction(7, 4) / 24


# MIDI Time Code: F0 7F 7F 01 01 hh mm ss ff F7, the rate in bits 5 and 6 of hh.
def test_full_frame():
    data = bytes.fromhex("F0 7F 7F 01 01 21 25 34 10 F7")
    message = FullFrame(rate=1, hours=1, minutes=37, seconds=52, frames=16)
    assert read(data) == message
    assert write(message) == data


# MIDI Time Code: 0 is 24, 1 is 25, 2 is 30 drop frame, 3 is 30 frames a second.
def test_the_four_rates():
    assert [(rate.code, rate.count, rate.drops) for rate in RATES] == [
        (0, 24, False),
        (1, 25, False),
        (2, 30, True),
        (3, 30, False),
    ]


# SMPTE ST 12-1 drop frame, computed with the library `timecode`.
@pytest.mark.parametrize(
    ("frame", "text"), [(1800, "00:01:00;02"), (17982, "00:10:00;00"), (107892, "01:00:00;00")]
)
def test_drop_frame(frame, text):
    code = Timecode.of_frame(frame, DROP)
    assert str(code) == text
    assert code.frame == frame


# Computed: an hour of drop frame is 107,892 frames at 30000/1001, 3.6 ms short of an hour.
def test_an_hour_of_drop_frame_lasts_an_hour_but_a_few_milliseconds():
    hour = Timecode(rate=DROP, hours=1, minutes=0, seconds=0, frames=0).real_seconds
    assert hour == Fraction(107892 * 1001, 30000)
    assert float(hour) == pytest.approx(3600, abs=0.004)


# The library `timecode` as a second opinion on every kind of frame number.
@pytest.mark.parametrize(("rate", "named"), [(FILM, "24"), (PAL, "25"), (DROP, "29.97"), (FULL, "30")])
def test_names_agree_with_an_independent_library(rate, named):
    library = oracle("timecode")
    for frame in [*range(0, 4000, 7), *range(17900, 18100), *range(107800, 108000), 1_234_567]:
        theirs = library.Timecode(named, frames=frame + 1)
        assert str(Timecode.of_frame(frame, rate)).replace(";", ":") == str(theirs).replace(";", ":")
