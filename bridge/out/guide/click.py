"""The click: the counted beat, or one player's own pulse, and silent where that is asked.

This file knows nothing about sounds.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator

from bridge.errors import UsageError
from bridge.exact import Place
from bridge.out.guide.options import ClickOut, GuideOptions
from bridge.out.guide.take import Pass
from bridge.song import NoteRow, PlacedSection, Song, counted_in, counted_rows, pulse_rows

__all__ = ["clicked"]

Click = tuple[int, str]


def clicked(one: Pass, song: Song, options: GuideOptions) -> list[Click]:
    """Return the clicks of one pass, in no order; ``downbeat`` at barlines, or at the player's homes.

    ``count`` where the plan counts a section in: that is heard whatever is clicked.
    """
    whose = _layers_of(song, options.click_for)
    found: list[Click] = []
    for placed in song.sections:
        if placed.end < one.begin or placed.start > one.end:
            continue
        for row in _rows(song, placed, whose):
            found += [(at, "downbeat" if row.home else "click") for at in one.along(row)]
    if one.last and one.end == song.end and song.sections[-1].section.free is None:
        found.append((one.sample(one.end), "downbeat"))
    if options.click_out:
        silent = _silent(one, song, options.click_out)
        found = [click for click in found if bisect_right(silent, click[0]) % 2 == 0]
    return found + [(one.sample(place), "count") for place in _counted(song) if one.holds(place)]


def _counted(song: Song) -> Iterator[Place]:
    """Walk through the beats that the plan counts in before sections, those before bar 1 left out."""
    for placed in song.sections:
        yield from (place for place, _ in counted_in(song, placed))


def _layers_of(song: Song, who: str | None) -> tuple[str, ...]:
    """Return the layers of the player ``who``, or the layer so called; UsageError for neither."""
    if who is None:
        return ()
    layers = song.plan.layers
    if who in layers:
        return (who,)
    owned = tuple(name for name, layer in layers.items() if layer.player == who)
    if not owned:
        players = sorted({layer.player for layer in layers.values() if layer.player})
        raise UsageError(
            f"the plan has no player or layer {who[:80]!r}",
            hint=f"Its players: {', '.join(players) or 'none'}; its layers: {', '.join(layers)}.",
        )
    return owned


def _rows(song: Song, placed: PlacedSection, whose: tuple[str, ...]) -> Iterator[NoteRow]:
    """Walk through the pulse of the first of the layers that sounds; the counted beat where none does."""
    for name in whose:
        for part in placed.parts:
            if part.layer.name == name:
                entered = song.section_at(part.entry) or placed
                for stretch in part.stretches:
                    given = stretch.given or song.plan.layers[name]
                    yield from pulse_rows(stretch, given, entered.section.meters)
                return
    yield from counted_rows(placed)


def _silent(one: Pass, song: Song, click_out: ClickOut) -> list[int]:
    """Return the samples at which silence begins and ends, in turn."""
    first, last = (song.bars.bar_at(place).number for place in (one.begin, one.end))
    edges, quiet = [], False
    for index, bar in enumerate(range(first, last + 1)):
        if click_out.silent(index) is not quiet:
            quiet = not quiet
            edges.append(one.sample(song.bars.start_of(bar)))
    return edges
