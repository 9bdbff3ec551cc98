"""``pulsebridge tighten``: how many turns of each shrinking cycle fill a build exactly."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

import typer

from bridge.cli.craft_lines import Strokes, as_seconds, decimal, place, table, wrapped
from bridge.cli.craft_options import read_choice, read_note
from bridge.cli.layer_options import read, read_meters, read_tempo
from bridge.cli.output import note, plain_ascii, print_json, write_lines
from bridge.craft.stages import Share, Stage, Tighten, Tightened, Unfilled, written
from bridge.craft.tighten import tighten
from bridge.exact import Bars, Length, Meters, Ratio, Tempo, parse_bars, parse_number, show_seconds

__all__ = ["command"]

_MOST_DRAWN = 52


def command(
    *,
    cycles: Annotated[
        str, typer.Option(help="The shrinking cycles: 5/8,4/8,3/8,2/8.", metavar="CYCLE,CYCLE...")
    ],
    over: Annotated[str, typer.Option(help="How long, up to the landing: 14bars, or 14.", metavar="BARS")],
    meter: Annotated[str, typer.Option(help="4/4, 2+2+3/8, or a repeating list: 4/4,4/4,7/8.")] = "4/4",
    share: Annotated[
        str,
        typer.Option(
            help="turns: equally many of each, what players do; near-turns: as equal as fits; "
            "time: each as long; quickening: each a fixed ratio of the one before."
        ),
    ] = "turns",
    ratio: Annotated[str, typer.Option(help="For quickening: 1/2 is half as long each time.")] = "1/2",
    on_barlines: Annotated[bool, typer.Option("--on-barlines", help="Change on barlines only.")] = False,
    tempo: Annotated[str | None, typer.Option(help="Quarter notes a minute.")] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Find how many turns of each shrinking cycle fill the bars exactly, nearest to an even share.

    A build gains urgency when its cycles shorten, five, four, three, two; most players take
    the same number of turns of each, since that is what can be counted on stage. That is
    what experienced writers do, not a law.

    \b
    Example:
      pulsebridge tighten --cycles 5/8,4/8,3/8,2/8 --over 14bars
    """
    meters = read_meters(meter)
    bars = read("--over", lambda: parse_bars(over)).count
    speed = read_tempo(tempo)
    lengths = tuple(read_note("--cycles", text) for text in cycles.split(","))
    sharing = read_choice("--share", share, Share)
    shrink = Ratio(read("--ratio", lambda: parse_number(ratio, what="a ratio")))
    asked = read(
        "--cycles",
        lambda: Tighten(cycles=lengths, share=sharing, ratio=shrink, on_barlines=on_barlines),
    )
    found = tighten(asked, bars, meters)
    if json:
        print_json(_record(found, meters, speed))
    elif isinstance(found, Unfilled):
        _tell_unfilled(found, meters)
    else:
        write_lines(_lines(found, meters, speed))
    return 1 if isinstance(found, Unfilled) else 0


def _record(found: Tightened | Unfilled, meters: Meters, tempo: Tempo | None) -> dict[str, Any]:
    record: dict[str, Any] = {
        "cycles": list(written(found.asked.cycles)),
        "bars": found.bars,
        "share": found.asked.share.value,
        "on_barlines": found.asked.on_barlines,
        "stages": [],
        "deviation_whole_notes": None,
        "why": None,
        "nearest": [],
    }
    if isinstance(found, Unfilled):
        nearest = [bars for bars in (found.below, found.above) if bars is not None]
        return record | {"why": found.why, "nearest": nearest}
    stages = zip(record["cycles"], found.stages, strict=True)
    return record | {
        "stages": [_stage(name, stage, meters, tempo) for name, stage in stages],
        "deviation_whole_notes": str(found.deviation),
    }


def _stage(name: str, stage: Stage, meters: Meters, tempo: Tempo | None) -> dict[str, Any]:
    return {
        "cycle": name,
        "turns": stage.turns,
        "from": place(meters, stage.start),
        "from_whole_notes": str(stage.start),
        "whole_notes": str(stage.length),
        "ideal_whole_notes": str(stage.ideal),
        "seconds": as_seconds(stage.length, tempo),
    }


def _tell_unfilled(found: Unfilled, meters: Meters) -> None:
    note(f"pulsebridge: {found.why}.")
    if found.asked.share is Share.TURNS:
        near = tighten(replace(found.asked, share=Share.NEAR_TURNS), found.bars, meters)
        if isinstance(near, Tightened):
            turns = ", ".join(str(stage.turns) for stage in near.stages)
            note(f"Turns that differ do fill {Bars(found.bars)}: {turns} (--share near-turns).")


def _lines(found: Tightened, meters: Meters, tempo: Tempo | None) -> list[str]:
    names = written(found.asked.cycles)
    rows = [_row(name, stage, meters, tempo) for name, stage in zip(names, found.stages, strict=True)]
    heads = ["from", "cycle", "turns", "whole notes", "ideal", "lasts"]
    if tempo is None:
        heads.pop()
    landing = place(meters, found.length)
    lines = wrapped(f"{Bars(found.bars)} of {meters}, landing on {landing}: {_how(found)}")
    lines += ["", *table(heads, rows, right=range(2, len(heads))), "", *_drawing(found, names)]
    return lines


def _how(found: Tightened) -> str:
    if not found.deviation:
        return "the share is met exactly."
    return (
        f"the stages are off their ideal length by {decimal(found.deviation.whole_notes)} of a whole "
        "note, all added up; nothing comes closer."
    )


def _row(name: str, stage: Stage, meters: Meters, tempo: Tempo | None) -> list[str]:
    row = [place(meters, stage.start), name, str(stage.turns)]
    row += [decimal(length.whole_notes) for length in (stage.length, stage.ideal)]
    if tempo is not None:
        row.append(show_seconds(stage.length.whole_notes * 240 / tempo.start))
    return row


def _drawing(found: Tightened, names: tuple[str, ...]) -> list[str]:
    """Draw each stage's turns on one line to scale, a step of the common unit each."""
    signs = Strokes.of(plain=plain_ascii())
    unit = Length(1) / int(names[0].rpartition("/")[2])
    lines = []
    for name, stage in zip(names, found.stages, strict=True):
        turn = signs.accent + signs.rest * (stage.cycle // unit - 1)
        fit = min(stage.turns, max(1, _MOST_DRAWN // len(turn)))
        more = f" ... {stage.turns} turns" if fit < stage.turns else ""
        drawn = (turn * fit)[:_MOST_DRAWN]
        lines.append(f"{name:>6}  {drawn}{more}")
    return [*lines, f"{signs.accent} home, one step a column of {unit}"]
