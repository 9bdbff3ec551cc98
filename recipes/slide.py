"""A drift that leaves and comes home: a second player of the same figure, slightly faster.

The two start in unison, slide through every shift of the figure against itself, and are
in unison again at the end of the bars, and not before. Twelve notes, a second player a
little ahead: one, two ... eleven notes apart, the twelfth is the unison again (common
practice, no source).
"""

from bridge import Length, Meters, MusicError, Pattern, drift, parse_bars, plan_text


def build(
    *,
    figure: str = "x.xx.x.xx.x.",
    unit: str = "1/16",
    bars: str = "54 bars",
    tempo: str = "115.2",
    meter: str = "4/4",
    unison: str = "0:15",
) -> dict[str, object]:
    """Return the plan: the figure alone for about ``unison``, the drift over ``bars``, home again."""
    meters = Meters.parse(meter)
    wished = parse_bars(bars).count
    found = drift(Pattern.parse(figure), unit=Length(unit), wish=meters.of_bars(wished), meters=meters)
    if found.bars != wished:
        raise MusicError(
            f"a drift of {figure} in {unit} comes home after {found.bars} bars, not after {wished}",
            hint=f"Take {found.bars} bars, the nearest that do.",
        )
    first = {"cycle": str(found.cycle)}
    return {
        "pulsebridge": 1,
        "title": "A drift that comes home",
        "tempo": tempo,
        "meter": meter.split(","),
        "layers": {"figure": first, "second figure": first | {"rate": str(found.rate)}},
        "sections": [
            {"name": "Still", "layers": ["figure"], "length": {"about": unison}, "energy": 20},
            {
                "name": "Apart",
                "layers": ["figure", "second figure"],
                "bars": found.bars,
                "meets": "once",
                "energy": [30, 70],
            },
            {"name": "Home", "layers": ["figure"], "length": {"about": unison}, "energy": 80},
        ],
    }


if __name__ == "__main__":
    print(plan_text(build()), end="")
