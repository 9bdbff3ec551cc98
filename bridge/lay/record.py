"""The record beside the plan: which markers in which host are ours.

An entry is written before its marker is sent (ASKED) and again when the host has told
of it (LAID), so that a crash between any two steps leaves nothing of ours unknown.
Places stand as exact numbers in the unit in which the host tells them.  This file knows
nothing about disks.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any

from bridge.errors import PlanError
from bridge.hostmap import Handle, HostMap, Number, Step

__all__ = ["Entry", "State", "read_record", "record_key", "write_record"]

VERSION = 1
_KEYS = ("name", "state", "unit", "at", "step", "cap", "id", "seen", "rest", "sent", "undo")


class State(StrEnum):
    """How far a marker of ours has come."""

    ASKED = "asked"
    """About to be sent, or sent and not yet seen: all that appears there under its name is ours."""
    LAID = "laid"
    """Seen in the host, or sent to one that reports nothing."""
    STRANGE = "strange"
    """Sent, and come out under another name or at another place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One marker of ours in one host.

    ``at`` is where it was asked for, or was last reported; it counts as the same place
    within the coarser of ``step`` and the report's own step, at most ``cap``.
    """

    name: str
    state: State
    unit: str = ""
    at: Fraction = Fraction(0)
    step: Fraction = Fraction(0)
    cap: Fraction = Fraction(0)
    id: Handle = None
    seen: tuple[str, Fraction] | None = None
    """For a STRANGE one: the name and place it came out with."""
    rest: int = 0
    """For one that is being removed: how many equals of it are not ours, and stay."""
    sent: tuple[Step, ...] = ()
    undo: tuple[Step, ...] | None = None
    """For a host that reports nothing: what was sent, and what removes it again."""

    def stands_at(self, at: Number) -> bool:
        """Whether a report of a place is this entry's place."""
        return abs(at.value - self.at) <= min(self.cap, max(self.step, at.step))


def record_key(host: HostMap) -> str:
    """Return what the record files a host under: its map's name and its address."""
    return f"{host.name} {host.send_to}"


def read_record(text: str | None, *, source: str | None = None) -> dict[str, tuple[Entry, ...]]:
    """Read the record's text, every host in it; PlanError when it is none.

    None stands for a record that is not there.
    """
    if text is None:
        return {}
    try:
        return _hosts(json.loads(text))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, ZeroDivisionError) as error:
        raise PlanError(
            f"the record of what was laid ({source or 'PLAN.laid.json'}) cannot be read: {error}",
            hint="Move it away and lay with --adopt: that takes over what stands where the plan wants it.",
        ) from None


def write_record(hosts: Mapping[str, Iterable[Entry]]) -> str:
    """Return the record's text."""
    listed = {key: {"markers": [_plain(entry) for entry in entries]} for key, entries in hosts.items()}
    content = {"pulsebridge_laid": VERSION, "hosts": listed}
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def _hosts(content: Mapping[str, Any]) -> dict[str, tuple[Entry, ...]]:
    if content["pulsebridge_laid"] != VERSION:
        raise ValueError(f"its version is not {VERSION}")
    return {key: tuple(map(_entry, host["markers"])) for key, host in content["hosts"].items()}


def _plain(entry: Entry) -> dict[str, Any]:
    return {
        "name": entry.name,
        "state": str(entry.state),
        "unit": entry.unit,
        "at": str(entry.at),
        "step": str(entry.step),
        "cap": str(entry.cap),
        "id": entry.id,
        "seen": [entry.seen[0], str(entry.seen[1])] if entry.seen else None,
        "rest": entry.rest,
        "sent": [step.as_record() for step in entry.sent],
        "undo": None if entry.undo is None else [step.as_record() for step in entry.undo],
    }


def _entry(plain: Mapping[str, Any]) -> Entry:
    if set(plain) != set(_KEYS) or not isinstance(plain["name"], str):
        raise ValueError("an entry has other keys than it should")
    if not isinstance(plain["id"], int | str | float | None):
        raise TypeError("an id is a number or a text")
    seen, undo = plain["seen"], plain["undo"]
    return Entry(
        name=plain["name"],
        state=State(plain["state"]),
        unit=str(plain["unit"]),
        at=_exact(plain["at"]),
        step=_exact(plain["step"]),
        cap=_exact(plain["cap"]),
        id=plain["id"],
        seen=None if seen is None else (str(seen[0]), _exact(seen[1])),
        rest=int(plain["rest"]),
        sent=tuple(Step.from_record(one) for one in plain["sent"]),
        undo=None if undo is None else tuple(Step.from_record(one) for one in undo),
    )


def _exact(text: str) -> Fraction:
    top, _, bottom = text.partition("/")
    return Fraction(int(top), int(bottom or "1"))
