"""``pulsebridge drift``: a second player slides away from the first and comes home."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from bridge.cli.craft_lines import Strokes, as_seconds, place, table, wrapped
from bridge.cli.craft_options import read_choice, read_note, read_wish
from bridge.cli.layer_options import read, read_meters, read_tempo
from bridge.cli.output import plain_ascii, print_json, write_lines
from bridge.craft.drift import Drift, Form, drift
from bridge.craft.drift_heard import HeardShift, always_a_flam, as_heard
from bridge.craft.ear import Heard, heard, pace
from bridge.craft.pattern import Pattern, even
from bridge.exact import Bars, Meters, Ratio, Tempo, parse_whole, seconds_per_whole_note, show_seconds

__all__ = ["command"]

_DRAWN = 64
_MOST_COMPOSITE = 32


def command(
    *,
    pattern: Annotated[
        str, typer.Option(help="x.xx.x.xx.x., or a number of equal notes: 12.", metavar="PATTERN")
    ],
    lasts: Annotated[str, typer.Option(help="How long until the unison: 54bars or 2:30.")],
    unit: Annotated[str, typer.Option(help="One step of the pattern.", metavar="NOTE")] = "1/16",
    meter: Annotated[str, typer.Option(help="4/4, 2+2+3/8, or a repeating list: 4/4,4/4,7/8.")] = "4/4",
    tempo: Annotated[str | None, typer.Option(help="Quarter notes a minute: how it is heard.")] = None,
    form: Annotated[
        str,
        typer.Option(
            "--as",
            help="gradual: at one rate; steps: a note at a time; live: locked, slid, locked again.",
        ),
    ] = "gradual",
    slide: Annotated[
        str | None, typer.Option(help="For live: the turns that each slide takes.", metavar="TURNS")
    ] = None,
    behind: Annotated[bool, typer.Option("--behind", help="The second player falls behind.")] = False,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Find the rate at which a second player drifts off and comes home after the wished time.

    On the way the pattern stands one, two, three notes off; each shift is a new rhythm.
    How it is heard are thresholds from published experiments, averages over listeners.

    \b
    Example:
      pulsebridge drift --pattern x.xx.x.xx.x. --lasts 54bars --tempo 115.2
    """
    meters, speed = read_meters(meter), read_tempo(tempo)
    found = drift(
        read("--pattern", lambda: _pattern(pattern)),
        unit=read_note("--unit", unit),
        wish=read_wish("--lasts", lasts, meters=meters, tempo=speed),
        meters=meters,
        form=read_choice("--as", form, Form),
        ahead=not behind,
        sliding=None
        if slide is None
        else read("--slide", lambda: parse_whole(slide, what="a slide", least=1)),
    )
    if json:
        print_json(_record(found, meters, speed))
    else:
        write_lines(_lines(found, meters, speed))
    return 0


def _pattern(text: str) -> Pattern:
    """Read a pattern, or a number of equal notes."""
    if text.isdigit():
        notes = parse_whole(text, what="a number of notes", least=2)
        return even(notes, notes)
    return Pattern.parse(text)


def _record(found: Drift, meters: Meters, tempo: Tempo | None) -> dict[str, Any]:
    ear = [None] * (len(found.pattern.steps) + 1) if tempo is None else list(as_heard(found, tempo))
    return {
        "pattern": str(found.pattern),
        "unit": str(found.unit),
        "form": found.form.value,
        "ahead": found.ahead,
        "turns": found.turns,
        "second_turns": found.second_turns,
        "bars": found.bars,
        "whole_notes": str(found.length),
        "seconds": as_seconds(found.length, tempo),
        "rate": None if found.rate is None else str(found.rate),
        "rate_heard": None if found.rate is None else pace(found.rate).value,
        "locked_turns": str(found.locked),
        "sliding_turns": str(found.sliding),
        "shifts": [
            {
                "by": shift.by,
                "from": place(meters, shift.start),
                "to": place(meters, shift.end),
                "from_whole_notes": str(shift.start),
                "to_whole_notes": str(shift.end),
                "shared": shift.shared,
                "composite": str(shift.composite),
                "heard": None if one is None else _stretches(one),
            }
            for shift, one in zip(found.shifts, ear, strict=True)
        ],
    }


def _stretches(one: HeardShift) -> dict[str, list[str]]:
    return {
        "as_one_whole_notes": [str(one.one_from), str(one.one_to)],
        "flam_whole_notes": [str(one.flam_from), str(one.flam_to)],
    }


def _lines(found: Drift, meters: Meters, tempo: Tempo | None) -> list[str]:
    signs = Strokes.of(plain=plain_ascii())
    lasting = "" if tempo is None else f", {show_seconds(found.length.whole_notes * 240 / tempo.start)}"
    where = "ahead" if found.ahead else "behind"
    lines = wrapped(
        f"{Bars(found.bars)}{lasting}: the first player makes {found.turns} turns, the second "
        f"{found.second_turns}. {_rate(found)} Unison again on {place(meters, found.length)}."
    )
    heads = ["notes " + where, "from", "to", "hits at once", "together"]
    rows = [
        [
            str(shift.by),
            place(meters, shift.start),
            place(meters, shift.end) if shift.end > shift.start else "",
            str(shift.shared),
            _short(signs.drawn(str(shift.composite))),
        ]
        for shift in found.shifts
    ]
    lines += [
        "",
        *table(heads, rows, right=(0, 3)),
        f"{signs.accent} both hit at once   {signs.hit} one hits",
    ]
    return lines if tempo is None else lines + _by_ear(found, tempo)


def _rate(found: Drift) -> str:
    if found.rate is None:
        one = "leaves a step out" if found.ahead else "plays a step twice"
        return f"Every {found.locked} turns the second {one}."
    how = f"plays at {found.rate} of the tempo, alone heard {pace(found.rate)}"
    if found.form is Form.GRADUAL:
        return f"The second {how}."
    return f"The second locks for {found.locked} turns, then slides over {found.sliding} and {how}."


def _by_ear(found: Drift, tempo: Tempo) -> list[str]:
    """Draw how the players are heard from the unison to the unison."""
    names = {Heard.ONE: "=", Heard.FLAM: "~", Heard.APART: " "}
    ms = 1000 * seconds_per_whole_note(tempo)
    spacing = min(found.pattern.gaps) * found.unit.whole_notes * ms
    drawn = ""
    for column in range(_DRAWN):
        off = found.off(found.length * Ratio(2 * column + 1) / (2 * _DRAWN))
        apart = abs(off - round(off)) * found.unit.whole_notes * ms
        drawn += names[heard(apart, spacing_ms=spacing)]
    lines = ["", "By ear, from unison to unison:", f"|{drawn}|", "= as one stroke   ~ a flam   blank: apart"]
    if always_a_flam(found, tempo):
        lines += wrapped("The steps lie so close that the two are never clearly apart: a longer unit would.")
    return lines


def _short(drawn: str) -> str:
    return drawn if len(drawn) <= _MOST_COMPOSITE else drawn[: _MOST_COMPOSITE - 3] + "..."
