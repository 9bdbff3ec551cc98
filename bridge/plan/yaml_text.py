"""YAML into a tree of texts, safely: bounded in size, depth and nodes, without tags.

Works on the events of PyYAML's pure parser, which needs no recursion; its composer
and constructors are not used, so that nothing is ever built from a tag and no scalar
is read as anything but text.  YAML 1.1, https://yaml.org/spec/1.1/.  This file knows
nothing about what the keys mean.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Protocol

import yaml

from bridge.errors import PlanError, Where
from bridge.plan.nodes import ListNode, MapNode, Node, TextNode

__all__ = ["MAX_BYTES", "MAX_DEPTH", "MAX_NODES", "read_yaml"]

MAX_BYTES = 256 * 1024
MAX_DEPTH = 20
MAX_NODES = 20_000
"""Counted with every alias spelled out, so that a few lines cannot stand for millions."""

_LINE_END = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_FORBIDDEN = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_SURROGATE = re.compile("[\ud800-\udfff]")
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
_FIRST_LINE = (
    "Begin with the format's version, 'pulsebridge: 1' in a plan, 'pulsebridge_host: 1' in a host map; "
    "then other keys, each on a line of its own."
)
_HINTS = (
    ("'\\t'", "Indent with spaces; a tab cannot begin anything in YAML."),
    ("could not find expected ':'", "A key has a colon and a space after it, as in 'tempo: 115.2'."),
    (
        "mapping values are not allowed",
        "A key has a colon and a space after it, as in 'tempo: 115.2'; a text with ': ' in it needs quotes.",
    ),
    ("end of stream", "A quote or a bracket is opened here and not closed."),
    ("expected ',' or '", "Look for a comma, or for a bracket that is not closed."),
    ("block end", "Keys of one group begin in the same column; look at the indentation."),
    ("alias", "Write the part out where it is used."),
)
_KNOWN_BY_THEIR_BEGINNING = ("end of stream", "could not find expected ':'")
"""Where the parser notices these says little; where the thing began says all."""


def read_yaml(text: str | bytes, *, source: str | None = None) -> MapNode:
    """Read one YAML document whose top is a group of keys.

    PlanError with its place for whatever is not: other encodings, control characters,
    tags, merge keys, a key twice, more than one document, too large, too deep.
    """
    decoded = _decoded(text, source)
    return _Builder(decoded, source).document()


def _decoded(text: str | bytes, source: str | None) -> str:
    start = Where(line=1, column=1, file=source)
    if len(text) > MAX_BYTES:
        raise PlanError(f"the file is {len(text):,} bytes long; at most {MAX_BYTES:,} are read", where=start)
    if isinstance(text, bytes):
        text = _from_utf_8(text, source)
    text = text.removeprefix("\ufeff")
    if found := _FORBIDDEN.search(text):
        raise PlanError(
            f"the file holds a character that no text file has: U+{ord(found[0]):04X}",
            hint="Is this the right file? It is plain text in UTF-8.",
            where=_place(text, found.start(), source),
        )
    return text


def _from_utf_8(raw: bytes, source: str | None) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8")
        hint = "Save it as UTF-8." if raw.startswith(_UTF_16) else "Is this the right file? Save it as UTF-8."
        raise PlanError(
            f"the file is not UTF-8: byte {raw[error.start]:#04x} cannot stand here",
            hint=hint,
            where=_place(before, len(before), source),
        ) from None


def _place(text: str, index: int, source: str | None) -> Where:
    lines = _LINE_END.split(text[:index])
    rest = _LINE_END.split(text[index:], maxsplit=1)[0]
    return Where(line=len(lines), column=len(lines[-1]) + 1, file=source, text=lines[-1] + rest)


def _short_tag(event: yaml.Event) -> str:
    return str(getattr(event, "tag", "")).replace("tag:yaml.org,2002:", "!!")[:40]


class _Mark(Protocol):
    """A place as PyYAML's parser counts it, from 0."""

    line: int
    column: int


