"""What a plan file cannot say: each refusal, where it points, and what it advises."""

from __future__ import annotations

import time

import pytest

from bridge.plan import load
from tests.plan.texts import SMALL, pointed_at, refused, song

A = "name: A, layers: [band, drum], bars: 12"


def spoilt(old: str, new: str) -> str:
    assert old in SMALL
    return SMALL.replace(old, new)


def test_an_unknown_key_is_refused_at_its_place_with_what_is_allowed_and_what_was_meant() -> None:
    error = refused(spoilt("tempo: 120", "tempoo: 120"))
    assert str(error.where) == "song.yaml:3:1"
    assert "'tempoo'" in error.message
    assert "meter" in error.message
    assert error.hint == "Did you mean 'tempo'?"


@pytest.mark.parametrize(
    ("old", "new", "at", "hint"),
    [
        ("bars: 8", "barz: 8", "barz: 8", "Did you mean 'bars'?"),
        ("{cycle: 3/16}", "{cylce: 3/16}", "cylce", "Did you mean 'cycle'?"),
        ("layers: [band]", "layers: [bnad]", "bnad", "Did you mean 'band'?"),
        ("layers: [band]", "layers: [Drum]", "Drum", "Did you mean 'drum'?"),
        ("bars: 8", "same_length_as: on", "on}", "Did you mean 'One'?"),
        ("bars: 8", "bars: 8, pays_off: Onee", "Onee", "Did you mean 'One'?"),
        ("bars: 8", "bars: 8, resolve: [bamd]", "bamd", "Did you mean 'band'?"),
        ("bars: 8", "length: {about: 8, at_lest: 4}", "at_lest", "Did you mean 'at_least'?"),
        ("tempo: 120", "tempo: {beat: 1/4, bmp: 3}", "bmp", "Did you mean 'bpm'?"),
        ("{cycle: 3/16}", "{cycle:3/16}", "cycle:3/16", "write 'cycle: 3/16'"),
        ("{cycle: 3/16}", "cycle:3/16", "cycle:3/16", "write 'cycle: 3/16'"),
        ("bars: 8", "about: 8", "about", "inside 'length'"),
        ("bars: 8", "bars: 8, bpm: 90", "bpm", "inside 'tempo'"),
        ("title: Small", "energy: 4", "energy", "a key of a section"),
        ("bars: 8", "bars:8", "bars:8", "write 'bars: 8'"),
        ("tempo: 120", "tempo:120", "", "a colon and a space after it"),
        ("{cycle: 3/16}", "3/16", "3/16", "{cycle: 3/16}"),
        ("bars: 8", "length: 2:30", "2:30", "length: {about: 2:30}"),
        ("bars: 8", "bars: 2:30", "2:30", "length: {about: 2:30}"),
        ("{cycle: 3/16}", "{cycle: 4}", "4}", "'4 bars'"),
        ("meter: 4/4", "meter: '4/4,7/8'", "'4/4,7/8'", "[4/4, 7/8]"),
        ("bars: 8", "bars: 8, runs_on: yes", "yes", "true or false"),
        ("layers: [band]", "layers: band", "band", "Write [band]"),
        ("layers: [band]", "layers: ", " , bars", "[]"),
        ("meter: 4/4", "meter: 4/4\n\ttotal: 1", "\ttotal", "spaces"),
        ("title: Small", "title: a: b", ": b", "quotes"),
        ("tempo: 120", "tempo: {beat: 1/4, bpm: 90,5}", "5}", "with a point"),
        ("title: Small", "title: 'Small", "'Small", "not closed"),
    ],
)
def test_near_misses_get_the_hint_that_helps(old: str, new: str, at: str, hint: str) -> None:
    error = refused(spoilt(old, new))
    assert pointed_at(error).startswith(at)
    assert error.hint is not None
    assert hint in error.hint


