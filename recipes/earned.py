"""A landing that is met only once: one more layer whose first meeting with the others is the end.

A 3/16 over four-bar phrases has met them five times before bar 73: that landing has been
given away. A 17/16 over the same phrases meets them once in 68 bars. That a meeting heard
too often stops being an arrival is what experienced writers go by; no law.
"""

from bridge import Length, Meters, MusicError, as_layers, earned_cycles, named_cycles, parse_bars, plan_text


def build(
    *,
    layers: str = "band=4 bars",
    newcomer: str = "hand drum",
    bars: str = "68 bars",
    about: str = "1/1",
    grid: str = "1/16",
    tempo: str = "115.2",
    meter: str = "4/4",
) -> dict[str, object]:
    """Return the plan: the build over ``bars`` with the cycle nearest to ``about``, and its payoff."""
    meters = Meters.parse(meter)
    parts = named_cycles(layers)
    if newcomer in parts:
        raise MusicError(f"{newcomer!r} is one of the others already", hint="Give the newcomer another name.")
    count = parse_bars(bars).count
    found = earned_cycles(meters.of_bars(count), as_layers(parts, meters), grid=Length(grid))
    if not found.cycles:
        raise MusicError(f"no cycle first meets the others after {count} bars: {found.why}")
    cycle = min(found.cycles, key=lambda one: (abs(one - Length(about)), one))
    everybody = [*parts, newcomer]
    return {
        "pulsebridge": 1,
        "title": "A landing that is earned",
        "tempo": tempo,
        "meter": meter.split(","),
        "layers": {name: {"cycle": text} for name, text in (parts | {newcomer: str(cycle)}).items()},
        "sections": [
            {
                "name": "Crossing",
                "layers": everybody,
                "bars": count,
                "meets": "once",
                "energy": [20, 90],
            },
            {
                "name": "Landfall",
                "layers": list(parts),
                "same_length_as": "Crossing",
                "pays_off": {"section": "Crossing", "ratio": "1"},
                "energy": 100,
            },
        ],
    }


if __name__ == "__main__":
    print(plan_text(build()), end="")
