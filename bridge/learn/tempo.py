"""Tempo and meter: the numbers that are what the user set them to, in every round.

One value proves nothing (many things are 4): they have to change with what was set.
This file knows nothing about files or the terminal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from bridge.hostmap import Heard
from bridge.learn.finding import Confidence, Finding, Missing
from bridge.learn.spell import Round, Spell
from bridge.learn.stream import Stream

__all__ = ["find_meter", "find_tempo"]

_NEAR = 2e-4
"""How far a tempo told may be off the one shown, as a share: hosts round to a tenth or a hundredth."""
_NEAR_BPM = 0.0051

Wanted = Callable[[Round], float | None]


def find_tempo(streams: Sequence[Stream], spells: Sequence[Spell]) -> Finding:
    """Find the tempo, in quarters a minute."""
    rounds = {spell.round.bpm for spell in spells if spell.round.bpm is not None}
    if len(rounds) < 2:
        return _no("tempo", "the tempo was not changed", Missing.TEMPO)
    fitting = [
        stream
        for stream in streams
        if _agrees(stream, spells, lambda r: None if r.bpm is None else float(r.bpm))
    ]
    if not fitting:
        return _no("tempo", "no number was the tempo each time")
    best = min(fitting, key=lambda stream: (-len(stream.at), stream.key))
    shown = ", ".join(f"{float(bpm):g}" for bpm in sorted(rounds))
    return Finding(
        key="tempo",
        heard=Heard(address=best.address, args={"value": best.arg}),
        evidence=f"was the tempo each time: {shown}",
        confidence=Confidence.SURE,
        rivals=tuple(f"{one.address} argument {one.arg}" for one in fitting if one is not best),
    )


def find_meter(streams: Sequence[Stream], spells: Sequence[Spell]) -> Finding:
    """Find the meter: two arguments of one message."""
    meters = {spell.round.meter for spell in spells if spell.round.meter is not None}
    if len({meter.top for meter in meters}) < 2 or len({meter.unit for meter in meters}) < 2:
        return _no("meter", "the meter was not changed, both its numbers", Missing.METER)
    pairs = list(_pairs(streams, spells))
    if not pairs:
        return _no("meter", "no message had both numbers of the meter each time")
    address, top, bottom = min(pairs)
    shown = ", ".join(sorted(str(meter) for meter in meters))
    return Finding(
        key="meter",
        heard=Heard(address=address, args={"top": top, "bottom": bottom}),
        evidence=f"was the meter each time: {shown}",
        confidence=Confidence.SURE,
        rivals=tuple(f"{one} arguments {a} and {b}" for one, a, b in sorted(pairs)[1:]),
    )


def _pairs(streams: Sequence[Stream], spells: Sequence[Spell]) -> Iterator[tuple[str, int, int]]:
    tops = [one for one in streams if _agrees(one, spells, lambda r: float(r.meter.top) if r.meter else None)]
    bottoms = [
        one for one in streams if _agrees(one, spells, lambda r: float(r.meter.unit) if r.meter else None)
    ]
    for top in tops:
        for bottom in bottoms:
            if top.address == bottom.address and top.arg != bottom.arg:
                yield top.address, top.arg, bottom.arg


def _agrees(stream: Stream, spells: Sequence[Spell], wanted: Wanted) -> bool:
    """Tell whether the stream is as wanted wherever it was told, and was told two values of it."""
    seen: set[float] = set()
    for spell in spells:
        want = wanted(spell.round)
        if want is None:
            continue
        value = stream.before(spell.end)
        if value is None:
            continue
        values = [value, *(told for _, told in stream.between(spell.calm, spell.end))]
        if any(abs(told - want) > max(_NEAR * want, _NEAR_BPM) for told in values):
            return False
        seen.add(want)
    return len(seen) >= 2


def _no(key: str, why: str, missing: Missing | None = None) -> Finding:
    return Finding(key=key, heard=None, evidence=why, missing=missing)
