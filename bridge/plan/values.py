"""The kinds of value in a plan file: how each is read from its text, and its JSON Schema.

A :class:`Reads` makes a pydantic field out of a function from node to exact value.
In the schema numbers may be JSON numbers or text, since an editor's YAML reader turns
``115.2`` into a number and leaves ``3/16`` alone.  This file knows no key by name.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from bridge.errors import PlanError, Where
from bridge.exact import (
    Bars,
    Length,
    Meter,
    Meters,
    parse_bars,
    parse_number,
    parse_seconds,
    parse_span,
    parse_whole,
)
from bridge.exact.name import MAX_NAME_BYTES, clean_name
from bridge.plan.nodes import ListNode, MapNode, Node, TextNode, kind_of

__all__ = [
    "MAX_NAME_BYTES",
    "Reads",
    "Word",
    "clean_name",
    "colour",
    "cycle",
    "flag",
    "items",
    "meters",
    "name",
    "names",
    "note",
    "notes",
    "number",
    "numbers",
    "one_of",
    "seconds",
    "span",
    "text_reader",
    "time",
    "whole",
    "wholes",
    "words",
]

Schema = dict[str, Any]

_DECIMAL = "[0-9]+(\\.[0-9]+)?"
_BARE_NUMBER = re.compile(_DECIMAL, re.ASCII)
_NUMBER = rf"^\s*({_DECIMAL}|[0-9]+\s*/\s*[0-9]+)\s*$"
_BARS = r"[0-9]+\s*(bars?)?"
_TIME = rf"[0-9]+(:[0-9]{{1,2}}){{1,2}}(\.[0-9]+)?|{_DECIMAL}\s*(ms|s|sec|min|h)"
_COLOUR = re.compile("#[0-9A-Fa-f]{6}", re.ASCII)
_METER = r"^\s*[1-9][0-9]*(\s*\+\s*[1-9][0-9]*)*\s*/\s*(1|2|4|8|16|32|64)\s*$"


@dataclass(frozen=True, slots=True)
class Word:
    """A name as it stands in the file, with its place."""

    text: str
    where: Where


@dataclass(frozen=True, slots=True, eq=False)
class Reads:
    """Pydantic metadata: read the field with ``read``, describe it with ``schema``.

    ``read`` takes a node and raises PlanError with its place.
    """

    read: Callable[[Node], Any]
    schema: Schema

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Let pydantic call ``read`` and nothing else."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> Schema:
        """Describe the text that ``read`` takes."""
        return dict(self.schema)


def number(what: str, *, zero: bool = False, most: int | None = None, limits: Schema | None = None) -> Reads:
    """Make a field for an exact number above 0 (or from 0), at most ``most``.

    ``limits`` are for the schema only, where somebody else refuses what lies outside.
    """

    def parse(text: str) -> Fraction:
        return _number(text, what, zero=zero, most=most)

    return Reads(text_reader(parse, what), {**_number_schema(zero, most), **(limits or {})})


def numbers(what: str, *, zero: bool, most: int) -> Reads:
    """Make a field for one number or a list of them; it is read as a tuple."""
    one = number(what, zero=zero, most=most)

    def read(node: Node) -> tuple[Fraction, ...]:
        if isinstance(node, ListNode):
            return tuple(one.read(item) for item in _not_empty(node, what))
        return (one.read(node),)

    return Reads(read, {"anyOf": [one.schema, _list_schema(one.schema)]})


def whole(what: str, *, least: int = 1, most: int | None = None) -> Reads:
    """Make a field for a whole number of at least ``least``, at most ``most``."""

    def parse(text: str) -> int:
        value = parse_whole(text, what=what, least=least)
        if most is not None and value > most:
            raise PlanError(f"{what} is at most {most:,}, not {value}")
        return value

    schema: Schema = {"type": ["integer", "string"], "minimum": least, "pattern": r"^\s*[0-9]+\s*$"}
    return Reads(text_reader(parse, what), schema if most is None else {**schema, "maximum": most})


def wholes(what: str) -> Reads:
    """Make a field for a list of whole numbers of at least 1, each a ``what``."""
    one = whole(f"a {what}")

    def read(node: Node) -> tuple[int, ...]:
        return tuple(one.read(item) for item in _not_empty(items(node, f"{what}s"), f"a {what}"))

    return Reads(read, _list_schema(one.schema))


def note(what: str, *, zero: bool = False) -> Reads:
    """Make a field for a length in whole notes, as 3/16."""

    def parse(text: str) -> Length:
        if "bar" in text:
            raise PlanError(
                f"{what} is in whole notes, not bars: {text[:40]!r}",
                hint="Write a fraction of a whole note, as in 1/4.",
            )
        return Length(_number(text, what, zero=zero))

    return Reads(text_reader(parse, what), _number_schema(zero, None))


def notes(what: str) -> Reads:
    """Make a field for a list of lengths in whole notes, each a ``what``."""
    one = note(f"a {what}")

    def read(node: Node) -> tuple[Length, ...]:
        return tuple(one.read(item) for item in _not_empty(items(node, f"{what}s"), f"a {what}"))

    return Reads(read, _list_schema(one.schema))


def cycle(what: str) -> Reads:
    """Make a field for a cycle: whole notes (3/16) or bars ('4 bars')."""

    def parse(text: str) -> Length | Bars:
        if "bar" in text:
            return parse_bars(text, what=what)
        value = _number(text, what)
        if text.strip().isdigit():
            raise PlanError(
                f"{what} cannot be a bare {text.strip()[:40]}: bars or whole notes?",
                hint=f"Write '{text.strip()} bars', or '{text.strip()}/1' for whole notes.",
            )
        return Length(value)

    schema = {
        "type": ["string", "number"],
        "pattern": r"^\s*([0-9]+\s*/\s*[0-9]+|[0-9]+\.[0-9]+|[0-9]+\s*bars?)\s*$",
        "exclusiveMinimum": 0,
        "not": {"type": "integer"},
    }
    return Reads(text_reader(parse, what), schema)


def span(what: str) -> Reads:
    """Make a field for a length in bars or in time."""
    schema = {"type": ["integer", "string"], "minimum": 1, "pattern": rf"^\s*({_BARS}|{_TIME})\s*$"}
    return Reads(text_reader(lambda text: parse_span(text, what=what), what), schema)


def bars(what: str) -> Reads:
    """Make a field for a fixed number of bars."""

    def parse(text: str) -> int:
        if ":" in text or (text.strip().endswith(("s", "min", "h")) and not text.strip().endswith("bars")):
            raise PlanError(
                f"{what} is a number of bars, not the time {text[:40]!r}",
                hint=f"For a wish in time write 'length: {{about: {text.strip()[:20]}}}'.",
            )
        return parse_bars(text, what=what).count

    schema = {"type": ["integer", "string"], "minimum": 1, "pattern": rf"^\s*{_BARS}\s*$"}
    return Reads(text_reader(parse, what), schema)


def time(what: str, *, zero: bool = False) -> Reads:
    """Make a field for a time; a bare number or bars are refused with the reason."""

    def parse(text: str) -> Fraction:
        bare = text.strip()
        if bare.isdigit() or "bar" in bare:
            raise PlanError(
                f"{what} is a time, not bars: {text[:40]!r}",
                hint="Write 5:30, 330s or 5.5 min. Bars have no one length: meter and tempo may change.",
            )
        return parse_seconds(text, what=what, zero=zero).value

    # An editor that follows YAML 1.1 turns 5:30 into the whole number 330.
    schema = {"type": ["string", "integer"], "minimum": 0 if zero else 1, "pattern": rf"^\s*({_TIME})\s*$"}
    return Reads(text_reader(parse, what), schema)


def seconds(what: str) -> Reads:
    """Make a field whose key already says seconds: ``12.5`` and ``0``, or a time with its unit."""

    def parse(text: str) -> Fraction:
        if _BARE_NUMBER.fullmatch(text.strip()):
            return parse_number(text, what=what)
        return parse_seconds(text, what=what, zero=True).value

    schema = {"type": ["string", "number"], "minimum": 0, "pattern": rf"^\s*({_TIME}|[0-9]+(\.[0-9]+)?)\s*$"}
    return Reads(text_reader(parse, what), schema)


def meters() -> Reads:
    """Make a field for a meter or a repeating list of them."""
    one = text_reader(_meter, "a meter")

    def read(node: Node) -> Meters:
        if isinstance(node, ListNode):
            return Meters(tuple(one(item) for item in _not_empty(node, "a meter")))
        return Meters((one(node),))

    schema: Schema = {"type": "string", "pattern": _METER}
    return Reads(read, {"anyOf": [schema, _list_schema(schema)]})


def flag(what: str) -> Reads:
    """Make a field for true or false."""

    def parse(text: str) -> bool:
        if text.strip() not in ("true", "false"):
            raise PlanError(f"{what} is true or false, not {text[:40]!r}", hint="Write true or false.")
        return text.strip() == "true"

    return Reads(text_reader(parse, what), {"enum": [True, False, "true", "false"]})


def one_of(what: str, word: str) -> Reads:
    """Make a field that knows one word only."""

    def parse(text: str) -> str:
        if text.strip() != word:
            raise PlanError(f"{what} can only be {word!r}, not {text[:40]!r}")
        return word

    return Reads(text_reader(parse, what), {"const": word})


def name(what: str, *, commas: bool = True) -> Reads:
    """Make a field for a name; it is read as a Word, trimmed."""

    def read(node: Node) -> Word:
        text = _text_of(node, what)
        try:
            return Word(clean_name(text.text, what=what, commas=commas), text.where)
        except PlanError as error:
            raise error.at(text.where) from None

    return Reads(read, _NAME_SCHEMA)


def words(what: str, *, most: int) -> Reads:
    """Make a field for words to be read by people: 1 to ``most`` characters, line breaks become spaces."""

    def parse(text: str) -> str:
        folded = " ".join(text.split())
        if len(folded) > most:
            raise PlanError(f"{what} has {len(folded)} characters; at most {most} are allowed")
        return clean_name(folded, what=what, most_bytes=4 * most)

    return Reads(text_reader(parse, what), {**_NAME_SCHEMA, "maxLength": most})


def colour() -> Reads:
    """Make a field for a colour as in ``#cc7722``, read as 0xRRGGBB."""

    def parse(text: str) -> int:
        text = text.strip()
        if not _COLOUR.fullmatch(text):
            raise PlanError(
                f"a colour is # and six hexadecimal digits, not {text[:40]!r}",
                hint='Write it in quotes, since # begins a comment: colour: "#cc7722".',
            )
        return int(text[1:], 16)

    return Reads(text_reader(parse, "a colour"), {"type": "string", "pattern": "^#[0-9A-Fa-f]{6}$"})


