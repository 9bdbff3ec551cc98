"""Exact musical time: lengths, places and ratios; meters; tempi; the one conversion module."""

from bridge.exact.convert import (
    NANOSECOND,
    Stretch,
    TempoMap,
    exact_ticks,
    samples,
    samples_along,
    seconds_of,
    seconds_per_whole_note,
    ticks,
)
from bridge.exact.meter import Meter, Meters
from bridge.exact.number import MAX_DIGITS, exact, parse_number, parse_whole, show_mixed, show_number
from bridge.exact.quantity import Length, Place, Ratio
from bridge.exact.span import Bars, Seconds, Span, parse_bars, parse_seconds, parse_span, show_seconds
from bridge.exact.tempo import FASTEST, SLOWEST, Tempo

__all__ = [
    "FASTEST",
    "MAX_DIGITS",
    "NANOSECOND",
    "SLOWEST",
    "Bars",
    "Length",
    "Meter",
    "Meters",
    "Place",
    "Ratio",
    "Seconds",
    "Span",
    "Stretch",
    "Tempo",
    "TempoMap",
    "exact",
    "exact_ticks",
    "parse_bars",
    "parse_number",
    "parse_seconds",
    "parse_span",
    "parse_whole",
    "samples",
    "samples_along",
    "seconds_of",
    "seconds_per_whole_note",
    "show_mixed",
    "show_number",
    "show_seconds",
    "ticks",
]
