"""A wished range of tempi in the plan file: what it means, how it is written, what is refused."""

from __future__ import annotations

from fractions import Fraction

import jsonschema
import pytest
import yaml

from bridge.exact import Tempo
from bridge.plan import dump, load, schema
from bridge.plan.model import TempoRange
from tests.plan.texts import loaded, pointed_at, refused, song

A = "name: A, layers: [band], bars: 4"
CHECK = jsonschema.Draft202012Validator(schema())


def test_it_is_the_tempi_with_one_decimal_from_the_lower_to_the_higher() -> None:
    plan = loaded(A, tempo="{between: [99.95, 100.2]}")
    assert plan.tempo_range == TempoRange(low=Fraction("99.95"), high=Fraction("100.2"))
    assert plan.tempo_range.grid == (100, Fraction("100.1"), Fraction("100.2"))
    assert TempoRange(low=Fraction(108), high=Fraction(118)).grid[::50] == (108, 113, 118)


def test_sections_fall_back_to_it_unless_they_have_their_own() -> None:
    plan = loaded(
        A,
        "name: B, layers: [band], bars: 4, tempo: 90",
        "name: C, layers: [band], bars: 4, tempo: {pivot: 3/16, becomes: 1/4}",
        "name: D, layers: [band], bars: 4",
        tempo="{between: [108, 118]}",
    )
    assert [section.in_range for section in plan.sections] == [True, False, False, True]
    chosen = plan.at_tempo(Fraction("112.5"))
    assert [section.tempo for section in chosen.sections] == [
        Tempo.constant(Fraction(bpm)) for bpm in ("112.5", "90", "120", "112.5")
    ]


@pytest.mark.parametrize(
    "sections",
    [
        (A,),
        (A, "name: B, layers: [band], bars: 4, tempo: 118"),
        (A, "name: B, layers: [band], bars: 4, tempo: {pivot: 3/16, becomes: 1/4}"),
        ("name: B, layers: [band], bars: 4, tempo: 90",),
    ],
)
def test_written_out_and_loaded_again_it_is_the_same_and_valid_under_the_schema(
    sections: tuple[str, ...],
) -> None:
    text = song(*sections, tempo="{between: [108, 118]}")
    plan = load(text)
    assert load(dump(plan)) == plan
    CHECK.validate(yaml.safe_load(text))
    CHECK.validate(yaml.safe_load(dump(plan)))


@pytest.mark.parametrize(
    ("tempo", "at", "says", "hint"),
    [
        ("{between: [118, 108]}", "[118", "from a lower to a higher", "between"),
        ("{between: [0.5, 10]}", "[0.5", "1 to 1000", ""),
        ("{between: [980, 1001]}", "[980", "1 to 1000", ""),
        ("{between: [108]}", "[108]", "two numbers, not 1", "the lower"),
        ("{between: [108, 110, 112]}", "[108", "two numbers, not 3", "the lower"),
        ("{between: 108}", "108", "are a list", ""),
        ("{between: [60, 101]}", "[60", "at most 40", "narrow"),
        ("{between: [100.01, 100.09]}", "[100.01", "no tempo with one decimal", "single tempo"),
        ("{between: [0, 10]}", "0, 10", "more than 0", ""),
        ("{between: [108, 118], beat: 3/8}", "beat", "has no key 'beat'", ""),
    ],
)
def test_what_is_no_range_is_refused_at_its_place(tempo: str, at: str, says: str, hint: str) -> None:
    error = refused(song(A, tempo=tempo))
    assert says in error.message
    assert pointed_at(error).startswith(at)
    assert hint in (error.hint or "")


def test_a_section_has_no_range_of_its_own() -> None:
    error = refused(song(f"{A}, tempo: {{between: [108, 118]}}"))
    assert "for the whole song" in error.message
    assert not CHECK.is_valid(yaml.safe_load(song(f"{A}, tempo: {{between: [108, 118]}}")))
    bare = refused(song(f"{A}, between: [108, 118]"))
    assert "inside 'tempo'" in (bare.hint or "")


def test_what_has_been_recorded_has_its_tempo() -> None:
    kept = '{"tempo": "112.5", "sections": [{"name": "A", "bars": 4}]}'
    error = refused(song(f"{A}, settled: true", tempo="{between: [108, 118]}"), solved=kept)
    assert "'A' has been recorded" in error.message
    assert "PLAN.solved.json" in (error.hint or "")


def test_a_modulation_stays_within_the_tempi_there_are_at_both_ends_of_the_range() -> None:
    down = "name: B, layers: [band], bars: 4, tempo: {pivot: 1/1, becomes: 1/64}"
    error = refused(song(A, down, tempo="{between: [60, 70]}"))
    assert "a tempo is 1 to 1000" in error.message
    up = "name: B, layers: [band], bars: 4, tempo: {pivot: 1/64, becomes: 1/4}"
    error = refused(song(A, up, tempo="{between: [60, 70]}"))
    assert "a tempo is 1 to 1000" in error.message
    loaded(A, up, tempo="{between: [60, 62]}")
