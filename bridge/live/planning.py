"""Plans worked out in another process, and a plan file that is watched for being saved.

Planning takes as long as it takes; in the daemon's own process a cue would wait for it.
What comes back are the bars of each section (``plan --json``); the song is then unrolled
here, on a thread.  This file knows nothing about when a new song is taken over.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import json
import sys
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from bridge.errors import MusicError, PeerError
from bridge.exact import parse_number
from bridge.plan import load
from bridge.song import Song, unroll

__all__ = ["PlanFile", "run_elsewhere", "solved_elsewhere"]

_LONGEST = 120.0
"""Seconds that a plan may take."""


class PlanFile:
    """A plan file that somebody may save: ask :meth:`changed` now and then."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._stamp = self._stamped()
        self._digest = self._digested()

    def changed(self) -> bool:
        """Tell, once, that the file holds something else than when it was last asked for."""
        stamp = self._stamped()
        if stamp is None or stamp == self._stamp:
            return False
        digest = self._digested()
        if digest is None:
            return False  # between being removed and written anew
        self._stamp = stamp
        is_new, self._digest = digest != self._digest, digest
        return is_new

    def _stamped(self) -> tuple[int, int] | None:
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size

    def _digested(self) -> bytes | None:
        try:
            return hashlib.sha256(self.path.read_bytes()).digest()
        except OSError:
            return None


async def run_elsewhere(words: Sequence[str], *, longest: float = _LONGEST) -> tuple[int, dict[str, Any]]:
    """Run ``pulsebridge WORDS --json`` in another process; return its exit code and its JSON object.

    PeerError where it wrote none, or took too long.
    """
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "bridge",
        *words,
        "--json",
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        out, _ = await asyncio.wait_for(process.communicate(), longest)
    except TimeoutError:
        raise PeerError(f"'pulsebridge {words[0]}' took longer than {longest:.0f} s") from None
    finally:
        if process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()
    return process.returncode or 0, _object(out, words[0])


async def solved_elsewhere(path: Path, *, effort: int | None = None) -> tuple[Song, Fraction | None]:
    """Return the song of the plan at ``path``, and the tempo that was chosen where it leaves that open.

    MusicError or PeerError, with what it said, where there is none.
    """
    options = [] if effort is None else ["--effort", str(effort)]
    code, answer = await run_elsewhere(["plan", str(path), *options])
    if code:
        raise MusicError(_refusal(answer))
    return await asyncio.to_thread(_unrolled, path, answer)


def _unrolled(path: Path, answer: dict[str, Any]) -> tuple[Song, Fraction | None]:
    plan = load(path.read_bytes(), source=str(path), solved=_kept(path))
    bars = [int(section["bars"]) for section in answer["sections"]]
    if len(bars) != len(plan.sections):
        raise MusicError("the plan was saved again while it was worked out")
    told = answer.get("tempo")
    tempo = None if told is None or plan.tempo_range is None else parse_number(str(told), what="the tempo")
    return unroll(plan if tempo is None else plan.at_tempo(tempo), bars), tempo


def _kept(path: Path) -> str | None:
    for kept in (path.with_name(path.name + ".solved.json"), path.with_suffix(".solved.json")):
        if kept.is_file():
            return kept.read_text(encoding="utf-8", errors="replace")
    return None


def _object(out: bytes, name: str) -> dict[str, Any]:
    try:
        found = json.loads(out)
    except ValueError:
        found = None
    if not isinstance(found, dict):
        raise PeerError(f"'pulsebridge {name}' in another process gave no answer")
    return found


def _refusal(answer: dict[str, Any]) -> str:
    if "error" in answer:
        error = answer["error"]
        where = f"line {error['line']}: " if error.get("line") else ""
        return f"{where}{error['message']}"
    if "conflict" in answer:
        demands = "; ".join(one["demand"] for one in answer["conflict"])
        relaxed = "; ".join(one["text"] for one in answer.get("relaxations", [])[:2])
        return f"the plan cannot be satisfied: {demands}" + (f". It would help: {relaxed}" if relaxed else "")
    return "no solution was found within the planner's steps"