@pytest.mark.parametrize("key", ["pulsebridge", "tempo", "meter", "layers", "sections"])
def test_required_keys_of_the_plan(key: str) -> None:
    lines = song(A).splitlines(keepends=True)
    if key == "layers":
        text = (
            song("name: A, layers: [], bars: 1").split("layers:")[0]
            + "sections: [{name: A, layers: [], bars: 1}]"
        )
    elif key == "sections":
        text = song(A).split("sections:")[0]
    else:
        text = "".join(line for line in lines if not line.startswith(f"{key}:"))
    assert f"lacks the key {key!r}" in refused(text).message


@pytest.mark.parametrize(
    ("section", "key"), [("layers: [band], bars: 1", "name"), ("name: A, bars: 1", "layers")]
)
def test_required_keys_of_a_section(section: str, key: str) -> None:
    error = refused(song(section))
    assert f"lacks the key {key!r}" in error.message
    assert pointed_at(error).startswith("{")


@pytest.mark.parametrize("length", ["", ", length: {at_most: 9}", ", length: {}", ", settled: false"])
def test_a_section_without_a_length_is_refused(length: str) -> None:
    assert "has no length" in refused(song(f"name: A, layers: []{length}")).message


@pytest.mark.parametrize(
    ("version", "says"), [("2", "newer pulsebridge"), ("99999999999999", "newer"), ("0", ""), ("x", "")]
)
def test_another_format_version_is_refused_before_anything_else(version: str, says: str) -> None:
    error = refused(song(A, pulsebridge=version, unheard_of="1"))
    assert "version" in error.message
    assert says in (error.hint or "")


ENORMOUS = "9" * 13
BAD_NUMBERS = [
    "0",
    "-1",
    "-0",
    "+4",
    ".nan",
    ".inf",
    "-.inf",
    "NaN",
    "inf",
    "Infinity",
    "1e3",
    "1e999999999",
    ENORMOUS,
]
BAD_NUMBERS += [
    "1_000",
    "0x10",
    "1/0",
    "0/4",
    "1/-2",
    "3//4",
    "٤",
    "१२",
    "½",
    "''",
    "' '",
    "{}",
    "[]",
    "twelve",
    '"1,5"',
]


@pytest.mark.parametrize("bad", BAD_NUMBERS)
@pytest.mark.parametrize(
    "place",
    [
        "tempo",
        "{beat: 1/4, bpm: HERE}",
        "{from: HERE, to: 100}",
        "cycle",
        "bars",
        "about",
        "at_least",
        "rate",
        "unit",
        "groups",
        "pulses",
        "ratio",
        "total",
        "origin",
    ],
)
def test_zero_negative_endless_and_enormous_numbers_are_refused_where_they_stand(
    bad: str, place: str
) -> None:
    texts = {
        "tempo": song(A, tempo=bad),
        "cycle": song(A, layers=f"x: {{cycle: {bad}}}"),
        "bars": song(f"name: A, layers: [], bars: {bad}"),
        "about": song(f"name: A, layers: [], length: {{about: {bad}}}"),
        "at_least": song(f"name: A, layers: [], length: {{at_least: {bad}}}"),
        "rate": song(A, layers=f"x: {{cycle: 1/4, rate: {bad}}}"),
        "unit": song(A, layers=f"x: {{groups: [3, 2], unit: {bad}}}"),
        "groups": song(A, layers=f"x: {{groups: [3, {bad}], unit: 1/8}}"),
        "pulses": song(A, layers=f"x: {{pulses: {bad}, over: 1 bar}}"),
        "ratio": song(A, f"name: B, layers: [], bars: 1, pays_off: {{section: A, ratio: {bad}}}"),
        "total": song(A, total=f"{{about: {bad}}}"),
        "origin": song(A, origin=f"{{bar: {bad}}}"),
    }
    text = texts.get(place) or song(A, tempo=place.replace("HERE", bad))
    assert bad in pointed_at(refused(text))


