"""What the bridge says about the show: the contract's addresses, each with its arguments.

    /pulsebridge/now s i i f       section, bar in it, bars left, counted beat
    /pulsebridge/next s i          the section that comes, bars until then
    /pulsebridge/turn s i i f      layer, turn, turns left, phase 0..1
    /pulsebridge/cue s i s         text, bars until, player or empty
    /pulsebridge/meeting s f       layers, counted beats until they are all home

What is left counts the bar or turn that is being played; -1 while a held section has no end.
This file knows nothing about when they are sent.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from bridge.hostmap import Message

__all__ = ["OPEN", "cue", "meeting", "next_section", "now", "turn"]

OPEN = -1
"""Bars or turns left while nobody knows how many."""


def now(section: str, *, bar: int, bars_left: int, beat: Fraction) -> Message:
    """Say where the show is."""
    return Message("/pulsebridge/now", "siif", (section, bar, bars_left, float(beat)))


def next_section(section: str, *, bars_until: int) -> Message:
    """Say what comes next."""
    return Message("/pulsebridge/next", "si", (section, bars_until))


def turn(layer: str, *, number: int, left: int, phase: Fraction) -> Message:
    """Say where a layer stands."""
    return Message("/pulsebridge/turn", "siif", (layer, number, left, float(phase)))


def cue(text: str, *, bars_until: int, player: str) -> Message:
    """Say what is to be known now."""
    return Message("/pulsebridge/cue", "sis", (text, bars_until, player))


def meeting(layers: Sequence[str], *, beats_until: Fraction) -> Message:
    """Say when all are home together."""
    return Message("/pulsebridge/meeting", "sf", (", ".join(layers), float(beats_until)))
