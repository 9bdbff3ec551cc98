"""Published values on rhythm, each with its source beside it.

R2: read in a second source that restates the first.  C: computed with the library named.
M: from memory.
"""

from __future__ import annotations

from fractions import Fraction
from math import gcd

import pytest

from bridge.craft.fill import reachable
from bridge.craft.grouping import count_groupings, mixtures
from bridge.craft.levels import weights
from bridge.craft.measures import (
    interval_vector,
    keith,
    npvi,
    off_beatness,
    phase_process,
    syncopation,
    weighted_note_to_beat,
)
from bridge.craft.pairing import composite
from bridge.craft.pattern import Pattern, even
from bridge.cycles import Kind, Layer
from bridge.exact import Length, Ratio

SHIKO, SON, RUMBA = (0, 4, 6, 10, 12), (0, 3, 6, 10, 12), (0, 3, 7, 10, 12)
SOUKOUS, GAHU, BOSSA = (0, 3, 6, 10, 11), (0, 3, 6, 10, 14), (0, 3, 6, 10, 13)


@pytest.mark.parametrize(
    ("hits", "steps", "written"),
    [
        # Toussaint, "The Euclidean algorithm generates traditional musical rhythms" (2005); R2, C.
        (3, 8, "x..x..x."),
        (5, 8, "x.xx.xx."),
        (5, 9, "x.x.x.x.x"),
        (7, 12, "x.xx.x.xx.x."),
        (9, 16, "x.xx.x.x.xx.x.x."),
        (4, 11, "x..x..x..x."),
    ],
)
def test_euclidean_rhythms(hits, steps, written):
    assert str(even(hits, steps)) == written


def test_the_phase_process_of_seven_in_twelve_is_the_interval_vector_of_the_diatonic_set():
    # Set class 7-35 has the interval vector 2 5 4 3 6 1 (C, music21); shared onsets at
    # shifts 0 to 11 as computed from it.
    pattern = even(7, 12)
    assert phase_process(pattern) == (7, 2, 5, 4, 3, 6, 2, 6, 3, 4, 5, 2)
    assert interval_vector(pattern) == (2, 5, 4, 3, 6, 1)


@pytest.mark.parametrize(
    ("onsets", "distance"),
    [
        # Gómez, Melvin, Rappaport, Toussaint, "Mathematical measures of syncopation" (2005);
        # R2: the first three from the library amads, the others as its tests quote the paper.
        (SHIKO, Fraction(6, 5)),
        (SON, Fraction(14, 5)),
        (RUMBA, Fraction(18, 5)),
        (SOUKOUS, Fraction(18, 5)),
        (GAHU, Fraction(18, 5)),
        (BOSSA, Fraction(4)),
    ],
)
def test_weighted_note_to_beat_distance_in_sixteen_steps(onsets, distance):
    assert weighted_note_to_beat(Pattern.of_onsets(onsets, 16), 4) == distance


@pytest.mark.parametrize(
    ("written", "distance"),
    [
        # The same paper's twelve-step bells, R2 as above (2.142 is 15/7, 3 is 21/7).  One of
        # its ten, x.xx.x.xx.x., is quoted as 2, where the paper's own definition gives 3: left out.
        ("x.x.x.x.xx.x", Fraction(15, 7)),
        ("x.x.x.xx.x.x", Fraction(15, 7)),
        ("x.x.xx.x.x.x", Fraction(3)),
        ("xx.x.xx.x.x.", Fraction(15, 7)),
        ("x.x.xx.x.xx.", Fraction(3)),
        ("x.xx.xx.x.x.", Fraction(15, 7)),
        ("x.x.x.xx.xx.", Fraction(15, 7)),
        ("xxx.x.x.x.x.", Fraction(3)),
        ("x.xx.x.x.xx.", Fraction(15, 7)),
    ],
)
def test_weighted_note_to_beat_distance_in_twelve_steps(written, distance):
    assert weighted_note_to_beat(Pattern.parse(written), 3) == distance


@pytest.mark.parametrize(
    ("onsets", "by_keith", "off"),
    [
        # The same paper (R2, amads).
        (SHIKO, 1, 0),
        (SON, 2, 1),
        (RUMBA, 2, 2),
    ],
)
def test_keiths_measure_and_off_beatness(onsets, by_keith, off):
    pattern = Pattern.of_onsets(onsets, 16)
    assert (keith(pattern), off_beatness(pattern)) == (by_keith, off)


