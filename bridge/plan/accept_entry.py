"""``accept`` in a plan file: one acceptance or a list, each of a known reading and with its reason.

This file knows the names of the readings, and nothing about what they look for.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, Discriminator, Field, Tag

from bridge.errors import PlanError
from bridge.exact import Seconds, parse_number, parse_seconds, show_number
from bridge.plan import values as take
from bridge.plan.accepting import READINGS, Accept, Measure
from bridge.plan.entry import Entry
from bridge.plan.hints import did_you_mean, listed
from bridge.plan.nodes import ListNode, Node
from bridge.plan.values import Reads

__all__ = ["AcceptEntry", "Accepts", "acceptances"]

MAX_BECAUSE = 500
"""Characters."""
_TIME = re.compile(r"[:a-z]")
_MOST = {Measure.POINTS: 100, Measure.SHARE: 1}


def _reading(text: str) -> str:
    name = " ".join(text.split())
    if name not in READINGS:
        raise PlanError(
            f"no reading on the form is called {text[:40]!r}; there are {listed(READINGS)}",
            hint=did_you_mean(name, READINGS) or "See 'Readings on the form' in the README.",
        )
    return name


def _threshold(text: str) -> Fraction | Seconds:
    if _TIME.search(text):
        return parse_seconds(text, what="a threshold", zero=True)
    return parse_number(text, what="a threshold")


_LIMIT = Reads(
    take.text_reader(_threshold, "a threshold"),
    {"type": ["number", "string"], "minimum": 0, "pattern": r"^\s*[0-9]"},
)


class AcceptEntry(Entry):
    """A reading on the form that is meant so, and why."""

    what: ClassVar[str] = "an acceptance"
    instead: ClassVar[str] = "Write 'accept: {reading: one level, because: \"it is a lullaby\"}'."

    reading: Annotated[str, Reads(take.text_reader(_reading, "a reading"), {"enum": list(READINGS)})] = Field(
        examples=["one level"]
    )
    """The reading, by its name."""
    because: Annotated[str, take.words("the reason", most=MAX_BECAUSE)] = Field(
        examples=["it answers the calm of the beginning"]
    )
    """Why the writer means it so."""
    threshold: Annotated[Fraction | Seconds, _LIMIT] | None = Field(default=None, examples=["3:30", 20])
    """Accepted as far as this, in the reading's own unit; however far it goes, unless given."""


def _kind(node: Any) -> str:
    return "many" if isinstance(node, ListNode) else "one"


def _entries(node: Node) -> tuple[Node, ...]:
    items = take.items(node, "acceptances")
    if not items.items:
        raise PlanError("the list of acceptances is empty", hint="Take 'accept' out.", where=node.where)
    return items.items


Accepts = Annotated[
    Annotated[AcceptEntry, Tag("one")]
    | Annotated[
        tuple[AcceptEntry, ...],
        BeforeValidator(_entries),
        Field(json_schema_extra={"minItems": 1}),
        Tag("many"),
    ],
    Discriminator(_kind),
]


def acceptances(given: AcceptEntry | tuple[AcceptEntry, ...] | None) -> tuple[Accept, ...]:
    """Return what is accepted; PlanError for a reading named twice or a limit in the wrong unit."""
    entries = (given,) if isinstance(given, AcceptEntry) else given or ()
    found: dict[str, Accept] = {}
    for entry in entries:
        if entry.reading in found:
            raise PlanError(
                f"{entry.reading!r} is accepted twice in one place",
                hint="Keep one of the two.",
                where=entry.place_of("reading"),
            )
        found[entry.reading] = Accept(
            reading=entry.reading,
            because=entry.because,
            threshold=_in_unit(entry),
            where=entry.place_of("reading"),
        )
    return tuple(found.values())


def _in_unit(entry: AcceptEntry) -> Fraction | None:
    given, measure = entry.threshold, READINGS[entry.reading]
    if given is None:
        return None
    if isinstance(given, Seconds) != (measure is Measure.SECONDS):
        wanted = "a time, as in 2:30" if measure is Measure.SECONDS else f"a number ({measure.value})"
        raise PlanError(
            f"the threshold of {entry.reading!r} is {wanted}, not {_shown(given)!r}",
            where=entry.place_of("threshold"),
        )
    value = given.value if isinstance(given, Seconds) else given
    if value > _MOST.get(measure, value):
        raise PlanError(
            f"the threshold of {entry.reading!r} is at most {_MOST[measure]}, not {_shown(given)!r}",
            where=entry.place_of("threshold"),
        )
    return value


def _shown(given: Fraction | Seconds) -> str:
    return str(given) if isinstance(given, Seconds) else show_number(given)
