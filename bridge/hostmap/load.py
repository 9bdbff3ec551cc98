"""From the text of a host map to a HostMap, every error with its line and column.

The YAML reader is the plan's: scalars are text, no tags, bounded.  This file knows
nothing about files.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from bridge.errors import PlanError, Where
from bridge.exact import parse_seconds, parse_whole
from bridge.hostmap.model import Address, Heard, HostMap, Names, Ramps
from bridge.hostmap.saying import osc_address, said_list
from bridge.hostmap.table import HEARS, SAYS, TOP, Hearing, Units
from bridge.hostmap.taking import group_of, only, optional, read_at, required, text_of
from bridge.hostmap.unit import Unit
from bridge.plan.hints import did_you_mean
from bridge.plan.nodes import MapNode, Node, TextNode, kind_of
from bridge.plan.yaml_text import read_yaml

__all__ = ["VERSION", "extends", "load", "read_address"]

T = TypeVar("T")
W = TypeVar("W", bound=StrEnum)

VERSION = "1"
_SLOWEST_PACE = 10
_MOST_ARGUMENT = 99


def load(
    text: str | bytes, *, source: str | None = None, bases: Sequence[tuple[str | bytes, str | None]] = ()
) -> HostMap:
    """Read a host map from its YAML text; PlanError with its place for anything it cannot be.

    ``bases`` are the maps that it extends, with their sources, the nearest first; see
    :func:`extends`.
    """
    top = _top(text, source)
    named = _extended(top)
    if named is not None and not bases:
        raise PlanError(f"the host map extends {named.text[:60]!r}, which was not given", where=named.where)
    base = (
        load(bases[0][0], source=bases[0][1], bases=bases[1:]) if named is not None else HostMap(name="host")
    )
    hears, says = _group(top, "hears", HEARS), _group(top, "says", SAYS)
    return HostMap(
        name=optional(top, "name", _name) or base.name,
        send_to=optional(top, "send_to", lambda text: read_address(text, least=1)) or base.send_to,
        receive_on=optional(top, "receive_on", lambda text: read_address(text, least=0)) or base.receive_on,
        hears=_over(base.hears, hears, _heard, may_drop=named is not None),
        says=_over(base.says, says, said_list, may_drop=named is not None),
        pace=base.pace if (pace := _pace(top)) is None else pace,
        ramps=optional(top, "ramps", lambda text: _one_of(Ramps, "ramps", text)) or base.ramps,
        names=optional(top, "names", lambda text: _one_of(Names, "names", text)) or base.names,
        where=Where(line=1, column=1, file=source),
    )


def extends(text: str | bytes, *, source: str | None = None) -> tuple[str, Where] | None:
    """Return the file that a host map says it extends, and where it says so; None for most."""
    named = _extended(_top(text, source))
    return None if named is None else (named.text.strip(), named.where)


def _top(text: str | bytes, source: str | None) -> MapNode:
    top = read_yaml(text, source=source)
    if top.get("pulsebridge_host") is None and top.get("pulsebridge") is not None:
        raise PlanError(
            "this is a plan, not a host map",
            hint="Give the plan first, the map with --host.",
            where=top.where,
        )
    only(top, TOP, what="a host map")
    _version(top)
    return top


def _extended(top: MapNode) -> TextNode | None:
    node = top.get("extends")
    if node is None:
        return None
    text_of(node, "'extends', the file of another host map,")
    return node if isinstance(node, TextNode) else None


def _over(
    base: Mapping[str, T], entries: list[tuple[str, Node]], read: Callable[[str, Node], T], *, may_drop: bool
) -> dict[str, T]:
    """Return the base's entries with this map's in their place; one without a value takes one away."""
    found = dict(base)
    for key, node in entries:
        if may_drop and isinstance(node, TextNode) and node.is_nothing:
            found.pop(key, None)
        else:
            found[key] = read(key, node)
    return found


def _version(top: MapNode) -> None:
    node = top.get("pulsebridge_host")
    if node is None:
        raise PlanError(
            "a host map lacks the key 'pulsebridge_host'",
            hint="Begin it with 'pulsebridge_host: 1'.",
            where=top.where,
        )
    if text_of(node, "the version") != VERSION:
        raise PlanError(
            f"the format's version is {VERSION}, not {kind_of(node)}",
            hint="A newer map needs a newer pulsebridge.",
            where=node.where,
        )


def _group(top: MapNode, key: str, allowed: Iterable[str]) -> list[tuple[str, Node]]:
    node = top.get(key)
    if node is None or (isinstance(node, TextNode) and node.is_nothing):
        return []
    group = group_of(node, f"{key!r}")
    only(group, allowed, what=f"{key!r}")
    return [(name.text, value) for name, value in group]


def _heard(key: str, node: Node) -> Heard:
    table = HEARS[key]
    group = group_of(node, f"'hears.{key}'")
    allowed = ["address"]
    if table.single:
        allowed.append("arg")
    elif table.needs:
        allowed.append("args")
    if table.units is not Units.NONE:
        allowed.append("unit")
    only(group, allowed, what=f"'hears.{key}'")
    return Heard(
        address=osc_address(group, f"'hears.{key}'"),
        args=_heard_args(key, table, group),
        unit=_unit(key, table, group),
    )


def _heard_args(key: str, table: Hearing, group: MapNode) -> dict[str, int]:
    if not table.needs:
        return {}
    what = f"'hears.{key}'"
    if table.single:
        return {"value": _argument(required(group, "arg", what), f"'arg' of {what}")}
    args = group_of(required(group, "args", what), f"'args' of {what}")
    only(args, (*table.needs, *table.may), what=f"'args' of {what}")
    for name in table.needs:
        required(args, name, f"'args' of {what}")
    return {name.text: _argument(value, f"'{name.text}' of {what}") for name, value in args}


def _argument(node: Node, what: str) -> int:
    index = read_at(node, lambda text: parse_whole(text, what=f"{what}, an argument's index from 0,"), what)
    if index > _MOST_ARGUMENT:
        raise PlanError(f"{what} is at most {_MOST_ARGUMENT}, not {index}", where=node.where)
    return index


def _unit(key: str, table: Hearing, group: MapNode) -> Unit | None:
    if table.units is Units.NONE:
        return None
    if table.units is Units.TEMPO:
        node = group.get("unit")
        if node is not None and text_of(node, "the unit of a tempo") != "bpm":
            raise PlanError(f"the unit of a tempo is bpm, not {kind_of(node)}", where=node.where)
        return None
    return read_at(required(group, "unit", f"'hears.{key}'"), Unit.parse, "a unit")


def read_address(text: str, *, least: int) -> Address:
    """Read ``HOST:PORT`` or ``[IPv6]:PORT``, the port from ``least``; PlanError for anything else."""
    host, colon, port = text.strip().rpartition(":")
    if not colon or not host:
        raise PlanError(f"an address is HOST:PORT, not {text[:60]!r}", hint="Write 127.0.0.1:9001.")
    if host.startswith("[") and host.endswith("]"):
        host = host[1:-1]
    elif ":" in host:
        raise PlanError(
            f"an IPv6 address stands in brackets: {text[:60]!r}", hint=f"Write '[{host}]:{port}'."
        )
    if any(c.isspace() or not c.isprintable() for c in host):
        raise PlanError(f"a host's name has no spaces: {text[:60]!r}")
    number = parse_whole(port, what="a port", least=least)
    if number > 65535:
        raise PlanError(f"a port is {least} to 65535, not {port[:40]}")
    return Address(host, number)


def _pace(top: MapNode) -> Fraction | None:
    node = top.get("pace")
    if node is None:
        return None
    pace = read_at(node, lambda text: parse_seconds(text, what="the pace", zero=True).value, "the pace")
    if pace > _SLOWEST_PACE:
        raise PlanError(f"the pace is at most {_SLOWEST_PACE}s, not {kind_of(node)}", where=node.where)
    return pace


def _one_of(words: type[W], key: str, text: str) -> W:
    try:
        return words(text.strip())
    except ValueError:
        raise PlanError(
            f"{key!r} is one of {', '.join(words)}, not {text[:40]!r}",
            hint=did_you_mean(text, [str(way) for way in words]),
        ) from None


def _name(text: str) -> str:
    name = text.strip()
    if not name or len(name) > 200 or not name.isprintable():
        raise PlanError(f"a host's name is 1 to 200 printable characters, not {text[:40]!r}")
    return name