def names(what: str, *, single: bool = False) -> Reads:
    """Make a field for a list of names of a ``what``, each once; with ``single`` a bare name will do too."""
    one = name(f"a {what}")

    def read(node: Node) -> tuple[Word, ...]:
        if single and isinstance(node, TextNode):
            return (one.read(node),)
        words = tuple(one.read(item) for item in items(node, f"{what}s").items)
        if single and not words:
            raise PlanError(f"{what}s: the list is empty", where=node.where)
        for index, word in enumerate(words):
            if any(word.text == other.text for other in words[:index]):
                raise PlanError(
                    f"{word.text!r} is named twice", hint="Keep one of the two.", where=word.where
                )
        return words

    many: Schema = {"type": "array", "items": _NAME_SCHEMA, "uniqueItems": True}
    return Reads(read, {"anyOf": [_NAME_SCHEMA, {**many, "minItems": 1}]} if single else many)


def items(node: Node, what: str) -> ListNode:
    """Return ``node`` as a list; PlanError for anything else."""
    if isinstance(node, ListNode):
        return node
    bare = isinstance(node, TextNode) and not node.is_nothing
    hint = (
        f"Write [{node.text[:40]}]."
        if bare and isinstance(node, TextNode)
        else "Write [one, another], or []."
    )
    raise PlanError(f"{what} are a list, not {kind_of(node)}", hint=hint, where=node.where)


