"""The arguments that a host map sends: fixed ones, and ``{field:type}`` to be filled in.

Read by a scanner of our own, never by ``str.format``: a map from somebody else can
name the fields below and nothing more.  This file knows nothing about songs; what a
field holds is handed in.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from bridge.errors import PlanError
from bridge.exact import show_number
from bridge.hostmap.message import Number, as_float32, float_step
from bridge.hostmap.unit import Measure, Unit
from bridge.plan.hints import did_you_mean

__all__ = ["FIELDS", "TYPES", "CannotHoldError", "Facts", "Field", "Filled", "Template", "fixed", "scan"]

FIELDS = {
    "name": "the marker's name",
    "old_name": "for a rename: the name that the marker has until then",
    "id": "the host's own handle of the marker, as it last told it",
    "index": "the marker's number in the plan, from 0",
    "count": "how many markers the plan has",
    "seconds": "the host's seconds",
    "quarters": "the host's quarter notes",
    "whole_notes": "the host's whole notes",
    "samples": "the host's samples, 48000 a second unless @R says otherwise",
    "ticks": "the host's ticks, 960 a quarter unless @R says otherwise",
    "bar": "the host's bar, from 1",
    "beat": "the beat in it, from 1, in notes of the meter's lower number",
    "bpm": "quarter notes a minute at that place",
    "bpm_end": "for a tempo: quarter notes a minute at the end of its ramp",
    "meter_top": "the meter's upper number at that place",
    "meter_bottom": "the meter's lower number at that place",
    "colour": "the section's colour: 0xRRGGBB as a number, #rrggbb as text; grey unless the plan names one",
    "end_seconds": "for a region, a loop or a ramp: the host's seconds at its end",
    "end_quarters": "the host's quarter notes there",
    "end_whole_notes": "the host's whole notes there",
    "end_samples": "the host's samples there",
    "end_ticks": "the host's ticks there",
    "end_bar": "the host's bar there",
    "end_beat": "the beat in it",
}
TYPES = {"i": "32-bit whole", "h": "64-bit whole", "f": "32-bit float", "d": "64-bit float", "s": "text"}
"""The types that a field can have; fixed arguments may have others, see bridge.hostmap.literal."""
END = "end_"
"""Fields that begin so are about the end of what is placed."""
_NAMES = ("name", "old_name")
_RATED = ("samples", "ticks", "end_samples", "end_ticks")
_FIELD = re.compile(r"\{([^{}]*)\}")
_BITS = {"i": 31, "h": 63}
_PLACES = 9
_WHOLE = re.compile(r"[+-]?[0-9]{1,19}", re.ASCII)
_DECIMAL = re.compile(r"[+-]?[0-9]{0,12}\.[0-9]{1,12}", re.ASCII)

Fact = Fraction | int | str | float
Facts = Callable[["Field"], Fact]
"""What a field holds for the marker or place at hand."""


class CannotHoldError(PlanError):
    """A value does not fit the type that its template names."""


@dataclass(frozen=True, slots=True)
class Field:
    """One ``{name@rate:type}``."""

    name: str
    type: str
    rate: int = 0

    @property
    def unit(self) -> Unit | None:
        """The unit when the field is a whole place by itself; None for the others."""
        if self.name in list(Measure) and self.name != Measure.BARS:
            return Unit(Measure(self.name), self.rate)
        return None


@dataclass(frozen=True, slots=True)
class Filled:
    """A field filled in: what goes on the wire, and the exact number that arrives there."""

    field: Field
    arg: Any
    number: Number | None


Part = Field | str | int | float | bytes | None


@dataclass(frozen=True, slots=True)
class Template:
    """One argument: literal parts and fields in order, sent under one type tag."""

    type: str
    parts: tuple[Part, ...]
    """None at all for ``[`` and ``]``, the marks of a list, which are tags without an argument."""

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields in it."""
        return tuple(part for part in self.parts if isinstance(part, Field))

    def fill(self, facts: Facts) -> tuple[Any, tuple[Filled, ...]]:
        """Return the argument and its fields as filled; CannotHoldError when a value does not fit."""
        if len(self.parts) == 1 and not isinstance(self.parts[0], Field):
            return self.parts[0], ()
        filled = tuple(_fill(field, facts(field)) for field in self.fields)
        if len(self.parts) == 1:
            return filled[0].arg, filled
        texts = iter(filled)
        joined = "".join(next(texts).arg if isinstance(part, Field) else str(part) for part in self.parts)
        return joined, filled


