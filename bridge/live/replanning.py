"""The rest of a song planned anew, in another process: the planner would stop the clock in this one.

This file knows nothing about why the song is not as it was planned.
"""

from __future__ import annotations

import asyncio
import json
import sys
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

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
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        *("-m", "bridge", "plan", str(plan), "--json", *words),
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    try:
        out, err = await asyncio.wait_for(process.communicate(), _LONGEST)
    except TimeoutError:
        raise Refused(f"the planner took longer than {_LONGEST:.0f} s") from None
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    return _answer(out, err, known.keys())


def _answer(out: bytes, err: bytes, known: Iterable[str]) -> Offer:
    try:
        found = json.loads(out)
    except ValueError:
        raise Refused(f"the planner said nothing: {err.decode('utf-8', 'replace').strip()[:300]}") from None
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
