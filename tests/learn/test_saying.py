"""What is said to the host is what was typed or what it announced, and a reaction is a reaction."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from bridge.errors import PlanError
from bridge.exact import Meter
from bridge.hostmap import Heard, Measure, Message, Unit
from bridge.learn import (
    DEEDS,
    Deed,
    Happening,
    Mark,
    What,
    announced,
    explain,
    facts_of,
    first_course,
    reacted,
    read_typed,
    said_of,
    spoken_of,
)
from bridge.learn.spell import Round
from tests.learn.hosts import Host, interview

ROUND = Round(Fraction(120), Meter.parse("3/4"))
BY_KEY = {deed.key: deed for deed in DEEDS}
HEARS = {
    "playing": Heard(address="/on", args={"value": 0}),
    "position": Heard(address="/at", args={"value": 0}, unit=Unit(Measure.QUARTERS)),
    "marker": Heard(address="/m", args={"id": 0, "at": 1, "name": 2}, unit=Unit(Measure.SECONDS)),
    "marker_gone": Heard(address="/gone", args={"id": 0}),
    "marker_end": Heard(address="/end"),
}


def filled(key, typed, handle=None):
    (said,) = said_of(key, read_typed(typed))
    return said.fill(facts_of(BY_KEY[key], ROUND, handle))[0]


@pytest.mark.parametrize(
    ("key", "typed", "message"),
    [
        ("play", "/roll 1", Message("/roll", "i", (1,))),
        ("play", "/roll 1.5 on", Message("/roll", "fs", (1.5, "on"))),
        ("stop", "/stop", Message("/stop")),
        ("locate", "/go {quarters:d}", Message("/go", "d", (6.0,))),
        ("locate", "/go {bar:i} {beat:i}", Message("/go", "ii", (3, 1))),
        ("place", "/put {seconds:d} {name:s}", Message("/put", "ds", (3.0, "gull"))),
        ("place", '[{address: /put, args: ["{ticks@480:i}"]}]', Message("/put", "i", (2880,))),
        ("remove", "/drop {id:i}", Message("/drop", "i", (7,))),
        ("rename", "/name {id:i} {old_name:s} {name:s}", Message("/name", "iss", (7, "gull", "tern"))),
        ("loop", "/loop {quarters:d} {end_quarters:d}", Message("/loop", "dd", (6.0, 12.0))),
        ("loop", "/loop {bar:i} {end_bar:i} {end_beat:i}", Message("/loop", "iii", (3, 5, 1))),
        ("loop_off", "/loop 0", Message("/loop", "i", (0,))),
        (
            "region",
            "/reach {seconds:d} {end_seconds:d} {name:s} {colour:i}",
            Message("/reach", "ddsi", (3.0, 6.0, "shoal", 0x808080)),
        ),
        ("tempo", "/flow {quarters:d} {bpm:d} {bpm_end:d}", Message("/flow", "ddd", (6.0, 152.0, 152.0))),
        ("meter", "/swell {bar:i} {meter_top:i} {meter_bottom:i}", Message("/swell", "iii", (3, 5, 4))),
    ],
)
def test_a_typed_line_is_the_message_that_it_says(key, typed, message):
    assert filled(key, typed, handle=7) == message


@pytest.mark.parametrize(
    "typed", ["roll 1", "/go {where:f}", "/go {quarters}", "[{addres: /x}]", "/a\nb: 1", "[", ""]
)
def test_what_is_no_message_is_refused(typed):
    if typed == "/a\nb: 1":
        assert "\n" not in read_typed(typed)
        return
    with pytest.raises(PlanError):
        read_typed(typed)


def test_an_id_that_nobody_told_is_not_made_up():
    with pytest.raises(PlanError, match="id"):
        filled("remove", "/drop {id:i}", handle=None)


def test_only_what_the_host_itself_sent_is_proposed():
    events = interview(Host(marker_order=("at", "name")), first_course())
    explained = explain(events)
    proposals = {deed.key: announced(deed.key, explained, events) for deed in DEEDS}
    assert proposals == {
        "locate": '[{address: "/h/at", args: ["{quarters:f}"]}]',
        "play": '[{address: "/h/on", args: [1]}]',
        "stop": '[{address: "/h/on", args: [0]}]',
        "place": '[{address: "/h/mark", args: ["{seconds:f}", "{name:s}"]}]',
        "remove": None,
        "rename": None,
        "region": None,
        "loop": None,
        "loop_off": None,
        "meter": '[{address: "/h/sig", args: ["{meter_top:i}", "{meter_bottom:i}"]}]',
        "tempo": '[{address: "/h/bpm", args: ["{bpm:f}"]}]',
    }
    silent = Host(position=None, rolling=None, marker=None, tempo=None, meter=None)
    events = interview(silent, first_course())
    assert all(announced(deed.key, explain(events), events) is None for deed in DEEDS)


def test_an_argument_whose_meaning_is_not_known_is_never_sent_back():
    events = interview(Host(lead=2), first_course())
    assert announced("locate", explain(events), events) is None


@pytest.mark.parametrize(
    ("key", "told", "yes"),
    [
        ("play", [("/on", "i", (1,))], True),
        ("play", [("/on", "i", (0,))], False),
        ("play", [("/at", "f", (float(n),)) for n in range(4)], True),
        ("play", [("/at", "f", (4.0,))] * 4, False),
        ("stop", [("/on", "i", (0,))], True),
        ("stop", [("/at", "f", (float(n),)) for n in range(4)], False),
        ("locate", [("/at", "f", (6.0,))], True),
        ("locate", [("/at", "f", (6.1,))], False),
        ("place", [("/m", "ifs", (1, 3.0, "gull"))], True),
        ("place", [("/m", "ifs", (1, 3.1, "gull"))], False),
        ("place", [("/m", "ifs", (1, 3.0, "tern"))], False),
        ("remove", [("/gone", "i", (1,))], True),
        ("remove", ["list", ("/m", "ifs", (1, 3.0, "gull")), ("/end", "", ())], False),
        ("remove", ["list", ("/end", "", ())], True),
        ("remove", [("/end", "", ())], False),
        ("remove", [], False),
        ("rename", [("/m", "ifs", (1, 3.0, "tern"))], True),
        ("rename", [("/m", "ifs", (1, 3.0, "gull")), ("/m", "ifs", (2, 3.0, "tern"))], False),
        ("rename", [], False),
        ("tempo", [("/flow", "dd", (6.0, 152.0))], True),
        ("tempo", [("/flow", "dd", (6.0, 151.0))], False),
        ("tempo", [("/flow", "s", ("152",))], False),
        ("meter", [("/swell", "iii", (3, 5, 4))], True),
        ("meter", [("/swell", "iii", (5, 3, 4))], False),
        ("region", [("/reach", "dds", (3.0, 6.0, "shoal"))], True),
        ("region", [("/reach", "dds", (3.0, 6.0, "gull"))], False),
        ("loop", [("/round", "dd", (6.0, 12.0))], True),
        ("loop", [("/round", "ii", (3, 5))], True),
        ("loop", [("/round", "dd", (12.0, 6.0))], False),
        ("loop_off", [("/round", "i", (0,))], True),
        ("loop_off", [("/round", "i", (1,))], False),
        ("loop_off", [], False),
    ],
)
def test_only_what_the_host_says_afterwards_is_a_reaction(key, told, yes):
    events = [
        Happening(0.0, Message("/on", "i", (int(key != "play"),))),
        Happening(1.0, Mark(What.SENT, key, "")),
    ]
    for number, one in enumerate(told):
        said = Mark(What.SENT, "list", "") if one == "list" else Message(*one)
        events.append(Happening(1.1 + number / 10, said))
    assert bool(reacted(BY_KEY[key], HEARS, events, ROUND)) is yes
    assert not reacted(BY_KEY[key], HEARS, events[:1], ROUND)


@pytest.mark.parametrize(
    ("key", "detail"),
    [
        ("play", "no json"),
        ("play", json.dumps(["[{address: /x}]"])),
        ("dance", json.dumps(["[{address: /x}]", "seen"])),
        ("play", json.dumps(["[{address: x}]", "seen"])),
        ("play", json.dumps(["[{address: /x}]\nhears: {}", "seen"])),
        ("play", "[" * 5000),
        ("play", "7"),
    ],
)
def test_a_kept_step_that_no_map_can_say_is_refused(key, detail):
    with pytest.raises(PlanError):
        spoken_of([Happening(0.0, Mark(What.SPOKEN, key, detail))])


def test_a_deed_has_a_key_that_a_host_map_has():
    for deed in (*DEEDS, Deed(key="list", about="")):
        assert said_of(deed.key, "[{address: /x}]")
