"""A bridge section that drifts apart, tightens, and lands on a payoff as long as the build.

The parts run against each other. Then one of them shortens its cycle, five, four, three,
two, while the others go on, and everybody lands on the one. That a build gains urgency so,
and that a payoff of about its length is felt to be worth the wait, is what experienced
writers do; no law.
"""

from bridge import (
    Layer,
    Length,
    Meters,
    MusicError,
    Ratio,
    Tempo,
    Tighten,
    as_layers,
    before_tightening,
    good_bars,
    good_lengths,
    named_cycles,
    parse_bars,
    parse_seconds,
    plan_text,
    tighten,
    written,
)


def build(
    *,
    layers: str = "band=4 bars, hand drum=3/16",
    tightens: str = "hand drum",
    cycles: str = "5/8, 4/8, 3/8, 2/8",
    tempo: str = "115.2",
    meter: str = "4/4",
    at_least: str = "1:20",
    at_most: str = "2:10",
    tightening: str = "14 bars",
    ratio: str = "1",
) -> dict[str, object]:
    """Return the plan: the crossing, which tightens over its last bars, and the payoff.

    The crossing lasts ``at_least`` to ``at_most``; the tightening takes ``tightening`` of
    that, or the next length after which all can come home in time; the payoff lasts
    ``ratio`` times the crossing.
    """
    meters = Meters.parse(meter)
    parts = named_cycles(layers)
    if tightens not in parts:
        raise MusicError(f"{tightens!r} is to tighten, but there are {', '.join(parts)}")
    row = Tighten(cycles=tuple(Length(cycle) for cycle in cycles.split(",")), on_barlines=True)
    speed = Tempo.constant(Ratio(tempo).value)
    most = meters.bars_within(Length(parse_seconds(at_most).value * speed.start / 240))
    bars = _bars(row, as_layers(parts, meters), tightens, meters, (parse_bars(tightening).count, most))
    as_long = Ratio(ratio).value * parse_seconds(at_least).value
    crossing = {
        "name": "Crossing",
        "layers": list(parts),
        "length": {"at_least": at_least, "at_most": at_most},
        "tighten": {
            "layer": tightens,
            "cycles": list(written(row.cycles)),
            "over": f"{bars} bars",
            "on_barlines": "true",
        },
        "energy": [20, 95],
    }
    landfall = {
        "name": "Landfall",
        "layers": list(parts),
        "length": {"about": f"{float(as_long):.2f}s"},
        "pays_off": {"section": "Crossing", "ratio": ratio},
        "energy": 100,
    }
    return {
        "pulsebridge": 1,
        "title": "A bridge section that realigns",
        "tempo": tempo,
        "meter": meter.split(","),
        "layers": {name: {"cycle": cycle} for name, cycle in parts.items()},
        "sections": [crossing, landfall],
    }


def _bars(row: Tighten, parts: list[Layer], tightens: str, meters: Meters, limits: tuple[int, int]) -> int:
    """Find the fewest bars, from the least on, that the turns fill and after which all come home in time."""
    least, most = limits
    for bars in good_bars(row, min(most, 32 * least), meters):
        if bars >= least:
            found = tighten(row, bars, meters)
            home = good_lengths(
                meters, [before_tightening(one, found) if one.name == tightens else one for one in parts]
            )
            if home.period_bars is not None and home.firsts[0] <= most:
                return bars
    raise MusicError(
        f"no tightening of {', '.join(written(row.cycles))} over {least} bars or more"
        f" brings {', '.join(one.name for one in parts)} home together within {most} bars",
        hint="Take other cycles, layers with shorter ones, or more time.",
    )


if __name__ == "__main__":
    print(plan_text(build()), end="")
