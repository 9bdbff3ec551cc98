"""Songs to draw: one of an invented scenario, and the extremes."""

from __future__ import annotations

import random

from bridge.out.scene import Box, Scene
from bridge.plan import load
from bridge.song import Song, unroll

LOW_TIDE = """
pulsebridge: 1
title: Low Tide Relay
tempo: 115.2
meter: 4/4
layers:
  band:       {cycle: 4 bars, player: guitars}
  hand drum:  {cycle: 3/16, player: percussion}
  bells:      {groups: [3, 3, 2], unit: 1/8, player: percussion}
  keys:       {cycle: 5/4, player: keys}
sections:
  - {name: Prelude, layers: [band], bars: 16, energy: 10}
  - {name: First Crossing, layers: [band, hand drum], bars: 36, energy: [20, 55], runs_on: true}
  - {name: Second Crossing, layers: [band, hand drum, keys], bars: 60, energy: [55, 60, 90]}
  - {name: Held Breath, layers: [], bars: 1, energy: 5}
  - name: Landfall
    layers: [band, hand drum, bells]
    bars: 96
    energy: 100
    pays_off: {section: [First Crossing, Second Crossing], ratio: 0.9}
  - {name: Undertow, layers: [bells], bars: 14, energy: [40, 20], meter: 7/8, resolve: []}
  - {name: Ebb, layers: [band, keys], bars: 40, energy: [30, 70], tempo: {from: 115.2, to: 96}}
  - {name: Slack Water, layers: [hand drum], bars: 12, energy: 15, tempo: 96}
  - {name: Home, layers: [band, hand drum, bells, keys], bars: 60, energy: 100, tempo: 96, pays_off: Ebb}
"""

ONE = """
pulsebridge: 1
title: One
tempo: 400
meter: 31/8
layers: {whale: {cycle: 1000/1}}
sections: [{name: Only, layers: [whale], bars: 3, resolve: []}]
"""

NAMES = (
    "潮のリレー",
    "مد وجزر",
    "🌊 swell 🌊",
    "A very long name that goes on and on until nobody can read it",
    "Ebb",
    "Slack",
)


def many_sections(count: int = 200) -> str:
    """A plan of ``count`` sections whose names are in three scripts and emoji."""
    dice = random.Random(3)
    head = 'pulsebridge: 1\ntitle: "潮のリレー مد وجزر 🌊"\ntempo: 90\nmeter: 4/4\n'
    layers = "layers:\n  band: {cycle: 4 bars}\n  太鼓 with a very long name: {cycle: 3/16}\nsections:\n"
    rows = (
        f'  - {{name: "{dice.choice(NAMES)} {number}", layers: [band], bars: {dice.choice((4, 8, 16))}, '
        f"energy: {dice.randrange(100)}}}\n"
        for number in range(count)
    )
    return head + layers + "".join(rows)


def many_layers() -> str:
    """A plan of 24 layers in 1/16 bars at tempo 20."""
    dice = random.Random(4)
    layers = "".join(f"  layer {number}: {{cycle: {number + 1}/16}}\n" for number in range(24))
    sections = ""
    for number in range(12):
        who = ", ".join(f"layer {layer}" for layer in range(24) if dice.random() < 0.5)
        sections += f'  - {{name: "{dice.choice(NAMES)} {number}", layers: [{who}], bars: 48, resolve: []}}\n'
    head = "pulsebridge: 1\ntitle: Tiny\ntempo: 20\nmeter: 1/16\n"
    return f"{head}layers:\n{layers}sections:\n{sections}"


def song_of(text: str) -> Song:
    """Unroll a plan whose sections all say their bars."""
    plan = load(text.encode(), source="test.yaml")
    return unroll(plan, [section.bars or 1 for section in plan.sections])


def overlapping(scene: Scene) -> list[tuple[str, str]]:
    """Name the texts whose measured boxes share more than 0.2 points both ways."""
    texts = sorted(scene.texts, key=lambda text: text.box.left)
    found = []
    for number, one in enumerate(texts):
        for other in texts[number + 1 :]:
            if other.box.left >= one.box.right:
                break
            if one.box.overlaps(other.box, by=0.2):
                found.append((one.text, other.text))
    return found


def outside(scene: Scene) -> list[str]:
    """Name the texts that leave the page."""
    page = Box(0, 0, scene.width, scene.height)
    return [text.text for text in scene.texts if not page.holds(text.box)]