@pytest.mark.parametrize(
    "bad", ["1000.1", "0.9", "{beat: 1/1, bpm: 251}", "{from: 1000, to: 1001}", "{beat: 1/64, bpm: 15}"]
)
def test_a_tempo_is_1_to_1000_quarters_after_conversion(bad: str) -> None:
    error = refused(song(A, tempo=bad))
    assert "1 to 1000 quarter notes a minute" in error.message
    assert pointed_at(error).startswith(bad)


def test_a_modulation_beyond_the_limits_is_refused_where_it_stands() -> None:
    error = refused(song(A, "name: B, layers: [], bars: 1, tempo: {pivot: 1/64, becomes: 1/1}"))
    assert "1 to 1000" in error.message
    assert pointed_at(error).startswith("{pivot")


@pytest.mark.parametrize(
    "text", [song(f"{A}, tempo: {{pivot: 3/16, becomes: 1/4}}"), song(A, tempo="{pivot: 3/16, becomes: 1/4}")]
)
def test_a_modulation_needs_a_section_before(text: str) -> None:
    assert pointed_at(refused(text)).startswith("{pivot")


@pytest.mark.parametrize(
    "meter",
    [
        "4",
        "4/3",
        "0/4",
        "4/128",
        "/4",
        "4/",
        "2++3/8",
        "4/4/4",
        "[]",
        "[4/4, 4]",
        "{}",
        "-4/4",
        "٤/٤",
        "common",
    ],
)
def test_meters_that_are_none(meter: str) -> None:
    assert refused(song(A, meter=meter)).where.line == 3  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("layer", "message"),
    [
        ("{}", "no cycle"),
        ("{player: x}", "no cycle"),
        ("{cycle: 1/4, groups: [3], unit: 1/8}", "exactly one way"),
        ("{cycle: 1/4, unit: 1/8}", "exactly one way"),
        ("{groups: [3], unit: 1/8, pulses: 3, over: 1 bar}", "exactly one way"),
        ("{groups: [3, 3, 2]}", "'unit'"),
        ("{unit: 1/8}", "'groups'"),
        ("{pulses: 5}", "'over'"),
        ("{over: 1 bar}", "'pulses'"),
        ("{groups: [], unit: 1/8}", "empty"),
        ("{groups: 3, unit: 1/8}", "list"),
        ("{pulses: 10001, over: 1 bar}", "at most 10,000"),
        ("{cycle: 1/4, start: 1 bar}", "whole notes, not bars"),
        ("{cycle: 1/4, start: -1/4}", "start"),
        ("{cycle: 1/4, player: ''}", "empty"),
        ("{cycle: 0 bars}", "1 or more"),
        ("{cycle: 1.5 bars}", "cycle"),
        ("[1/4]", "a list"),
        ("", "nothing"),
    ],
)
def test_layers_that_are_none(layer: str, message: str) -> None:
    assert message in refused(song(A, layers=f"x: {layer}")).message


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ('""', "empty"),
        ('"  "', "empty"),
        (f'"{"é" * 101}"', "202 bytes"),
        (r'"a\nb"', "control character"),
        (r'"a\x07b"', "control character"),
        (r'"a\e[31mb"', "control character"),
        (r'"a\Lb"', "control character"),
        ("[a]", "one value"),
        ("{a: b}", "one value"),
    ],
)
def test_names_that_are_none(name: str, message: str) -> None:
    assert message in refused(song(f"name: {name}, layers: [], bars: 1")).message


@pytest.mark.parametrize("name", ['"a, b"', '""', f'"{"x" * 201}"', r'"a\tb"'])
def test_layer_names_that_are_none(name: str) -> None:
    assert pointed_at(refused(song(A, layers=f"{name}: {{cycle: 1/4}}"))).startswith(name)


