"""The options of the guide, the same for ``export`` and ``hear``, and what they mean.

This file knows nothing about sound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from bridge.errors import UsageError
from bridge.out.guide.options import GuideOptions, parse_click_out, parse_speed
from bridge.song import Song

__all__ = [
    "ClickFor",
    "ClickOut",
    "CountIn",
    "From",
    "Only",
    "Peak",
    "Speed",
    "Times",
    "To",
    "Without",
    "guide_options",
    "with_recordings",
]

CountIn = Annotated[bool, typer.Option("--count-in", help="A bar counted in first, or what the plan says.")]
From = Annotated[
    str | None,
    typer.Option(
        "--from",
        help="Where to begin: a bar (13 or 13.3), a section, '24 bars before Landfall'.",
    ),
]
To = Annotated[
    str | None,
    typer.Option(
        "--to",
        help="Where to stop; the landing there is heard. Also 'end of Crossing'.",
    ),
]
Times = Annotated[int, typer.Option("--times", min=1, max=1000, help="How many times in a row.")]
Speed = Annotated[str, typer.Option("--speed", help="A share of the tempo: 80%. Pitches stay.")]
Only = Annotated[list[str] | None, typer.Option("--only", help="Only this layer; may be given again.")]
Without = Annotated[
    list[str] | None, typer.Option("--without", help="Without this layer, or click, or meetings.")
]
ClickOut = Annotated[
    str | None, typer.Option("--click-out", help="2/8: no click in the last 2 of every 8 bars.")
]
ClickFor = Annotated[
    str | None,
    typer.Option("--click-for", help="Click the own pulse of this player or layer, at its own rate."),
]
Peak = Annotated[float, typer.Option("--peak", help="The highest peak in dBFS, -40 to 0. Mind your hearing.")]


def guide_options(
    *,
    begin: str | None,
    stop: str | None,
    times: int,
    speed: str,
    only: Sequence[str] | None,
    without: Sequence[str] | None,
    click_out: str | None,
    click_for: str | None,
    peak: float,
) -> GuideOptions:
    """Read the options as given; UsageError for what cannot be."""
    if not -40 <= peak <= 0:
        raise UsageError(f"--peak is -40 to 0 dBFS, not {peak:g}", hint="The default is -12.")
    return GuideOptions(
        begin=begin,
        stop=stop,
        times=times,
        speed=parse_speed(speed),
        only=tuple(only or ()),
        without=tuple(without or ()),
        click_out=None if click_out is None else parse_click_out(click_out),
        click_for=click_for,
        peak_dbfs=peak,
    )


def with_recordings(options: GuideOptions, song: Song, plan: Path) -> GuideOptions:
    """Return ``options`` with the recordings that the plan's cues name, read from the plan's folder."""
    from bridge.out.guide.loudness import PER_SECOND
    from bridge.out.guide.recordings import read_recordings

    return replace(options, recordings=read_recordings(song, plan.parent, per_second=PER_SECOND))
