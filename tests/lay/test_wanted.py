"""What turning the plan's markers into a host's terms promises."""

from fractions import Fraction as F

import pytest

from bridge.errors import PlanError
from bridge.hostmap import MarkerHeard, Number, load
from bridge.lay import want
from bridge.lay.wanted import SAMPLE
from tests.lay.simulate import host_map, song_ruler

SONG = song_ruler((4, 13, 12, 8), tempo="115.2")
LATE = song_ruler((4, 13, 12, 8), origin=30_000, tempo="115.2")


def only(ruler=SONG, **more):
    return want(ruler, host_map(**more))[1]


@pytest.mark.parametrize(
    ("place", "unit", "args"),
    [
        ("{seconds:f}", "seconds", (25 / 3,)),
        ("{seconds:d}", "seconds", (25 / 3,)),
        ("{quarters:f}", "quarters", (16.0,)),
        ("{whole_notes:d}", "whole_notes", (4.0,)),
        ("{samples:i}", "samples@48000", (400_000,)),
        ("{samples@44100:h}", "samples@44100", (367_500,)),
        ("{ticks:i}", "ticks@960", (15_360,)),
        ("{ticks@480:f}", "ticks@480", (7680.0,)),
        ("{bar:i}", "bars", (5,)),
    ],
)
def test_each_unit_is_sent_as_the_host_counts_it(place, unit, args):
    wanted = only(place=place, unit=unit)
    assert wanted.messages[0].args[:1] == pytest.approx(args, rel=1e-7)
    assert wanted.refusal is None


def test_the_origin_is_added():
    assert want(song_ruler((4, 4), origin=3), host_map())[0].messages[0].args == (4.0, "Prelude")


@pytest.mark.parametrize("unit", ["seconds", "quarters", "samples@48000", "ticks@960", "bars"])
def test_a_marker_counts_as_in_place_up_to_half_a_millisecond_and_no_more(unit):
    wanted = only(place="{seconds:i}" if unit == "samples@1000" else "{seconds:d}", unit=unit)
    coarse = wanted.cap * 10
    inside, outside = wanted.at + wanted.cap * F(99, 100), wanted.at + wanted.cap * F(101, 100)
    assert wanted.is_met_by(MarkerHeard(1, "Crossing", Number(inside, coarse)))
    assert not wanted.is_met_by(MarkerHeard(1, "Crossing", Number(outside, coarse)))
    assert not wanted.is_met_by(MarkerHeard(1, "Crossing!", Number(inside, coarse)))


def test_a_marker_counts_as_in_place_within_the_coarser_rounding_of_the_two():
    whole, double = only(song_ruler((4, 4, 4)), place="{samples@8000:i}"), only(place="{seconds:d}")
    off = 2 * SAMPLE
    fine, coarse = F(1, 2**49), F(1, 8000)
    assert whole.is_met_by(MarkerHeard(1, "Crossing", Number(whole.at + off, fine)))
    assert not double.is_met_by(MarkerHeard(1, "Crossing", Number(double.at + off, fine)))
    assert double.is_met_by(MarkerHeard(1, "Crossing", Number(double.at + off, coarse)))


def test_a_marker_within_one_sample_counts_as_in_place_whatever_the_types():
    double, fine = only(place="{seconds:d}"), F(1, 2**49)
    assert double.is_met_by(MarkerHeard(1, "Crossing", Number(double.at + SAMPLE, fine)))
    assert not double.is_met_by(MarkerHeard(1, "Crossing", Number(double.at + SAMPLE * F(101, 100), fine)))


@pytest.mark.parametrize(
    ("ruler", "place"),
    [(SONG, "{seconds:i}"), (LATE, "{seconds:f}"), (LATE, "{samples:f}")],
)
def test_a_place_that_its_type_cannot_hold_is_refused(ruler, place):
    refused = [wanted for wanted in want(ruler, host_map(place=place)) if wanted.refusal]
    assert refused
    assert all("cannot hold its place" in wanted.refusal for wanted in refused)
    assert all(wanted.messages == () for wanted in refused)


def test_whole_seconds_can_be_sent_as_whole_numbers():
    assert only(song_ruler((4, 4, 4)), place="{seconds:i}").messages[0].args == (8, "Crossing")


def test_a_number_beyond_its_type_is_refused():
    assert "cannot be sent" in only(LATE, place="{samples@96000:i}").refusal


def test_a_map_that_places_nothing_anywhere_is_refused():
    with pytest.raises(PlanError, match="names no place"):
        want(SONG, load("pulsebridge_host: 1\nsays: {place: [{address: /a, args: ['{name:s}']}]}"))
    with pytest.raises(PlanError, match=r"needs 'says.place'"):
        want(SONG, load("pulsebridge_host: 1"))
