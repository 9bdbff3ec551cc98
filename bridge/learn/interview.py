"""The interview: what to ask for next, and in which words.

A first course of steps brings two tempi, two meters, three places and two markers; after
it more is asked only where two explanations fit.  Pure: this file knows nothing about the
terminal or the network.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.learn.finding import Missing

__all__ = ["Step", "first_course", "further"]

_MOST_FURTHER = 2
_LONG, _SHORT = 5.0, 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that the user is asked to do in the host."""

    step: str
    detail: str = ""
    words: str
    dwell: float = _SHORT
    """Seconds to listen after it is done."""
    answer: str | None = None
    """What is to be typed in, where a fact is asked for; else None."""


def first_course() -> tuple[Step, ...]:
    """Return the steps that every interview begins with."""
    return (
        Step(step="stop", words="stop the host, if it plays", dwell=2.5),
        *_round("97", "4/4"),
        *_place(9, marker="tide"),
        *_place(1),
        *_rolling(),
        *_round("141", "7/8"),
        *_place(5, marker="ebb"),
        *_rolling(),
        Step(step="remove", detail="tide", words="remove the marker named tide"),
    )


def further(missing: Sequence[Missing], again: int) -> tuple[Step, ...]:
    """Return the steps that may decide what is ``missing``; none once enough was asked (``again`` times)."""
    if again >= _MOST_FURTHER or not missing:
        return ()
    if set(missing) - {Missing.PLAY}:
        bpm, meter = (("83", "5/8"), ("127", "3/4"))[again]
        marker = ("spray", "shoal")[again] if Missing.TEMPO in missing else None
        return (*_round(bpm, meter), *_place(13 - 2 * again, marker=marker), *_rolling())
    return _rolling()


def _round(bpm: str, meter: str) -> tuple[Step, ...]:
    return (
        Step(
            step="tempo",
            detail=bpm,
            words=f"set the tempo of the whole song to {bpm} quarter notes a minute",
            answer=bpm,
        ),
        Step(step="meter", detail=meter, words=f"set the meter of the whole song to {meter}", answer=meter),
    )


def _place(bar: int, *, marker: str | None = None) -> tuple[Step, ...]:
    steps = [Step(step="bar", detail=str(bar), words=f"move to the beginning of bar {bar}, still stopped")]
    if marker is not None:
        steps.append(
            Step(step="marker", detail=marker, words=f"add a marker named {marker} there, at bar {bar}")
        )
    return tuple(steps)


def _rolling() -> tuple[Step, ...]:
    return (
        Step(step="play", words="press play, and let it play", dwell=_LONG),
        Step(step="stop", words="stop it"),
    )
