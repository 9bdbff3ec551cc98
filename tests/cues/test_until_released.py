"""Vamps, held sections and free passages: that they go on until somebody ends them is said."""

from __future__ import annotations

from bridge.cues import release_cues, section_cues
from bridge.exact import Length
from tests.cues.songs import RELAY, said, unrolled

DRIFT = "name: Drift, layers: [fives], free: {about: '0:45'}"
LANDFALL = "name: Landfall, layers: [band, fives], bars: 12, count_in: 2"


def test_a_vamp_says_that_it_is_held_as_it_begins() -> None:
    song = unrolled(*RELAY[:1], "name: Crossing, layers: [band], bars: 8, vamp: {at_least: 4 bars}", LANDFALL)
    cues = section_cues(song, 1, leaves=None, follows=2)
    assert said(cues) == [
        ("0", "Crossing is held until released, at least 4 bars"),
        ("8", "Crossing goes on until released"),
    ]


def test_a_section_that_is_held_says_at_its_planned_end_that_it_goes_on() -> None:
    cues = section_cues(unrolled(*RELAY), 1, leaves=None, follows=2)
    assert ("24", "Crossing goes on until released") in said(cues)


def test_a_free_passage_says_how_long_it_is_about_and_what_ends_it() -> None:
    song = unrolled(*RELAY[:1], DRIFT, LANDFALL)
    cues = section_cues(song, 1, leaves=None, follows=2)
    assert said(cues) == [("0", "Drift: free, about 0:45, then 2 bars counted in to Landfall")]
    assert said(cues, player="guitars") == [("0", "after Drift, Landfall: in, with everybody")]
    assert all(cue.bars_until == 0 for cue in cues)


def test_a_free_passage_is_announced_and_who_plays_in_it_is_told() -> None:
    song = unrolled(*RELAY[:1], DRIFT, LANDFALL)
    cues = section_cues(song, 0, leaves=Length(8), follows=1)
    assert ("0", "Drift in 8 bars") in said(cues)
    assert ("4", "Drift in 4 bars: fives") in said(cues, player="keys")


def test_after_a_free_passage_the_next_section_is_counted_in() -> None:
    song = unrolled(*RELAY[:1], DRIFT, LANDFALL)
    cues = [cue for cue in section_cues(song, 2, leaves=Length(12), follows=None) if cue.into < Length(0)]
    assert said(tuple(cues)) == [("-2", "Landfall in 2 bars"), ("-1", "Landfall in 1 bar")]
    assert said(tuple(cues), player="guitars") == [("-2", "Landfall in 2 bars: in, with everybody")]


def test_a_free_passage_without_a_follower_ends_the_song() -> None:
    song = unrolled(*RELAY[:1], DRIFT)
    assert said(section_cues(song, 1, leaves=None, follows=None))[0][1] == "Drift: free, about 0:45, then End"


def test_a_free_passage_that_is_released_says_so_to_all() -> None:
    song = unrolled(*RELAY[:1], DRIFT, LANDFALL)
    cues = release_cues(song, 1, now=Length(0), leaves=song.sections[1].length, follows=2)
    assert said(cues) == [("0", "Drift ends, then 2 bars counted in to Landfall")]
    assert said(cues, player="guitars") == [("0", "now Landfall: in, with everybody")]
