"""What may be other about a layer in one section: its cycle, when it sounds, that it tightens."""

from __future__ import annotations

import jsonschema
import pytest
import yaml

from bridge.cycles import Kind
from bridge.exact import Bars, Length
from bridge.plan import Plan, dump, load, schema
from bridge.plan.model import Stay
from tests.plan.texts import loaded, pointed_at, refused, song

ROW = "cycles: [5/8, 4/8, 3/8, 2/8]"
CHECK = jsonschema.Draft202012Validator(schema())


def section(layers: str, *, more: str = "") -> str:
    return f"name: A, layers: {layers}, bars: 20{more}"


def counting(plan: Plan) -> list[dict[str, tuple[str, Length, Length]]]:
    """For each section, who counts: since which section, how late in it, in which turn."""
    return [
        {name: (entry.section.name, entry.enters, entry.layer.turn) for name, entry in counts.items()}
        for run in plan.runs
        for counts in plan.counting(run)
    ]


def test_a_cycle_may_be_other_in_one_section_while_start_rate_and_player_stay() -> None:
    plan = loaded(
        section("[{shaker: {cycle: 5/8}}, band]"),
        layers="shaker: {cycle: 3/16, start: 1/4, rate: 3/2, player: percussion}",
    )
    given = plan.sections[0].changed["shaker"]
    assert (given.cycle, given.start, given.rate) == (
        Length("5/8"),
        plan.layers["shaker"].start,
        plan.layers["shaker"].rate,
    )
    assert given.player == "percussion"
    assert plan.sections[0].layers == ("band", "shaker")
    assert plan.layers["shaker"].cycle == Length("3/16")


@pytest.mark.parametrize(
    ("change", "kind", "cycle"),
    [
        ("cycle: 2 bars", Kind.CYCLE, Bars(2)),
        ("groups: [3, 2], unit: 1/8", Kind.GROUPS, Length("5/8")),
        ("pulses: 5, over: 1 bar", Kind.PULSES, Bars(1)),
        ("pattern: x.x.., unit: 1/16", Kind.PATTERN, Length("5/16")),
    ],
)
def test_the_other_cycle_is_given_in_any_way_there_is(change: str, kind: Kind, cycle: Length | Bars) -> None:
    given = loaded(section(f"[{{drum: {{{change}}}}}]")).sections[0].changed["drum"]
    assert (given.kind, given.cycle) == (kind, cycle)


def test_a_change_that_changes_nothing_is_none() -> None:
    assert loaded(section("[{drum: {cycle: 6/32, start: 0}}]")).sections[0].changed == {}


def test_in_a_run_a_layer_counts_anew_where_its_cycle_changes_and_where_it_changes_back() -> None:
    plan = loaded(
        "name: A, layers: [band, drum], bars: 1, runs_on: true",
        "name: B, layers: [band, {drum: {cycle: 5/8}}], bars: 1, runs_on: true",
        "name: C, layers: [band, {drum: {cycle: 10/16}}], bars: 1, runs_on: true",
        "name: D, layers: [band, drum], bars: 1, resolve: []",
    )
    none, plain, other = Length(0), Length("3/16"), Length("5/8")
    assert [counts["drum"] for counts in counting(plan)] == [
        ("A", none, plain),
        ("B", none, other),
        ("B", none, other),
        ("D", none, plain),
    ]
    assert all(counts["band"][0] == "A" for counts in counting(plan))


@pytest.mark.parametrize(
    ("written", "enters"),
    [("bar 5", Length(4)), ("4 bars", Length(4)), ("5/8", Length("5/8")), ("1 bar", Length(1))],
)
def test_a_layer_enters_at_a_bar_or_after_so_much_and_its_time_counts_from_there(
    written: str, enters: Length
) -> None:
    plan = loaded(section(f"[band, {{drum: {{enters: {written}}}}}]"))
    assert plan.sections[0].stays == {"drum": Stay(enters=enters)}
    assert counting(plan)[0]["drum"] == ("A", enters, Length("3/16"))


def test_bars_are_those_of_the_section_where_meters_repeat() -> None:
    plan = loaded(section("[{drum: {enters: bar 3, leaves: bar 4}}]", more=", meter: [4/4, 7/8]"))
    assert plan.sections[0].stays["drum"] == Stay(enters=Length("15/8"), leaves=Length("23/8"))


def test_who_leaves_need_not_be_home_at_the_end_but_may_be_asked_to() -> None:
    assert loaded(section("[band, {drum: {leaves: bar 9}}]")).sections[0].resolve == ("band",)
    asked = loaded(section("[band, {drum: {leaves: bar 9}}]", more=", resolve: [drum]"))
    assert asked.sections[0].resolve == ("drum",)