_NAME_SCHEMA: Schema = {"type": ["string", "number", "boolean"], "minLength": 1, "maxLength": MAX_NAME_BYTES}


def _number(text: str, what: str, *, zero: bool = False, most: int | None = None) -> Fraction:
    value = parse_number(text, what=what)
    if value == 0 and not zero:
        raise PlanError(f"{what} is more than 0, not {text[:40]!r}")
    if most is not None and value > most:
        raise PlanError(f"{what} is at most {most}, not {text[:40]!r}")
    return value


def _number_schema(zero: bool, most: int | None) -> Schema:
    schema: Schema = {"type": ["number", "string"], "pattern": _NUMBER}
    schema["minimum" if zero else "exclusiveMinimum"] = 0
    return schema if most is None else {**schema, "maximum": most}


def _list_schema(one: Schema) -> Schema:
    return {"type": "array", "items": one, "minItems": 1}


def _meter(text: str) -> Meter:
    if "," in text:
        raise PlanError(f"a meter cannot be {text[:40]!r}", hint="Write a repeating list as [4/4, 7/8].")
    return Meter.parse(text)


def _not_empty(node: ListNode, what: str) -> tuple[Node, ...]:
    if not node.items:
        raise PlanError(f"the list is empty; it holds {what} at least", where=node.where)
    return node.items


def _text_of(node: Node, what: str) -> TextNode:
    if not isinstance(node, TextNode):
        hint = "Put a text that begins with a bracket in quotes." if isinstance(node, MapNode) else None
        raise PlanError(f"{what} is one value, not {kind_of(node)}", hint=hint, where=node.where)
    if node.is_nothing:
        raise PlanError(
            f"{what} has no value", hint="Write it after the colon, or remove the key.", where=node.where
        )
    return node


def text_reader(parse: Callable[[str], Any], what: str) -> Callable[[Node], Any]:
    """Make a reader of one value from ``parse``, whose PlanError gets the value's place."""

    def read(node: Node) -> Any:
        text = _text_of(node, what)
        try:
            return parse(text.text)
        except PlanError as error:
            raise error.at(text.where) from None

    return read
