"""The rest of a song planned anew, in another process: the planner would stop the clock in this one.

This file knows nothing about why the song is not as it was planned.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

from bridge.errors import PeerError
from bridge.live.planning import run_elsewhere
from bridge.show import Offer

__all__ = ["Refused", "replan"]

_LONGEST = 60.0
"""Seconds after which a song has gone on too far for an answer to be of use."""


class Refused(Exception):  # noqa: N818  it is an answer of the planner, no fault
    """The rest cannot be planned so that every demand holds; its text says which cannot."""


async def replan(
    plan: Path, *, played: Iterable[tuple[str, int]], tempo: Fraction | None = None, effort: int | None = None
) -> Offer:
    """Return what the sections that are still to come would become.

    ``tempo`` is the one that the song is played at, where its plan leaves it open.
    :class:`Refused` when the planner finds nothing, or takes too long.
    """
    known = dict(played)
    words = [f"--played={name}={bars}" for name, bars in known.items()]
    words += [] if tempo is None else [f"--tempo={tempo}"]
    words += [] if effort is None else [f"--effort={effort}"]
    try:
        _, found = await run_elsewhere(["plan", str(plan), *words], longest=_LONGEST)
    except PeerError as error:
        raise Refused(error.message) from None
    return _answer(found, known.keys())


def _answer(found: dict[str, Any], known: Iterable[str]) -> Offer:
    if "sections" in found:
        rest = [one for one in found["sections"] if one["name"] not in known]
        return Offer(
            bars=tuple((str(one["name"]), int(one["bars"])) for one in rest),
            total_seconds=Fraction(str(found["total_seconds"])),
        )
    if found.get("conflict"):
        demands = "; ".join(str(one["demand"]) for one in found["conflict"])
        raise Refused(f"these cannot all be kept any more: {demands}")
    if found.get("error"):
        raise Refused(str(found["error"].get("message")))
    raise Refused("nothing was found within the planner's steps")
