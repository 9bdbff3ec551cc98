"""Feet: what a press is, what it does, and that a step counts once."""

from __future__ import annotations

import pytest

from bridge.errors import UsageError
from bridge.live.feet import GUARD_SECONDS, Feet, Foot, Press
from bridge.show import Control

HOLD, RELEASE = Control(do="hold"), Control(do="release")


def midi(feet: Feet, at: float, data: str) -> Control | None:
    return feet.midi(at, bytes.fromhex(data))[0]


@pytest.mark.parametrize(
    "text",
    [
        "hold=controller 64",
        "release=note 36 channel 10",
        "release hand drum=program 5 channel 1",
        "again=key a",
        "locate 13.1=key PageDown",
    ],
)
def test_a_foot_reads_back_as_it_is_written(text):
    assert str(Foot.parse(text)) == text


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("hold", "DO=WHAT"),
        ("stamp=key a", "no control"),
        ("hold=note", "cannot be"),
        ("hold=note 128", "0 to 127"),
        ("hold=note 12 channel 17", "channels 1 to 16"),
        ("hold me=key a", "takes nothing after it"),
        ("locate=key a", "takes one place"),
    ],
)
def test_what_is_no_foot_is_refused(text, why):
    with pytest.raises(UsageError, match=why):
        Foot.parse(text)


def test_a_pad_does_what_it_is_given_on_its_channel_or_any():
    feet = Feet.of(["hold=note 36 channel 10", "release=note 38"])
    assert midi(feet, 1, "99 24 64") == HOLD
    assert midi(feet, 2, "90 24 64") is None
    assert midi(feet, 3, "94 26 01") == RELEASE
    assert midi(feet, 4, "99 24 00") is None
    assert midi(feet, 5, "89 24 40") is None


def test_a_step_that_bounces_counts_once():
    feet = Feet.of(["hold=note 36"])
    assert midi(feet, 10.0, "90 24 64") == HOLD
    assert midi(feet, 10.0 + GUARD_SECONDS - 0.01, "90 24 64") is None
    assert feet.guarded == 1
    assert midi(feet, 10.0 + GUARD_SECONDS, "90 24 64") == HOLD


def test_two_feet_do_not_guard_each_other():
    feet = Feet.of(["hold=note 36", "release=note 38"])
    assert midi(feet, 10.0, "90 24 64") == HOLD
    assert midi(feet, 10.01, "90 26 64") == RELEASE


def test_a_pedal_that_sends_many_values_is_pressed_once():
    feet = Feet.of(["hold=controller 64"])
    pressed = [
        midi(feet, at / 10, f"b0 40 {value:02x}") for at, value in enumerate([20, 70, 90, 127, 100, 64])
    ]
    assert pressed == [None, HOLD, None, None, None, None]
    assert midi(feet, 5, "b0 40 00") is None
    assert midi(feet, 6, "b0 40 7f") == HOLD


def test_a_key_is_a_foot():
    feet = Feet.of(["hold=key h"])
    assert feet.pressed(1, Press(kind="key", key="h"))[0] == HOLD
    assert feet.pressed(2, Press(kind="key", key="x"))[0] is None


def test_feet_are_learnt_by_pressing_in_order_and_work_from_then_on():
    feet = Feet.of(["again=note 40"], ["hold", "release hand drum"])
    assert midi(feet, 1, "90 28 64") == Control(do="again")  # known already
    control, learnt = feet.midi(2, bytes.fromhex("b3 40 7f"))
    assert (control, str(learnt)) == (None, "hold=controller 64 channel 4")
    feet.midi(2.1, bytes.fromhex("b3 40 00"))
    assert midi(feet, 2.2, "b3 40 7f") is None  # the step that it was learnt by, bouncing
    feet.midi(2.9, bytes.fromhex("b3 40 00"))
    assert midi(feet, 3, "b3 40 7f") == HOLD
    _, learnt = feet.midi(4, bytes.fromhex("c0 05"))
    assert str(learnt) == "release hand drum=program 5 channel 1"
    assert feet.learning == []


def test_a_clock_is_no_press():
    feet = Feet.of([], ["hold"])
    for data in ("f8", "fa", "f2 08 00", "f0 7d f7", "e0 00 40", "d0 40", "a0 24 40"):
        assert feet.midi(1, bytes.fromhex(data)) == (None, None)
    assert len(feet.learning) == 1
