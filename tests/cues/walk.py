"""Made-up songs, and a plain walk through their layers that shares nothing with the code under test.

Every home is found by stepping turn by turn from where the layer's time begins; bars and
beats by adding meters up.  All places are whole notes from the section's start.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction as F
from random import Random

from bridge.plan import load
from bridge.song import Song, unroll

__all__ = ["LAYERS", "PLAYERS", "Walked", "made_up", "song_of", "walk"]

LAYERS = {
    "band": ("cycle: 2 bars", None, F(0), F(1), "guitars"),
    "hand drum": ("cycle: 3/16", F(3, 16), F(0), F(1), "percussion"),
    "bells": ("groups: [3, 3, 2], unit: 1/8", F(1), F(0), F(1), "keys"),
    "fives": ("cycle: 5/8, start: 1/4", F(5, 8), F(1, 4), F(1), "keys"),
    "shaker": ("cycle: 3/4, start: 15/16", F(3, 4), F(15, 16), F(1), "shaker"),
    "drift": ("cycle: 3/4, rate: 73/72", F(3, 4), F(0), F(73, 72), "drift"),
    "silent": ("cycle: 1/1", F(1), F(0), F(1), "nobody"),
}
"""Text, cycle (None: two bars of the section where it comes in), start, rate, player."""
PLAYERS = tuple(dict.fromkeys(layer[4] for layer in LAYERS.values()))
_METERS = {
    "4/4": ([F(1, 4)] * 4,),
    "6/8": ([F(3, 8)] * 2,),
    "2+2+3/8": ([F(1, 4), F(1, 4), F(3, 8)],),
    "[4/4, 7/8]": ([F(1, 4)] * 4, [F(1, 8)] * 7),
}
"""Each bar of the list as the beats that are counted in it."""
_TIGHT = {5: ((F(3, 4), 4), (F(2, 4), 4)), 14: ((F(5, 8), 8), (F(4, 8), 8), (F(3, 8), 8), (F(2, 8), 8))}


@dataclass
class Made:
    """One section as it was made up."""

    name: str
    layers: list[str]
    bars: int
    meter: str
    tempo: int
    runs_on: bool
    enters: dict[str, int] = field(default_factory=dict)
    leaves: dict[str, int] = field(default_factory=dict)
    tightens: tuple[str, int] | None = None

    def text(self) -> str:
        names = []
        for name in self.layers:
            other = [f"enters: bar {self.enters[name]}"] if name in self.enters else []
            other += [f"leaves: bar {self.leaves[name]}"] if name in self.leaves else []
            names.append(f"{{{name}: {{{', '.join(other)}}}}}" if other else name)
        parts = [
            f"name: {self.name}",
            f"layers: [{', '.join(names)}]",
            f"bars: {self.bars}",
            f"meter: {self.meter}",
            f"tempo: {self.tempo}",
        ]
        parts += ["runs_on: true"] if self.runs_on else []
        if self.tightens:
            name, over = self.tightens
            cycles = ", ".join(str(cycle) for cycle, _ in _TIGHT[over])
            parts.append(f"tighten: {{layer: {name}, cycles: [{cycles}], over: {over} bars}}")
        return f"  - {{{', '.join(parts)}}}\n"

    def barline(self, bar: int) -> F:
        """Where bar ``bar`` (from 1) begins."""
        row = _METERS[self.meter]
        at = F(0)
        for number in range(bar - 1):
            at += sum(row[number % len(row)])
        return at

    @property
    def length(self) -> F:
        return self.barline(self.bars + 1)


@dataclass
class Walked:
    """A section: its homes, who sounds from where to where, its barlines and counted beats."""

    made: Made
    homes: dict[str, list[F]]
    """Past its end as well, up to ``until``; of a layer that has left or not come in: as if it sounded."""
    begun: set[str]
    """Those that come in within a turn, or on a home, that began before the section."""
    sounds: dict[str, tuple[F, F]]
    barlines: list[F]
    beats: list[F]
    count_in: F
    """The bar before its first."""
    ever: set[str]
    """The players who sound in the song at all."""

    def plays(self, at: F) -> dict[str, set[str]]:
        """Who plays right after ``at``: each player with the layers."""
        found: dict[str, set[str]] = {}
        for name, (start, end) in self.sounds.items():
            if start <= at < end:
                found.setdefault(LAYERS[name][4], set()).add(name)
        return found


def made_up(seed: int) -> list[Made]:
    """Make up a few sections."""
    random = Random(seed)
    made = []
    for index in range(random.randint(2, 4)):
        names = [name for name in LAYERS if name != "silent" and random.random() < 0.5]
        bars = random.choice([1, 2, 3, 6, 12, 24, 31])
        one = Made(
            name=f"S{index}",
            layers=names,
            bars=bars,
            meter=random.choice(list(_METERS)),
            tempo=random.choice([40, 90, 120, 180, 300]),
            runs_on=False,
        )
        for name in names:
            if bars > 5 and random.random() < 0.25:
                one.enters[name] = random.randint(2, bars)
            elif bars > 5 and random.random() < 0.25:
                one.leaves[name] = random.randint(2, bars)
        free = [name for name in names if name not in one.enters and name not in one.leaves]
        if free and bars > 20 and random.random() < 0.6:
            one.meter = "4/4"
            one.tightens = (random.choice(free), random.choice([5, 14]))
        made.append(one)
    for one in made[:-1]:
        one.runs_on = random.random() < 0.5
    return made


def song_of(made: list[Made]) -> Song:
    lines = ["pulsebridge: 1", "tempo: 120", "meter: 4/4", "layers:"]
    for name, (cycle, _, _, _, player) in LAYERS.items():
        lines.append(f"  {name}: {{{cycle}, player: {player}}}")
    text = "\n".join([*lines, "sections:", ""]) + "".join(one.text() for one in made)
    return unroll(load(text), [one.bars for one in made])


def walk(made: list[Made], index: int, *, beyond: int = 0) -> Walked:
    """Walk through section ``index``, ``beyond`` whole notes past its planned end."""
    one = made[index]
    since = _entries(made, index)
    until = one.length + beyond
    rows = {name: _row(one, name, *since[name], until) for name in one.layers}
    starts = {name: one.barline(one.enters.get(name, 1)) for name in one.layers}
    barlines, beats = _bars(_METERS[one.meter], until)
    return Walked(
        made=one,
        homes={name: [home for home in rows[name] if home >= starts[name]] for name in rows},
        begun={name for name in rows if any(home < starts[name] for home in rows[name])},
        sounds={
            name: (starts[name], one.barline(one.leaves[name]) if name in one.leaves else F(10**9))
            for name in one.layers
        },
        barlines=barlines,
        beats=beats,
        count_in=sum(_METERS[one.meter][-1]),
        ever={LAYERS[name][4] for each in made for name in each.layers},
    )


def _entries(made: list[Made], index: int) -> dict[str, tuple[F, F]]:
    """Where each layer's time began in the run, from the section's start, and its cycle."""
    first = index
    while first and made[first - 1].runs_on:
        first -= 1
    offset = -sum((made[i].length for i in range(first, index)), F(0))
    since: dict[str, tuple[F, F]] = {}
    for i in range(first, index + 1):
        here = made[i]
        for name in here.layers:
            cycle = LAYERS[name][1] or here.barline(3)
            if name in here.enters:
                since[name] = (offset + here.barline(here.enters[name]), cycle)
            elif name not in since:
                since[name] = (offset, cycle)
        if here.tightens and i < index:
            since.pop(here.tightens[0], None)
        offset += here.length
    return since


def _row(one: Made, name: str, entry: F, cycle: F, until: F) -> list[F]:
    """The homes of a layer from where its time began, through its tightening if it has one."""
    stages: list[tuple[F, int]] = []
    end = until
    if one.tightens and one.tightens[0] == name:
        end = one.length - one.barline(one.tightens[1] + 1)
        stages = list(_TIGHT[one.tightens[1]])
    row = []
    at = entry + LAYERS[name][2]
    while at < end or (at == end and not stages):
        row.append(at)
        at += cycle / LAYERS[name][3]
    at = end
    for stage, turns in stages:
        for _ in range(turns):
            row.append(at)
            at += stage
    while stages and at <= until:
        row.append(at)
        at += stages[-1][0]
    return row


def _bars(meters: tuple[list[F], ...], until: F) -> tuple[list[F], list[F]]:
    barlines, beats, at, number = [], [], F(0), 0
    while at <= until:
        barlines.append(at)
        for beat in meters[number % len(meters)]:
            beats.append(at)
            at += beat
        number += 1
    return barlines, beats
