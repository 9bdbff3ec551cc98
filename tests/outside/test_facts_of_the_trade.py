"""What every drummer knows: checked against the tool, through the command line and the core.

Source of all of these: common practice, no source.  The figures were worked out beside
each value.
"""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from bridge.cli.main import main
from bridge.cycles import Layer, good_lengths, near_meetings, period
from bridge.exact import Length, Meters, Ratio, Tempo, seconds_of

FOUR = Meters.parse("4/4")
DRUM = Layer(name="hand drum", cycle=Length("3/16"))
BAND = Layer(name="band", cycle=Length(4))
FIGURE = Layer(name="figure", cycle=Length("12/16"))
FASTER = Layer(name="second figure", cycle=Length("12/16"), rate=Ratio("73/72"))


def ask(capsys, *words: str) -> dict:
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_three_sixteenths_over_four_four_come_back_to_the_one_after_3_bars():
    good = good_lengths(FOUR, [DRUM])  # common practice, no source: 3 bars are 16 turns
    assert (good.at_or_after(1), good.period_bars) == (3, 3)
    assert DRUM.turns(FOUR.of_bars(3)) == 16


def test_with_a_band_phrase_of_4_bars_everybody_meets_every_12_bars():
    good = good_lengths(FOUR, [DRUM, BAND])  # common practice, no source
    assert (good.at_or_after(1), good.period_bars) == (12, 12)
    assert [n for n in range(1, 73) if n in good] == [12, 24, 36, 48, 60, 72]


def test_72_bars_of_four_four_in_two_and_a_half_minutes_is_115_2(capsys):
    # common practice, no source; 72 bars × 4 quarters × 60 s / 150 s
    assert ask(capsys, "lengths", "--bars", "72", "--lasts", "2:30")["tempo"] == "115.2"
    assert seconds_of(FOUR.of_bars(72), Tempo.constant(Fraction("115.2"))) == 150


def test_a_landing_of_17_sixteenths_over_four_bars_is_met_once_in_68_bars(capsys):
    # common practice, no source; 3/16 over the same phrases has met five times before bar 73
    assert "17/16" in ask(capsys, "find", "--bars", "68", "--layer", "band=4bars", "--for", "drum")["cycles"]
    together = good_lengths(FOUR, [DRUM, BAND])
    assert together.count_to(72) - 1 == 5


@pytest.mark.parametrize("shift", range(13))
def test_a_12_note_pattern_played_slightly_faster_stands_each_shift_apart_in_turn(shift):
    # common practice, no source: one, two ... eleven notes apart; the twelfth shift is the unison
    assert period([FIGURE, FASTER]) == Length(54)
    at = Length(Fraction(54 * shift, 12))
    behind, ahead = FIGURE.phase(at), FASTER.phase(at)
    assert behind is not None
    assert ahead is not None
    assert (ahead - behind) % 1 * 12 == shift % 12


def test_the_unison_of_the_drifting_patterns_is_neared_and_left_within_a_note():
    # common practice, no source: the shift grows by a 73rd of a turn, so neighbours are near too
    met = list(near_meetings([FIGURE, FASTER], within=Length("1/64"), after=Length(27), before=Length(81)))
    assert [str(it.spread) for it in met] == ["3/292", "0", "3/292"]
