"""What a plan file means, sentence by sentence of design.md."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction

import pytest

from bridge.cycles.layer import Kind
from bridge.exact import Bars, Length, Meter, Ratio, Seconds, Tempo
from bridge.plan import Origin, Pivot, load
from tests.plan.texts import CONTRACT, SMALL, loaded

PRELUDE = "name: Prelude, layers: [band], bars: 16"


def test_the_contracts_example_loads_exactly() -> None:
    plan = load(CONTRACT, source="low-tide.yaml")
    assert plan.title == "Low Tide Relay"
    assert plan.source == "low-tide.yaml"
    assert plan.origin == Origin(bar=3)
    assert plan.total is not None
    assert (plan.total.about, plan.total.within, plan.total.weight) == (330, 15, 1)
    assert list(plan.layers) == ["band", "hand drum", "bells", "keys", "figure", "second figure", "shaker"]
    prelude, crossing, landfall = plan.sections
    assert prelude.tempo == Tempo.constant(Fraction(576, 5))
    assert (prelude.bars, prelude.energy) == (16, (10,))
    assert (crossing.about, crossing.at_least, crossing.at_most) == (
        Seconds(Fraction(150)),
        Bars(24),
        Bars(96),
    )
    assert crossing.energy == (20, 90)
    assert crossing.resolve == ("band", "hand drum")
    assert landfall.pays_off is not None
    assert (landfall.pays_off.sections, landfall.pays_off.ratio) == ((1,), 1)


def test_the_three_ways_to_give_a_cycle() -> None:
    layers = load(CONTRACT).layers
    assert layers["band"].cycle == Bars(4)
    assert layers["band"].player == "guitars"
    assert layers["hand drum"].cycle == Length("3/16")
    assert (layers["bells"].kind, layers["bells"].groups, layers["bells"].cycle) == (
        Kind.GROUPS,
        (3, 3, 2),
        Length(1),
    )
    assert (layers["keys"].kind, layers["keys"].pulses, layers["keys"].cycle) == (Kind.PULSES, 5, Bars(1))
    assert layers["second figure"].rate == Ratio("73/72")
    assert layers["shaker"].start == Length("1/4")


@pytest.mark.parametrize(
    ("written", "cycle"),
    [
        ("3/16", Length("3/16")),
        ("12/16", Length("3/4")),
        ("0.75", Length("3/4")),
        ("2/1", Length(2)),
        ("1 bar", Bars(1)),
        ("4bars", Bars(4)),
        ('"4 bars"', Bars(4)),
    ],
)
def test_cycles_are_whole_notes_or_bars(written: str, cycle: Length | Bars) -> None:
    plan = loaded("name: A, layers: [], bars: 1", layers=f"x: {{cycle: {written}}}")
    assert plan.layers["x"].cycle == cycle


def test_a_start_may_exceed_the_cycle_and_may_be_whole() -> None:
    plan = loaded("name: A, layers: [], bars: 1", layers="x: {cycle: 1/4, start: 2}")
    assert plan.layers["x"].start == Length(2)


@pytest.mark.parametrize(
    "written", ["2:30", '"2:30"', "'2:30'", "150s", "150 s", "2.5 min", "2.5min", "0:02:30"]
)
def test_a_time_is_a_time_whether_quoted_or_not(written: str) -> None:
    assert loaded(f"name: A, layers: [], length: {{about: {written}}}").sections[0].about == Seconds(
        Fraction(150)
    )


@pytest.mark.parametrize("written", ["24", "24 bars", '"24"', "24bars"])
def test_a_bare_integer_is_bars(written: str) -> None:
    assert loaded(f"name: A, layers: [], length: {{about: {written}}}").sections[0].about == Bars(24)
    assert loaded(f"name: A, layers: [], bars: {written}").sections[0].bars == 24


@pytest.mark.parametrize(
    "name", ["no", "yes", "null", "~", "1", "2:30", "115.2", "true", "[x]", "2024-01-01"]
)
def test_every_text_is_a_name(name: str) -> None:
    quoted = f'"{name}"' if name == "[x]" else name
    plan = loaded(f"name: {quoted}, layers: [{quoted}], bars: 1", layers=f"{quoted}: {{cycle: 1/4}}")
    assert plan.sections[0].name == name
    assert plan.sections[0].layers == (name,)


def test_names_are_trimmed() -> None:
    plan = loaded('name: "  A  ", layers: [" x"], bars: 1', layers='" x ": {cycle: 1/4}')
    assert plan.sections[0].name == "A"
    assert plan.sections[0].layers == ("x",)


def test_names_may_have_200_bytes() -> None:
    assert loaded(f"name: {'é' * 100}, layers: [], bars: 1").sections[0].name == "é" * 100


def test_block_style_flow_style_comments_and_bom_read_alike() -> None:
    block = """\ufeff# a comment
pulsebridge: 1
title: 'Small'   # another
tempo:
  120
meter: 4/4
layers:
  band:
    cycle: 4 bars
  drum:
    cycle: 3/16
