"""Loading, writing and loading again comes to the same plan."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from bridge.errors import PlanError
from bridge.plan import Plan, dump, load
from tests.plan.strategies import plan_texts
from tests.plan.texts import CONTRACT, SMALL, loaded, song


def test_load_then_dump_then_load_is_the_same() -> None:
    loads: Counter[bool] = Counter()

    @settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(plan_texts())
    def same(text: str) -> None:
        plan = _loaded(text)
        loads[plan is not None] += 1
        if plan is None:
            return
        written = dump(plan)
        assert load(written) == plan
        assert dump(load(written)) == written

    same()
    assert loads[True] > loads[False]


def _loaded(text: str) -> Plan | None:
    """The plan; None for the faults that the made-up texts may have by chance."""
    try:
        return load(text)
    except PlanError as error:
        by_chance = ("repeat every", "a tempo is 1 to 1000", "a free passage")
        if any(words in error.message for words in by_chance):
            return None
        raise


@pytest.mark.parametrize("text", [CONTRACT, SMALL])
def test_the_canonical_text_is_a_plan_again(text: str) -> None:
    assert load(dump(load(text))) == load(text)


def test_the_canonical_text_of_a_small_plan() -> None:
    assert (
        dump(load(SMALL))
        == """\
pulsebridge: 1
title: Small
tempo: 120
meter: 4/4
layers:
  band: {cycle: 4 bars}
  drum: {cycle: 3/16}
sections:
  - name: One
    layers: [band, drum]
    bars: 12
  - name: Two
    layers: [band]
    bars: 8
"""
    )


@pytest.mark.parametrize(
    "written",
    [
        "0.123456789ms",
        "12345678901.1 ms",
        "1.00000000001 ms",
        "0.00000000001 h",
        "1.00000000001 h",
        "99999999.9999 h",
        "999999999999:59.9999999999",
        "999999999999:59:59.9999999999",
        "0.12345678901s",
    ],
)
def test_every_time_that_can_be_read_can_be_written(written: str) -> None:
    plan = loaded(f"name: A, layers: [], length: {{about: {written}}}")
    assert load(dump(plan)) == plan


@pytest.mark.parametrize(
    "written", ["0.12345678901", "1/99999999999", "99999999999/1", "123456.123456", "1/1024"]
)
def test_every_number_that_can_be_read_can_be_written(written: str) -> None:
    plan = loaded(
        f"name: A, layers: [], bars: 1, weight: {written}",
        layers=f"x: {{cycle: {written}}}",
    )
    assert load(dump(plan)) == plan


def test_a_long_row_of_modulations_is_kept_as_it_was_written() -> None:
    pivots = ["pivot: 3/16, becomes: 1/4", "pivot: 5/16, becomes: 1/4", "pivot: 7/8, becomes: 1/1"] * 6
    sections = [f"name: S{i}, layers: [], bars: 1, tempo: {{{pivot}}}" for i, pivot in enumerate(pivots)]
    plan = loaded("name: S, layers: [], bars: 1", *sections, tempo="115.2")
    assert len(str(plan.sections[-1].tempo.start)) > 13
    assert load(dump(plan)) == plan


def test_settled_plans_load_again_with_their_solution() -> None:
    solved = '{"sections": [{"name": "A", "bars": 7}]}'
    plan = load(song("name: A, layers: [], settled: true", "name: B, layers: [], bars: 1"), solved=solved)
    assert load(dump(plan), solved=solved) == plan


@pytest.mark.parametrize(
    "name",
    [
        "no",
        "True",
        "null",
        "~",
        "1",
        "2:30",
        "a: b",
        "a #b",
        "- x",
        "[x]",
        "{x}",
        '"',
        "'",
        "\\",
        "<<",
        "é",
        "🌊",
        "*a",
        "&a",
        "!a",
    ],
)
def test_names_are_quoted_where_a_reader_could_take_them_for_something_else(name: str) -> None:
    plan = load(SMALL)
    renamed = replace(plan, sections=(replace(plan.sections[0], name=name), plan.sections[1]))
    assert load(dump(renamed)) == renamed
    line = next(line for line in dump(renamed).splitlines() if "name:" in line)
    assert line.startswith('  - name: "')


def test_a_number_that_no_plan_file_holds_is_refused() -> None:
    plan = load(SMALL)
    heavy = replace(plan, sections=(replace(plan.sections[0], weight=Fraction(10**12, 3)),))
    with pytest.raises(PlanError, match="cannot be written"):
        dump(heavy)