def test_the_same_name_twice_is_refused_with_the_first_place() -> None:
    error = refused(song(A, "name: ' A ', layers: [], bars: 1"))
    assert "two sections named 'A', the first on line 9" in error.message
    assert pointed_at(error).startswith("' A '")


def test_the_same_layer_twice_is_refused_with_the_first_place() -> None:
    error = refused(song(A, layers="' band': {cycle: 1/4}"))
    assert "stands twice, first on line 5" in error.message


@pytest.mark.parametrize(
    "section", ["layers: [band, band], bars: 4", "layers: [band], bars: 4, resolve: [band, band]"]
)
def test_a_layer_named_twice_in_a_list(section: str) -> None:
    assert "named twice" in refused(song(f"name: A, {section}")).message


@pytest.mark.parametrize("section", ["name: A, name: B, layers: []", "name: A, layers: [], bars: 1, bars: 2"])
def test_a_key_twice(section: str) -> None:
    assert "stands twice" in refused(song(section)).message


def test_the_last_section_cannot_run_on() -> None:
    assert pointed_at(refused(song(A, "name: B, layers: [], bars: 1, runs_on: true"))).startswith("runs_on")


def test_only_layers_of_the_run_up_to_here_can_be_resolved() -> None:
    before = "name: A, layers: [bells], bars: 4"
    after = "name: C, layers: [drum], bars: 12"
    error = refused(song(before, "name: B, layers: [band], bars: 4, resolve: [drum], runs_on: true", after))
    assert pointed_at(error).startswith("drum")
    assert "(band)" in (error.hint or "")
    assert pointed_at(refused(song(before, "name: B, layers: [band], bars: 4, resolve: [bells]"))).startswith(
        "bells"
    )


@pytest.mark.parametrize(
    "section",
    [
        "layers: [band], bars: 4",
        "layers: [], bars: 4",
        "layers: [band, drum], bars: 4, resolve: []",
        "layers: [band, drum], bars: 4, resolve: [band]",
    ],
)
def test_meets_once_needs_two_to_be_resolved(section: str) -> None:
    assert pointed_at(refused(song(f"name: A, {section}, meets: once"))).startswith("meets")


def test_meets_once_on_a_section_that_runs_on_needs_two_named() -> None:
    assert (
        "needs two"
        in refused(song(f"{A}, meets: once, runs_on: true", "name: B, layers: [], bars: 1")).message
    )


def test_meets_knows_once_only() -> None:
    assert "'once'" in refused(song(f"{A}, meets: twice")).message


@pytest.mark.parametrize("target", ["B", "C", "{section: C, ratio: 1}", "{section: [A, B], ratio: 1}"])
def test_a_payoff_answers_earlier_sections_only(target: str) -> None:
    text = song(A, f"name: B, layers: [], bars: 1, pays_off: {target}", "name: C, layers: [], bars: 1")
    assert "a payoff answers earlier ones" in refused(text).message


@pytest.mark.parametrize(
    "target", ["{section: A}", "{ratio: 1}", "{section: [], ratio: 1}", "{section: [A, A], ratio: 1}"]
)
def test_payoffs_that_are_none(target: str) -> None:
    refused(song(A, f"name: B, layers: [], bars: 1, pays_off: {target}"))


@pytest.mark.parametrize(
    ("targets", "message"),
    [
        (["A"], "'A' takes its length from itself"),
        (["B", "A"], "'A', 'B', 'A'"),
        (["B", "C", "B"], "'B', 'C', 'B'"),
    ],
)
def test_equal_lengths_in_a_circle_are_refused(targets: list[str], message: str) -> None:
    sections = [f"name: {'ABC'[i]}, layers: [], same_length_as: {target}" for i, target in enumerate(targets)]
    error = refused(song(*sections))
    assert message in error.message
    assert pointed_at(error).startswith("same_length_as")


def test_a_total_in_bars_is_refused_with_the_reason() -> None:
    for written in ("330", "330 bars"):
        error = refused(song(A, total=f"{{about: {written}}}"))
        assert "not bars" in error.message
        assert "meter and tempo may change" in (error.hint or "")


