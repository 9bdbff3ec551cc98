"""Layers that are written as a pattern: x..x..x. on a unit."""

from __future__ import annotations

import jsonschema
import pytest
import yaml

from bridge.cycles.layer import Kind
from bridge.exact import Length, Meters
from bridge.plan import dump, load, schema
from tests.plan.texts import loaded, pointed_at, refused, song

A = "name: A, layers: [shaker], bars: 12"


def test_the_cycle_is_the_steps_and_the_hits_are_its_onsets() -> None:
    plan = loaded(A, layers="shaker: {pattern: x..X|..x., unit: 1/8, start: 1/4, player: percussion}")
    given = plan.layers["shaker"]
    assert (given.kind, given.cycle, given.player) == (Kind.PATTERN, Length(1), "percussion")
    layer = given.fixed(Meters.parse("4/4"))
    assert layer.accents == (Length(0), Length("3/8"), Length("3/4"))
    assert layer.start == Length("1/4")


def test_a_pattern_may_begin_with_a_rest_and_is_home_at_its_first_step_all_the_same() -> None:
    layer = (
        loaded(A, layers="shaker: {pattern: .x.x, unit: 1/16}").layers["shaker"].fixed(Meters.parse("4/4"))
    )
    assert layer.accents == (Length("1/16"), Length("3/16"))
    assert layer.is_home(Length("1/4"))
    assert not layer.is_home(Length("1/16"))


@pytest.mark.parametrize("pattern", ["x..x..x.", ".x", "'|x..x|'", "x"])
def test_a_pattern_written_out_loads_as_the_same(pattern: str) -> None:
    plan = loaded(A, layers=f"shaker: {{pattern: {pattern}, unit: 3/32}}")
    assert load(dump(plan)) == plan


@pytest.mark.parametrize(
    ("keys", "at", "says"),
    [
        ("pattern: x..o, unit: 1/8", "x..o", "'o'"),
        ("pattern: '....', unit: 1/8", "'....'", "at least one hit"),
        ("pattern: [x, x], unit: 1/8", "[x, x]", "one value"),
        ("pattern: x..x", "pattern: x..x", "not 'unit'"),
        ("pattern: x..x, unit: 0", "0}", "more than 0"),
        ("pattern: x..x, unit: 1/8, cycle: 1/2", "unit", "exactly one way"),
        ("pattern: x..x, unit: 1/8, groups: [4]", "unit", "exactly one way"),
        ("unit: 1/8", "unit", "go together"),
        (f"pattern: {'x' * 1025}, unit: 1/8", "x", "1 to 1024 steps"),
        ("pattern: {low: x.., high: .x.}, unit: 1/8", "{low", "several voices are several layers"),
    ],
)
def test_what_is_no_pattern_is_refused_by_name_and_the_schema_refuses_it_too(
    keys: str, at: str, says: str
) -> None:
    text = song(A, layers=f"shaker: {{{keys}}}")
    error = refused(text)
    assert says in error.message
    assert pointed_at(error).startswith(at)
    assert not jsonschema.Draft202012Validator(schema()).is_valid(yaml.safe_load(text))


def test_a_good_pattern_satisfies_the_schema() -> None:
    text = song(A, layers="shaker: {pattern: x..X|..x., unit: 1/8}")
    jsonschema.Draft202012Validator(schema()).validate(yaml.safe_load(text))
