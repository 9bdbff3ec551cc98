"""No note is left stuck."""

from __future__ import annotations

from bridge.midi.sounding import Sounding


def after(*messages: str) -> list[str]:
    sounding = Sounding()
    for message in messages:
        sounding.sent(bytes.fromhex(message))
    return [message.hex(" ") for message in sounding.endings()]


def test_what_sounds_is_ended_on_its_channel():
    assert after("90 3c 64", "93 40 01") == ["80 3c 40", "83 40 40"]


def test_what_was_ended_is_not_ended_again():
    assert after("90 3c 64", "80 3c 40", "91 3c 64", "91 3c 00") == []


def test_a_pedal_is_lifted_before_the_notes_end():
    assert after("90 3c 64", "b0 40 7f") == ["b0 40 00", "80 3c 40"]
    assert after("b0 40 7f", "b0 40 00") == []


def test_other_messages_leave_nothing():
    assert after("f8", "c3 0c", "f0 7d 01 f7", "b0 07 7f", "fa", "e0 00 40") == []