@pytest.mark.parametrize("energy", ["101", "-1", "[]", "[10, 200]", "high", "[[1]]"])
def test_energy_is_0_to_100(energy: str) -> None:
    refused(song(f"{A}, energy: {energy}"))


@pytest.mark.parametrize("written", ['""', '"  "', "ABCDEFGHI", "[A]", '"\\u0007"'])
def test_a_letter_is_1_to_8_characters(written: str) -> None:
    assert "letter" in refused(song(f"{A}, letter: {written}")).message


@pytest.mark.parametrize("written", ["red", '"#fff"', '"#12345g"', '"#1234567"', "123456", "[1, 2, 3]"])
def test_a_colour_is_a_number_sign_and_six_hexadecimal_digits(written: str) -> None:
    assert "a colour" in refused(song(f"{A}, colour: {written}")).message


def test_a_note_has_at_most_500_characters() -> None:
    assert "501 characters" in refused(song(f"{A}, note: {'x' * 501}")).message


def test_two_sections_with_one_letter_are_refused_at_the_second() -> None:
    error = refused(song(f"{A}, letter: B", "name: Two, layers: [band], bars: 8, letter: B"))
    assert "two sections have the letter 'B'" in error.message
    assert pointed_at(error).startswith("letter")


def test_a_cycle_in_bars_that_does_not_fit_the_repeating_list_names_the_nearest_that_does() -> None:
    error = refused(song(A, meter="[4/4, 4/4, 7/8]"))
    assert "'band' is 4 bars" in error.message
    assert "it first sounds in 'A'" in error.message
    assert "nearest is 3 bars" in (error.hint or "")
    assert pointed_at(error).startswith("4 bars")


def test_pulses_over_bars_must_fit_the_repeating_list_too() -> None:
    text = song("name: A, layers: [x], bars: 2", layers="x: {pulses: 5, over: 1 bar}", meter="[4/4, 7/8]")
    assert "nearest is 2 bars" in (refused(text).hint or "")


def test_a_cycle_in_bars_needs_to_fit_only_where_the_layer_enters_its_run() -> None:
    run = song(
        "name: A, layers: [band], bars: 4, runs_on: true",
        "name: B, layers: [band], bars: 3, meter: [4/4, 7/8, 4/4]",
    )
    assert load(run).sections[1].layers == ("band",)
    assert "first sounds in 'B'" in refused(run.replace(", runs_on: true", "")).message


@pytest.mark.parametrize("bars", ["43201", "999999999999"])
def test_fixed_bars_beyond_24_hours_are_refused(bars: str) -> None:
    assert "24 hours" in refused(song(f"name: A, layers: [], bars: {bars}")).message


def test_fixed_bars_add_up_to_24_hours() -> None:
    error = refused(song("name: A, layers: [], bars: 43200", "name: B, layers: [], bars: 1"))
    assert "'B'" in error.message


KEPT = '{"sections": [{"name": "A", "bars": 7}, {"name": "B", "bars": 9}]}'
SETTLED = song("name: A, layers: [], bars: 7", "name: B, layers: [], settled: true")


@pytest.mark.parametrize(
    ("solved", "message"),
    [
        (None, "no kept solution"),
        ("", "not JSON"),
        ("[" * 100_000, "not JSON"),
        ('{"sections": 1' + "0" * 5000 + "}", ""),
        ("[]", "no list 'sections'"),
        ('{"error": {}}', "no list 'sections'"),
        (KEPT.replace('"A"', '"Z"'), "section 1 is 'A' here, but 'Z'"),
        ('{"sections": [{"name": "A", "bars": 7}]}', "section 2 is 'B' here, but none"),
        ('{"sections": [7, 8]}', "but none"),
        (KEPT.replace("9", "0"), "no whole number of bars"),
        (KEPT.replace("9", "9.5"), "no whole number of bars"),
        (KEPT.replace("9", "true"), "no whole number of bars"),
        (KEPT.replace("9", "43200"), "24 hours"),
        (" " * 5_000_000, "longer"),
    ],
)
def test_a_settled_section_needs_a_kept_solution_that_fits(solved: str | None, message: str) -> None:
    assert message in refused(SETTLED, solved=solved).message
    assert load(SETTLED, solved=KEPT).sections[1].settled_bars == 9


