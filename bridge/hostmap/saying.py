"""Reading what is said to a host: the messages of one deed, pauses between them, replies.

    says:
      place:
        - {address: /crane/go, args: ["{quarters:d}"], reply: {address: /crane/at, args: ["{quarters:d}"]}}
        - {wait: 40ms}
        - {address: /crane/mark, args: ["{name:s}", {type: T}]}

This file knows nothing about the other keys of a host map.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import parse_seconds, parse_whole
from bridge.hostmap.literal import literal
from bridge.hostmap.message import address_or_error
from bridge.hostmap.model import Awaited, Said
from bridge.hostmap.taking import group_of, only, optional, read_at, required, text_of
from bridge.hostmap.template import Template, fixed, scan
from bridge.plan.nodes import ListNode, MapNode, Node, kind_of

__all__ = ["osc_address", "said_list"]

LONGEST_WAIT = 2
"""Seconds, of one pause or for one reply."""
_MOST_TRIES = 20
_MOST_MESSAGES = 50
_MESSAGE_KEYS = ("address", "args", "reply")
_REPLY_KEYS = ("address", "args", "within", "tries")


def said_list(key: str, node: Node) -> tuple[Said, ...]:
    """Read the messages of ``says.KEY``; PlanError with its place for anything else."""
    what = f"'says.{key}'"
    found: list[Said] = []
    for item in _items(node, what):
        if isinstance(item, MapNode) and item.get("wait") is not None:
            _add_wait(found, item, what)
            continue
        said = _said(item, f"a message of {what}")
        if key == "list" and said.reply is not None:
            raise PlanError(
                "the answers to 'says.list' are the 'marker' messages; it awaits no other reply",
                hint="Take 'reply' out.",
                where=item.where,
            )
        found.append(said)
    return tuple(found)


def osc_address(group: MapNode, what: str) -> str:
    """Read the key ``address`` of ``group``."""
    return read_at(required(group, "address", what), address_or_error, f"the address of {what}")


def _items(node: Node, what: str) -> tuple[Node, ...]:
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
    if len(node.items) > _MOST_MESSAGES:
        raise PlanError(f"{what} holds at most {_MOST_MESSAGES} messages and waits", where=node.where)
    return node.items


def _add_wait(found: list[Said], item: MapNode, what: str) -> None:
    """Add a pause to the message before it."""
    only(item, ("wait",), what=f"a wait of {what}")
    wait = read_at(required(item, "wait", what), _seconds, "a wait")
    if not found:
        raise PlanError(
            f"{what} begins with a wait",
            hint="A wait stands after the message that the host needs time for.",
            where=item.where,
        )
    total = found[-1].wait + wait
    if total > LONGEST_WAIT:
        raise PlanError(f"a wait is at most {LONGEST_WAIT}s", where=item.where)
    found[-1] = replace(found[-1], wait=total)


def _said(node: Node, what: str) -> Said:
    group = group_of(node, what)
    only(group, _MESSAGE_KEYS, what=what)
    reply = group.get("reply")
    return Said(
        address=osc_address(group, what),
        args=_arguments(group, what),
        reply=None if reply is None else _awaited(reply, f"the reply to {what}"),
    )


def _awaited(node: Node, what: str) -> Awaited:
    group = group_of(node, what)
    only(group, _REPLY_KEYS, what=what)
    args = _arguments(group, what)
    if any(template.type in ("[", "]") for template in args):
        raise PlanError(f"{what} awaits no list within a message", where=node.where)
    return Awaited(
        address=osc_address(group, what),
        args=args,
        within=optional(group, "within", _within) or Fraction(1, 4),
        tries=optional(group, "tries", _tries) or 1,
    )


def _arguments(group: MapNode, what: str) -> tuple[Template, ...]:
    args = group.get("args")
    if args is None:
        return ()
    if not isinstance(args, ListNode):
        raise PlanError(
            f"'args' of {what} are a list, not {kind_of(args)}", hint="Write [..., ...].", where=args.where
        )
    return tuple(template for item in args.items for template in _templates(item, what))


def _templates(node: Node, what: str) -> tuple[Template, ...]:
    if isinstance(node, ListNode):
        inner = tuple(template for item in node.items for template in _templates(item, what))
        return (Template("[", ()), *inner, Template("]", ()))
    if isinstance(node, MapNode):
        return (_typed(node, what),)
    if "{" in node.text or "}" in node.text:
        return (read_at(node, scan, what),)
    return (read_at(node, lambda text: fixed(text, plain=node.plain), what, empty=not node.plain),)


def _typed(node: MapNode, what: str) -> Template:
    """Read ``{type: h, value: 12}``."""
    kind = node.get("type")
    if kind is None:
        raise PlanError(
            f"an argument of {what} is a group of keys",
            hint='Put a field in quotes: "{seconds:f}"; a value of a named type is {type: h, value: 12}.',
            where=node.where,
        )
    only(node, ("type", "value"), what=f"an argument of {what}")
    tag, value = text_of(kind, "a type"), node.get("value")
    text = None if value is None else text_of(value, "a value", empty=True)
    where = node.where if value is None else value.where
    try:
        return Template(tag, (literal(tag, text),))
    except PlanError as error:
        raise error.at(where) from None


def _seconds(text: str) -> Fraction:
    return parse_seconds(text, what="a wait").value


def _within(text: str) -> Fraction:
    within = parse_seconds(text, what="'within'").value
    if within > LONGEST_WAIT:
        raise PlanError(f"a reply is awaited for at most {LONGEST_WAIT}s, not {text[:40]}")
    return within


def _tries(text: str) -> int:
    tries = parse_whole(text, what="'tries'", least=1)
    if tries > _MOST_TRIES:
        raise PlanError(f"a message is sent at most {_MOST_TRIES} times for its reply, not {text[:40]}")
    return tries
