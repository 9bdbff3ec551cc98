"""New lengths into a plan's text, in place: comments and layout stay as they are.

Only the number is replaced, at the mark where its node stands; a wish or a bound that is
not there yet is put before the first key of its group.  Whether the plan can then be
solved is for the caller to see.  This file knows nothing about files on a disk.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

import yaml

from bridge.errors import PlanError
from bridge.plan.nodes import ListNode, MapNode, Node, TextNode
from bridge.plan.yaml_text import read_yaml

__all__ = ["with_lengths"]


class Mark(Protocol):
    """A place in the text as PyYAML counts it, from 0."""

    line: int
    column: int
    index: int


@dataclass(frozen=True, slots=True)
class _Edit:
    start: int
    end: int
    new: str


def with_lengths(text: str, lengths: Mapping[int, int], *, bound: bool = False) -> str:
    """Return the plan's text with other ``lengths``, in bars by the section's index.

    ``bars: N`` becomes the new number; in a ``length`` the wish does, and where ``bound``
    says so its bounds as well, so that nothing else will do.  PlanError, with its place,
    for a section whose length the text cannot say so: one that is as long as another.
    """
    if text.startswith("\ufeff"):
        return "\ufeff" + with_lengths(text[1:], lengths, bound=bound)
    sections = read_yaml(text).get("sections")
    if not isinstance(sections, ListNode):
        raise PlanError("the plan has no list of sections")
    marks = _scalars(text)
    edits: list[_Edit] = []
    for index, bars in lengths.items():
        edits.extend(_edits(text, marks, sections.items[index], bars, bound=bound))
    return _applied(text, edits)


def _edits(
    text: str, marks: Mapping[tuple[int, int], tuple[int, int]], section: Node, bars: int, *, bound: bool
) -> list[_Edit]:
    if not isinstance(section, MapNode):
        raise PlanError("a section is a group of keys", where=section.where)
    fixed, length = section.get("bars"), section.get("length")
    if isinstance(fixed, TextNode):
        return [_Edit(*marks[_place(fixed)], str(bars))]
    keys = ("about", "at_least", "at_most") if bound else ("about",)
    if length is None and section.get("vamp") is not None and section.get("same_length_as") is None:
        wish = ", ".join(f"{key}: {bars} bars" for key in keys)
        return _added(text, marks, section, [f"length: {{{wish}}}"])
    if not isinstance(length, MapNode):
        raise _without_length(section)
    edits: list[_Edit] = []
    new: list[str] = []
    for key in keys:
        node = length.get(key)
        if isinstance(node, TextNode):
            edits.append(_Edit(*marks[_place(node)], f"{bars} bars"))
        else:
            new.append(f"{key}: {bars} bars")
    return [*edits, *_added(text, marks, length, new)]


def _without_length(section: MapNode) -> PlanError:
    if section.get("free") is not None:
        return PlanError(
            "a free passage has no bars that could be changed",
            hint="Change how long it lasts, under 'free'.",
            where=section.where,
        )
    return PlanError(
        "this section has no length of its own that could be changed",
        hint="It has those of another section, or of the kept solution: change that one.",
        where=section.where,
    )


def _added(
    text: str, marks: Mapping[tuple[int, int], tuple[int, int]], group: MapNode, new: list[str]
) -> list[_Edit]:
    """Put keys before the first one of a group, as it is written: in braces, or a line each."""
    if not new:
        return []
    first = group.entries[0][0]
    start = marks[_place(first)][0]
    line_end = "\r\n" if "\r\n" in text else "\n"
    joint = ", " if _is_in_braces(text, group) else line_end + " " * (first.where.column - 1)
    return [_Edit(start, start, "".join(key + joint for key in new))]


def _applied(text: str, edits: list[_Edit]) -> str:
    """Make the edits from the last to the first, so that places before them hold."""
    for edit in sorted({(one.start, one.end, one.new) for one in edits}, reverse=True):
        start, end, new = edit
        text = text[:start] + new + text[end:]
    return text


def _place(node: Node) -> tuple[int, int]:
    return node.where.line, node.where.column


def _scalars(text: str) -> dict[tuple[int, int], tuple[int, int]]:
    """Return where each scalar begins and ends in the text, by its line and column."""
    return {
        (start.line + 1, start.column + 1): (start.index, end.index)
        for event, start, end in _marked(text)
        if isinstance(event, yaml.ScalarEvent)
    }


def _is_in_braces(text: str, group: MapNode) -> bool:
    """Whether a group of keys is written in braces and not a line each."""
    return any(
        bool(event.flow_style) and (start.line + 1, start.column + 1) == _place(group)
        for event, start, _ in _marked(text)
        if isinstance(event, yaml.MappingStartEvent)
    )


def _marked(text: str) -> Iterator[tuple[yaml.Event, Mark, Mark]]:
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        if event.start_mark is not None and event.end_mark is not None:
            yield event, event.start_mark, event.end_mark
