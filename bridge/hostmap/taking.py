"""Taking values out of the YAML tree, with their place in every error.

This file knows no key by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from bridge.errors import PlanError
from bridge.plan.hints import refuse_unknown_keys
from bridge.plan.nodes import MapNode, Node, TextNode, kind_of

__all__ = ["group_of", "only", "optional", "read_at", "required", "text_of"]

T = TypeVar("T")


def only(node: MapNode, allowed: Iterable[str], *, what: str) -> None:
    """Raise PlanError at the first key of ``node`` that is not ``allowed``."""
    refuse_unknown_keys(node, allowed, what=what, elsewhere={})


def optional(top: MapNode, key: str, read: Callable[[str], T]) -> T | None:
    """Read the text under ``key``, or None where the key is not given."""
    node = top.get(key)
    return None if node is None else read_at(node, read, f"{key!r}")


def required(group: MapNode, key: str, what: str) -> Node:
    """Return the value of ``key``; PlanError where it is missing."""
    node = group.get(key)
    if node is None:
        raise PlanError(f"{what} lacks the key {key!r}", hint=f"Add '{key}: ...' to it.", where=group.where)
    return node


def group_of(node: Node, what: str) -> MapNode:
    """Take ``node`` as a group of keys; PlanError for anything else."""
    if not isinstance(node, MapNode):
        raise PlanError(f"{what} is a group of keys, not {kind_of(node)}", where=node.where)
    return node


def text_of(node: Node, what: str, *, empty: bool = False) -> str:
    """Take ``node`` as one text; PlanError for anything else, and for nothing unless ``empty`` allows it."""
    if not isinstance(node, TextNode):
        raise PlanError(f"{what} is one value, not {kind_of(node)}", where=node.where)
    if not node.text.strip() and not empty:
        raise PlanError(
            f"{what} has no value", hint="Write it after the colon, or remove the key.", where=node.where
        )
    return node.text


def read_at(node: Node, read: Callable[[str], T], what: str, *, empty: bool = False) -> T:
    """Read the text of ``node`` with ``read``, whose errors get its place."""
    text = text_of(node, what, empty=empty)
    try:
        return read(text)
    except PlanError as error:
        raise error.at(node.where) from None
