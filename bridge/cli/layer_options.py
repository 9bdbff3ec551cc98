"""Layers, meters, tempi and lengths as they are written on the command line.

``NAME=CYCLE[@START][xRATE]``, split at the last ``=``, under the rules that a plan has.
This file knows no command.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import accumulate
from typing import TYPE_CHECKING, TypeVar

from bridge.cycles import Kind, Layer, fixed_cycle
from bridge.errors import PlanError, UsageError
from bridge.exact import Bars, Length, Meters, Ratio, Tempo, parse_bars, parse_number
from bridge.exact.name import clean_name

if TYPE_CHECKING:
    from bridge.plan import LayerPlan

__all__ = [
    "MOST_LAYERS",
    "layer_plans",
    "named_layers",
    "read",
    "read_grid",
    "read_layers",
    "read_meters",
    "read_name",
    "read_tempo",
]

MOST_LAYERS = 64
T = TypeVar("T")

_BARS = re.compile(r"[0-9]+\s*bars?", re.ASCII)
_GROUPS = re.compile(r"([0-9]+(?:\s*\+\s*[0-9]+)+)\s*/\s*([0-9]+)", re.ASCII)
_PARTS = re.compile(r"([^@x]+)(?:@([^@x]+))?(?:x([^@x]+))?")
_SHAPE = (
    "Write NAME=CYCLE[@START][xRATE], as in drum=3/16, band=4bars, bells=3+3+2/8@1/4 or keys=12/16x73/72."
)


def read(option: str, parse: Callable[[], T]) -> T:
    """Return what ``parse`` reads; what it refuses becomes a UsageError that names the option."""
    try:
        return parse()
    except PlanError as error:
        raise UsageError(f"{option}: {error.message}", hint=error.hint) from None


def read_meters(text: str) -> Meters:
    """Read ``--meter``: one meter, or a list with commas that repeats."""
    return read("--meter", lambda: Meters.parse(text))


def read_tempo(text: str | None) -> Tempo | None:
    """Read ``--tempo``: quarter notes a minute."""
    if text is None:
        return None
    return read("--tempo", lambda: Tempo.constant(parse_number(text, what="a tempo")))


def read_name(option: str, text: str) -> str:
    """Read the name of a layer."""
    return read(option, lambda: clean_name(text, what="the name of a layer", commas=False))


def read_grid(text: str) -> Length:
    """Read ``--grid``: a note."""
    value = read("--grid", lambda: _positive(text, "a grid"))
    return Length(value)


def read_layers(texts: Sequence[str], meters: Meters) -> tuple[Layer, ...]:
    """Read every ``--layer``; at least one, no name twice."""
    if not texts:
        raise UsageError("no layer is given", hint=f"Give --layer once for each. {_SHAPE}")
    if len(texts) > MOST_LAYERS:
        raise UsageError(
            f"there are {len(texts)} layers; at most {MOST_LAYERS} are allowed", hint="Leave some out."
        )
    layers = tuple(_read_layer(text, meters) for text in texts)
    seen: set[str] = set()
    for layer in layers:
        if layer.name in seen:
            raise UsageError(
                f"there are two layers named {layer.name!r}", hint="Give each layer a name of its own."
            )
        seen.add(layer.name)
    return layers


def layer_plans(texts: Sequence[str], layers: Sequence[Layer]) -> tuple[LayerPlan, ...]:
    """Return what :func:`read_layers` made of ``texts`` as a plan has it: cycles in bars stay in bars."""
    from bridge.plan import LayerPlan

    return tuple(
        LayerPlan(
            name=layer.name,
            cycle=_cycle(cycle)[1],
            start=layer.start,
            rate=layer.rate,
            kind=layer.kind,
            groups=_group_numbers(cycle),
        )
        for layer, cycle in zip(layers, map(_cycle_text, texts), strict=True)
    )


def named_layers(option: str, names: Sequence[str], layers: Sequence[Layer]) -> tuple[Layer, ...]:
    """Return the layers that ``names`` name, in the order of the layers; UsageError for a stranger."""
    wanted = {read_name(option, name) for name in names}
    known = [layer.name for layer in layers]
    for name in sorted(wanted.difference(known)):
        from difflib import get_close_matches

        near = get_close_matches(name, known, n=1)
        raise UsageError(
            f"{option}: there is no layer {name!r}; there are {', '.join(map(repr, known))}",
            hint=f"Did you mean {near[0]!r}?" if near else "Name one of them.",
        )
    return tuple(layer for layer in layers if layer.name in wanted)


def _read_layer(text: str, meters: Meters) -> Layer:
    return read(f"--layer {_short(text)}", lambda: _layer(text, meters))


def _layer(text: str, meters: Meters) -> Layer:
    name, found, _ = text.rpartition("=")
    parts = _parts(text)
    if not found or parts is None:
        raise PlanError("this is no layer", hint=_SHAPE)
    cycle_text, start_text, rate_text = (part.strip() if part else part for part in parts.groups())
    name = clean_name(name, what="the name of a layer", commas=False)
    kind, cycle, accents = _cycle(cycle_text or "")
    length = fixed_cycle(cycle, meters, name=name)
    return Layer(
        name=name,
        cycle=length,
        start=_start(start_text, meters),
        rate=Ratio(1 if rate_text is None else _positive(rate_text, "a rate")),
        kind=kind,
        accents=tuple(length * Ratio(share) for share in accents),
    )


def _parts(text: str) -> re.Match[str] | None:
    return _PARTS.fullmatch(text.rpartition("=")[2])


def _cycle_text(text: str) -> str:
    parts = _parts(text)
    return parts[1].strip() if parts else ""


def _group_numbers(cycle: str) -> tuple[int, ...]:
    match = _GROUPS.fullmatch(cycle)
    return tuple(int(part) for part in match[1].split("+")) if match else ()


def _cycle(text: str) -> tuple[Kind, Length | Bars, tuple[Fraction, ...]]:
    """Read a cycle; with it how it was given, and where its accents stand as shares of it."""
    if _BARS.fullmatch(text):
        return Kind.CYCLE, parse_bars(text, what="a cycle"), (Fraction(0),)
    if match := _GROUPS.fullmatch(text):
        return _groups(match)
    if text.isdigit():
        raise PlanError(
            f"a cycle cannot be a bare {_short(text)}: bars or whole notes?",
            hint=f"Write {_short(text)}bars, or {_short(text)}/1 for whole notes.",
        )
    return Kind.CYCLE, Length(_positive(text, "a cycle")), (Fraction(0),)


def _groups(match: re.Match[str]) -> tuple[Kind, Length, tuple[Fraction, ...]]:
    groups = [_positive(part, "a group").numerator for part in match[1].split("+")]
    units = sum(groups)
    heads = accumulate(groups[:-1], initial=0)
    accents = tuple(Fraction(head, units) for head in heads)
    return Kind.GROUPS, Length(units / _positive(match[2], "the unit of groups")), accents


def _start(text: str | None, meters: Meters) -> Length:
    if text is None:
        return Length(0)
    if _BARS.fullmatch(text):
        return meters.of_bars(parse_bars(text, what="a start").count)
    return Length(parse_number(text, what="a start"))


def _positive(text: str, what: str) -> Fraction:
    value = parse_number(text, what=what)
    if not value:
        raise PlanError(f"{what} is more than 0, not {_short(text)!r}")
    return value


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."