HOSTILE: dict[str, str | bytes] = {
    "4,000 brackets": "[" * 4000,
    "4,000 braces": "{a: " * 4000,
    "4,000 dashes": "- " * 4000,
    "4,000 question marks": "? " * 4000,
    "brackets in a key's place": f"pulsebridge: 1\n{'[' * 4000}",
    "an alias bomb": "a: &a [x,x,x,x,x,x,x,x,x]\n"
    + "".join(
        f"{new}: &{new} [{','.join([f'*{old}'] * 9)}]\n"
        for old, new in zip("abcdefgh", "bcdefghi", strict=True)
    ),
    "an alias to itself": "a: &a [*a]",
    "an alias to nothing": "a: *b",
    "a Python tag": "a: !!python/object/apply:os.system [ls]",
    "a plain tag": "tempo: !!int 120",
    "a tag of nobody's": "tempo: !x 120",
    "a merge key": "a: &a {x: 1}\nb: {<<: *a}",
    "a list as a key": "? [a, b]\n: c",
    "binary": bytes(range(256)),
    "zeros": b"\0" * 1000,
    "UTF-16": "pulsebridge: 1".encode("utf-16"),
    "Latin-1": "pulsebridge: 1\ntitle: Fjäll".encode("latin-1"),
    "an escape": "title: \x1b[2J",
    "a lone surrogate": "title: \ud800",
    "an escaped lone surrogate": r'title: "\ud800"',
    "an escape beyond Unicode": r'title: "\UFFFFFFFF"',
    "a YAML version of 5,000 digits": f"%YAML 1.{'1' * 5000}\n---\na: 1",
    "nothing": "",
    "nothing but space": " \n \n",
    "nothing but a comment": "# only\n",
    "nothing but a document mark": "---\n",
    "a list": "- a\n- b",
    "a text": "hello",
    "two documents": SMALL + "---\n" + SMALL,
    "too long": "#" * 300_000,
    "many nodes": f"a: [{'x,' * 100_000}]",
    "many keys": "\n".join(f"k{i}: x" for i in range(30_000)),
    "a long scalar": f"title: {'x' * 250_000}",
    "an open quote": 'title: "' + "a\n" * 100_000,
    "an open bracket": "layers: [a, b\nmeter: 4/4",
    "a tab": "layers:\n\tband: {cycle: 1/4}",
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_texts_are_refused_in_under_two_seconds(text: str | bytes) -> None:
    started = time.process_time()
    error = refused(text)
    assert time.process_time() - started < 2
    assert len(str(error)) < 2000 + len(error.where.text or "")  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        ("pulsebridge: 1\ntitle: Fjäll".encode("latin-1"), 2, 10),
        (b"a: 1\r\nb: \0", 2, 4),
        ("# ä\r\rb: ]", 3, 4),
        ("\ufeffpulsebridge: 1\nx: !y z", 2, 4),
    ],
)
def test_places_count_lines_and_characters_from_1(text: str | bytes, line: int, column: int) -> None:
    where = refused(text).where
    assert where is not None
    assert (where.line, where.column) == (line, column)


def test_the_sections_are_a_list_that_is_not_empty() -> None:
    for sections in ("[]", "{}", "", "x"):
        error = refused(song(A).split("sections:")[0] + f"sections: {sections}\n")
        assert "- {name: Prelude" in (error.hint or "")
