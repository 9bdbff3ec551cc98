"""Songs for the tests of cues: a text, and the bars of its sections where they are not fixed in it."""

from __future__ import annotations

from bridge.cues import DueCue
from bridge.plan import load
from bridge.song import Song, unroll

__all__ = ["RELAY", "said", "unrolled"]

_TOP = """\
pulsebridge: 1
tempo: {tempo}
meter: {meter}
layers:
  band: {{cycle: 4 bars, player: guitars}}
  hand drum: {{cycle: 3/16, player: percussion}}
  bells: {{groups: [3, 3, 2], unit: 1/8, player: keys}}
  fives: {{pulses: 5, over: 1 bar, player: keys}}
  shaker: {{cycle: 5/8, start: 1/4}}
  late: {{cycle: 3/4, start: 3/4}}
sections:
"""

RELAY = (
    "name: Prelude, layers: [bells], bars: 8",
    "name: Crossing, layers: [band, hand drum], bars: 24",
    "name: Landfall, layers: [band, hand drum, bells], bars: 12",
)


def unrolled(*sections: str, tempo: str = "120", meter: str = "4/4") -> Song:
    """Return the song of these sections, one flow mapping each; all of them say their bars."""
    text = _TOP.format(tempo=tempo, meter=meter)
    plan = load(text + "".join(f"  - {{{section}}}\n" for section in sections))
    return unroll(plan, [section.bars or section.settled_bars or 1 for section in plan.sections])


def said(cues: tuple[DueCue, ...], *, player: str = "") -> list[tuple[str, str]]:
    """Return where each cue for ``player`` goes out, in whole notes, and its text."""
    return [(str(cue.into), cue.text) for cue in cues if cue.player == player and cue.text]
