"""From the text of a host map to a HostMap, every error with its line and column.

The YAML reader is the plan's: scalars are text, no tags, bounded.  This file knows
nothing about files.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from bridge.errors import PlanError, Where
from bridge.exact import parse_seconds, parse_whole
from bridge.hostmap.message import address_or_error
from bridge.hostmap.model import Address, Heard, HostMap, Ramps, Said
from bridge.hostmap.table import HEARS, SAYS, TOP, Hearing, Units
from bridge.hostmap.taking import group_of, only, optional, read_at, required, text_of
from bridge.hostmap.template import Template, fixed, scan
from bridge.hostmap.unit import Unit
from bridge.plan.hints import did_you_mean
from bridge.plan.nodes import ListNode, MapNode, Node, TextNode, kind_of
from bridge.plan.yaml_text import read_yaml

__all__ = ["VERSION", "load", "read_address"]

VERSION = "1"
_SLOWEST_PACE = 10
_MOST_ARGUMENT = 99


def load(text: str | bytes, *, source: str | None = None) -> HostMap:
    """Read a host map from its YAML text; PlanError with its place for anything it cannot be."""
    top = read_yaml(text, source=source)
    if top.get("pulsebridge_host") is None and top.get("pulsebridge") is not None:
        raise PlanError(
            "this is a plan, not a host map",
            hint="Give the plan first, the map with --host.",
            where=top.where,
        )
    only(top, TOP, what="a host map")
    _version(top)
    hears, says = _group(top, "hears", HEARS), _group(top, "says", SAYS)
    return HostMap(
        name=optional(top, "name", _name) or "host",
        send_to=optional(top, "send_to", lambda text: read_address(text, least=1)),
        receive_on=optional(top, "receive_on", lambda text: read_address(text, least=0)),
        hears={key: _heard(key, node) for key, node in hears},
        says={key: _said_list(key, node) for key, node in says},
        pace=_pace(top),
        ramps=optional(top, "ramps", _ramps) or Ramps.POSITION,
        where=Where(line=1, column=1, file=source),
    )


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
        address=_osc_address(group, f"'hears.{key}'"),
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


def _said_list(key: str, node: Node) -> tuple[Said, ...]:
    what = f"'says.{key}'"
    if isinstance(node, MapNode):
        raise PlanError(
            f"{what} is a list of messages, not one",
            hint="Put it in brackets: [{address: ...}].",
            where=node.where,
        )
    if not isinstance(node, ListNode) or not node.items:
        raise PlanError(
            f"{what} is a list of messages, not {kind_of(node)}",
            hint="Write [{address: /..., args: [...]}].",
            where=node.where,
        )
    return tuple(_said(item, f"a message of {what}") for item in node.items)


def _said(node: Node, what: str) -> Said:
    group = group_of(node, what)
    only(group, ("address", "args"), what=what)
    args = group.get("args")
    if args is not None and not isinstance(args, ListNode):
        raise PlanError(
            f"'args' of {what} are a list, not {kind_of(args)}", hint="Write [..., ...].", where=args.where
        )
    templates = tuple(_template(item, what) for item in args.items) if args else ()
    return Said(address=_osc_address(group, what), args=templates)


def _template(node: Node, what: str) -> Template:
    if isinstance(node, MapNode):
        raise PlanError(
            f"an argument of {what} is a group of keys",
            hint='Put a field in quotes: "{seconds:f}".',
            where=node.where,
        )
    if not isinstance(node, TextNode):
        raise PlanError(f"an argument of {what} is one value, not {kind_of(node)}", where=node.where)
    if "{" in node.text or "}" in node.text:
        return read_at(node, scan, what)
    return read_at(node, lambda text: fixed(text, plain=node.plain), what, empty=not node.plain)


def _osc_address(group: MapNode, what: str) -> str:
    return read_at(required(group, "address", what), address_or_error, f"the address of {what}")


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


def _pace(top: MapNode) -> Fraction:
    node = top.get("pace")
    if node is None:
        return Fraction(5, 1000)
    pace = read_at(node, lambda text: parse_seconds(text, what="the pace", zero=True).value, "the pace")
    if pace > _SLOWEST_PACE:
        raise PlanError(f"the pace is at most {_SLOWEST_PACE}s, not {kind_of(node)}", where=node.where)
    return pace


def _ramps(text: str) -> Ramps:
    try:
        return Ramps(text.strip())
    except ValueError:
        raise PlanError(
            f"'ramps' is one of {', '.join(Ramps)}, not {text[:40]!r}",
            hint=did_you_mean(text, [str(way) for way in Ramps]),
        ) from None


def _name(text: str) -> str:
    name = text.strip()
    if not name or len(name) > 200 or not name.isprintable():
        raise PlanError(f"a host's name is 1 to 200 printable characters, not {text[:40]!r}")
    return name
