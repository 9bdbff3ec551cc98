"""How a show is told in one line, and as a record."""

from __future__ import annotations

import json

import pytest

from bridge.cues import Rung
from bridge.exact import Length
from bridge.live.telling import status_line, view_record
from bridge.show import Line, View
from tests.show.songs import SLACK, song_of

SONG = song_of(SLACK)


def view(**known) -> View:
    return View(at=10.0, song=SONG, songs=("Slack Water",), **known)


def at(quarters: float, **known) -> View:
    """Return the show in Crossing (24 bars of 4/4), so far into it."""
    known = {"playing": True, "locked": True, "bpm": 120.0, "leaves": Length(24), "follows": 2, **known}
    return view(section=1, line=Line(at=10.0, quarters=quarters), **known)


def test_before_anything_is_known_it_waits():
    assert status_line(view()) == "Slack Water: waiting for the host to play"
    record = view_record(view())
    assert (record["section"], record["bar"], record["bars_left"], record["next"]) == (None, None, None, None)
    assert record["ladder"] == []


@pytest.mark.parametrize(
    ("shown", "line"),
    [
        (at(0.0), "Crossing bar 1 of 24, Shallows in 24, 120.0 bpm"),
        (at(95.9), "Crossing bar 24 of 24, Shallows in 1, 120.0 bpm"),
        (at(4.0, locked=False), "Crossing bar 2 of 24, Shallows in 23, 120.0 bpm (not sure)"),
        (at(4.0, playing=False, bpm=None), "stopped, Crossing bar 2 of 24, Shallows in 23"),
        (at(4.0, follows=None), "Crossing bar 2 of 24, the end in 23, 120.0 bpm"),
        (
            at(104.0, held=True, leaves=None),
            "Crossing bar 27, held until it is released, 120.0 bpm",
        ),
        (at(104.0, held=True, leaves=Length(30)), "Crossing bar 27, Shallows in 4, 120.0 bpm"),
    ],
)
def test_a_line_for_people(shown, line):
    assert status_line(shown) == line
    assert len(line) < 80


def test_the_record_tells_the_ladder_in_bars_from_here():
    rungs = (
        Rung(into=Length(28), bar=28, home=("band",), others=("drum",)),
        Rung(into=Length(36), bar=36, home=("band", "drum")),
    )
    record = view_record(at(104.0, held=True, leaves=None, ladder=rungs))
    assert json.loads(json.dumps(record)) == record
    # bar 27 is being played: it and bar 28 are left before the first rung
    assert [(rung["bar"], rung["in_bars"]) for rung in record["ladder"]] == [(28, 2), (36, 10)]
    assert record["ladder"][0]["others"] == ["drum"]
    assert (record["bars"], record["bars_left"], record["held"]) == (24, None, True)
