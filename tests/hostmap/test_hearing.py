"""What understanding a host's messages promises."""

import math
from fractions import Fraction as F

import pytest

from bridge.hostmap import (
    MarkerEnd,
    MarkerGone,
    MarkerHeard,
    Message,
    MeterHeard,
    Number,
    PlayingHeard,
    PositionHeard,
    TempoHeard,
    Unusable,
    hear,
    load,
)
from tests.hostmap import RIG

MAP = load(RIG)
SECOND = Number(F(25, 2), F(1, 2**20))


@pytest.mark.parametrize(
    ("message", "event"),
    [
        (Message("/rig/rolling", "i", (1,)), PlayingHeard(True)),
        (Message("/rig/rolling", "F", (False,)), PlayingHeard(False)),
        (Message("/rig/rolling", "f", (0.0,)), PlayingHeard(False)),
        (Message("/rig/where", "f", (12.5,)), PositionHeard(SECOND)),
        (Message("/rig/where", "d", (12.5,)), PositionHeard(Number(F(25, 2), F(1, 2**49)))),
        (Message("/rig/where", "i", (12,)), PositionHeard(Number(F(12), F(1)))),
        (Message("/rig/where", "s", ("-12.50",)), PositionHeard(Number(F(-25, 2), F(1, 100)))),
        (Message("/rig/speed", "f", (120.0,)), TempoHeard(Number(F(120), F(1, 2**17)))),
        (Message("/rig/meter", "ii", (7, 8)), MeterHeard(7, 8)),
        (Message("/rig/note", "ifs", (3, 12.5, "Ebb")), MarkerHeard(3, "Ebb", SECOND)),
        (Message("/rig/note", "sfs", ("x", 12.5, "Ebb")), MarkerHeard("x", "Ebb", SECOND)),
        (Message("/rig/note", "ffs", (3.0, 12.5, "Ebb")), MarkerHeard(3, "Ebb", SECOND)),
        (Message("/rig/note/gone", "i", (3,)), MarkerGone(3)),
        (Message("/rig/notes/end"), MarkerEnd()),
    ],
)
def test_each_message_of_the_map_is_understood(message, event):
    assert hear(MAP, message) == (event,)


@pytest.mark.parametrize(
    "message",
    [
        Message("/rig/where"),
        Message("/rig/where", "s", ("later",)),
        Message("/rig/where", "f", (math.nan,)),
        Message("/rig/where", "f", (math.inf,)),
        Message("/rig/where", "b", (b"1",)),
        Message("/rig/speed", "f", (0.0,)),
        Message("/rig/meter", "ii", (7, 0)),
        Message("/rig/meter", "f", (3.5,)),
        Message("/rig/note", "if", (3, 12.5)),
        Message("/rig/note", "Nfs", (None, 12.5, "Ebb")),
        Message("/rig/note", "fff", (3.0, 12.5, 1.0)),
    ],
)
def test_what_does_not_fit_its_address_is_a_value_too(message):
    assert [type(event) for event in hear(MAP, message)] == [Unusable]


def test_other_addresses_mean_nothing():
    assert hear(MAP, Message("/rig/meters/left", "f", (0.1,))) == ()


def test_one_message_can_mean_several_things():
    both = load(
        "pulsebridge_host: 1\n"
        "hears: {playing: {address: /t, arg: 0}, position: {address: /t, arg: 1, unit: bars}}"
    )
    events = hear(both, Message("/t", "if", (1, 12.5)))
    assert events == (PlayingHeard(True), PositionHeard(SECOND))


@pytest.mark.parametrize(
    ("tag", "value", "colour"),
    [
        ("i", 0xCC7722, 0xCC7722),
        ("s", "#CC7722", 0xCC7722),
        ("r", 0xCC7722FF, 0xCC7722),
        ("i", 0x1000000, None),
        ("s", "CC7722", None),
        ("f", 1.0, None),
    ],
)
def test_a_regions_colour_is_a_number_a_text_or_oscs_own_type(tag, value, colour):
    host = load(
        "pulsebridge_host: 1\nhears:\n"
        "  region: {address: /r, args: {at: 0, name: 1, colour: 2}, unit: quarters}\n"
    )
    (told,) = hear(host, Message("/r", f"fs{tag}", (1.0, "shoal", value)))
    if colour is None:
        assert isinstance(told, Unusable)
    else:
        assert told.colour == colour
