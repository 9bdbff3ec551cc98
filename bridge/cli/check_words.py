"""The readings on the form as JSON and as words for people, at 80 columns.

This file knows nothing about how they were found.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from textwrap import wrap
from typing import Any

from bridge.cli.output import safe
from bridge.exact import Bars, show_seconds
from bridge.form import Reading, Report

__all__ = ["report_lines", "report_record"]

_COLUMNS = 80


def report_record(report: Report) -> dict[str, Any]:
    """Return the JSON object of a report; figures are doubles."""
    score = report.score
    return {
        "title": score.plan.title,
        "readings": [_record(report, reading) for reading in report.readings],
        "open": len(report.open),
        "cannot_tell": [
            {"reading": look.name, "sections": [score.name(index) for index in look.unjudged]}
            for look in report.cannot_tell
        ],
        "unneeded": [
            {
                "reading": one.accept.reading,
                "section": one.section,
                "line": one.accept.where.line if one.accept.where else None,
            }
            for one in report.unneeded
        ],
        "new_pairings": {score.name(index): score.new[index] for index in score.sounding},
    }


def report_lines(report: Report) -> list[str]:
    """Return a report for people."""
    song = report.score.song
    count = len(report.open)
    told = "nothing to think over" if not count else "one reading" if count == 1 else f"{count} readings"
    lines = [
        *wrap(
            f"{safe(song.plan.title)}: {Bars(song.total_bars)}, {show_seconds(song.total_seconds)}; {told}.",
            _COLUMNS,
        )
    ]
    for reading in report.open:
        lines += ["", *_open_lines(report, reading)]
    lines += _accepted_lines(report)
    lines += _notes(report)
    if report.open:
        name = report.open[0].finding.rule.name
        lines += ["", "Readings, not rules: what writers often do, and why. What you mean so, say in"]
        lines += [f"the plan:  accept: {{reading: {name}, because: ...}}"]
    return lines


def _record(report: Report, reading: Reading) -> dict[str, Any]:
    finding, rule, remedy = reading.finding, reading.finding.rule, reading.remedy
    return {
        "name": rule.name,
        "rule": rule.rule,
        "figures": {
            "says": finding.says,
            "found": float(finding.found),
            "limit": float(finding.limit),
            "limit_is": "least" if rule.at_least else "most",
            "unit": rule.measure.value,
            "limit_because": rule.why,
            **{key: _plain(value) for key, value in finding.figures.items()},
        },
        "line": reading.where.line if reading.where else None,
        "section": None if finding.section is None else report.score.name(finding.section),
        "sections": [report.score.name(index) for index in finding.sections],
        "remedy": None if remedy is None else remedy.says,
        "change": None if remedy is None else [dict(edit) for edit in remedy.change],
        "source": rule.source,
        "accepted": reading.accepted is not None,
        "because": None if reading.accepted is None else reading.accepted.because,
    }


def _plain(value: object) -> object:
    return float(value) if isinstance(value, Fraction) else value


def _open_lines(report: Report, reading: Reading) -> Iterator[str]:
    rule = reading.finding.rule
    where = f"  ({_place(report, reading)})" if reading.where else ""
    yield from wrap(f"{rule.name}{_about(report, reading)}{where}", _COLUMNS, subsequent_indent="  ")
    yield from _paragraph(f"{reading.finding.says}.", indent="  ")
    yield from _paragraph(f"Why: {rule.rule} ({rule.source})", indent="  ", hang="       ")
    yield from _paragraph(f"Try: {_remedy(reading)}", indent="  ", hang="       ")


def _remedy(reading: Reading) -> str:
    if reading.remedy is not None:
        return reading.remedy.says
    if not reading.searched:
        return "not looked for any more; clear the readings above first, and check again."
    hint = reading.finding.rule.otherwise or "a larger change may"
    return f"no single change was found that clears this and brings nothing else; {hint}."


def _accepted_lines(report: Report) -> list[str]:
    lines = []
    for reading in report.readings:
        if reading.accepted is not None:
            head = f"Accepted: {reading.finding.rule.name}{_about(report, reading)}"
            lines += _paragraph(f"{head} ({reading.accepted.because})", hang="  ")
    return ["", *lines] if lines else []


def _notes(report: Report) -> list[str]:
    score, lines = report.score, list[str]()
    new = ", ".join(f"{score.name(index)} {score.new[index]}" for index in score.sounding)
    lines += ["", *_paragraph(f"New parts and pairings in each section: {new}.", hang="  ")]
    if report.cannot_tell:
        unknown = sorted({index for look in report.cannot_tell for index in look.unjudged})
        names = ", ".join(map(score.name, unknown))
        readings = ", ".join(look.name for look in report.cannot_tell)
        words = (
            f"No energy is given in {len(unknown)} of {len(score.sounding)} sections ({names});"
            f" these readings cannot tell there: {readings}."
        )
        lines += _paragraph(words, hang="  ")
    for one in report.unneeded:
        where = f"line {one.accept.where.line}" if one.accept.where else one.section or "the plan"
        words = f"{one.accept.reading} is accepted ({where}), but nothing is found: it may go."
        lines += _paragraph(words, hang="  ")
    return lines


def _about(report: Report, reading: Reading) -> str:
    sections = reading.finding.sections
    return f": {report.score.names(sections)}" if sections else ": the whole song"


def _place(report: Report, reading: Reading) -> str:
    line = reading.where.line if reading.where else 0
    return f"{report.score.plan.source or 'plan'}:{line}"


def _paragraph(text: str, *, indent: str = "", hang: str | None = None) -> list[str]:
    return wrap(
        safe(text), _COLUMNS, initial_indent=indent, subsequent_indent=indent if hang is None else hang
    )