def test_a_layer_that_has_sounded_enters_again_where_it_says_so() -> None:
    plan = loaded(
        "name: A, layers: [band, drum], bars: 1, runs_on: true",
        "name: B, layers: [band, {drum: {enters: bar 2}}], bars: 4, resolve: []",
    )
    assert counting(plan)[1]["drum"] == ("B", Length(1), Length("3/16"))


def test_a_tightening_fills_its_bars_with_whole_turns() -> None:
    # 8 turns each of 5, 4, 3, 2 eighths are 14 bars of 4/4 (common practice, no source)
    plan = loaded(section("[drum]", more=f", tighten: {{layer: drum, {ROW}, over: 14 bars}}"))
    tighten = plan.sections[0].tighten
    assert tighten is not None
    assert (tighten.layer, tighten.found.bars) == ("drum", 14)
    assert [stage.turns for stage in tighten.found.stages] == [8, 8, 8, 8]


def test_after_a_tightening_a_layer_counts_from_where_it_next_sounds() -> None:
    plan = loaded(
        f"name: A, layers: [band, drum], bars: 17, runs_on: true, tighten: {{layer: drum, {ROW}, over: 14}}",
        "name: B, layers: [band], bars: 2, runs_on: true",
        "name: C, layers: [], bars: 1, runs_on: true",
        "name: D, layers: [band, drum], bars: 4, resolve: []",
    )
    assert [counts.get("drum", ("nobody",))[0] for counts in counting(plan)] == ["A", "nobody", "nobody", "D"]


def test_in_a_general_pause_after_it_who_tightened_has_already_come_home() -> None:
    plan = loaded(
        f"name: A, layers: [band, drum], bars: 17, runs_on: true, tighten: {{layer: drum, {ROW}, over: 14}}",
        "name: B, layers: [], bars: 3",
    )
    assert plan.sections[1].resolve == ("band",)


PLANS = [
    section("[{drum: {cycle: 5/8}}, band]"),
    section("[{drum: {groups: [3, 2], unit: 1/8, start: 1/4, rate: 3/2}}, band]"),
    section("[{drum: {pulses: 5, over: 1 bar}}, {bells: {pattern: .x., unit: 1/8, enters: 5/8}}]"),
    section("[{drum: {enters: bar 5, leaves: 31/4}}, {bells: {leaves: 8 bars}}]"),
    section("[drum]", more=f", tighten: {{layer: drum, {ROW}, over: 14 bars}}"),
    section("[drum]", more=f", tighten: {{layer: drum, {ROW}, over: 15, share: near-turns}}"),
    section("[drum]", more=f", tighten: {{layer: drum, {ROW}, over: 20, share: time, on_barlines: true}}"),
    section("[drum]", more=f", tighten: {{layer: drum, {ROW}, over: 20, share: quickening, ratio: 2/3}}"),
    section("[drum]", more=f", meter: [4/4, 7/8], tighten: {{layer: drum, {ROW}, over: 28}}"),
]


@pytest.mark.parametrize("text", PLANS)
def test_written_out_and_loaded_again_it_is_the_same_and_valid_under_the_schema(text: str) -> None:
    plan = loaded(text)
    assert load(dump(plan)) == plan
    assert dump(load(dump(plan))) == dump(plan)
    CHECK.validate(yaml.safe_load(song(text)))
    CHECK.validate(yaml.safe_load(dump(plan)))


@pytest.mark.parametrize(
    ("layers", "at", "says", "hint"),
    [
        ("[{durm: {cycle: 5/8}}]", "durm", "no layer 'durm'", "Did you mean 'drum'?"),
        ("[{drum: {cylce: 5/8}}]", "cylce", "has no key 'cylce'", "Did you mean 'cycle'?"),
        ("[{drum: {cycle: 5/8}, band: {cycle: 1 bar}}]", "{drum", "one name, not 2 keys", "of its own"),
        ("[{drum: {cycle: 5/8}}, drum]", "drum", "named twice", "Keep one"),
        ("[drum, {drum: {cycle: 5/8}}]", "drum", "named twice", "Keep one"),
        ("[{drum: {}}]", "{}", "nothing is said", "name alone"),
        ("[{drum: 5/8}]", "5/8", "a group of keys", "{cycle: 3/16}"),
        ("[{drum: {cycle: 5/8, groups: [3, 2], unit: 1/8}}]", "groups", "exactly one way", "{cycle: 3/16}"),
        ("[{drum: {groups: [3, 2]}}]", "groups", "not 'unit'", "{cycle: 3/16}"),
        ("[{drum: {player: guitars}}]", "player", "no key 'player'", "keeps its player"),
        ("[{drum: {enters: bar 1}}]", "bar 1", "cannot be bar 1", "from the start"),
        ("[{drum: {enters: bar 0}}]", "bar 0", "cannot be bar 0", "from the start"),
        ("[{drum: {enters: bar 1234567890123}}]", "bar 1234567890123", "13 digits", ""),
        ("[{drum: {enters: bar x}}]", "bar x", "'bar x'", "'24 bars'"),
        ("[{drum: {enters: 4}}]", "4}", "bars or whole notes", "'4 bars'"),
        ("[{drum: {enters: 0/4}}]", "0/4", "more than 0", ""),
        ("[{drum: {enters: bar 5, leaves: 4 bars}}]", "leaves", "leaves before it enters", "later"),
        ("[[drum]]", "[drum]", "one value, not a list", ""),
    ],
)
def test_what_cannot_be_said_of_a_layer_is_refused_at_its_place(
    layers: str, at: str, says: str, hint: str
) -> None:
    error = refused(song(section(layers)))
    assert says in error.message
    assert pointed_at(error).startswith(at)
    assert hint in (error.hint or "")


