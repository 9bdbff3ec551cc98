"""The transport: the number that is 0 while the host stands and one other while it plays.

This file knows nothing about files or the terminal.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from bridge.hostmap import Heard
from bridge.learn.finding import Confidence, Finding, Missing
from bridge.learn.spell import Spell
from bridge.learn.stream import Stream

__all__ = ["find_playing"]


def find_playing(streams: Sequence[Stream], spells: Sequence[Spell]) -> Finding:
    """Find what tells playing from standing; a finding without a line where nothing or too much does."""
    turns = _turns(spells)
    if turns < 2:
        return _no("the host was not seen both playing and standing", Missing.PLAY)
    fitting = [stream for stream in streams if _follows(stream, spells, upside_down=False)]
    if not fitting:
        return _no(_why_none(streams, spells))
    if len(fitting) > 1 and turns < 4:
        names = ", ".join(_name(stream) for stream in fitting)
        return _no(f"{names} all changed with the one start and stop", Missing.PLAY)
    best = min(fitting, key=lambda stream: (-len(stream.at), stream.key))
    return Finding(
        key="playing",
        heard=Heard(address=best.address, args={"value": best.arg}),
        evidence=f"0 while it stood, {_value(best, spells):g} while it played; "
        f"changed with {turns} of {turns} starts and stops",
        confidence=Confidence.SURE if turns >= 4 else Confidence.FAIR,
        rivals=tuple(_name(stream) for stream in fitting if stream is not best),
    )


def _no(why: str, missing: Missing | None = None) -> Finding:
    return Finding(key="playing", heard=None, evidence=why, missing=missing)


def _turns(spells: Sequence[Spell]) -> int:
    """Count the changes between playing and standing."""
    return sum(before.playing != after.playing for before, after in pairwise(spells))


def _follows(stream: Stream, spells: Sequence[Spell], *, upside_down: bool) -> bool:
    """Tell whether the stream changed at every start and stop, and at nothing else."""
    on = _value(stream, spells)
    before: bool | None = None
    for spell in spells:
        values = {value for _, value in stream.between(spell.calm, spell.end)}
        last = stream.before(spell.end)
        if not values <= {0.0, on}:
            return False
        wanted = spell.playing != upside_down
        if before is not None and spell.playing != before and not stream.between(spell.asked, spell.end):
            return False
        if (last is None and before is not None) or any((value != 0) != wanted for value in values):
            return False
        if last is not None and ((last != 0) != wanted or last not in (0, on)):
            return False
        before = spell.playing
    return True


def _value(stream: Stream, spells: Sequence[Spell]) -> float:
    """Return the value that is not 0, as told last in the spells."""
    told = [stream.before(spell.end) for spell in spells]
    return next((value for value in told if value), 0.0)


def _why_none(streams: Sequence[Stream], spells: Sequence[Spell]) -> str:
    turned = [stream for stream in streams if _follows(stream, spells, upside_down=True)]
    if turned:
        return f"{_name(turned[0])} is 0 while it plays: a host map says the opposite, 0 is standing"
    return "no number is 0 while the host stands and another while it plays"


def _name(stream: Stream) -> str:
    return f"{stream.address} argument {stream.arg}"
