"""What a page is sent: what it could not foresee, and nothing else."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from bridge.cues import Rung
from bridge.exact import Length
from bridge.show import Line, View
from bridge.stage.state import foreseen, stated
from tests.stage.songs import STEADY, UNEVEN
from tests.stage.standin import song_of

SONG = song_of(STEADY.format(bpm=120))
BEFORE = View(
    at=100.0,
    song=SONG,
    section=1,
    line=Line(at=100.0, quarters=8.0),
    playing=True,
    locked=True,
    source="clock",
    leaves=Length(48),
    follows=2,
)


def _later(seconds: float, quarters: float, **changes) -> View:
    at = BEFORE.at + seconds
    return replace(BEFORE, at=at, line=Line(at=at, quarters=quarters), **changes)


def test_time_alone_is_foreseen():
    assert foreseen(BEFORE, _later(0.5, 9.0))
    assert foreseen(BEFORE, _later(0.5, 9.003))


def test_the_first_view_is_not():
    assert not foreseen(None, BEFORE)


@pytest.mark.parametrize("quarters", [8.99, 9.01, 8.0, 12.0])
def test_a_place_that_is_off_by_more_than_two_milliseconds_is_not(quarters):
    assert not foreseen(BEFORE, _later(0.5, quarters))


@pytest.mark.parametrize(
    "changes",
    [
        {"playing": False},
        {"locked": False},
        {"source": "osc"},
        {"held": True, "leaves": None},
        {"leaves": Length(36)},
        {"follows": 1},
        {"ladder": (Rung(into=Length(48), bar=48, home=("band",)),)},
        {"waits": True},
        {"cue": "Landfall in 8 bars", "cue_at": 100.2},
        {"offer": "Landfall 60 bars"},
        {"number": 1},
        {"late": 1},
        {"line": None},
        {"section": None, "line": None},
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_what_changes_otherwise_is_not(changes):
    assert not foreseen(BEFORE, replace(_later(0.5, 9.0), **changes))


def test_another_song_of_the_same_plan_is_not():
    assert not foreseen(BEFORE, _later(0.5, 9.0, song=replace(SONG)))


def test_another_rate_is_not():
    faster = replace(_later(0.001, 8.002), line=Line(at=100.001, quarters=8.002, rate=1.01))
    assert not foreseen(BEFORE, faster)


def test_a_ramp_is_foreseen():
    """70 to 190 over the first section: a second of it, by the exact map of the tempi."""
    from bridge.cues import Axis

    song = song_of(UNEVEN)
    axis = Axis(song, 0)
    start = replace(BEFORE, song=song, section=0)
    exact = axis.at(axis.seconds(Length(2)) + 1)
    after = replace(start, at=101.0, line=Line(at=101.0, quarters=float(exact.quarters)))
    assert foreseen(start, after)


def test_standing_still_is_foreseen():
    still = replace(BEFORE, playing=False, line=Line(at=100.0, quarters=8.0, rate=0.0))
    assert foreseen(still, replace(still, at=101.0, line=Line(at=101.0, quarters=8.0, rate=0.0)))


def test_a_state_is_small_and_holds_nothing_that_json_cannot():
    told = stated(BEFORE, "key")
    text = json.dumps(told, allow_nan=False)
    assert len(text) < 1000
    assert (told["leaves"], told["follows"], told["line"]["quarters"]) == (192.0, 2, 8.0)
    assert told["cue"] is None


def test_before_anything_is_known_all_is_null():
    told = stated(View(at=1.0, song=SONG), "key")
    assert (told["section"], told["line"], told["leaves"], told["ladder"]) == (None, None, None, [])
