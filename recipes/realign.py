"""A bridge section that drifts apart, tightens, and lands on a payoff as long as the build.

The parts run against each other until they come home together. Then one of them shortens
its cycle, five, four, three, two, while the others go on, and everybody lands on the one.
That a build gains urgency so, and that a payoff of about its length is felt to be worth
the wait, is what experienced writers do; no law.
"""

from bridge import (
    Length,
    Meters,
    MusicError,
    Ratio,
    Tempo,
    Tighten,
    as_layers,
    good_bars,
    good_lengths,
    named_cycles,
    parse_bars,
    parse_seconds,
    plan_text,
    seconds_of,
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
    at_least: str = "0:50",
    at_most: str = "1:40",
    tightening: str = "14 bars",
    ratio: str = "1",
) -> dict[str, object]:
    """Return the plan: the crossing, a section for each stage of the tightening, the payoff.

    The crossing lasts ``at_least`` to ``at_most``; the tightening takes ``tightening`` or
    the next length that brings everybody home; the payoff lasts ``ratio`` times both.
    """
    meters = Meters.parse(meter)
    parts = named_cycles(layers)
    if tightens not in parts:
        raise MusicError(f"{tightens!r} is to tighten, but there are {', '.join(parts)}")
    others = {name: cycle for name, cycle in parts.items() if name != tightens}
    row = Tighten(cycles=tuple(Length(cycle) for cycle in cycles.split(",")), on_barlines=True)
    stages = tighten(row, _bars(row, others, meters, parse_bars(tightening).count), meters).stages
    tight = {f"{tightens} in {cycle}": cycle for cycle in written(row.cycles)}

    crossing = {
        "name": "Crossing",
        "layers": list(parts),
        "length": {"at_least": at_least, "at_most": at_most},
        "energy": [20, 60],
    }
    tightenings = [
        {
            "name": f"Tightening {number}",
            "layers": [*others, name],
            "bars": meters.bars_in(stage.length),
            "energy": [60 + 35 * (number - 1) // len(stages), 60 + 35 * number // len(stages)],
        }
        for number, (name, stage) in enumerate(zip(tight, stages, strict=True), start=1)
    ]
    for section, name in zip(tightenings[:-1], tight, strict=False):
        # The others go on through all the stages: only the end of the last must fit them.
        section |= {"runs_on": True, "resolve": [name]}
    tight_seconds = seconds_of(stages[-1].end, Tempo.constant(Ratio(tempo).value))
    as_long = Ratio(ratio).value * (parse_seconds(at_least).value + tight_seconds)
    landfall = {
        "name": "Landfall",
        "layers": list(parts),
        "length": {"about": f"{float(as_long):.2f}s"},
        "pays_off": {"section": [one["name"] for one in (crossing, *tightenings)], "ratio": ratio},
        "energy": 100,
    }
    return {
        "pulsebridge": 1,
        "title": "A bridge section that realigns",
        "tempo": tempo,
        "meter": meter.split(","),
        "layers": {name: {"cycle": cycle} for name, cycle in (parts | tight).items()},
        "sections": [crossing, *tightenings, landfall],
    }


def _bars(row: Tighten, others: dict[str, str], meters: Meters, at_least: int) -> int:
    """Find the fewest bars, from the least on, that the turns fill and that bring the others home."""
    home = good_lengths(meters, as_layers(others, meters)) if others else None
    furthest = 32 * at_least
    for bars in good_bars(row, furthest, meters):
        if bars >= at_least and (home is None or bars in home):
            return bars
    raise MusicError(
        f"no tightening of {', '.join(written(row.cycles))} over {at_least} to {furthest} bars brings "
        f"{' and '.join(others)} home",
        hint="Take other cycles, or layers with shorter ones.",
    )


if __name__ == "__main__":
    print(plan_text(build()), end="")
