"""The table of MIDI messages: reader and writer agree, and what is broken is refused."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import PeerError
from bridge.follow.messages import (
    Clock,
    Continue,
    FullFrame,
    QuarterFrame,
    SongPosition,
    Start,
    Stop,
    read,
    write,
)
from bridge.follow.stream import Stream

MESSAGES = st.one_of(
    st.sampled_from([Clock(), Start(), Continue(), Stop()]),
    st.builds(SongPosition, sixteenths=st.integers(0, 16383)),
    st.builds(QuarterFrame, piece=st.integers(0, 7), value=st.integers(0, 15)),
    st.builds(
        FullFrame,
        rate=st.integers(0, 3),
        hours=st.integers(0, 31),
        minutes=st.integers(0, 127),
        seconds=st.integers(0, 127),
        frames=st.integers(0, 127),
        device=st.integers(0, 127),
    ),
)
OTHERS = st.sampled_from([b"\x90\x40\x7f", b"\xc3\x05", b"\xf3\x02", b"\xf6", b"\xf0\x43\x01\xf7"])


@given(MESSAGES)
def test_what_was_written_reads_back(message):
    assert read(write(message)) == message


@given(OTHERS)
def test_messages_that_say_nothing_of_the_transport_are_none(data):
    assert read(data) is None


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x08",
        b"\xf2\x08",
        b"\xf2\x08\x00\x00",
        b"\xf2\x88\x00",
        b"\xf1\x80",
        b"\xf0\x7f",
        b"\xf8\xf8",
        b"\xf0",
    ],
)
def test_a_broken_message_is_refused(data):
    with pytest.raises(PeerError, match="MIDI message"):
        read(data)


@pytest.mark.parametrize("message", [SongPosition(sixteenths=16384), QuarterFrame(piece=8, value=0)])
def test_a_value_too_large_for_its_bits_is_not_written(message):
    with pytest.raises(ValueError, match="outside the bits"):
        write(message)


@given(st.binary(max_size=12))
def test_no_bytes_crash_the_reader(data):
    with suppress(PeerError):
        read(data)


@given(st.lists(st.one_of(MESSAGES.map(write), OTHERS), max_size=12), st.data())
def test_any_split_of_the_bytes_gives_the_same_messages(messages, data):
    joined = b"".join(messages)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(joined)), max_size=6)))
    stream, whole = Stream(), []
    for start, end in zip([0, *cuts], [*cuts, len(joined)], strict=True):
        whole += stream.feed(joined[start:end])
    assert whole == messages
    assert stream.dropped == 0


@given(st.lists(st.one_of(MESSAGES.map(write), OTHERS), max_size=12), st.data())
def test_real_time_bytes_may_fall_anywhere(messages, data):
    slow = [message for message in messages if message[0] < 0xF8]
    joined = bytearray(b"".join(slow))
    places = sorted(data.draw(st.lists(st.integers(0, len(joined)), max_size=6)), reverse=True)
    for place in places:
        joined.insert(place, 0xF8)
    whole = Stream().feed(bytes(joined))
    assert [message for message in whole if message != b"\xf8"] == slow
    assert whole.count(b"\xf8") == len(places)


def test_a_channel_status_stays_in_force_and_a_system_one_ends_it():
    stream = Stream()
    assert stream.feed(b"\x90\x40\x7f\x41\x7f") == [b"\x90\x40\x7f", b"\x90\x41\x7f"]
    assert stream.feed(b"\xf2\x08\x00\x41\x7f") == [b"\xf2\x08\x00"]
    assert stream.dropped == 2


@given(st.binary(max_size=64))
def test_a_stream_only_ever_gives_whole_messages(data):
    stream = Stream()
    for message in stream.feed(data):
        if message[0] not in (0xF4, 0xF5, 0xF9, 0xFD):
            read(message)


def test_an_endless_exclusive_message_is_given_up():
    stream = Stream()
    assert stream.feed(b"\xf0" + b"\x01" * 70000) == []
    assert stream.dropped >= 65536
    assert stream.feed(b"\xf8\xfa") == [b"\xf8", b"\xfa"]
