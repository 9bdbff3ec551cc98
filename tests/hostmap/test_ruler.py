"""What measuring the plan's places in a host's units promises."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.exact import Length, Place
from bridge.hostmap import Measure, Ruler, Unit
from bridge.hostmap.template import Field
from bridge.plan import load
from bridge.song import unroll

PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 120
meter: 4/4
origin: {bar: 3}
layers: {band: {cycle: 1/8}}
sections:
  - {name: Prelude, layers: [band], bars: 4}
  - {name: Crossing, layers: [band], bars: 8, tempo: {from: 60, to: 90}, meter: [3/4, 7/8]}
  - {name: Landfall, layers: [band], bars: 4, tempo: 90}
"""
RULER = Ruler(unroll(load(PLAN), (4, 8, 4)))
UNITS = list(map(Unit.parse, ("quarters", "whole_notes", "seconds", "bars", "samples@44100", "ticks@480")))


@pytest.mark.parametrize(
    ("unit", "start", "crossing"),
    [
        ("quarters", 8, 24),
        ("whole_notes", 2, 6),
        ("seconds", 4, 12),
        ("samples@48000", 192_000, 576_000),
        ("ticks@960", 7680, 23_040),
        ("bars", 3, 7),
    ],
)
def test_the_origin_is_added_in_every_unit(unit, start, crossing):
    crossing_starts = RULER.song.sections[1].start
    assert RULER.value(Place(0), Unit.parse(unit)) == start
    assert RULER.value(crossing_starts, Unit.parse(unit)) == crossing
    assert RULER.place(F(crossing), Unit.parse(unit)) == crossing_starts


def test_named_seconds_of_the_origin_replace_the_reckoned_ones():
    plan = load(PLAN.replace("{bar: 3}", '{bar: 3, seconds: "0:05.5"}'))
    ruler = Ruler(unroll(plan, (4, 8, 4)))
    assert ruler.value(Place(0), Unit.parse("seconds")) == F(11, 2)
    assert ruler.value(Place(0), Unit.parse("quarters")) == 8


@pytest.mark.parametrize(
    ("kind", "crossing", "grey"), [("i", 0xCC7722, 0x808080), ("s", "#cc7722", "#808080")]
)
def test_a_section_has_its_colour_and_one_without_and_the_end_are_grey(kind, crossing, grey):
    plan = load(PLAN.replace("meter: [3/4, 7/8]}", 'meter: [3/4, 7/8], colour: "#CC7722"}'))
    ruler = Ruler(unroll(plan, (4, 8, 4)))
    places = [*(section.start for section in ruler.song.sections), ruler.song.end]
    assert [ruler.fact(place, Field("colour", kind)) for place in places] == [grey, crossing, grey, grey]


def test_the_share_of_a_bar_is_of_its_own_meter():
    seven_eight = RULER.song.bars.start_of(6)
    assert RULER.value(seven_eight + Length("7/16"), Unit(Measure.BARS)) == F(17, 2)


@given(st.fractions(-2, 30, max_denominator=960), st.sampled_from(UNITS))
def test_a_place_comes_back_from_every_unit(whole_notes, unit):
    place = Place(whole_notes)
    back = RULER.place(RULER.value(place, unit), unit)
    off = abs((back - place).whole_notes)
    assert off <= (F(1, 10**8) if unit.of_time else 0)


def test_how_fine_a_unit_is_differs_on_the_two_sides_of_a_tempo_change():
    low, high = RULER.units_a_second(RULER.song.sections[1].start, Unit(Measure.QUARTERS))
    assert (round(low, 3), round(high, 3)) == (1, 2)
    assert RULER.units_a_second(Place(0), Unit(Measure.SAMPLES, 48000)) == (48000, 48000)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        (Field("bar", "i"), 8),
        (Field("beat", "f"), F(7, 2)),
        (Field("meter_top", "i"), 7),
        (Field("meter_bottom", "i"), 8),
        (Field("quarters", "f"), F(24 + 3) + F(5, 4)),
        (Field("ticks", "i", 480), (F(24 + 3) + F(5, 4)) * 480),
        (Field("colour", "i"), 0x808080),
        (Field("colour", "s"), "#808080"),
    ],
)
def test_fields_about_a_place(field, value):
    place = RULER.song.bars.start_of(6) + Length("5/16")
    assert RULER.fact(place, field) == value


def test_the_tempo_as_a_field_is_the_one_at_that_place():
    assert RULER.fact(RULER.song.sections[1].start, Field("bpm", "f")) == 60
    assert RULER.fact(RULER.song.sections[2].start, Field("bpm", "f")) == 90


def test_bars_before_a_plan_with_a_list_of_meters_are_counted_alike_in_every_unit():
    text = PLAN.replace("meter: 4/4", "meter: [4/4, 7/8]").replace("{bar: 3}", "{bar: 2}")
    ruler = Ruler(unroll(load(text), (4, 8, 4)))
    assert (
        ruler.place(F(1), Unit(Measure.BARS)) == ruler.place(F(0), Unit(Measure.QUARTERS)) == Place(F(-7, 8))
    )