sections:
- name: One
  layers:
  - band
  - drum
  bars: 12
-
  name: Two
  layers: [band,]
  bars: 8
"""
    assert load(block) == load(SMALL) == load(SMALL.encode()) == load(SMALL.replace("\n", "\r\n"))


def test_an_alias_stands_for_what_it_names() -> None:
    plan = loaded("name: A, layers: &l [band, drum], bars: 12", "name: B, layers: *l, bars: 12")
    assert plan.sections[1].layers == ("band", "drum")


def test_a_plan_without_a_title_is_called_untitled() -> None:
    assert loaded(PRELUDE).title == "Untitled"


def test_tempo_and_meter_hold_in_their_section_only() -> None:
    plan = loaded(
        PRELUDE, "name: A, layers: [], bars: 1, tempo: 90, meter: 7/8", "name: B, layers: [], bars: 1"
    )
    assert [section.tempo.start for section in plan.sections] == [120, 90, 120]
    assert [str(section.meters) for section in plan.sections] == ["4/4", "7/8", "4/4"]


@pytest.mark.parametrize(
    ("written", "start", "end"),
    [
        ("115.2", "576/5", "576/5"),
        ("{beat: 3/8, bpm: 80}", "120", "120"),
        ("{from: 96, to: 132}", "96", "132"),
        ("{from: 80, to: 90, beat: 3/8}", "120", "135"),
        ("{from: 96, to: 96}", "96", "96"),
    ],
)
def test_tempi_are_in_quarters_unless_a_beat_is_named(written: str, start: str, end: str) -> None:
    tempo = loaded(PRELUDE, tempo=written).sections[0].tempo
    assert (tempo.start, tempo.end) == (Fraction(start), Fraction(end))


def test_a_songs_ramp_is_each_falling_back_sections_own() -> None:
    plan = loaded(PRELUDE, "name: B, layers: [], bars: 1", tempo="{from: 96, to: 132}")
    assert [str(section.tempo) for section in plan.sections] == ["96 to 132", "96 to 132"]


def test_a_metric_modulation_takes_the_old_note_as_the_new() -> None:
    """115.2 with 3/16 becoming the quarter is 153.6: design.md, Time."""
    plan = loaded(PRELUDE, "name: B, layers: [], bars: 1, tempo: {pivot: 3/16, becomes: 1/4}", tempo="115.2")
    assert plan.sections[1].tempo == Tempo.constant(Fraction("153.6"))
    assert plan.sections[1].pivot == Pivot(old=Length("3/16"), new=Length("1/4"))


def test_a_metric_modulation_refers_to_the_end_of_a_ramp() -> None:
    plan = loaded(
        "name: A, layers: [], bars: 1, tempo: {from: 60, to: 90}",
        "name: B, layers: [], bars: 1, tempo: {pivot: 1/4, becomes: 1/8}",
        "name: C, layers: [], bars: 1, tempo: {pivot: 1/4, becomes: 1/2}",
    )
    assert [section.tempo.start for section in plan.sections] == [60, 45, 90]


def test_a_list_of_meters_repeats() -> None:
    meters = loaded("name: A, layers: [], bars: 1", meter="[4/4, 4/4, 2+2+3/8]").sections[0].meters
    assert meters.row == (Meter((4,), 4), Meter((4,), 4), Meter((2, 2, 3), 8))


def test_a_section_with_only_at_least_wishes_for_it() -> None:
    section = loaded("name: A, layers: [], length: {at_least: 1:00, at_most: 90 bars}").sections[0]
    assert section.about == section.at_least == Seconds(Fraction(60))


def test_fixed_bars_keep_their_bounds_without_a_wish() -> None:
    section = loaded("name: A, layers: [], bars: 8, length: {at_least: 4}").sections[0]
    assert (section.bars, section.about, section.at_least) == (8, None, Bars(4))


def test_the_same_length_needs_no_other_and_may_look_forward_in_chains() -> None:
    plan = loaded(
        "name: A, layers: [], same_length_as: B",
        "name: B, layers: [], same_length_as: C",
        "name: C, layers: [], bars: 4",
        "name: D, layers: [], same_length_as: A",
    )
    assert [section.same_length_as for section in plan.sections] == [1, 2, None, 0]


def test_layers_stand_in_the_plans_order() -> None:
    section = loaded("name: A, layers: [bells, band], bars: 60, resolve: [bells, band]").sections[0]
    assert section.layers == section.resolve == ("band", "bells")


def test_all_that_sound_are_resolved_unless_said_and_nobody_with_an_empty_list() -> None:
    plan = loaded(
        "name: A, layers: [band, drum], bars: 12", "name: B, layers: [band, drum], bars: 5, resolve: []"
    )
    assert [section.resolve for section in plan.sections] == [("band", "drum"), ()]


def test_a_section_that_runs_on_resolves_nobody_unless_it_names_them() -> None:
    plan = loaded(
        "name: A, layers: [band, drum], bars: 5, runs_on: true",
        "name: B, layers: [drum], bars: 7, runs_on: true, resolve: [band]",
        "name: C, layers: [drum], bars: 12",
    )
    assert [section.resolve for section in plan.sections] == [(), ("band",), ("drum",)]


def test_a_run_that_ends_in_a_general_pause_resolves_all_that_sounded_in_it() -> None:
    plan = loaded(
        "name: A, layers: [bells], bars: 5",
        "name: B, layers: [drum], bars: 5, runs_on: true",
        "name: C, layers: [band], bars: 5, runs_on: true",
        "name: Hush, layers: [], bars: 2",
        "name: Alone, layers: [], bars: 2",
    )
    assert plan.sections[3].resolve == ("band", "drum")
    assert plan.sections[4].resolve == ()


def test_meets_once_with_two_to_be_resolved() -> None:
    plan = loaded("name: A, layers: [band, drum], bars: 12, meets: once", PRELUDE)
    assert [section.meets_once for section in plan.sections] == [True, False]


def test_a_payoff_is_a_link_or_a_demand_on_one_or_several() -> None:
    plan = loaded(
        PRELUDE,
        "name: B, layers: [], bars: 1, pays_off: Prelude",
        "name: C, layers: [], bars: 9, pays_off: {section: [B, Prelude], ratio: 1/2}",
    )
    link, demand = plan.sections[1].pays_off, plan.sections[2].pays_off
    assert link is not None
    assert demand is not None
    assert (link.sections, link.ratio) == ((0,), None)
    assert (demand.sections, demand.ratio) == ((0, 1), Fraction(1, 2))


def test_weights_may_be_fractions_and_nothing() -> None:
    plan = loaded(
        "name: A, layers: [], length: {about: 8}, weight: 2.5",
        "name: B, layers: [], length: {about: 8}, weight: 0",
    )
    assert [section.weight for section in plan.sections] == [Fraction(5, 2), 0]


def test_the_total_and_the_origin() -> None:
    plan = loaded(PRELUDE, total="{about: 11 min, weight: 3}", origin="{bar: 5, seconds: 0s}")
    assert plan.total is not None
    assert (plan.total.about, plan.total.within, plan.total.weight) == (660, None, 3)
    assert plan.origin == Origin(bar=5, seconds=Fraction(0))


def test_marks_name_the_line_of_each_key() -> None:
    plan = load(CONTRACT)
    crossing, landfall = plan.sections[1:]
    lines = {key: where.line for key, where in crossing.marks.items()}
    assert lines == {
        "name": 17,
        "layers": 18,
        "length": 19,
        "about": 19,
        "at_least": 19,
        "at_most": 19,
        "energy": 20,
    }
    assert landfall.marks["pays_off"].line == 24
    assert landfall.pays_off is not None
    assert landfall.pays_off.where is not None
    assert landfall.pays_off.where.line == 24
    assert plan.total is not None
    assert {key: where.line for key, where in plan.total.marks.items()} == {"about": 5, "within": 5}


def test_a_colour_is_read_as_a_number_and_left_out_unless_given() -> None:
    assert loaded('name: A, layers: [], bars: 1, colour: "#Cc7722"').sections[0].colour == 0xCC7722
    assert loaded("name: A, layers: [], bars: 1").sections[0].colour is None


def test_a_letter_and_a_note_are_read_as_text_and_lines_of_a_note_are_joined() -> None:
    section = loaded('name: A, layers: [], bars: 1, letter: 1, note: "Wait\\n  for the nod"').sections[0]
    assert section.letter == "1"
    assert section.note == "Wait for the nod"
    assert loaded("name: A, layers: [], bars: 1").sections[0].letter is None


def test_a_songs_fixed_bars_may_fill_24_hours_to_the_bar() -> None:
    """At 120 a bar of 4/4 lasts 2 s: 43,200 of them are a day."""
    assert loaded("name: A, layers: [], bars: 43200").sections[0].bars == 43200


SETTLED = '{"sections": [{"name": "A", "bars": 7}, {"name": "B", "bars": 9}, {"name": "C", "bars": 1}]}'


def test_a_settled_section_and_all_before_it_keep_their_bars() -> None:
    text = """\
pulsebridge: 1
tempo: 120
meter: 4/4
layers: {}
sections:
  - {name: A, layers: [], length: {about: 30}}
  - {name: B, layers: [], settled: true}
  - {name: D, layers: [], bars: 4}
"""
    plan = load(text, solved=SETTLED)
    assert [section.settled_bars for section in plan.sections] == [7, 9, None]
    assert [section.settled for section in plan.sections] == [False, True, False]


def test_the_model_alone_pays_for_neither_yaml_nor_pydantic() -> None:
    script = "import sys, bridge.plan; print([m for m in ('yaml', 'pydantic') if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_the_origins_seconds_may_be_a_bare_number_since_the_key_says_the_unit() -> None:
    assert loaded(PRELUDE, origin="{bar: 5, seconds: 12.5}").origin.seconds == Fraction(25, 2)
