"""Measures of rhythm: laws, and second opinions on random patterns."""

from __future__ import annotations

import warnings
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.craft.groove import measure
from bridge.craft.levels import bar_weights, weights
from bridge.craft.measures import (
    interval_vector,
    keith,
    npvi,
    off_beatness,
    phase_process,
    syncopation,
    weighted_note_to_beat,
)
from bridge.craft.pattern import Pattern, even
from bridge.exact import Length, Meter, Meters
from tests import oracle


def of_steps(*counts: int):
    return st.sampled_from(counts).flatmap(
        lambda steps: (
            st.lists(st.integers(0, 1), min_size=steps, max_size=steps)
            .filter(any)
            .map(lambda hits: Pattern(tuple(hits)))
        )
    )


def quiet_oracle(name: str):
    """Import a library that warns of its own affairs when imported."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return oracle(name)


@settings(max_examples=40, deadline=None)
@given(of_steps(8, 12, 16), st.sampled_from((2, 4)))
def test_note_to_beat_agrees_with_amads(pattern, beat):
    theirs = quiet_oracle("amads.time.meter.syncopation")
    onsets = [Fraction(onset, beat) for onset in pattern.onsets]
    cycle = Fraction(len(pattern.steps), beat)
    expected = theirs.SyncopationMetric().weighted_note_to_beat_distance(onsets, cycle_length=cycle)
    assert weighted_note_to_beat(pattern, beat) == expected


@settings(max_examples=40, deadline=None)
@given(of_steps(2, 4, 8, 16))
def test_keith_and_off_beatness_agree_with_amads(pattern):
    theirs = quiet_oracle("amads.time.rhythm")
    if pattern.steps[0]:  # it fails on a pattern that starts with silence
        assert keith(pattern) == theirs.keith_via_toussaint(list(pattern.steps))
    assert off_beatness(pattern) == theirs.off_beatness(list(pattern.steps))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 16), min_size=2, max_size=12))
def test_npvi_agrees_with_amads(durations):
    theirs = quiet_oracle("amads.time.variability")
    expected = theirs.normalized_pairwise_variability_index(durations)
    assert float(npvi(durations)) == pytest.approx(expected, rel=1e-12)


@settings(max_examples=40, deadline=None)
@given(of_steps(2, 5, 7, 8, 12, 16))
def test_the_interval_vector_agrees_with_amads(pattern):
    theirs = quiet_oracle("amads.core.vector_transforms_checks")
    expected = theirs.indicator_to_interval(pattern.steps, wrap=True, adjacent_not_all=False)
    assert interval_vector(pattern) == tuple(expected)


@settings(max_examples=40, deadline=None)
@given(of_steps(12))
def test_the_interval_vector_of_twelve_steps_agrees_with_music21(pattern):
    chord = quiet_oracle("music21.chord").Chord(list(pattern.onsets))
    assert list(interval_vector(pattern)) == chord.intervalVector


@pytest.mark.parametrize("meter", ["2/4", "3/4", "4/4", "6/8", "9/8", "12/8"])
def test_stronger_steps_are_stronger_in_music21_too(meter):
    theirs = quiet_oracle("music21.meter").TimeSignature(meter)
    ours = bar_weights(Meter.parse(meter), Length("1/8"))
    strengths = [theirs.getAccentWeight(step * 0.5) for step in range(len(ours))]
    for one, strength in enumerate(strengths):
        for other, weaker in enumerate(strengths):
            if strength > weaker:
                assert ours[one] > ours[other], (one, other)


@given(of_steps(5, 8, 12))
def test_a_shift_shares_as_much_as_the_shift_back(pattern):
    shared = phase_process(pattern)
    assert shared[0] == len(pattern.onsets)
    assert sum(shared) == len(pattern.onsets) ** 2
    assert shared[1:] == shared[:0:-1]


@given(of_steps(8, 16))
def test_syncopation_is_none_where_every_note_starts_as_strong_as_what_it_covers(pattern):
    divisions = {8: (2, 2, 2), 16: (2, 2, 2, 2)}[len(pattern.steps)]
    strengths = weights(divisions)
    score = syncopation(pattern, strengths)
    covered = [
        max(strengths[(onset + step) % len(strengths)] for step in range(gap)) > strengths[onset]
        for onset, gap in zip(pattern.onsets, pattern.gaps, strict=True)
    ]
    assert (score > 0) == any(covered)


@given(st.integers(1, 24), st.integers(1, 24))
def test_even_patterns_are_the_maximally_even_sets_of_clough_and_douthett(hits, steps):
    # J-function of Clough and Douthett, "Maximally even sets" (1991), from memory: the set
    # of floor(i * steps / hits); every maximally even set is a rotation of it.
    if hits > steps:
        return
    theirs = Pattern.of_onsets({step * steps // hits for step in range(hits)}, steps)
    assert even(hits, steps) in {theirs.rotated(by) for by in range(steps)}


def test_what_is_not_defined_is_none():
    common = Meters.parse("4/4")
    three = measure(Pattern.parse("x.x"), unit=Length("1/16"), meters=common)
    assert (three.note_to_beat, three.keith, three.syncopation) == (None, None, None)
    one = measure(Pattern.parse("x......."), unit=Length("1/8"), meters=common)
    assert one.npvi is None
    uneven = measure(Pattern.parse("x.x.x.."), unit=Length("1/8"), meters=Meters.parse("2+2+3/8"))
    assert uneven.note_to_beat is None
    assert uneven.syncopation == 0
