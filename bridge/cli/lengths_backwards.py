"""``lengths`` backwards: the tempo at which so many bars last so long.

This file knows nothing about good lengths but whether these bars are one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from bridge.cli.layer_options import named_layers, read, read_layers
from bridge.cli.output import print_json, write_lines
from bridge.cycles import good_lengths, nearest
from bridge.cycles.words import joined
from bridge.errors import MusicError, UsageError
from bridge.exact import (
    FASTEST,
    SLOWEST,
    Bars,
    Meters,
    Seconds,
    parse_bars,
    parse_seconds,
    show_number,
)

__all__ = ["backwards"]


def backwards(
    meters: Meters,
    layer: Sequence[str],
    resolve: Sequence[str],
    *,
    bars: str | None,
    lasts: str | None,
    stray: Mapping[str, str | bool | None],
    json: bool,
) -> int:
    """Tell the tempo, and whether everybody is home after these bars (null without layers).

    UsageError when an option is missing or one of ``stray`` is given; MusicError when the
    tempo would be none.
    """
    if bars is None or lasts is None:
        raise UsageError("--bars and --lasts go together", hint="Give both, as in --bars 72 --lasts 2:30.")
    if given := [option for option, value in stray.items() if value is not None]:
        raise UsageError(f"{given[0]} does not go with --bars and --lasts", hint="Leave it out.")
    count = read("--bars", lambda: parse_bars(bars))
    time = read("--lasts", lambda: parse_seconds(lasts))
    resolved, lines = _homes(meters, layer, resolve, count)
    bpm = _tempo(meters, count, time)
    if json:
        print_json(
            {
                "bars": count.count,
                "lasts_seconds": float(time.value),
                "tempo": show_number(bpm),
                "tempo_bpm": float(bpm),
                "resolved": resolved,
            }
        )
    else:
        write_lines([f"{count} of {meters} last {time} at {_shown(bpm)} quarter notes a minute.", *lines])
    return 0


def _tempo(meters: Meters, count: Bars, time: Seconds) -> Fraction:
    bpm = meters.of_bars(count.count).quarters * 60 / time.value
    if not SLOWEST <= bpm <= FASTEST:
        raise MusicError(
            f"{count} of {meters} in {time} would need {float(bpm):g} quarter notes a minute; "
            f"a tempo is {SLOWEST} to {FASTEST}",
            hint="Ask for another number of bars or another time.",
        )
    return bpm


def _homes(
    meters: Meters, texts: Sequence[str], resolve: Sequence[str], count: Bars
) -> tuple[bool | None, list[str]]:
    """Tell whether everybody is home at the end, and say so; None without layers."""
    if not texts:
        if resolve:
            raise UsageError("--resolve names a layer, but no layer is given", hint="Add --layer.")
        return None, []
    layers = read_layers(texts, meters)
    must = named_layers("--resolve", resolve, layers) if resolve else layers
    end = meters.of_bars(count.count)
    away = [layer.name for layer in must if not layer.is_home(end)]
    if not away:
        return True, ["Everybody is home then."]
    good = nearest(good_lengths(meters, must), end)
    verb = "is" if len(away) == 1 else "are"
    hint = "" if good is None else f" The nearest length at which all are: {Bars(good)}."
    return False, [f"{joined(away)} {verb} not home then.{hint}"]


def _shown(bpm: Fraction) -> str:
    exact = show_number(bpm)
    return exact if "/" not in exact else f"{exact} (about {float(bpm):.3f})"