@pytest.mark.parametrize(
    ("durations", "divisions", "score"),
    [
        # Longuet-Higgins and Lee, "The rhythmic interpretation of monophonic music" (1984),
        # the worked figure; R2, as restated in an implementation of it.
        ((1, 3), (2, 2), 1),
        ((2, 1, 3, 2), (2, 2, 2), 2),
        ((3, 1), (2, 2), 0),
        ((2, 1), (3,), 0),
        ((1, 2), (3,), 0),
    ],
)
def test_syncopation_by_the_meters_tree(durations, divisions, score):
    assert syncopation(Pattern.of_groups(durations), weights(divisions)) == score


@pytest.mark.parametrize(
    ("divisions", "expected"),
    [
        # The weights of the same paper, R2 as above.
        ((2, 2, 2), (0, -3, -2, -3, -1, -3, -2, -3)),
        ((3, 2), (0, -2, -1, -2, -1, -2)),
        ((2, 3), (0, -2, -2, -1, -2, -2)),
        ((3, 3), (0, -2, -2, -1, -2, -2, -1, -2, -2)),
        ((2, 2, 3), (0, -3, -3, -2, -3, -3, -1, -3, -3, -2, -3, -3)),
    ],
)
def test_weights_of_the_meters_tree(divisions, expected):
    assert weights(divisions) == expected


def test_npvi_of_the_worked_melody():
    # Daniele and Patel, "An empirical study of historical patterns in musical rhythm"
    # (Music Perception 31, 2013), appendix: 42.2; R2, C.
    half, third = Fraction(1, 2), Fraction(1, 3)
    melody = [1, half, half, 1, half, half, third, third, third, 2, *[third] * 6, 3 * half, 1, half]
    assert round(float(npvi(melody)), 1) == 42.2


@pytest.mark.parametrize(
    ("durations", "value"),
    [
        # Condit-Schultz, "Deconstructing the nPVI" (Music Perception 36, 2019), figure 2; R2 (amads).
        ([1, 1, 1, 1, 4, 1, 1, 1, 1, 4], 40.0),
        ([1, 1, 2, 4, 1, 1, 2, 4], 55.2),
        ([2, 1, 2, 1], 66.7),
        ([1, 2, 4, 2, 1], 66.7),
    ],
)
def test_npvi_of_small_figures(durations, value):
    assert round(float(npvi(durations)), 1) == value


def test_groupings_of_a_bar():
    # Unordered parts 2 to 5 of 16 and 17: 17 and 18 ways; ordered 2s and 3s of 8, 9, 10: 4, 5
    # and 7, the Padovan numbers (C).
    assert [sum(1 for _ in mixtures(steps, range(2, 6))) for steps in (16, 17)] == [17, 18]
    assert [count_groupings(steps, (2, 3)) for steps in (8, 9, 10)] == [4, 5, 7]


@pytest.mark.parametrize(
    ("sizes", "largest"),
    # Sylvester (1884) for two: a·b − a − b; the three by C.
    [((3, 5), 7), ((4, 7), 17), ((6, 9, 20), 43)],
)
def test_the_longest_length_that_whole_turns_cannot_fill(sizes, largest):
    # Our stages have one turn at least, so one turn of each is always there.
    ones = sum(sizes)
    filled = reachable(sizes, up_to=ones + largest + max(sizes) * 3)[-1]
    assert not filled >> (ones + largest) & 1
    assert all(filled >> total & 1 for total in range(ones + largest + 1, ones + largest + min(sizes) + 1))


@pytest.mark.parametrize(
    ("pulses", "against", "onsets"),
    [
        # m in the time of n on their common grid (C).
        (3, 2, (0, 2, 3, 4)),
        (4, 3, (0, 3, 4, 6, 8, 9)),
        (5, 4, (0, 4, 5, 8, 10, 12, 15, 16)),
    ],
)
def test_pulses_against_pulses_sound_together(pulses, against, onsets):
    def even_pulses(name: str, count: int) -> Layer:
        accents = tuple(Length(Fraction(pulse, count)) for pulse in range(count))
        return Layer(name=name, cycle=Length(1), kind=Kind.PULSES, accents=accents)

    layers = [even_pulses("one", pulses), even_pulses("other", against)]
    found = [one.at for one in composite(layers, until=Length(1))]
    grid = Ratio(pulses * against // gcd(pulses, against))
    assert [(at * grid).whole_notes for at in found] == list(onsets)
    assert len(found) == pulses + against - gcd(pulses, against)
