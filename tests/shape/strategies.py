"""Random small songs that plain enumeration can check, drawn from a seed."""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

from hypothesis import strategies as st

from bridge.plan.model import Plan
from tests.shape.factory import layer, plan, section, total

__all__ = ["MOST", "small_songs", "song_of"]

MOST = {1: 30, 2: 14, 3: 8, 4: 5}
"""Bars a section may have at most, by the number of sections: it keeps enumeration quick."""

_CYCLES = (1, 1, 2, 2, 3, "3/4", "5/4", "3/8", "1/2")
_METERS = ("4/4", "4/4", "4/4", "3/4", "4/4,3/4", "2/4,2/4,3/8")
_TEMPI = ("120", "120", "90", "115.2", "97", ("96", "132"), ("132.5", "60"))


def small_songs() -> st.SearchStrategy[Plan]:
    """Songs of one to four sections with every kind of demand, some of which cannot be."""
    return st.integers(0, 2**32).map(lambda seed: song_of(Random(seed)))


def song_of(random: Random) -> Plan:
    count = random.randint(1, 4)
    layers = [
        layer(
            name,
            random.choice(_CYCLES),
            start=random.choice(["0"] * 5 + ["1/4", "1", "5/2"]),
            rate=random.choice(["1"] * 6 + ["3/2", "4/3"]),
        )
        for name in "abc"[: random.randint(1, 3)]
    ]
    names = [one.name for one in layers]
    in_bars = [one.name for one in layers if "bar" in str(one.cycle)]
    sections = [_section(random, at, count, names, in_bars) for at in range(count)]
    _free_passages(random, sections)
    _ask_of_runs(random, sections)
    song = None
    if random.random() < 0.7:
        within = random.choice([None, None, Fraction(random.randint(0, 8), 2)])
        about = Fraction(random.randint(4, 80), random.choice([1, 2]))
        song = total(about, within, random.choice([1, 1, 2, "1/2", 0]))
    return plan(layers, sections, song=song)


def _section(random: Random, at: int, count: int, names: list[str], in_bars: list[str]) -> dict[str, Any]:
    most = MOST[count]
    meter = random.choice(_METERS)
    # a cycle in bars has to be a multiple of a list of meters: such layers keep out of lists
    free = [name for name in names if "," not in meter or name not in in_bars]
    sounding = [name for name in free if random.random() < 0.6]
    given: dict[str, Any] = {"meter": meter, "tempo": random.choice(_TEMPI), "at_most": most}
    if random.random() < 0.2:
        given["at_most"] = Fraction(random.randint(2, most))
    if random.random() < 0.1:
        given["bars"] = random.randint(1, most)
    elif random.random() < 0.5:
        given["about"] = random.randint(1, most)
    else:
        given["about"] = Fraction(random.randint(1, 60), 2)
    if random.random() < 0.3:
        given["at_least"] = random.choice([random.randint(1, 4), Fraction(random.randint(1, 6))])
    if random.random() < 0.15:
        given["vamp"] = random.choice([random.randint(1, 5), Fraction(random.randint(1, 12), 2)])
    given["weight"] = random.choice(["1"] * 6 + ["2", "1/3", "0"])
    given["runs_on"] = at < count - 1 and random.random() < 0.5
    earlier = [f"S{other}" for other in range(at)]
    if earlier and random.random() < 0.2:
        given["same_length_as"] = random.choice(earlier)
    if earlier and random.random() < 0.3:
        built = random.sample(earlier, random.randint(1, len(earlier)))
        given["pays_off"] = (" ".join(built), random.choice(["1", "1/2", "5/4"]))
    return section(f"S{at}", " ".join(sounding), **given)


def _free_passages(random: Random, sections: list[dict[str, Any]]) -> None:
    """Now and then make a section a free passage: it ends a run, and nobody takes its bars."""
    for at, given in enumerate(sections):
        named = any(other.get("same_length_as") == given["name"] for other in sections)
        if named or random.random() > 0.15:
            continue
        seconds = Fraction(random.randint(1, 60), random.choice([1, 2, 7]))
        sections[at] = section(given["name"], free=max(seconds, Fraction(1)), meter=given["meter"])
        if at:
            sections[at - 1]["runs_on"] = False


def _ask_of_runs(random: Random, sections: list[dict[str, Any]]) -> None:
    """Now and then name who resolves, tacet layers of the run too, and ask for one meeting only."""
    in_run: list[str] = []
    for given in sections:
        if "free" in given:
            in_run = []
            continue
        in_run += [name for name in given["layers"] if name not in in_run]
        if random.random() < 0.2:
            given["resolve"] = " ".join(name for name in in_run if random.random() < 0.6)
        asked = given.get("resolve")
        if asked is None:
            asked = "" if given["runs_on"] else " ".join(given["layers"] or in_run)
        given["meets_once"] = len(asked.split()) > 1 and random.random() < 0.4
        if not given["runs_on"]:
            in_run = []
