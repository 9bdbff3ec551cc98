"""The JSON Schema of a host map, made from the same table as the loader.

JSON Schema 2020-12.  This file knows nothing about YAML.
"""

from __future__ import annotations

from typing import Any

from bridge.hostmap.literal import LITERAL_TYPES
from bridge.hostmap.model import Names, Ramps
from bridge.hostmap.table import HEARS, SAYS, TOP, Hearing, Units
from bridge.hostmap.unit import Measure

__all__ = ["schema"]

_INDEX = {"type": "integer", "minimum": 0, "maximum": 99, "description": "the argument's index, from 0"}
_OSC_ADDRESS = {"type": "string", "pattern": r"^/[^ #*,?\[\]{}]*$", "description": "an OSC address"}
_PLACE_UNIT = {
    "type": "string",
    "pattern": f"^({'|'.join(Measure)}|samples@[0-9]+|ticks@[0-9]+)$",
    "examples": ["quarters", "seconds", "samples@48000", "ticks@960", "bars"],
}
_HOST_PORT = {"type": "string", "pattern": ":[0-9]{1,5}$", "examples": ["127.0.0.1:9001"]}
_TYPED = {
    "type": "object",
    "additionalProperties": False,
    "required": ["type"],
    "description": "a value of a named type, as in {type: h, value: 12} or {type: T}",
    "properties": {"type": {"enum": list(LITERAL_TYPES)}, "value": {"type": ["string", "number", "boolean"]}},
}
_ARGUMENT = {
    "anyOf": [
        {"type": ["string", "number", "boolean"]},
        _TYPED,
        {"type": "array", "items": {"$ref": "#/$defs/argument"}, "description": "a list within the message"},
    ]
}
_ARGUMENTS = {
    "type": "array",
    "items": {"$ref": "#/$defs/argument"},
    "examples": [["{seconds:f}", "{name:s}"]],
}
_TIME = {"type": ["string", "number"], "examples": ["20ms"]}
_REPLY = {
    "type": "object",
    "additionalProperties": False,
    "required": ["address"],
    "description": "what the host has to send before the deed goes on",
    "properties": {
        "address": _OSC_ADDRESS,
        "args": {**_ARGUMENTS, "description": "what its first arguments have to be"},
        "within": {**_TIME, "description": "how long it is waited for; 250ms unless given"},
        "tries": {
            "type": "integer",
            "minimum": 1,
            "maximum": 20,
            "description": "how often it is sent for it",
        },
    },
}
_MESSAGE = {
    "type": "object",
    "additionalProperties": False,
    "required": ["address"],
    "properties": {"address": _OSC_ADDRESS, "args": _ARGUMENTS, "reply": _REPLY},
}
_WAIT = {
    "type": "object",
    "additionalProperties": False,
    "required": ["wait"],
    "properties": {"wait": {**_TIME, "description": "a pause before the next message"}},
}


def schema() -> dict[str, Any]:
    """Return the schema of a host map."""
    special: dict[str, dict[str, Any]] = {
        "pulsebridge_host": {"enum": [1, "1"]},
        "extends": {"type": "string", "examples": ["practice-rig.yaml"]},
        "name": {"type": ["string", "number", "boolean"]},
        "send_to": _HOST_PORT,
        "receive_on": _HOST_PORT,
        "hears": _group({key: _hearing(table) for key, table in HEARS.items()}),
        "says": _group({key: _saying(about) for key, about in SAYS.items()}),
        "pace": {"type": ["string", "number"], "examples": ["5ms"]},
        "ramps": {"enum": list(Ramps)},
        "names": {"enum": list(Names)},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "pulsebridge host map",
        "type": "object",
        "additionalProperties": False,
        "required": ["pulsebridge_host"],
        "$defs": {"argument": _ARGUMENT},
        "properties": {key: {**special[key], "description": about} for key, about in TOP.items()},
    }


def _group(properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": ["object", "null"], "additionalProperties": False, "properties": properties}


def _hearing(table: Hearing) -> dict[str, Any]:
    properties: dict[str, Any] = {"address": _OSC_ADDRESS}
    required = ["address"]
    if table.single:
        properties["arg"] = _INDEX
        required.append("arg")
    elif table.needs:
        required.append("args")
        properties["args"] = {
            "type": "object",
            "additionalProperties": False,
            "required": list(table.needs),
            "properties": dict.fromkeys((*table.needs, *table.may), _INDEX),
        }
    if table.units is Units.PLACE:
        properties["unit"] = _PLACE_UNIT
        required.append("unit")
    elif table.units is Units.TEMPO:
        properties["unit"] = {"const": "bpm"}
    return {
        "description": table.about,
        "type": ["object", "null"],
        "additionalProperties": False,
        "required": required,
        "properties": properties,
    }


def _saying(about: str) -> dict[str, Any]:
    return {
        "description": about,
        "type": ["array", "null"],
        "minItems": 1,
        "items": {"anyOf": [_MESSAGE, _WAIT]},
    }
