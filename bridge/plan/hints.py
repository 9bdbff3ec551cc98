"""What to say when a key or a name is not the one that was meant.

This file knows nothing about plans: it compares words.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches

from bridge.errors import PlanError
from bridge.plan.nodes import MapNode, Node, TextNode

__all__ = ["did_you_mean", "listed", "missing_space", "refuse_unknown_keys"]

_MOST_LISTED = 20


def did_you_mean(found: str, allowed: Iterable[str]) -> str | None:
    """Return ``Did you mean 'tempo'?`` for the nearest allowed word, None where none is near."""
    by_folded = {word.casefold(): word for word in allowed}
    near = get_close_matches(found[:200].casefold(), by_folded, n=1, cutoff=0.6)
    return f"Did you mean {by_folded[near[0]]!r}?" if near else None


def listed(words: Iterable[str]) -> str:
    """Write words one after another, the first twenty of them."""
    every = list(words)
    shown = ", ".join(every[:_MOST_LISTED])
    return f"{shown} and {len(every) - _MOST_LISTED} more" if len(every) > _MOST_LISTED else shown


def missing_space(text: str, allowed: Iterable[str]) -> str | None:
    """Return what to write for ``cycle:3/16``, which YAML reads as one word; None for other texts."""
    key, colon, value = text.partition(":")
    if colon and value and key.strip() in allowed:
        return f"A space is missing after the colon: write '{key.strip()}: {value.strip()[:40]}'."
    return None


def refuse_unknown_keys(
    node: MapNode, allowed: Iterable[str], *, what: str, elsewhere: Mapping[str, str]
) -> None:
    """Raise PlanError at the first key of ``node`` that is not ``allowed``, naming those that are.

    ``elsewhere`` says of keys that belong somewhere else where that is.
    """
    known = list(allowed)
    for key, value in node:
        if key.text in known:
            continue
        raise PlanError(
            f"{what} has no key {key.text[:40]!r}; allowed are {listed(known)}",
            hint=(_misread(key.text, known) if _is_nothing(value) else None)
            or elsewhere.get(key.text)
            or did_you_mean(key.text, known),
            where=key.where,
        )


def _misread(key: str, allowed: list[str]) -> str | None:
    """Explain a key without a value that nobody meant as a key."""
    if key.isdigit():
        return "In braces a comma begins the next key: write a decimal with a point, as in 115.2."
    return missing_space(key, allowed)


def _is_nothing(node: Node) -> bool:
    return isinstance(node, TextNode) and node.is_nothing
