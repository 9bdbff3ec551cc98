"""Small plans for the readings: a good one, and one for each way of being weak.

At 120 quarters a minute a bar of 4/4 lasts two seconds.
"""

from __future__ import annotations

from bridge.plan import Plan, load

__all__ = ["GOOD", "WEAK", "plan"]

_HEAD = """\
pulsebridge: 1
title: Small Tide
tempo: 120
meter: 4/4
layers:
  band:  {cycle: 4 bars, player: guitars}
  drum:  {cycle: 3/16, player: percussion}
  bells: {cycle: 5/8, player: keys}
"""

PRELUDE = "{name: Prelude, layers: [bells], bars: 20, energy: [10, 20]}"
SLACK = "{name: Slack, layers: [band], bars: 16, energy: 25}"
CROSSING = "{name: Crossing, layers: [band, drum], bars: 36, energy: [30, 80]}"
LANDFALL = "{name: Landfall, layers: [band, drum, bells], bars: 60, energy: [100, 85], pays_off: Crossing}"
EBB = "{name: Ebb, layers: [band], bars: 24, energy: [30, 10]}"


def text(*sections: str, layers: tuple[str, ...] = (), **top: str) -> str:
    lines = [*(f"  {layer}" for layer in layers), *(f"{key}: {value}" for key, value in top.items())]
    return _HEAD + "".join(f"{line}\n" for line in [*lines, "sections:", *(f"  - {one}" for one in sections)])


def plan(given: str) -> Plan:
    return load(given, source="small.yaml")


GOOD = text(PRELUDE, SLACK, CROSSING, LANDFALL, EBB)


def _but(section: str, **keys: str) -> str:
    """The section with some keys given other values; new ones are added."""
    fields = dict(part.split(": ", 1) for part in _split(section[1:-1]))
    fields.update(keys)
    return "{" + ", ".join(f"{key}: {value}" for key, value in fields.items()) + "}"


def _split(fields: str) -> list[str]:
    """The fields of a flow mapping; commas in brackets do not part them."""
    parts, depth = [""], 0
    for character in fields:
        depth += (character in "[{") - (character in "]}")
        if character == "," and not depth:
            parts.append("")
        else:
            parts[-1] += character
    return [part.strip() for part in parts]


WEAK: dict[str, str] = {
    # 60 to 84 are 24 points; 5:12 would carry 24.7
    "narrow range": text(
        _but(PRELUDE, energy="[60, 66]"),
        _but(SLACK, energy="68"),
        _but(CROSSING, energy="[68, 75]"),
        _but(LANDFALL, energy="[84, 70]"),
        _but(EBB, energy="[70, 66]"),
    ),
    "one level": text(PRELUDE, SLACK, CROSSING, _but(LANDFALL, energy="100"), EBB),
    "undecided end": text(PRELUDE, SLACK, CROSSING, LANDFALL, _but(EBB, energy="[60, 45]")),
    # Landfall comes 192 s after the low passage; in a song of 7:12, 148 s are within reach
    "payoff out of reach": text(
        PRELUDE,
        SLACK,
        "{name: Middle, layers: [band, bells], bars: 60, energy: [55, 70]}",
        _but(CROSSING, energy="[55, 70]"),
        LANDFALL,
        EBB,
    ),
    # forty seconds of bells at 10, and nothing moves
    "no sign": text(
        _but(PRELUDE, energy="10"),
        _but(SLACK, energy="60"),
        _but(CROSSING, energy="[60, 80]"),
        LANDFALL,
        EBB,
    ),
    # 48 s after 72
    "short payoff": text(PRELUDE, SLACK, CROSSING, _but(LANDFALL, layers="[band, drum]", bars="24"), EBB),
    "low payoff": text(PRELUDE, SLACK, CROSSING, _but(LANDFALL, energy="[82, 60]"), EBB),
    "nobody alone": text(
        _but(PRELUDE, layers="[band, bells]"),
        _but(SLACK, layers="[band, bells]", bars="20"),
        CROSSING,
        LANDFALL,
        _but(EBB, layers="[band, bells]", bars="20"),
    ),
    # all three, but for the Prelude
    "always tutti": text(
        PRELUDE,
        _but(CROSSING, layers="[band, drum, bells]", bars="60"),
        LANDFALL,
    ),
    # four unlike cycles for two minutes
    "too busy": text(
        PRELUDE,
        SLACK,
        CROSSING,
        _but(LANDFALL, layers="[band, drum, bells, shaker]"),
        EBB,
        layers=("shaker: {cycle: 3/8}",),
    ),
    # Again, Still and Ebb
    "nothing new": text(
        PRELUDE,
        SLACK,
        CROSSING,
        LANDFALL,
        "{name: Again, layers: [band, drum], bars: 12, energy: 60}",
        "{name: Still, layers: [drum], bars: 12, energy: 40}",
        EBB,
        layers=("shaker: {cycle: 1 bar}",),
    ),
    "nothing returns": text(PRELUDE, SLACK, CROSSING, LANDFALL, _but(EBB, layers="[drum, bells]", bars="30")),
    # four minutes of Landfall
    "no change": text(PRELUDE, SLACK, CROSSING, _but(LANDFALL, bars="120"), EBB),
    # band and steps meet every eight seconds
    "never apart": text(
        PRELUDE,
        SLACK,
        _but(CROSSING, layers="[band, steps]"),
        LANDFALL,
        EBB,
        layers=("steps: {cycle: 2 bars}",),
    ),
    # 12, 24, 36, 48: the landing at 60 has been heard four times
    "landing given away": text(PRELUDE, SLACK, _but(CROSSING, bars="60"), LANDFALL, EBB),
    # band and drum are cut after 35 bars
    "change away from home": text(
        PRELUDE, SLACK, _but(CROSSING, bars="35", resolve="[]"), _but(LANDFALL, meter="3/4"), EBB
    ),
}
"""For each reading a plan that is weak in this way and in no other."""
