"""The blocks of a player's paper: one a section that the player plays, one a stretch of tacet.

This file knows nothing about pages.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from bridge.exact import Bars, Length, Ratio, show_seconds
from bridge.out.form.rulers import tempo_words
from bridge.out.form.sheet import lasting
from bridge.out.musicxml.bars import GRID, staff_of
from bridge.out.musicxml.excerpt import excerpt
from bridge.out.paper.engraving import Engraving, can_engrave, engraved
from bridge.out.paper.words import bars_of, changes, meeting_words, turn_words, with_whom
from bridge.song import END, Part, PlacedSection, Song

__all__ = ["Block", "Line", "Mine", "blocks_for"]

_SPACE = 7.0
"""Points between two staff lines, if there were two: the size of the engraved music."""
_MOST_BARS = 4
_MOST_NOTES = 256
"""In the bars shown: more would not fit on a line."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text in a block; ``head`` words stand before it in bold."""

    text: str
    head: str = ""


@dataclass(frozen=True, slots=True)
class Mine:
    """What the player plays in one layer: in words, and in notation where it could be engraved."""

    name: str
    words: str
    music: Engraving | None


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
        if not parts:
            silent.append(placed)
            continue
        if silent:
            blocks.append(_tacet(song, silent, layers, placed))
            silent = []
        blocks.append(_playing(song, placed, parts, layers))
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
    mine = tuple(_mine(song, placed, part) for part in parts)
    lines = [*_led_in(song, placed, parts)]
    lines += [Line(section.note, "note")] if section.note else []
    lines.append(Line(with_whom(song, placed, layers), "with"))
    lines += [Line("; ".join(found), "listen for")] if (found := changes(song, placed, layers)) else []
    lines += [Line("; ".join(met), "meetings")] if (met := meeting_words(song, placed)) else []
    lines += _way_out(song, placed, parts)
    if section.runs_on:
        lines.append(Line("no restart: keep your count into the next section", "runs on"))
    return Block(
        letter=section.letter or "",
        name=placed.name,
        bars=bars_of(placed.first_bar, placed.last_bar),
        facts=" · ".join(facts),
        mine=mine,
        lines=tuple(lines),
    )


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


def _mine(song: Song, placed: PlacedSection, part: Part) -> Mine:
    """Tell what is played in a layer, and engrave its first bars where the engraver is installed."""
    words = turn_words(song, placed, part)
    if not can_engrave():
        return Mine(part.layer.name, " · ".join(words), None)
    before = 1 if part.pickup else 0
    bars = min(_MOST_BARS, placed.bars + before)
    first_bar = placed.first_bar - before
    shown = song.bars.start_of(first_bar + bars) - song.bars.start_of(first_bar)
    if (shown / part.layer.turn).value * len(part.layer.accents) > _MOST_NOTES:
        words.append("too fast to be written out")
        return Mine(part.layer.name, " · ".join(words), None)
    staff = staff_of(song, part.layer.name, first_bar=first_bar, bars=bars)
    if staff.moved and part.layer.rate != Ratio(1):
        staff = staff_of(_own_pulse(song, placed, part), part.layer.name, first_bar=first_bar, bars=bars)
        words.append("below in your own pulse, from a home")
    if before:
        words.append(f"below from bar {first_bar}, with the pickup")
    if staff.moved:
        words.append(f"below to the nearest {GRID}")
    return Mine(part.layer.name, " · ".join(words), _engraved(excerpt(staff)))


def _own_pulse(song: Song, placed: PlacedSection, part: Part) -> Song:
    """Return the song with ``part`` as its player feels it: at its written rate, from the section's start."""
    plain = replace(part, layer=replace(part.layer, rate=Ratio(1), start=Length(0)), entry=placed.start)
    index = placed.section.index
    here = replace(placed, parts=(plain,))
    return Song(song.plan, (*song.sections[:index], here, *song.sections[index + 1 :]))


@lru_cache(maxsize=256)
def _engraved(score: bytes) -> Engraving:
    return engraved(score, space=_SPACE)


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
        lines.append(Line(said if placed.parts else f"general pause, {Bars(placed.bars)}", name))
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
