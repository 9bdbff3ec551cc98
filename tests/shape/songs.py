"""Random songs of the size that musicians write, for the benchmark and its second opinion.

Every share is stated here: of 16 sections in a song, about 40 % have bounds of their
own, half of the songs have a hard total (5 or 15 s either way), there is one payoff for
every eight sections, a third of them on a sum of two, and one section in twelve sounds
nobody.  Each tempo in a song is used about equally often.  Songs with runs have four
sections that run on into a fifth, with three layers carried.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

from bridge.plan.model import Plan
from tests.shape.factory import layer, plan, section, total

__all__ = ["TEMPI", "song"]

TEMPI = ("115.2", "96", "120", "153.6", "132", "108")

_LAYERS = (
    layer("band", 4),
    layer("drum", "3/16"),
    layer("bells", "1"),
    layer("keys", "5/4"),
    layer("shaker", "3/8"),
)


def song(seed: int, sections: int, *, tempi: int = 2, hard: bool | None = None, runs: bool = False) -> Plan:
    """A song; ``hard`` says whether its total has bounds (None: by chance, one half)."""
    random = Random(f"{seed}-{sections}-{tempi}-{hard}-{runs}")
    used = random.sample(TEMPI, tempi)
    given = [_section(random, at, used) for at in range(sections)]
    for _ in range(sections // 8):
        _pay_off(random, given)
    if runs:
        _run_on(random, given)
    wished = sum((entry["about"] for entry in given), Fraction(0))
    hard = random.random() < 0.5 if hard is None else hard
    about = wished + random.randint(-4, 4) * sections
    return plan(_LAYERS, given, song=total(about, random.choice([5, 15]) if hard else None))


def _section(random: Random, at: int, tempi: list[str]) -> dict[str, Any]:
    others = random.sample(["drum", "bells", "keys", "shaker"], random.choice([0, 1, 1, 2]))
    layers = "" if random.random() < 1 / 12 else " ".join(["band", *others])
    about = Fraction(random.randint(30, 150))
    given = section(f"S{at}", layers, tempo=random.choice(tempi), about=about)
    if random.random() < 0.4:
        given["at_least"] = about * Fraction(random.randint(5, 9), 10)
    if random.random() < 0.4:
        given["at_most"] = about + random.randint(40, 120)
    return given


def _pay_off(random: Random, given: list[dict[str, Any]]) -> None:
    at = random.randrange(3, len(given))
    count = 2 if random.random() < 1 / 3 else 1
    built = random.sample(range(max(0, at - 6), at), count)
    given[at].pop("at_most", None)
    ratio = random.choice(["1", "3/4", "1/2"])
    given[at]["pays_off"] = (" ".join(f"S{index}" for index in built), ratio)


def _run_on(random: Random, given: list[dict[str, Any]]) -> None:
    at = random.randrange(0, len(given) - 5)
    sounding = (
        ("band", "drum"),
        ("band", "drum", "keys"),
        ("keys",),
        ("band", "keys"),
        ("band", "drum", "keys"),
    )
    for entry, layers in zip(given[at : at + 5], sounding, strict=True):
        entry["layers"] = layers
        entry["runs_on"] = True
    given[at + 4]["runs_on"] = False