@pytest.mark.parametrize(
    ("more", "at", "says", "hint"),
    [
        (f"{{layer: bells, {ROW}, over: 14}}", "bells", "does not sound in 'A'", "drum"),
        (f"{{layer: dram, {ROW}, over: 14}}", "dram", "no layer 'dram'", "Did you mean 'drum'?"),
        (f"{{layer: drum, {ROW}}}", "{layer", "lacks the key 'over'", "Add"),
        (f"{{layer: drum, {ROW}, over: 15}}", "15", "nearest that can: 14 bars and 21 bars", "over: 21 bars"),
        (f"{{layer: drum, {ROW}, over: 2:30}}", "2:30", "a number of bars", ""),
        ("{layer: drum, cycles: [4/8, 5/8], over: 14}", "[4/8", "shrink", "shorter"),
        ("{layer: drum, cycles: [4/8], over: 14}", "[4/8", "2 to 16 cycles", ""),
        ("{layer: drum, cycles: 4/8, over: 14}", "4/8", "are a list", "[4/8]"),
        (f"{{layer: drum, {ROW}, over: 14, share: even}}", "even", "turns, near-turns, time, quickening", ""),
        (
            f"{{layer: drum, {ROW}, over: 14, ratio: 1/2}}",
            "ratio",
            "belongs to a quickening",
            "share: quickening",
        ),
        (f"{{layer: drum, {ROW}, over: 14, share: quickening, ratio: 1}}", "[5/8", "less than 1", ""),
        ("4", "4", "a tightening is a group of keys", "layer: hand drum"),
    ],
)
def test_what_cannot_tighten_is_refused_at_its_place(more: str, at: str, says: str, hint: str) -> None:
    error = refused(song(section("[band, drum]", more=f", tighten: {more}")))
    assert says in error.message
    assert pointed_at(error).startswith(at)
    assert hint in (error.hint or "")


def tight(over: str) -> str:
    return f", tighten: {{layer: drum, {ROW}, over: {over}}}"


LIST = ", meter: [4/4, 7/8]"
TIGHT_THEN_RESOLVED = (
    f"name: A, layers: [drum], bars: 14, runs_on: true{tight('14')}}}\n"
    "  - {name: B, layers: [band], bars: 4, resolve: [drum]"
)


@pytest.mark.parametrize(
    ("text", "at", "says"),
    [
        (section("[{drum: {leaves: bar 9}}]", more=tight("14")), "tighten", "leaves before"),
        (section("[drum, band]", more=f", meets: once{tight('14')}"), "meets", "'meets: once'"),
        (section("[drum]", more=LIST + tight("15")), "15", "repeat every 2 bars"),
        (section("[drum]", more=LIST + tight("28, on_barlines: true")), "on_barlines", "as a list"),
        (section("[{band: {cycle: 3 bars}}]", more=LIST), "3 bars", "repeat every 2 bars"),
        (TIGHT_THEN_RESOLVED, "drum]", "cannot be resolved"),
    ],
)
def test_what_does_not_go_together_is_refused_by_name(text: str, at: str, says: str) -> None:
    error = refused(song(text))
    assert says in error.message
    assert pointed_at(error).startswith(at)


def test_a_pickup_is_for_those_whose_turns_begin_with_the_section_not_for_who_enters_later() -> None:
    loaded("name: A, layers: [{drum: {cycle: 5/8, start: 0}}], bars: 5, pickup: 1/8")
    error = refused(song("name: A, layers: [{drum: {enters: bar 2}}], bars: 4, pickup: 1/8"))
    assert "nobody can play the pickup" in error.message
