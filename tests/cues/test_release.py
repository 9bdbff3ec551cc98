"""What is said at once after a release: how long it still is, to each in own turns; who is not home."""

from __future__ import annotations

import re
from fractions import Fraction as F

from bridge.cues import Exits, release_cues
from bridge.exact import Length
from tests.cues.songs import RELAY, said, unrolled
from tests.cues.walk import Walked, made_up, song_of, walk

SEEDS = range(16)
FARTHEST = 100
"""Whole notes past the planned end."""
_TURNS = re.compile(r"(last \d*|\d+|this) ?turns? of ([a-z ]+?)(?: and (\d+) more)?(?=,| and|$| from)")


def test_after_a_release_everybody_knows_the_bars_and_each_player_the_turns() -> None:
    cues = release_cues(unrolled(*RELAY), 1, now=Length(24), leaves=Length(36), follows=2)
    assert said(cues) == [("24", "Crossing ends in 12 bars, then Landfall")]
    assert said(cues, player="percussion") == [("24", "last 64 turns of hand drum, then Landfall")]
    assert said(cues, player="guitars") == [("24", "last 3 turns of band, then Landfall")]
    assert said(cues, player="keys") == [("24", "12 bars, then Landfall: in, with everybody, bells")]


def test_within_a_bar_and_a_turn_the_ones_that_are_played_count_as_this_one() -> None:
    cues = release_cues(unrolled(*RELAY), 1, now=Length("97/4"), leaves=Length(36), follows=2)
    assert said(cues) == [("97/4", "Crossing ends after this bar and 11 more, then Landfall")]
    assert said(cues, player="percussion") == [("97/4", "this turn of hand drum and 62 more, then Landfall")]


def test_where_not_all_are_home_those_are_named() -> None:
    cues = release_cues(unrolled(*RELAY), 1, now=Length(24), leaves=Length(28), follows=2)
    assert said(cues)[0][1] == "Crossing ends in 4 bars, then Landfall; not home: hand drum"
    assert said(cues, player="percussion")[0][1].endswith("then Landfall; not home: hand drum")
    assert said(cues, player="guitars")[0][1] == "last turn of band, then Landfall"


def test_the_last_bar_of_all_is_this_bar() -> None:
    cues = release_cues(unrolled(*RELAY), 1, now=Length("95/4"), leaves=Length(24), follows=None)
    assert said(cues)[0][1] == "Crossing ends after this bar, then End"


def test_a_release_on_the_spot_says_now() -> None:
    cues = release_cues(unrolled(*RELAY), 1, now=Length(24), leaves=Length(24), follows=2)
    assert said(cues)[0][1] == "Crossing ends now, then Landfall"
    assert said(cues, player="keys") == [("24", "now Landfall: in, with everybody, bells")]


def test_the_turns_that_are_left_are_those_that_a_walk_finds() -> None:
    checked = 0
    for seed in SEEDS:
        made = made_up(seed)
        song = song_of(made)
        for index, one in enumerate(made):
            since = Length(one.length)
            for rung in Exits(song, index).ladder(Length(one.barline(one.bars + 2)))[:3]:
                beyond = int(rung.into.whole_notes - one.length) + 1
                if beyond > FARTHEST:
                    continue
                walked = walk(made, index, beyond=beyond)
                for cue in release_cues(song, index, now=since, leaves=rung.into, follows=None):
                    bars = [at for at in walked.barlines if one.length < at <= rung.into.whole_notes]
                    assert cue.bars_until == len(bars)
                    checked += check_turns(walked, one.length, rung.into.whole_notes, cue.text)
    assert checked > 100


def check_turns(walked: Walked, now: F, leaves: F, text: str) -> int:
    checked = 0
    for first, of, more in re.findall(
        r"(last \d*|\d+|this) ?turns? of ([a-z ]+?)(?: and (\d+) more)?(?=,| and|$| from)", text
    ):
        after = [home for home in walked.homes[of] if now <= home < leaves]
        is_home = now in walked.homes[of]
        digits = first.removeprefix("last").strip()
        count = int(digits or 1) if first != "this" else 1 + int(more or 0)
        assert count == len(after) + (first == "this"), (text, of, after)
        assert is_home == (first != "this") or not any(home < now for home in walked.homes[of])
        checked += 1
    return checked
