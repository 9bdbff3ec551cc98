"""What a player's paper says about a section, in words: turns beside bars, meetings, whom to listen for.

This file knows nothing about pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from bridge.cycles import Layer, period
from bridge.exact import Bars, Place
from bridge.out.form.lanes import cycle_words
from bridge.song import Part, PlacedSection, Song, counted_turns, gathering_in, stages_in_words

__all__ = ["bars_of", "changes", "freely_with", "meeting_words", "players", "turn_words", "with_whom"]

_MOST_LISTED = 8


def players(song: Song) -> dict[str, tuple[str, ...]]:
    """Return each player's layers, in the plan's order; a layer that nobody owns is its own player."""
    return dict(song.plan.players)


def bars_of(first: int, last: int) -> str:
    """Return the numbers of some bars in a row."""
    return f"bar {first}" if first == last else f"bars {first}–{last}"


def turn_words(song: Song, placed: PlacedSection, part: Part) -> list[str]:
    """Say how long a turn is, how many are played, and after how many it is the barline's turn again."""
    layer = part.given or song.plan.layers[part.layer.name]
    words = [*_stay_words(song, placed, part), *_tightening_words(song, part)]
    turns = part.own_turns
    if part.tightens_at <= part.start:
        return words
    words.insert(0, f"turn of {cycle_words(layer)}")
    bars = placed.section.meters.bars_in(part.tightens_at - part.start)
    words.insert(1, counted_turns(turns) + (f" = {Bars(bars)}" if bars is not None else ""))
    evenly = _evenly(part, placed)
    if evenly is not None and evenly[0] < turns:
        words.insert(2, f"{counted_turns(Fraction(evenly[0]))} = {Bars(evenly[1])}")
    first = part.home_row.first
    if first != part.start:
        words.append(f"first home at {_where(song, first)}")
    before = part.layer.turns(placed.start - part.entry)
    if before >= 1:
        words.append(f"turns go on: turn {int(before) + 1} is the first to begin here")
    return words


def _stay_words(song: Song, placed: PlacedSection, part: Part) -> list[str]:
    """Say where a part comes in or leaves that does not sound in all of the section."""
    words = [f"comes in at {_where(song, part.start)}"] if part.start > placed.start else []
    return [*words, f"leaves at {_where(song, part.end)}"] if part.end < placed.end else words


def _tightening_words(song: Song, part: Part) -> list[str]:
    """Say where a part tightens, and how many turns of each cycle it then plays."""
    if part.tightened is None:
        return []
    over = Bars(part.tightened.bars)
    return [f"tightens from {_where(song, part.tightens_at)} on, {over}: {stages_in_words(part)}"]


def _evenly(part: Part, placed: PlacedSection) -> tuple[int, int] | None:
    """Return how many turns last as long as how many bars, the fewest; None for lists of meters."""
    meters = placed.section.meters
    if len(meters.row) > 1:
        return None
    bar = Layer(name="bar", cycle=meters.length)
    whole = period([Layer(name="turn", cycle=part.layer.turn), bar])
    return whole // part.layer.turn, whole // bar.cycle


def meeting_words(song: Song, placed: PlacedSection) -> list[str]:
    """Say where all meet within a section, and whether they land at its end."""
    words = []
    found = gathering_in(placed)
    if found is not None:
        places = []
        for place in found.between(placed.start, placed.counts_until):
            places.append(place)
            if len(places) > _MOST_LISTED:
                break
        listed = ", ".join(_where(song, place).removeprefix("bar ") for place in places[:_MOST_LISTED])
        words.append(f"all meet at bar{'' if len(places) == 1 else 's'} {listed}")
        if len(places) > _MOST_LISTED:
            bars = placed.section.meters.bars_in(found.every)
            every = str(Bars(bars)) if bars is not None else f"{found.every} whole notes"
            words[-1] = f"all meet every {every} from {_where(song, places[0])} on"
    if len(placed.section.resolve) > 1 and placed.resolved:
        words.append(f"landing together on {_where(song, placed.end)}")
    return words


def _where(song: Song, place: Place) -> str:
    at = song.bars.bar_beat(place)
    return f"bar {at.bar}" if at.beat == 1 and not at.plus else f"bar {at}"


def with_whom(song: Song, placed: PlacedSection, mine: Iterable[str]) -> str:
    """Name who else plays, by player, with the layers that they play."""
    return _others(song, [part.layer.name for part in placed.parts], mine)


def freely_with(song: Song, placed: PlacedSection, mine: Iterable[str]) -> str:
    """Name who else plays in a free passage, by player, with the layers that they play."""
    free = placed.section.free
    return _others(song, free.layers if free is not None else (), mine)


def _others(song: Song, names: Iterable[str], mine: Iterable[str]) -> str:
    own = set(mine)
    others: dict[str, list[str]] = {}
    for name in names:
        if name not in own:
            others.setdefault(song.plan.layers[name].player or name, []).append(name)
    return ", ".join(_player(who, its) for who, its in others.items()) or "nobody: you are alone"


def _player(who: str, names: Sequence[str]) -> str:
    return who if list(names) == [who] else f"{who} ({', '.join(names)})"


def changes(song: Song, placed: PlacedSection, mine: Iterable[str]) -> list[str]:
    """Say who comes in and who drops out, where the section begins and within it, own layers left out."""
    own = set(mine)
    index = placed.section.index
    last = song.sections[index - 1] if index else None
    now = {part.layer.name for part in placed.parts if part.start == placed.start}
    before = {part.layer.name for part in last.parts if part.end == last.end} if last else now
    order = list(song.plan.layers)
    words = []
    for text, names in (("in", now - before - own), ("out", before - now - own)):
        if names:
            words.append(f"{text}: {', '.join(sorted(names, key=order.index))}")
    for part in placed.parts:
        if part.layer.name not in own:
            if part.start > placed.start:
                words.append(f"in at {_where(song, part.start)}: {part.layer.name}")
            if part.end < placed.end:
                words.append(f"out at {_where(song, part.end)}: {part.layer.name}")
    return words
