"""Songs for the tests of the conductor, from plan text."""

from bridge.plan import load
from bridge.shape import Solved, solve
from bridge.song import unroll

SLACK = """
pulsebridge: 1
title: Slack Water
tempo: 120
meter: 4/4
origin: {bar: 3}
layers:
  band: {cycle: 4 bars, player: guitars}
  drum: {cycle: 3/16, player: percussion}
  bells: {cycle: 5/4}
sections:
  - {name: Prelude, layers: [band], bars: 8}
  - {name: Crossing, layers: [band, drum], bars: 24}
  - {name: Shallows, layers: [drum], bars: 6}
  - {name: Landfall, layers: [band, drum], bars: 12}
"""


def song_of(text):
    """Return the solved song of a plan's text."""
    plan = load(text.encode(), source="test", solved=None)
    solved = solve(plan)
    assert isinstance(solved, Solved), solved
    return unroll(plan, solved.bars)
