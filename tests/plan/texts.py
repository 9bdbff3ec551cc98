"""Plan texts for the tests: a small good one to spoil, and the example of design.md."""

from __future__ import annotations

import pytest

from bridge.errors import PlanError
from bridge.plan import Plan, load

SMALL = """\
pulsebridge: 1
title: Small
tempo: 120
meter: 4/4
layers:
  band: {cycle: 4 bars}
  drum: {cycle: 3/16}
sections:
  - {name: One, layers: [band, drum], bars: 12}
  - {name: Two, layers: [band], bars: 8}
"""

CONTRACT = """\
pulsebridge: 1                 # format version
title: Low Tide Relay
tempo: 115.2
meter: 4/4                     # or 2+2+3/8, or a repeating list: [4/4, 4/4, 7/8]
total: {about: "5:30", within: "0:15"}     # optional
origin: {bar: 3}
layers:
  band:       {cycle: 4 bars, player: guitars}
  hand drum:  {cycle: 3/16, player: percussion}
  bells:      {groups: [3, 3, 2], unit: 1/8}         # cycle 1/1, accents at the group heads
  keys:       {pulses: 5, over: 1 bar}               # five in the time of a bar
  figure:     {cycle: 12/16}
  second figure: {cycle: 12/16, rate: 73/72}
  shaker:     {cycle: 5/8, start: 1/4}
sections:
  - {name: Prelude, layers: [band], bars: 16, energy: 10}
  - name: Crossing
    layers: [band, hand drum]
    length: {about: "2:30", at_least: 24 bars, at_most: 96 bars}
    energy: [20, 90]           # from its start to its end
  - name: Landfall
    layers: [band, hand drum, bells]
    length: {about: "2:30"}
    pays_off: {section: Crossing, ratio: 1}
    energy: 100
"""


def song(*sections: str, layers: str = "", **top: str) -> str:
    """A plan text with these sections, one flow mapping each, over the layers band, drum and bells."""
    keys = {"pulsebridge": "1", "tempo": "120", "meter": "4/4", **top}
    lines = [f"{key}: {value}" for key, value in keys.items()]
    lines += ["layers:", "  band: {cycle: 4 bars}", "  drum: {cycle: 3/16}", "  bells: {cycle: 5/8}"]
    lines += [f"  {layer}" for layer in layers.splitlines()]
    lines += ["sections:", *(f"  - {{{section}}}" for section in sections)]
    return "\n".join(lines) + "\n"


def loaded(*sections: str, layers: str = "", **top: str) -> Plan:
    return load(song(*sections, layers=layers, **top))


def refused(text: str | bytes, *, solved: str | None = None) -> PlanError:
    """The error with which ``text`` is refused; it has a place and the line that it points into."""
    with pytest.raises(PlanError) as caught:
        load(text, source="song.yaml", solved=solved)
    error = caught.value
    assert error.where is not None
    assert error.where.file == "song.yaml"
    assert error.where.line >= 1
    assert error.where.column >= 1
    assert error.message
    return error


def pointed_at(error: PlanError) -> str:
    """The text of the line from the caret on."""
    assert error.where is not None
    assert error.where.text is not None
    return error.where.text[error.where.column - 1 :]
