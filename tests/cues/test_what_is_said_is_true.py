"""Whatever a cue says is true where it is said: every number against a plain walk through the layers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction as F
from functools import cache

import pytest

from bridge.cues import DueCue, section_cues
from bridge.exact import Length
from tests.cues.walk import LAYERS, PLAYERS, Walked, made_up, song_of, walk

LEAST = 2
BEYOND = 60

_FAR = re.compile(r"in (?:(\d+) bars?)?(?: and )?(?:([\d/ ]+) beats?)?(?=$|:)")
_TURNS = re.compile(
    r"(?:(\d+) turns?|this turn)(?: of ([a-z ]+?))?(?: and (\d+) more)?(?= from|, then| and |$)"
)


Passed = tuple[Walked, tuple[DueCue, ...], F, str]
SEEDS = range(60)


@cache
def walked(seed: int, *, is_open: bool = False) -> list[Passed]:
    """Each section of a made-up song with its cues, where it would be left, and what comes then."""
    made = made_up(seed)
    song = song_of(made)
    found = []
    for index, one in enumerate(made):
        follows = index + 1 if index + 1 < len(made) else None
        leaves = None if is_open else Length(one.length)
        cues = section_cues(song, index, leaves=leaves, follows=follows)
        then = "End" if follows is None else made[follows].name
        found.append((walk(made, index, beyond=BEYOND if is_open else 0), cues, one.length, then))
    return found


def sections(*, is_open: bool = False) -> Iterator[Passed]:
    for seed in SEEDS:
        yield from walked(seed, is_open=is_open)


def begin(one: Walked, cue: DueCue) -> F:
    """Where the first cues of the section can stand: at its start, or that of its count-in."""
    return -one.count_in if cue.into.whole_notes < 0 else F(0)


def test_cues_come_in_order_each_key_once_and_each_before_its_target() -> None:
    for _, cues, _, _ in sections():
        places = [cue.into.whole_notes for cue in cues]
        assert places == sorted(places)
        assert len({cue.key for cue in cues}) == len(cues)
        assert all(cue.into < cue.target for cue in cues)


def test_nothing_is_said_to_who_owns_no_layer_or_never_plays() -> None:
    for _, cues, _, _ in sections():
        assert {cue.player for cue in cues} <= set(PLAYERS) - {"nobody"} | {""}


def test_every_cue_lies_on_a_counted_beat_and_in_time() -> None:
    for one, cues, _, _ in sections():
        for cue in cues:
            into, target = cue.into.whole_notes, cue.target.whole_notes
            if into >= 0:
                assert into in one.beats
            if into != begin(one, cue):
                assert (target - into) * 240 / one.made.tempo >= LEAST, cue


def test_the_bars_and_beats_that_are_said_lie_between_the_cue_and_its_target() -> None:
    checked = 0
    for one, cues, _, _ in sections():
        for cue in cues:
            into, target = cue.into.whole_notes, cue.target.whole_notes
            if into < 0:
                continue
            between = [at for at in one.barlines if into < at <= target]
            assert cue.bars_until == len(between), cue
            for bars, beats in _FAR.findall(cue.text):
                if bars:
                    assert into in one.barlines
                    assert int(bars) == len(between), cue
                    into = between[-1]
                if beats:
                    assert mixed(beats) == beats_between(one, into, target), cue
                checked += bool(bars or beats)
    assert checked


def mixed(text: str) -> F:
    return sum((F(part) for part in text.split()), F(0))


def beats_between(one: Walked, into: F, target: F) -> F:
    """Count them beat by beat, the last one as the share of it that has passed."""
    count = F(0)
    for beat, after in zip(one.beats, one.beats[1:], strict=False):
        if into <= beat < target:
            count += min(F(1), (target - beat) / (after - beat))
    return count


def test_the_turns_that_are_said_are_those_that_begin_before_the_target() -> None:
    for one, cues, _, _ in sections():
        for cue in cues:
            if cue.player and cue.key.split(":")[0].split(" ")[0] in ("meeting", "landing", "tightens"):
                assert_turns(one, cue)


def assert_turns(one: Walked, cue: DueCue) -> None:
    into, target = cue.into.whole_notes, cue.target.whole_notes
    mine = [name for name in one.made.layers if LAYERS[name][4] == cue.player]
    found = _TURNS.findall(cue.text.split(", then")[0])
    assert found, cue
    for whole, of, more in found:
        names = [of] if of else mine
        name = next(name for name in names if one.sounds[name][0] <= into < one.sounds[name][1])
        end = min(target, one.sounds[name][1])
        after = [home for home in one.homes[name] if into < home < end]
        is_home = into in one.homes[name]
        has_begun = name in one.begun or any(home < into for home in one.homes[name])
        if whole:
            assert int(whole) == len(after) + is_home, (cue, name)
            assert is_home or not has_begun, (cue, name)
        else:
            assert int(more or 0) == len(after), (cue, name)
            assert has_begun, (cue, name)
            assert not is_home, (cue, name)


def test_who_is_said_to_be_home_is_home_and_on_the_one_only_on_a_barline() -> None:
    for one, cues, _, _ in sections(is_open=True):
        for cue in cues:
            target = cue.target.whole_notes
            told = re.match(r"(.+?) home( on the one)? in", cue.text)
            if cue.player or told is None or target > one.made.length + BEYOND:
                continue
            still = [name for name, (start, end) in one.sounds.items() if start <= target < end]
            names = still if told[1] == "all" else told[1].split(", ")
            assert len(names) > 1, cue
            assert all(target in one.homes[name] for name in names), cue
            assert bool(told[2]) == (target in one.barlines), cue


def test_every_meeting_that_lies_well_after_the_one_before_is_told_of() -> None:
    for one, cues, leaves, _ in sections():
        resolve = [name for name in one.made.layers if name not in one.made.leaves]
        names = resolve if len(resolve) > 1 and not one.made.runs_on else one.made.layers
        if len(names) < 2:
            continue
        met = sorted(set.intersection(*(heard(one, name) for name in names)))
        apart = sum(one.barlines[i + 1] - one.barlines[i] for i in range(8)) if len(one.barlines) > 8 else 0
        told = {cue.target.whole_notes for cue in cues if cue.key.startswith("meeting")}
        expected = {
            at
            for before, at in zip([F(0), *met], met, strict=False)
            if at - before >= apart and 0 < at < leaves and apart
        }
        assert told == expected, one.made


def heard(one: Walked, name: str) -> set[F]:
    start, end = one.sounds[name]
    return {home for home in one.homes[name] if start <= home < end}


def test_a_landing_is_told_of_exactly_where_all_are_home_at_the_end() -> None:
    for one, cues, leaves, then in sections():
        resolve = [name for name in one.made.layers if name not in one.made.leaves]
        names = resolve if len(resolve) > 1 and not one.made.runs_on else one.made.layers
        lands = len(names) > 1 and all(
            leaves in one.homes[name] and leaves <= one.sounds[name][1] for name in names
        )
        told = [cue.text for cue in cues if cue.key.startswith("landing") and not cue.player]
        assert bool(told) == lands, one.made
        assert all(text.endswith(f": {then}") for text in told)


def test_every_change_within_a_section_is_told_once_to_whom_it_concerns() -> None:
    for one, cues, leaves, _ in sections():
        changes = [cue for cue in cues if cue.key.startswith("change")]
        places = {place for span in one.sounds.values() for place in span if 0 < place < leaves}
        expected = {
            (place, player): said
            for place in places
            for player in PLAYERS
            if (said := changed(one.plays(place - F(1, 10**6)), one.plays(place), player, one.ever))
        }
        told = {(cue.target.whole_notes, cue.player): cue.text.split(", then ")[1] for cue in changes}
        assert told.keys() == expected.keys()
        for key, words in expected.items():
            assert all(re.search(rf"\b{word}\b", told[key]) for word in words), (told[key], words)


def changed(before: dict[str, set[str]], after: dict[str, set[str]], player: str, ever: set[str]) -> set[str]:
    """What has to be said to ``player``, in single words; whatever else is said is more."""
    was, now = before.get(player, set()), after.get(player, set())
    if was and not now:
        return {"tacet"}
    words = {"in"} if now and not was else set()
    if now and len(after) == 1 and not (was and len(before) == 1):
        words.add("alone")
    if now and len(after) > 1 and (not was or len(before) == 1):
        words.add(company(after, player, ever))
    if was and now and was != now:
        words.add(listed([name for name in LAYERS if name in now]))
    return words


def company(after: dict[str, set[str]], player: str, ever: set[str]) -> str:
    if set(after) == ever:
        return "with everybody"
    others = [name for name in after if name != player]
    return f"with {listed(others)}" if len(others) <= 3 else f"with {len(others)} others"


def listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


@pytest.mark.parametrize("tempo", [40, 300])
def test_at_any_tempo_the_first_call_that_fits_is_made(tempo: int) -> None:
    made = made_up(7)
    for one in made:
        one.tempo, one.tightens, one.enters, one.leaves = tempo, None, {}, {}
        one.meter, one.bars = "4/4", 16
    cues = section_cues(song_of(made), 0, leaves=Length(16), follows=1)
    assert "S1 in 8 bars" in {cue.text for cue in cues}


def test_the_made_up_songs_hold_every_kind_of_cue_and_of_words() -> None:
    cues = [cue for _, found, _, _ in sections() for cue in found]
    kinds = {cue.key.split(":")[0].split(" ")[0] for cue in cues}
    assert kinds == {"next", "count-in", "begin", "change", "tightens", "meeting", "landing", "then"}
    text = "\n".join(cue.text for cue in cues)
    for words in ("this turn and", "beats", "/", "alone", "tacet", "everybody"):
        assert words in text, words
    assert "turns of hand drum" not in text  # its player owns no other
    assert "of fives" in text
