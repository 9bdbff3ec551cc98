"""The blocks of a player's paper: one a section that the player plays, one a stretch of tacet.

This file knows nothing about pages.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bridge.exact import Bars, show_seconds
from bridge.out.form.rulers import tempo_words
from bridge.out.form.sheet import lasting
from bridge.out.paper.notation import Mine, mine_of
from bridge.out.paper.words import bars_of, changes, freely_with, meeting_words, with_whom
from bridge.song import END, Part, PlacedSection, Song, asked_cues, left_open

__all__ = ["Block", "Line", "blocks_for"]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text in a block; ``head`` words stand before it in bold."""

    text: str
    head: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A section or a stretch of tacet as it stands on the paper."""

    letter: str
    name: str
    bars: str
    facts: str
    tacet: bool = False
    mine: tuple[Mine, ...] = ()
    lines: tuple[Line, ...] = ()


def blocks_for(song: Song, layers: Sequence[str]) -> list[Block]:
    """Return the blocks of the player of ``layers``, from the song's start to its End."""
    blocks: list[Block] = []
    silent: list[PlacedSection] = []
    for placed in song.sections:
        parts = [part for part in placed.parts if part.layer.name in layers]
        free = placed.section.free
        if not parts and (free is None or not set(free.layers) & set(layers)):
            silent.append(placed)
            continue
        if silent:
            blocks.append(_tacet(song, silent, layers, placed))
            silent = []
        made = _playing(song, placed, parts, layers) if free is None else _freely(song, placed, layers)
        blocks.append(made)
    if silent:
        blocks.append(_tacet(song, silent, layers, None))
    total = show_seconds(song.total_seconds).split(".")[0]
    return [*blocks, Block(letter="", name=END, bars=f"bar {song.total_bars + 1}", facts=total)]


def _playing(
    song: Song,
    placed: PlacedSection,
    parts: Sequence[Part],
    layers: Sequence[str],
) -> Block:
    section = placed.section
    facts = (
        str(Bars(placed.bars)),
        lasting(placed),
        tempo_words(section.tempo),
        str(section.meters).replace(",", " "),
    )
    mine = tuple(mine_of(song, placed, part) for part in parts)
    lines = [*_led_in(song, placed, parts)]
    lines += [Line(left_open(section))] if section.vamp is not None else []
    lines += [Line(section.note, "note")] if section.note else []
    lines.append(Line(with_whom(song, placed, layers), "with"))
    lines += [Line("; ".join(found), "listen for")] if (found := changes(song, placed, layers)) else []
    lines += [Line("; ".join(met), "meetings")] if (met := meeting_words(song, placed)) else []
    lines += _way_out(song, placed, parts)
    if section.runs_on:
        lines.append(Line("no restart: keep your count into the next section", "runs on"))
    lines += cue_lines(song, placed, layers)
    return Block(
        letter=section.letter or "",
        name=placed.name,
        bars=bars_of(placed.first_bar, placed.last_bar),
        facts=" · ".join(facts),
        mine=mine,
        lines=tuple(lines),
    )


def _freely(song: Song, placed: PlacedSection, layers: Sequence[str]) -> Block:
    """Make the block of a passage that the player plays without bars or turns."""
    section = placed.section
    lines = [Line(section.note, "note")] if section.note else []
    lines.append(Line(freely_with(song, placed, layers), "with"))
    if placed.section.index + 1 < len(song.sections):
        after = song.sections[placed.section.index + 1]
        count = after.section.count_in
        counted = f", {Bars(count)} counted in" if count else ""
        lines.append(Line(f"{after.name} at bar {after.first_bar}{counted}", "then"))
    return Block(
        letter=section.letter or "",
        name=placed.name,
        bars=bars_of(placed.first_bar, placed.last_bar),
        facts=left_open(section),
        lines=(*lines, *cue_lines(song, placed, layers)),
    )


def cue_lines(song: Song, placed: PlacedSection, layers: Sequence[str]) -> list[Line]:
    """Write the plan's cues of a section that are for everybody or for the player of ``layers``."""
    mine = {player for player, names in song.plan.players.items() if set(names) & set(layers)}
    found = [
        f"{song.bars.bar_beat(asked.place)} {asked.cue.say}"
        for asked in asked_cues(song)
        if asked.section == placed.section.index
        and asked.cue.say is not None
        and asked.cue.player in (None, *mine)
    ]
    return [Line("; ".join(found), "cues")] if found else []


def _led_in(song: Song, placed: PlacedSection, parts: Sequence[Part]) -> Iterator[Line]:
    """Say what comes before the section's first bar: bars counted in, the player's own pickup."""
    count, first = placed.section.count_in, placed.first_bar
    if count:
        yield Line(f"{Bars(count)} before bar {first}", "counted in")
    who = [part.layer.name for part in parts if part.pickup]
    if who:
        pickup = placed.section.pickup
        at = song.bars.bar_beat(placed.start - pickup)
        yield Line(f"{', '.join(who)}: {pickup} of a whole note before bar {first}, at {at}", "pickup")


def _way_out(song: Song, placed: PlacedSection, parts: Sequence[Part]) -> Iterator[Line]:
    """Say where the player leaves a count that does not come home, for the pickup of the next section."""
    who = [part for part in parts if part.leaves and not part.is_home_at_end]
    if who:
        after = song.sections[placed.section.index + 1]
        at = song.bars.bar_beat(who[0].sounds_until)
        names = ", ".join(part.layer.name for part in who)
        yield Line(f"{names}: at {at}, for the pickup of {after.name}", "leave off")


def _without_turns(placed: PlacedSection) -> str:
    free = placed.section.free
    if free is None:
        return f"general pause, {Bars(placed.bars)}"
    return f"{left_open(placed.section)}: {', '.join(free.layers) or 'nobody'}"


def _tacet(
    song: Song, silent: Sequence[PlacedSection], layers: Sequence[str], after: PlacedSection | None
) -> Block:
    """Join sections in which the player is silent; say what goes by, and where to come in."""
    first, last = silent[0], silent[-1]
    seconds = song.seconds(last.end) - song.seconds(first.start)
    bars = Bars(sum(placed.bars for placed in silent))
    lines = []
    for placed in silent:
        who = with_whom(song, placed, layers)
        said = "; ".join([f"{who}, {Bars(placed.bars)}", *meeting_words(song, placed)])
        name = f"{placed.section.letter} {placed.name}" if placed.section.letter else placed.name
        lines.append(Line(said if placed.parts else _without_turns(placed), name))
        lines += cue_lines(song, placed, layers)
    if after is not None:
        letter = f"{after.section.letter} " if after.section.letter else ""
        where = f"bar {after.first_bar}, {letter}{after.name}"
        if any(part.pickup for part in after.parts if part.layer.name in layers):
            at = song.bars.bar_beat(after.start - after.section.pickup)
            where = f"{at}, with the pickup to {where}"
        lines.append(Line(where, "you come in at"))
    return Block(
        letter="",
        name="tacet",
        bars=bars_of(first.first_bar, last.last_bar),
        facts=f"{bars} · {show_seconds(seconds).split('.')[0]}",
        tacet=True,
        lines=tuple(lines),
    )
