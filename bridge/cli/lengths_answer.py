"""What ``lengths`` is asked and what it answers, as values; and the answer as JSON.

This file knows nothing about terminals.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import islice, takewhile
from typing import Any

from bridge.cycles import (
    GoodLengths,
    Layer,
    NearLengths,
    Never,
    Pair,
    good_lengths,
    near_lengths,
    nearest,
    never,
    pairs,
    period,
)
from bridge.errors import UsageError
from bridge.exact import Bars, Length, Meters, Seconds, Span, Tempo, seconds_of

__all__ = ["MOST_LENGTHS", "SHOWN_UNASKED", "Answer", "Question", "answer", "as_json"]

MOST_LENGTHS = 100_000
SHOWN_UNASKED = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """The layers over their meters, who is to be resolved, and how long is wished for."""

    meters: Meters
    layers: tuple[Layer, ...]
    resolve: tuple[Layer, ...]
    tempo: Tempo | None
    about: Span | None
    up_to: Span | None
    within: Seconds | None

    def __post_init__(self) -> None:
        timed = {"--about": self.about, "--up-to": self.up_to, "--within": self.within}
        for option, span in timed.items():
            if isinstance(span, Seconds) and self.tempo is None:
                raise UsageError(
                    f"{option} is given in time, which needs a tempo",
                    hint="Add --tempo, as in --tempo 115.2.",
                )

    @property
    def within_ms(self) -> float:
        """The tolerance in milliseconds; 0 where none is given."""
        return 0.0 if self.within is None else float(self.within.value * 1000)

    def exact_seconds(self, length: Length) -> Fraction:
        """Return how long ``length`` lasts; only where there is a tempo."""
        if self.tempo is None:
            raise ValueError("without a tempo nothing lasts any time")
        return seconds_of(length, self.tempo)

    def seconds(self, bars: int) -> float | None:
        """Return how long ``bars`` bars last, or None without a tempo."""
        if self.tempo is None:
            return None
        try:
            return float(self.exact_seconds(self.meters.of_bars(bars)))
        except OverflowError:
            raise UsageError(
                "the lengths are longer than can be told in seconds", hint="Use fewer or shorter cycles."
            ) from None

    def milliseconds(self, length: Length) -> float | None:
        """Return how long ``length`` lasts in milliseconds, or None without a tempo."""
        return None if self.tempo is None else float(self.exact_seconds(length) * 1000)

    def length(self, span: Span) -> Length:
        """Return a span as a musical length."""
        if isinstance(span, Bars):
            return self.meters.of_bars(span.count)
        bpm = self.tempo.start if self.tempo else Fraction(0)
        return Length(span.value * bpm / 240)

    def bars(self, span: Span) -> int:
        """Return the most bars that a span holds."""
        return span.count if isinstance(span, Bars) else self.meters.bars_within(self.length(span))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The good lengths that were asked for, and why there are none."""

    question: Question
    row: GoodLengths | NearLengths
    lengths: tuple[int, ...]
    first: int | None
    nearest: int | None
    never: Never | None
    pairs: tuple[Pair, ...]
    why: str | None

    @property
    def exit_code(self) -> int:
        """0, or 1 where there is no such length."""
        return 0 if self.lengths else 1


def answer(question: Question) -> Answer:
    """Return all good lengths that are asked for; UsageError when there are too many to list."""
    within = None if question.within is None else question.length(question.within)
    if within is None:
        row: GoodLengths | NearLengths = good_lengths(question.meters, question.resolve)
    else:
        row = near_lengths(question.meters, question.resolve, within=within)
    first = row.at_or_after(1)
    most = None if question.up_to is None else question.bars(question.up_to)
    lengths = () if first is None else _listed(row, most)
    wish = None if question.about is None else question.length(question.about)
    return Answer(
        question=question,
        row=row,
        lengths=lengths,
        first=first,
        nearest=None if wish is None else nearest(row, wish, up_to=most),
        never=never(question.resolve),
        pairs=pairs(question.layers),
        why=None if lengths else _why(question, row, first),
    )


def as_json(found: Answer, *, why: str | None = None) -> dict[str, Any]:
    """Return the answer as the contract's JSON; ``why`` is the sum, where it was asked for."""
    question = found.question
    together = None if found.never else str(period(question.resolve))
    return {
        "period_bars": None if found.row.period_bars is None else str(found.row.period_bars),
        "period_whole_notes": together,
        "lengths": [_length(found, bars) for bars in found.lengths],
        "nearest": _length(found, found.nearest),
        "first": _length(found, found.first),
        "why": found.why or why,
        "pairs": [_pair(pair) for pair in found.pairs],
    }


def _listed(row: GoodLengths | NearLengths, most: int | None) -> tuple[int, ...]:
    if most is None:
        return tuple(islice(row, SHOWN_UNASKED))
    if isinstance(row, GoodLengths):
        _refuse_too_many(row.count_to(most))
    lengths = tuple(islice(takewhile(lambda bars: bars <= most, row), MOST_LENGTHS + 1))
    _refuse_too_many(len(lengths))
    return lengths


def _refuse_too_many(count: int) -> None:
    if count > MOST_LENGTHS:
        raise UsageError(
            f"--up-to: there are more than {MOST_LENGTHS:,} good lengths up to there",
            hint="Ask for fewer bars or less time.",
        )


def _why(question: Question, row: GoodLengths | NearLengths, first: int | None) -> str:
    if first is not None:
        return f"the first good length is {Bars(first)}, longer than {question.up_to}"
    if isinstance(row, GoodLengths):
        return str(row.why)
    exact = good_lengths(question.meters, question.resolve)
    return f"no barline is within {question.within_ms:g} ms of all their homes; exactly, {exact.why}"


def _length(found: Answer, bars: int | None) -> dict[str, Any] | None:
    if bars is None:
        return None
    entry: dict[str, Any] = {"bars": bars, "seconds": found.question.seconds(bars)}
    if isinstance(found.row, NearLengths):
        off = found.row.off(bars)
        entry["off_ms"] = found.question.milliseconds(max(map(abs, off)))
        entry["off_ms_of"] = {
            layer.name: found.question.milliseconds(its)
            for layer, its in zip(found.question.resolve, off, strict=True)
        }
    return entry


def _pair(pair: Pair) -> dict[str, Any]:
    return {
        "layers": [pair.one.name, pair.other.name],
        "every_whole_notes": None if pair.meetings is None else str(pair.meetings.every),
        "relation": str(pair.relation),
    }
