"""The planner and plain enumeration agree where layers change, come and go, and tighten."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from bridge.craft.stages import Share, Tighten, Tightened
from bridge.craft.tighten import tighten
from bridge.cycles import Kind
from bridge.exact import Bars, Length, Meters
from bridge.plan.model import LayerPlan, Plan, Section, Stay, Tightening, default_resolve
from bridge.shape import Infeasible, Solved, solve
from bridge.song import unroll
from tests.shape.changing import allowed, cheapest_cost
from tests.shape.factory import layer, plan, section, total
from tests.shape.strategies import MOST

_ROWS = [("1/2", "1/4"), ("3/4", "1/2"), ("5/8", "4/8", "3/8"), ("3/8", "1/4", "1/8")]
_CYCLES = ("3/4", "5/4", "3/8", "1/2", "1", "3/2")


def changing_songs() -> st.SearchStrategy[Plan]:
    return st.integers(0, 2**32).map(lambda seed: _song(Random(seed)))


def _song(random: Random) -> Plan:
    count = random.choice([1, 2, 2, 3, 3])
    layers = [
        layer(name, random.choice(_CYCLES), start=random.choice(["0"] * 5 + ["1/4", "5/2"])) for name in "abc"
    ]
    sections = [
        section(
            f"S{at}",
            " ".join(name for name in "abc" if random.random() < 0.7),
            about=random.choice([random.randint(1, MOST[count]), Fraction(random.randint(2, 50), 2)]),
            at_most=MOST[count],
            meter=random.choice(["4/4", "4/4", "3/4", "4/4,3/4"]),
            tempo=random.choice(["120", "90", ("96", "132")]),
            runs_on=at < count - 1 and random.random() < 0.7,
        )
        for at in range(count)
    ]
    song = total(random.randint(4, 40)) if random.random() < 0.3 else None
    made = plan(layers, sections, song=song)
    return _resolving(random, replace(made, sections=tuple(_changed(random, made, s) for s in made.sections)))


def _changed(random: Random, made: Plan, one: Section) -> Section:
    changed, stays = {}, {}
    for name in one.layers:
        if random.random() < 0.3:
            changed[name] = replace(made.layers[name], cycle=Length(random.choice(_CYCLES)))
        if random.random() < 0.25:
            stays[name] = random.choice([Stay(enters=_late(random)), Stay(leaves=_late(random))])
    changed = {name: given for name, given in changed.items() if given != made.layers[name]}
    here = [name for name in one.layers if stays.get(name, Stay()).leaves is None]
    found = _tightened(random, one.meters) if here and random.random() < 0.4 else None
    tight = None if found is None else Tightening(layer=random.choice(here), found=found)
    return replace(one, changed=changed, stays=stays, tighten=tight)


def _late(random: Random) -> Length:
    return Length(random.choice(["1/4", "1", "2", "7/4"]))


def _tightened(random: Random, meters: Meters) -> Tightened | None:
    asked = Tighten(
        cycles=tuple(Length(cycle) for cycle in random.choice(_ROWS)), share=random.choice(list(Share))
    )
    bars = random.choice([1, 2, 3, 4]) * len(meters.row)
    found = tighten(asked, bars, meters)
    return found if isinstance(found, Tightened) else None


def _resolving(random: Random, made: Plan) -> Plan:
    """Give each section its default, or somebody by name; now and then one meeting only."""
    sections = []
    for run in made.runs:
        for one, counting in zip(run, made.counting(run), strict=True):
            sounded = tuple(name for name in made.layers if name in counting)
            who = default_resolve(one.layers, sounded=sounded, runs_on=one.runs_on, stays=one.stays)
            if random.random() < 0.3:
                who = tuple(name for name in sounded if random.random() < 0.6)
            once = len(who) > 1 and one.tighten is None and random.random() < 0.3
            sections.append(replace(one, resolve=who, meets_once=once))
    return replace(made, sections=tuple(sections))


_QUIET = [HealthCheck.too_slow]


@settings(
    max_examples=80, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(changing_songs())
def test_the_cost_and_the_impossible_are_what_enumeration_says(made: Plan) -> None:
    most = MOST[len(made.sections)]
    expected = cheapest_cost(made, most)
    found = solve(made)
    if expected is None:
        assert isinstance(found, Infeasible)
        return
    assert isinstance(found, Solved)
    assert found.proven
    assert found.cost == expected
    assert found.bars in set(allowed(made, most))
    assert all(placed.resolved for placed in unroll(made, found.bars).sections)


@settings(
    max_examples=80, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(changing_songs())
def test_a_conflict_that_names_a_tightening_holds_and_without_it_something_fits(made: Plan) -> None:
    found = solve(made)
    if not isinstance(found, Infeasible):
        return
    kinds = {(demand.kind, demand.section) for demand in found.conflict}
    assert found.irreducible
    for kind, index in kinds:
        if kind == "tighten" and len(found.conflict) == len(kinds):
            assert index is not None
            assert made.sections[index].tighten is not None
        if kind == "layers":
            assert index is not None
            assert made.sections[index].stays
    assert all(demand.text for demand in found.conflict)


DRUM = layer("drum", "3/16")
BAND = layer("band", 4)
SHRINKING = Tighten(cycles=tuple(Length(cycle) for cycle in ("5/8", "4/8", "3/8", "2/8")))


def tightening(wish: int, **more: object) -> Plan:
    """A section with a drum that tightens over 14 bars, 8 turns each (checks.md: 14 bars of 4/4)."""
    found = tighten(SHRINKING, 14, Meters.parse("4/4"))
    assert isinstance(found, Tightened)
    made = plan([DRUM, BAND], [section("Crossing", "drum", about=wish, **more)])
    (crossing,) = made.sections
    return replace(made, sections=(replace(crossing, tighten=Tightening(layer="drum", found=found)),))


@pytest.mark.parametrize(
    ("wish", "bars"), [(14, 14), (1, 14), (15, 14), (16, 17), (17, 17), (19, 20), (62, 62)]
)
def test_a_section_that_tightens_is_as_long_as_whole_turns_before_it_allow(wish: int, bars: int) -> None:
    # 16 turns of 3/16 are 3 bars: 14, 17, 20 ... bars
    found = solve(tightening(wish))
    assert isinstance(found, Solved)
    assert found.bars == (bars,)


def test_where_the_tightening_does_not_fit_it_is_named_with_what_would_help() -> None:
    made = tightening(15, bars=15)
    found = solve(made)
    assert isinstance(found, Infeasible)
    assert [demand.text for demand in found.conflict] == [
        "Crossing has 15 bars",
        "drum tightens from a home on over the last 14 bars of Crossing",
    ]
    texts = [relaxation.text for relaxation in found.relaxations]
    assert texts == [
        "Crossing needs 1 bar fewer (14), or 2 bars more (17)",
        "Crossing fits with 15 bars where nobody tightens",
    ]


def test_a_tightening_counts_from_a_home_of_the_run_it_came_in_with() -> None:
    made = plan(
        [layer("a", "5/4")],
        [
            section("One", "a", bars=1, runs_on=True),
            section("Two", "a", about=4),
        ],
    )
    found = tighten(Tighten(cycles=(Length("1/2"), Length("1/4"))), 3, Meters.parse("4/4"))
    assert isinstance(found, Tightened)
    two = replace(made.sections[1], tighten=Tightening(layer="a", found=found))
    # home every 5/4 since One began; 5 bars later is the first barline that is one: One 1, Two 4 + 3
    outcome = solve(replace(made, sections=(made.sections[0], two)))
    assert isinstance(outcome, Solved)
    assert outcome.bars == (1, 7)


def test_a_layer_that_is_other_in_one_section_counts_anew_there_and_after() -> None:
    a = layer("a", "5/4")
    made = plan([a], [section("One", "a", bars=3, runs_on=True), section("Two", "a", about=3)])
    two = replace(made.sections[1], changed={"a": replace(a, cycle=Length("3/2"))})
    outcome = solve(replace(made, sections=(made.sections[0], two)))
    assert isinstance(outcome, Solved)
    assert outcome.bars == (3, 3)
    unchanged = solve(made)
    assert isinstance(unchanged, Solved)
    assert unchanged.bars == (3, 2)


def test_a_section_is_long_enough_for_who_enters_in_it() -> None:
    made = plan([DRUM], [section("One", "drum", about=1)])
    one = replace(made.sections[0], stays={"drum": Stay(enters=Length(4))}, resolve=())
    outcome = solve(replace(made, sections=(one,)))
    assert isinstance(outcome, Solved)
    assert outcome.bars == (5,)
    fixed = solve(replace(made, sections=(replace(one, bars=4),)))
    assert isinstance(fixed, Infeasible)
    assert [demand.text for demand in fixed.conflict] == [
        "One has 4 bars",
        "drum comes in or leaves within One",
    ]
    resolved = solve(replace(made, sections=(replace(one, resolve=("drum",)),)))
    assert isinstance(resolved, Solved)
    assert resolved.bars == (7,)


def test_kinds_are_kept_where_a_cycle_changes() -> None:
    pulses = LayerPlan(name="a", cycle=Bars(1), start=Length(0), rate=DRUM.rate, kind=Kind.PULSES, pulses=5)
    made = plan([DRUM], [section("One", "drum", about=3)])
    one = replace(made.sections[0], changed={"drum": replace(pulses, name="drum")})
    outcome = solve(replace(made, sections=(one,)))
    assert isinstance(outcome, Solved)
    assert outcome.bars == (3,)
