"""The solved song as a table for people, and what to read when nothing fits.

Laid out for 80 columns.  This file knows nothing about solving or files.
"""

from __future__ import annotations

from rich.table import Table
from rich.text import Text

from bridge.cli.output import console, safe
from bridge.exact import Bars, seconds_of, show_mixed, show_number, show_seconds
from bridge.plan import Plan, Section
from bridge.shape import Infeasible, Solved
from bridge.song import Part, PlacedSection, Song, asked_cues, stages_in_words

__all__ = ["show_conflict", "show_song"]


def show_song(song: Song, solved: Solved) -> None:
    """Print the song: where each section starts, how long it is, who plays how many turns."""
    out = console()
    out.print(Text(_headline(song, solved)))
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for title in ("bar", "bars", "at", "lasts", "wish"):
        table.add_column(title, justify="right", no_wrap=True)
    for title in ("section", "plays, own turns", "home at end"):
        table.add_column(title)
    for placed in song.sections:
        table.add_row(*map(Text, _row(song, placed)))
    table.add_row(*map(Text, (str(song.total_bars + 1), "", show_seconds(song.total_seconds), "", "", "End")))
    out.print(table)
    for line in _wishes(song):
        out.print(Text(line))


def show_conflict(plan: Plan, outcome: Infeasible) -> None:
    """Print the demands that cannot hold together, with their lines, and what would help."""
    out = console()
    if outcome.tempo is not None and plan.tempo_range is not None:
        every = f"Nothing fits at any tempo from {plan.tempo_range}; at {show_number(outcome.tempo)}:"
        out.print(Text(every))
    single = len(outcome.conflict) == 1
    head = (
        "This cannot be:"
        if single
        else "These demands cannot hold together; without any one of them it works:"
    )
    out.print(Text(head))
    for demand in outcome.conflict:
        where = f"  ({plan.source or 'plan'}:{demand.where.line})" if demand.where else ""
        out.print(Text(safe(f"  - {demand.text}{where}")))
    if outcome.relaxations:
        out.print(Text("What would help, each on its own:"))
        for relaxation in outcome.relaxations:
            out.print(Text(safe(f"  - {relaxation.text}")))


def _headline(song: Song, solved: Solved) -> str:
    total = f"{safe(song.plan.title)}: {Bars(song.total_bars)}, {show_seconds(song.total_seconds)}"
    if solved.tempo is not None:
        total += f", at tempo {show_number(solved.tempo)}"
    cost = f"cost {float(solved.cost):.2f} s from the wishes"
    if solved.proven:
        others = "lengths" if solved.tempo is None else "lengths at any tempo of the range"
        return f"{total}; {cost}, proven: no other {others} come closer."
    return f"{total}; {cost}, at most {float(solved.gap):.2%} from the best (not proven; see --effort)."


def _row(song: Song, placed: PlacedSection) -> tuple[str, ...]:
    section = placed.section
    start, end = song.seconds(placed.start), song.seconds(placed.end)
    turns = "\n".join(_turns(song, placed, part) for part in placed.parts)
    return (
        str(placed.first_bar),
        str(placed.bars),
        show_seconds(start),
        show_seconds(end - start),
        str(section.about or ""),
        safe(section.name) + (" (vamp)" if section.vamp is not None else ""),
        turns or _without_turns(section),
        _home(placed),
    )


def _without_turns(section: Section) -> str:
    """Tell who plays in a section in which no cycle turns."""
    if section.free is None:
        return "general pause"
    return f"free: {safe(', '.join(section.free.layers))}" if section.free.layers else "free: nobody"


def _turns(song: Song, placed: PlacedSection, part: Part) -> str:
    """Tell the turns of one layer: its own, those of its tightening, and when it sounds if not always."""
    told = [] if part.tightened is not None and not part.own_turns else [show_mixed(part.own_turns)]
    told += [stages_in_words(part)] if part.tightened is not None else []
    words = f"{safe(part.layer.name)} {', then '.join(told)}"
    if part.start > placed.start:
        words += f", from {song.bars.bar_beat(part.start)}"
    return words if part.end == placed.end else f"{words}, until {song.bars.bar_beat(part.end)}"


def _home(placed: PlacedSection) -> str:
    if placed.section.free is not None:
        return "(free)"
    if not placed.section.resolve:
        return "(runs on)" if placed.section.runs_on else "(nobody asked)"
    if not placed.resolved:
        return "not home"
    if set(placed.section.resolve) == set(placed.section.layers):
        return "all"
    return safe("\n".join(placed.section.resolve))


def _wishes(song: Song) -> list[str]:
    """Tell in words what was asked of the whole and of the payoffs, and what came out."""
    lines = []
    total = song.plan.total
    if total is not None:
        off = song.total_seconds - total.about
        lines.append(f"Total: wished {show_seconds(total.about)}, off by {show_seconds(off)}.")
    for placed in song.sections:
        pays_off = placed.section.pays_off
        if pays_off is None:
            continue
        built = [song.sections[index] for index in pays_off.sections]
        seconds = sum(seconds_of(other.length, other.section.tempo) for other in built)
        share = seconds_of(placed.length, placed.section.tempo) / seconds
        names = ", ".join(safe(other.name) for other in built)
        lines.append(f"{safe(placed.name)} pays off {names}: {float(share):.2f} times as long.")
    if count := len(asked_cues(song)):
        lines.append(f"Cues: {count} of the plan's own.")
    return lines