class _Builder:
    """Builds the tree of one document from the parser's events, counting as it goes."""

    def __init__(self, text: str, source: str | None) -> None:
        self._source = source
        self._lines = _LINE_END.split(text)
        self._events = self._parsed(text)
        self._anchors: dict[str, tuple[Node, int]] = {}
        self._nodes = 0

    def document(self) -> MapNode:
        next(self._events)
        if isinstance(next(self._events), yaml.StreamEndEvent):
            raise self._error("the file is empty", None, hint=_FIRST_LINE)
        top = self._node(next(self._events), 1)
        next(self._events)
        after = next(self._events)
        if not isinstance(after, yaml.StreamEndEvent):
            raise self._error(
                "a second document begins here; the file is one", after, hint="Remove the line '---'."
            )
        if isinstance(top, MapNode):
            return top
        if isinstance(top, TextNode) and top.is_nothing:
            raise self._error("the file is empty", None, hint=_FIRST_LINE)
        raise PlanError(
            f"the file's top is {'a list' if isinstance(top, ListNode) else 'a bare text'};"
            " it is a group of keys",
            hint=_FIRST_LINE,
            where=top.where,
        )

    def _parsed(self, text: str) -> Iterator[yaml.Event]:
        """Yield the parser's events; whatever it raises becomes a PlanError with its place."""
        try:
            yield from yaml.parse(text, Loader=yaml.SafeLoader)
        except yaml.MarkedYAMLError as error:
            problem = error.problem or error.context or "it cannot be read"
            hint = next((hint for sign, hint in _HINTS if sign in problem), None)
            mark = error.problem_mark or error.context_mark
            if any(sign in problem for sign in _KNOWN_BY_THEIR_BEGINNING):
                mark = error.context_mark or mark
            raise PlanError(f"this is not YAML: {problem}", hint=hint, where=self._where(mark)) from None
        except (yaml.YAMLError, ValueError, OverflowError) as error:
            raise PlanError(f"this is not YAML: {error}", where=self._where(None)) from None

    def _node(self, event: yaml.Event, depth: int) -> Node:
        before = self._nodes
        self._count(1, event)
        if depth > MAX_DEPTH:
            raise self._error(f"brackets or groups are more than {MAX_DEPTH} deep", event)
        if isinstance(event, yaml.AliasEvent):
            return self._alias(event)
        if getattr(event, "tag", None) is not None:
            raise self._error(
                f"a tag ({_short_tag(event)}) cannot be used here; every value is plain text",
                event,
                hint="Remove the word that begins with '!'.",
            )
        node = self._built(event, depth)
        if anchor := getattr(event, "anchor", None):
            self._anchors[anchor] = (node, self._nodes - before)
        return node

    def _built(self, event: yaml.Event, depth: int) -> Node:
        if isinstance(event, yaml.ScalarEvent):
            if _SURROGATE.search(event.value):
                raise self._error("half a character (a lone surrogate) stands in this text", event)
            return TextNode(text=event.value, where=self._where(event.start_mark), plain=event.style is None)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._list(event, depth)
        return self._mapping(event, depth)

    def _alias(self, event: yaml.AliasEvent) -> Node:
        anchor = event.anchor or ""
        if anchor not in self._anchors:
            raise self._error(
                f"'*{anchor[:40]}' stands for nothing that is complete before it",
                event,
                hint="Write the part out where it is used.",
            )
        node, size = self._anchors[anchor]
        self._count(size, event)
        return node

    def _list(self, start: yaml.SequenceStartEvent, depth: int) -> ListNode:
        items: list[Node] = []
        while not isinstance(event := next(self._events), yaml.SequenceEndEvent):
            items.append(self._node(event, depth + 1))
        return ListNode(items=tuple(items), where=self._where(start.start_mark))

    def _mapping(self, start: yaml.Event, depth: int) -> MapNode:
        entries: dict[str, tuple[TextNode, Node]] = {}
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            key = self._key(event, depth)
            if key.text in entries:
                first = entries[key.text][0].where.line
                raise PlanError(
                    f"the key {key.text[:40]!r} stands twice, first on line {first}",
                    hint="Keep one of the two.",
                    where=key.where,
                )
            entries[key.text] = (key, self._node(next(self._events), depth + 1))
        return MapNode(entries=tuple(entries.values()), where=self._where(start.start_mark))

    def _key(self, event: yaml.Event, depth: int) -> TextNode:
        node = self._node(event, depth + 1)
        if not isinstance(node, TextNode):
            raise self._error("a key is plain text, not a list or a group", event)
        if node.text == "<<" and node.plain:
            raise self._error(
                "merge keys ('<<') are not used here", event, hint="Write the keys out where they are used."
            )
        return TextNode(text=node.text.strip(), where=self._where(event.start_mark), plain=node.plain)

    def _count(self, more: int, event: yaml.Event) -> None:
        self._nodes += more
        if self._nodes > MAX_NODES:
            raise self._error(f"the file has more than {MAX_NODES:,} parts, aliases spelled out", event)

    def _error(self, message: str, event: yaml.Event | None, *, hint: str | None = None) -> PlanError:
        return PlanError(message, hint=hint, where=self._where(event.start_mark if event else None))

    def _where(self, mark: _Mark | None) -> Where:
        line, column = (mark.line, mark.column) if mark else (0, 0)
        text = self._lines[line] if line < len(self._lines) else ""
        return Where(line=line + 1, column=column + 1, file=self._source, text=text)
