"""The tree that a YAML text becomes: texts, lists and mappings that know their place.

Every scalar is text, quoted or not: ``2:30``, ``no`` and ``115.2`` mean what the reader
of that key makes of them.  This file knows nothing about YAML's syntax or about plans.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.errors import Where

__all__ = ["ListNode", "MapNode", "Node", "TextNode", "kind_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TextNode:
    """One scalar, as the text it is."""

    text: str
    where: Where
    plain: bool = True
    """Whether it was written without quotes, on a line of its own kind."""

    @property
    def is_nothing(self) -> bool:
        """Whether nothing at all stands there, as after ``key:``."""
        return self.plain and not self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class ListNode:
    """A list, in brackets or with dashes."""

    items: tuple[Node, ...]
    where: Where


@dataclass(frozen=True, slots=True, kw_only=True)
class MapNode:
    """Keys and values in the file's order; no key stands twice."""

    entries: tuple[tuple[TextNode, Node], ...]
    where: Where

    def get(self, key: str) -> Node | None:
        """Return the value of ``key``, or None."""
        return next((value for name, value in self if name.text == key), None)

    def __iter__(self) -> Iterator[tuple[TextNode, Node]]:
        return iter(self.entries)


Node = TextNode | ListNode | MapNode


def kind_of(node: Node) -> str:
    """Say in words what a node is, for messages."""
    if isinstance(node, ListNode):
        return "a list"
    if isinstance(node, MapNode):
        return "a group of keys"
    if node.is_nothing:
        return "nothing"
    return repr(node.text if len(node.text) <= 40 else node.text[:37] + "...")
