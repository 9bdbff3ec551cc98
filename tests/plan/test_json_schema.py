"""The JSON Schema accepts every plan that loads and refuses the common mistakes.

Texts are read here as an editor reads them: YAML 1.2 core (https://yaml.org/spec/1.2.2/,
chapter 10.3), where 2:30 and ``no`` are texts; and once more as YAML 1.1 reads them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, ClassVar

import jsonschema
import pytest
import yaml
from hypothesis import HealthCheck, given, settings

from bridge.errors import PlanError
from bridge.plan import load, schema
from tests.plan.strategies import plan_texts
from tests.plan.texts import CONTRACT, SMALL, song

SCHEMA = schema()
CHECK = jsonschema.Draft202012Validator(SCHEMA)
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
A = "name: A, layers: [band], bars: 4"


class Core(yaml.SafeLoader):
    """PyYAML with the scalars of YAML 1.2's core schema instead of 1.1's."""

    yaml_implicit_resolvers: ClassVar[dict[str, Any]] = {}


for tag, pattern, first in (
    ("null", r"~|null|Null|NULL|", "~nN"),
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    Core.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(rf"(?:{pattern})\Z"), list(first))

Core.add_constructor("tag:yaml.org,2002:int", lambda loader, node: int(node.value))


def as_an_editor_reads(text: str) -> Any:
    return yaml.load(text, Loader=Core)


def test_the_schema_is_a_schema_of_2020_12() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_the_reader_here_is_yaml_1_2_core() -> None:
    assert as_an_editor_reads("[2:30, no, 115.2, 3/16, 16, true]") == ["2:30", "no", 115.2, "3/16", 16, True]


@pytest.mark.parametrize("text", [CONTRACT, SMALL])
def test_the_contracts_plans_are_valid_under_either_yaml(text: str) -> None:
    CHECK.validate(as_an_editor_reads(text))
    CHECK.validate(yaml.safe_load(text))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_every_example_plan_is_valid(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if "pulsebridge:" not in text:
        pytest.skip("not a plan")
    load(text)
    CHECK.validate(as_an_editor_reads(text))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(plan_texts())
def test_whatever_loads_is_valid(text: str) -> None:
    try:
        load(text)
    except PlanError:
        return
    CHECK.validate(as_an_editor_reads(text))


MISTAKES = {
    "an unknown key": SMALL.replace("title", "titel"),
    "an unknown key in a section": SMALL.replace("bars: 8", "barz: 8"),
    "another version": SMALL.replace("pulsebridge: 1", "pulsebridge: 2"),
    "no tempo": SMALL.replace("tempo: 120\n", ""),
    "a tempo of 0": SMALL.replace("tempo: 120", "tempo: 0"),
    "a tempo beyond the limit": SMALL.replace("tempo: 120", "tempo: 1001"),
    "an endless tempo": SMALL.replace("tempo: 120", "tempo: .inf"),
    "a modulation for the song": SMALL.replace("tempo: 120", "tempo: {pivot: 3/16, becomes: 1/4}"),
    "beats that stand still": SMALL.replace("tempo: 120", "tempo: {beat: 1/4, bpm: 0}"),
    "half a ramp": SMALL.replace("tempo: 120", "tempo: {from: 100}"),
    "a meter in thirds": SMALL.replace("4/4", "4/3"),
    "a number as a meter": SMALL.replace("4/4", "4"),
    "a cycle of a bare number": SMALL.replace("3/16", "3"),
    "a cycle below 0": SMALL.replace("3/16", "-3/16"),
    "a missing space": SMALL.replace("cycle: 3/16", "cycle:3/16"),
    "a layer without a cycle": SMALL.replace("cycle: 3/16", "player: x"),
    "two cycles": SMALL.replace("cycle: 3/16", "cycle: 3/16, pulses: 3, over: 1 bar"),
    "a cycle and a unit": SMALL.replace("cycle: 3/16", "cycle: 3/16, unit: 1/8"),
    "groups without a unit": SMALL.replace("cycle: 3/16", "groups: [3, 2]"),
    "a section without a name": SMALL.replace("name: Two, ", ""),
    "a section without layers": SMALL.replace("layers: [band], ", ""),
    "a section without a length": SMALL.replace(", bars: 8", ""),
    "a section with an upper bound only": SMALL.replace("bars: 8", "length: {at_most: 8}"),
    "an unsettled section without a length": SMALL.replace("bars: 8", "settled: false"),
    "a bare length": SMALL.replace("bars: 8", "length: 2:30"),
    "no bars": SMALL.replace("bars: 8", "bars: 0"),
    "bars in time": SMALL.replace("bars: 8", "bars: 2:30"),
    "a layer that is no list": SMALL.replace("layers: [band]", "layers: band"),
    "a layer twice": SMALL.replace("layers: [band]", "layers: [band, band]"),
    "yes": SMALL.replace("bars: 8", "bars: 8, runs_on: yes"),
    "a vamp of yes": SMALL.replace("bars: 8", "bars: 8, vamp: yes"),
    "a vamp without a length": SMALL.replace("bars: 8", "vamp: true"),
    "an empty vamp": SMALL.replace("bars: 8", "bars: 8, vamp: {}"),
    "bars in a free passage": SMALL.replace("bars: 8", "bars: 8, free: {about: 0:45}"),
    "a free passage in bars": SMALL.replace("bars: 8", "free: {about: 8 bars}"),
    "a ratio in a free passage": SMALL.replace(
        "bars: 8", "free: {about: 0:45}, pays_off: {section: One, ratio: 1}"
    ),
    "a cue that does nothing": SMALL.replace("bars: 8", "bars: 8, cues: [{at: start}]"),
    "a cue nowhere": SMALL.replace("bars: 8", "bars: 8, cues: [{say: now}]"),
    "a cue at a bare number": SMALL.replace("bars: 8", "bars: 8, cues: [{at: 5, say: now}]"),
    "a cue that is not in a list": SMALL.replace("bars: 8", "bars: 8, cues: {at: start, say: now}"),
    "a program of 0": SMALL.replace(
        "bars: 8", "bars: 8, cues: [{at: start, send: {program: 0, channel: 1}}]"
    ),
    "a value beyond seven bits": SMALL.replace(
        "bars: 8", "bars: 8, cues: [{at: start, send: {controller: 1, value: 128, channel: 1}}]"
    ),
    "a message that is nothing": SMALL.replace("bars: 8", "bars: 8, cues: [{at: start, send: []}]"),
    "an OSC message without a slash": SMALL.replace(
        "bars: 8", "bars: 8, cues: [{at: start, send: {osc: [lamp, 1]}}]"
    ),
    "a recording at the root": SMALL.replace("bars: 8", "bars: 8, cues: [{at: start, sound: /a.wav}]"),
    "meets twice": SMALL.replace("bars: 8", "bars: 8, meets: twice"),
    "too much energy": SMALL.replace("bars: 8", "bars: 8, energy: 101"),
    "a payoff without a ratio": SMALL.replace("bars: 8", "bars: 8, pays_off: {section: One}"),
    "a total in bars": song(A, total="{about: 330 bars}"),
    "a total of nothing": song(A, total="{within: 0:15}"),
    "bar 0": song(A, origin="{bar: 0}"),
    "no value": SMALL.replace("title: Small", "title:"),
    "no sections": song(A).split("sections:")[0] + "sections: []",
}


@pytest.mark.parametrize("text", MISTAKES.values(), ids=MISTAKES.keys())
def test_common_mistakes_are_not_valid_and_do_not_load(text: str) -> None:
    assert text != SMALL
    with pytest.raises(PlanError):
        load(text)
    assert not CHECK.is_valid(as_an_editor_reads(text))


def test_every_key_is_described_and_has_an_example_that_is_valid() -> None:
    groups = [SCHEMA, *SCHEMA["$defs"].values()]
    for group in groups:
        for key, field in group["properties"].items():
            assert "description" in field or "$ref" in field, key
            for example in field.get("examples", []):
                jsonschema.Draft202012Validator({**field, "$defs": SCHEMA["$defs"]}).validate(example)
            assert "examples" in field, key