def scan(text: str) -> Template:
    """Read a text with ``{field:type}`` in it; PlanError with the offence named.

    A text that is one field alone is sent under the field's type; fields amid other
    text must be of type s.
    """
    parts: list[Part] = []
    end = 0
    for match in _FIELD.finditer(text):
        parts.extend(_literal(text[end : match.start()]))
        parts.append(_field(match[1]))
        end = match.end()
    parts.extend(_literal(text[end:]))
    if len(parts) == 1 and isinstance(parts[0], Field):
        return Template(parts[0].type, tuple(parts))
    for part in parts:
        if isinstance(part, Field) and part.type != "s":
            raise PlanError(
                f"{{{part.name}:{part.type}}} stands amid other text, where only type s can be sent",
                hint=f"Write {{{part.name}:s}}, or give it an argument of its own.",
            )
    return Template("s", tuple(parts) or ("",))


def fixed(text: str, *, plain: bool) -> Template:
    """Read an argument without fields: a bare whole number is i, a bare decimal f, other text s."""
    if plain and _WHOLE.fullmatch(text):
        number = int(text)
        if not -(2**31) <= number < 2**31:
            raise PlanError(
                f"{text} does not fit 32 bits, as a whole number is sent", hint="Write it in quotes."
            )
        return Template("i", (number,))
    if plain and _DECIMAL.fullmatch(text):
        return Template("f", (as_float32(float(text)),))
    return Template("s", (text,))


def _literal(text: str) -> list[Part]:
    if "{" in text or "}" in text:
        raise PlanError(
            f"a bracket in {text[:40]!r} has no partner",
            hint="A field is written {name:type}, as in {seconds:f}.",
        )
    return [text] if text else []


def _field(text: str) -> Field:
    head, colon, kind = (part.strip() for part in text.partition(":"))
    name, at, rate = (part.strip() for part in head.partition("@"))
    if name not in FIELDS:
        raise PlanError(
            f"there is no field {name[:40]!r}; there are {', '.join(FIELDS)}", hint=did_you_mean(name, FIELDS)
        )
    if not colon or kind not in TYPES:
        allowed = ", ".join(f"{letter} ({what})" for letter, what in TYPES.items())
        found = f"cannot have the type {kind[:20]!r}" if colon else "lacks its type"
        raise PlanError(
            f"the field {name!r} {found}; allowed are {allowed}", hint=f"Write {{{name}:f}} or the like."
        )
    if name in _NAMES and kind != "s":
        raise PlanError(f"a name is text: it cannot be sent as {kind}", hint=f"Write {{{name}:s}}.")
    if at and name not in _RATED:
        raise PlanError(f"the field {name!r} has no rate", hint=f"Write {{{name}:{kind}}}.")
    measured = name.removeprefix(END)
    unit = Unit.parse(f"{measured}@{rate}" if at else measured) if name in _RATED else None
    return Field(name, kind, unit.rate if unit else 0)


def _fill(field: Field, fact: Fact) -> Filled:
    if field.type == "s":
        return Filled(field, *_as_text(fact))
    if isinstance(fact, str):
        if not _WHOLE.fullmatch(fact):
            raise CannotHoldError(
                f"the {field.name} {fact[:40]!r} is text and cannot be sent as {field.type}"
            )
        fact = int(fact)
    return Filled(field, *_as_number(field, Fraction(fact)))


def _as_text(fact: Fact) -> tuple[str, Number | None]:
    if isinstance(fact, str):
        return fact, None
    value = Fraction(fact)
    shown = Fraction(round(value * 10**_PLACES), 10**_PLACES)
    text = show_number(shown) if shown.denominator in (1, 10, 100) else f"{float(shown):.{_PLACES}f}"
    return text, Number(Fraction(text), Fraction(1, 10**_PLACES))


def _as_number(field: Field, value: Fraction) -> tuple[int | float, Number]:
    if field.type in _BITS:
        whole = round(value)
        if not -(2 ** _BITS[field.type]) <= whole < 2 ** _BITS[field.type]:
            raise CannotHoldError(f"{field.name} is {whole}, which {TYPES[field.type]} numbers cannot hold")
        return whole, Number(Fraction(whole), Fraction(1))
    try:
        sent = as_float32(float(value)) if field.type == "f" else float(value)
    except OverflowError:
        raise CannotHoldError(f"{field.name} is beyond {TYPES[field.type]} numbers") from None
    return sent, Number(Fraction(sent), float_step(sent, field.type))
