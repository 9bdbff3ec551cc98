"""``pulsebridge groove``: how a groove is counted, measured and varied."""

from __future__ import annotations

from dataclasses import asdict
from fractions import Fraction
from typing import Annotated, Any

import typer

from bridge.cli.craft_lines import Strokes, decimal, short, table, wrapped
from bridge.cli.craft_options import read_note
from bridge.cli.layer_options import read, read_meters
from bridge.cli.output import plain_ascii, print_json, safe, write_lines
from bridge.craft.groove import Measures, measure, parse_groove, step_weights
from bridge.craft.grouping import DEFAULT_PARTS, GroupReading, readings
from bridge.craft.pattern import Groove, Pattern
from bridge.craft.vary import Variation, variations
from bridge.errors import PlanError, UsageError
from bridge.exact import Meters, parse_whole
from bridge.exact.name import clean_name

__all__ = ["command"]


def command(
    *,
    voice: Annotated[
        list[str] | None,
        typer.Option(
            help="low=x..x..x., bells=3+3+2 or cup=1,4,7/8 (steps 1, 4 and 7 of 8); once for each.",
            metavar="NAME=PATTERN",
        ),
    ] = None,
    unit: Annotated[str, typer.Option(help="One step of the patterns.", metavar="NOTE")] = "1/8",
    meter: Annotated[str, typer.Option(help="4/4, 2+2+3/8, or a repeating list: 4/4,4/4,7/8.")] = "4/4",
    parts: Annotated[str, typer.Option(help="The sizes of group that are counted.")] = ",".join(
        map(str, DEFAULT_PARTS)
    ),
    by: Annotated[str, typer.Option(help="How many steps to rotate and displace.", metavar="STEPS")] = "1",
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Count a groove in groups, measure it, and vary it; each variation with its distance.

    x is a hit, X an accented one, . nothing, | a barline. The reading that fits best stands
    first, its rivals beside it: which one is meant is the writer's to say. The measures tell
    how one rhythm differs from another, not which is better.

    \b
    Example:
      pulsebridge groove --voice low=x..x..x. --voice high=.xx.xx.x
    """
    if not voice:
        raise UsageError("no voice is given", hint="Give --voice once for each, as in --voice low=x..x..x.")
    meters = read_meters(meter)
    step = read_note("--unit", unit)
    sizes = read(
        "--parts", lambda: [parse_whole(one, what="a size of group", least=1) for one in parts.split(",")]
    )
    moved = read("--by", lambda: parse_whole(by, what="a number of steps", least=1))
    groove = read("--voice", lambda: parse_groove(_voices(voice), unit=step, meters=meters))
    counted = {
        name: readings(pattern, barlines=groove.barlines, parts=sizes) for name, pattern in groove.voices
    }
    measured = {name: measure(pattern, unit=step, meters=meters) for name, pattern in groove.voices}
    varied = list(variations(groove, step_weights(groove, meters), by=moved))
    if json:
        print_json(_record(groove, meters, counted, measured, varied))
    else:
        write_lines(_lines(groove, counted, measured, varied))
    return 0


def _voices(texts: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in texts:
        name, equals, pattern = text.rpartition("=")
        if not equals:
            raise PlanError(
                f"a voice is NAME=PATTERN, not {text[:40]!r}",
                hint="Write it as low=x..x..x., bells=3+3+2 or cup=1,4,7/8.",
            )
        name = clean_name(name, what="the name of a voice", commas=False)
        if name in found:
            raise PlanError(f"there are two voices named {name!r}", hint="Give each a name of its own.")
        found[name] = _written(pattern)
    return found


def _written(text: str) -> str:
    """Return a pattern as signs: from groups, 3+3+2, or from the steps that sound, 1,4,7/8."""
    if "+" in text:
        groups = [parse_whole(group, what="a group", least=1) for group in text.split("+")]
        return str(Pattern.of_groups(groups))
    hits, slash, steps = text.partition("/")
    if not slash:
        return text
    onsets = [parse_whole(hit, what="a step that sounds", least=1) - 1 for hit in hits.split(",")]
    return str(Pattern.of_onsets(onsets, parse_whole(steps, what="a number of steps", least=1)))


def _record(
    groove: Groove,
    meters: Meters,
    counted: dict[str, tuple[GroupReading, ...]],
    measured: dict[str, Measures],
    varied: list[Variation],
) -> dict[str, Any]:
    return {
        "unit": str(groove.unit),
        "meter": str(meters),
        "steps": groove.steps,
        "voices": [
            {
                "name": name,
                "pattern": groove.show(pattern),
                "groupings": [
                    {
                        "groups": [list(bar) for bar in one.bars],
                        "misfit": one.misfit,
                        "silent_heads": one.silent_heads,
                        "stray_hits": one.stray_hits,
                        "stray_accents": one.stray_accents,
                    }
                    for one in counted[name]
                ],
                "measures": {key: _exact(value) for key, value in asdict(measured[name]).items()},
            }
            for name, pattern in groove.voices
        ],
        "variations": [
            {
                "name": one.name,
                "how": one.how,
                "voices": {name: one.groove.show(pattern) for name, pattern in one.groove.voices},
                "steps_changed": one.steps_changed,
                "moves": one.moves,
            }
            for one in varied
        ],
    }


def _exact(value: object) -> object:
    """Keep whole numbers and nothing as they are; exact fractions are text."""
    return str(value) if isinstance(value, Fraction) else value


def _lines(
    groove: Groove,
    counted: dict[str, tuple[GroupReading, ...]],
    measured: dict[str, Measures],
    varied: list[Variation],
) -> list[str]:
    signs = Strokes.of(plain=plain_ascii())
    width = max(len(short(name)) for name, _ in groove.voices)

    def drawn(one: Groove, indent: str) -> list[str]:
        return [
            line
            for name, pattern in one.voices
            for line in _systems(f"{indent}{short(name):<{width}}  ", signs.drawn(one.show(pattern)), signs)
        ]

    lines = [f"{groove.steps} steps of {groove.unit}", *drawn(groove, ""), ""]
    for name, found in counted.items():
        best, *rivals = found
        lines += wrapped(f"{safe(name)} counts {best} ({_fit(best)})")
        if rivals:
            lines += wrapped("  rivals: " + ", ".join(f"{one} ({one.misfit})" for one in rivals))
    lines += ["", *_measures(measured), ""]
    for one in varied:
        lines += wrapped(f"{one.name}: {safe(one.how)}; {_distance(one)}")
        lines += drawn(one.groove, "  ")
    return lines


def _systems(head: str, drawn: str, signs: Strokes) -> list[str]:
    """Break a long voice after whole bars, so that it fits the columns."""
    room = 78 - len(head)
    lines, line = [], ""
    for bar in drawn.split(signs.bar):
        if line and len(line) + 1 + len(bar) > room:
            lines.append(line)
            line = bar
        else:
            line = f"{line}{signs.bar}{bar}" if line else bar
    lines.append(line)
    pieces = [line[start : start + room] for line in lines for start in range(0, len(line), room)]
    return [f"{head if number == 0 else ' ' * len(head)}{piece}" for number, piece in enumerate(pieces)]


def _fit(reading: GroupReading) -> str:
    if not reading.misfit:
        return "nothing speaks against it"
    parts = [
        f"{count} {one if count == 1 else many}"
        for count, one, many in (
            (reading.silent_heads, "silent head", "silent heads"),
            (reading.stray_hits, "hit between", "hits between"),
            (reading.stray_accents, "accent between", "accents between"),
        )
        if count
    ]
    return f"against it: {', '.join(parts)}"


def _measures(measured: dict[str, Measures]) -> list[str]:
    heads = ["voice", "hits", "note to beat", "Keith", "off-beat", "syncopation", "nPVI"]
    rows = [
        [
            short(name),
            f"{one.hits} of {one.steps}",
            "-" if one.note_to_beat is None else decimal(one.note_to_beat),
            "-" if one.keith is None else str(one.keith),
            str(one.off_beatness),
            "-" if one.syncopation is None else str(one.syncopation),
            "-" if one.npvi is None else decimal(one.npvi),
        ]
        for name, one in measured.items()
    ]
    return table(heads, rows, right=range(1, len(heads)))


def _distance(one: Variation) -> str:
    steps = f"{one.steps_changed} step{'' if one.steps_changed == 1 else 's'} changed"
    return f"{steps}, {one.moves} move{'' if one.moves == 1 else 's'} away"
