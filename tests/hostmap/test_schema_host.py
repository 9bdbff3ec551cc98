"""The schema and the loader agree."""

import jsonschema
import pytest
import yaml

from bridge.hostmap import schema
from tests.hostmap import RIG


def valid(text: str) -> bool:
    return jsonschema.Draft202012Validator(schema()).is_valid(yaml.safe_load(text))


def test_the_schema_is_one_and_takes_the_map_of_the_contract():
    jsonschema.Draft202012Validator.check_schema(schema())
    assert valid(RIG)
    assert valid("pulsebridge_host: 1")


@pytest.mark.parametrize(
    "line",
    [
        "hear: {}",
        "send_to: 127.0.0.1",
        "ramps: stepped",
        "hears: {tempo: {address: /a}}",
        "hears: {position: {address: /a, arg: 0}}",
        "hears: {marker: {address: /a, args: {id: 0}, unit: bars}}",
        "says: {place: {address: /a}}",
        "says: {place: [{address: a}]}",
    ],
)
def test_the_schema_refuses_what_the_loader_refuses(line):
    assert not valid(f"pulsebridge_host: 1\n{line}\n")
