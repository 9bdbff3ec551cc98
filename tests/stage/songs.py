"""Plans for the tests of the stage page."""

UNEVEN = """
pulsebridge: 1
title: Uneven
tempo: {from: 70, to: 190}
meter: [4/4, 4/4, 7/8]
layers:
  band: {cycle: 6 bars, player: guitars}
  drum: {cycle: 3/16, player: percussion}
  late: {cycle: 5/8, start: 1/4, player: strings}
  quick: {cycle: 12/16, rate: 73/72, player: keys}
sections:
  - {name: Prelude, layers: [band, drum], bars: 12, runs_on: true, resolve: []}
  - {name: Crossing, layers: [band, drum, {late: {enters: bar 3, leaves: 8 bars}}], bars: 18, resolve: [band]}
  - {name: Undertow, layers: [quick, drum], bars: 9, meter: 6/8, tempo: 80, resolve: []}
  - name: Landfall
    layers: [drum, band]
    bars: 17
    meter: 4/4
    tempo: {from: 132, to: 96}
    resolve: [drum]
    tighten: {layer: drum, cycles: [5/8, 4/8, 3/8, 2/8], over: 14 bars}
"""

STEADY = """
pulsebridge: 1
title: Steady
tempo: {bpm}
meter: 4/4
layers:
  band: {{cycle: 4 bars, player: guitars}}
  drum: {{cycle: 3/16, player: percussion}}
sections:
  - {{name: Prelude, layers: [band], bars: 8, energy: 10}}
  - {{name: Crossing, layers: [band, drum], bars: 48, energy: [20, 90]}}
  - {{name: Landfall, layers: [band, drum], bars: 240, energy: 100}}
"""

QUICK = """
pulsebridge: 1
title: Quick
tempo: 480
meter: [1/4, 2/8]
layers:
  ticks: {{cycle: 1/16, player: percussion}}
  pulse: {{cycle: 1/4, player: guitars}}
sections:
{sections}
""".format(
    sections="\n".join(
        f"  - {{name: S{number}, layers: [ticks, pulse], bars: 2, energy: {number % 100}}}"
        for number in range(120)
    )
)
"""Bars of an eighth of a second, a section in two of them: nothing of it may flash."""
