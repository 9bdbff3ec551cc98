"""Patterns and grooves: how they are written, what is refused, and the even ones."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.craft.groove import parse_groove, step_weights
from bridge.craft.levels import bar_weights, beat_steps
from bridge.craft.pattern import Groove, Pattern, even
from bridge.errors import PlanError
from bridge.exact import Length, Meter, Meters

EIGHTH = Length("1/8")
COMMON = Meters.parse("4/4")

patterns = (
    st.lists(st.integers(0, 2), min_size=1, max_size=24).filter(any).map(lambda steps: Pattern(tuple(steps)))
)


@settings(max_examples=60, deadline=None)
@given(patterns)
def test_a_pattern_written_and_read_is_the_same(pattern):
    assert Pattern.parse(str(pattern)) == pattern


@settings(max_examples=60, deadline=None)
@given(patterns)
def test_the_gaps_add_up_to_the_cycle(pattern):
    assert sum(pattern.gaps) == len(pattern.steps)


@settings(max_examples=60, deadline=None)
@given(patterns, st.integers(-30, 30))
def test_rotating_forth_and_back_is_the_same(pattern, by):
    assert pattern.rotated(by).rotated(-by) == pattern


def test_spaces_and_barlines_are_for_the_eye():
    assert Pattern.parse(" x..x | ..x. |") == Pattern.parse("x..x..x.")


def test_groups_have_a_hit_at_each_head():
    assert str(Pattern.of_groups((3, 3, 2))) == "x..x..x."


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x..o", "cannot hold 'o'"),
        ("....", "at least one hit"),
        ("", "1 to 1024 steps"),
        ("x\x1b", "cannot hold"),
    ],
)
def test_what_is_no_pattern_is_refused(text, said):
    with pytest.raises(PlanError, match=said):
        Pattern.parse(text)


@pytest.mark.parametrize("hits", [0, 9])
def test_an_even_pattern_has_room_for_its_hits(hits):
    with pytest.raises(PlanError, match="1 hit to each"):
        even(hits, 8)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 40).flatmap(lambda steps: st.tuples(st.integers(1, steps), st.just(steps))))
def test_the_gaps_of_an_even_pattern_differ_by_one_step_at_most(case):
    hits, steps = case
    pattern = even(hits, steps)
    assert len(pattern.onsets) == hits
    assert pattern.onsets[0] == 0
    assert set(pattern.gaps) <= {steps // hits, -(-steps // hits)}


def test_barlines_come_from_the_meter_unless_written():
    voices = {"low": "x..x..x.x..x..x."}
    assert parse_groove(voices, unit=EIGHTH, meters=COMMON).barlines == (0, 8)
    voices = {"low": "x..x..|x.x..x..x."}
    assert parse_groove(voices, unit=EIGHTH, meters=COMMON).barlines == (0, 6)


def test_a_closing_barline_begins_no_bar():
    groove = parse_groove({"low": "|x..x|x.x.|"}, unit=EIGHTH, meters=COMMON)
    assert groove.barlines == (0, 4)
    assert groove.show(groove.voice("low")) == "x..x|x.x."


def test_voices_that_disagree_are_refused():
    with pytest.raises(PlanError, match="equally many steps"):
        parse_groove({"low": "x...", "high": "x.."}, unit=EIGHTH, meters=COMMON)
    with pytest.raises(PlanError, match="different barlines"):
        parse_groove({"low": "x.|x.", "high": "x|.x."}, unit=EIGHTH, meters=COMMON)


def test_an_unknown_voice_is_refused_with_those_there_are():
    groove = Groove(unit=EIGHTH, voices=(("low", Pattern.parse("x.")),))
    with pytest.raises(PlanError, match="there are low"):
        groove.voice("high")


def test_the_weights_of_additive_and_compound_bars():
    assert bar_weights(Meter.parse("2+2+3/8"), EIGHTH) == (0, -2, -1, -2, -1, -2, -2)
    assert bar_weights(Meter.parse("6/8"), EIGHTH) == (0, -2, -2, -1, -2, -2)
    with pytest.raises(PlanError, match="do not divide"):
        bar_weights(Meter.parse("4/4"), Length("3/16"))


def test_uneven_beats_have_no_one_length():
    assert beat_steps(Meter.parse("6/8"), EIGHTH) == 3
    assert beat_steps(Meter.parse("2+2+3/8"), EIGHTH) is None


@pytest.mark.parametrize("text", ["2/4", "3/4", "5/8", "6/8", "7/8", "12/16", "2+2+3/8", "3+3/8", "2+2/4"])
def test_a_beat_in_steps_is_the_beat_that_players_count(text):
    meter = Meter.parse(text)
    beats = {beat / Length("1/16") for beat in meter.counted}
    steps = beat_steps(meter, Length("1/16"))
    assert [steps] == [int(beat.value) for beat in beats] if len(beats) == 1 else steps is None


def test_a_groove_that_is_no_whole_bars_has_weights_of_its_own():
    groove = parse_groove({"low": "x.x"}, unit=EIGHTH, meters=COMMON)
    assert step_weights(groove, COMMON) == (0, -1, -1)


@pytest.mark.parametrize("unit", ["3/16", "1/999999999999", "999999999999"])
def test_a_unit_that_fits_no_bar_is_measured_without_the_meter(unit):
    groove = parse_groove({"low": "x..x"}, unit=Length(unit), meters=COMMON)
    assert groove.barlines[0] == 0
    assert step_weights(groove, COMMON) == (0, -2, -1, -2)
