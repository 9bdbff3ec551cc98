"""Plans for the tests, built directly: no file, no loader."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from bridge.errors import Where
from bridge.exact import Bars, Length, Meters, Ratio, Seconds, Span, Tempo
from bridge.plan.model import Free, LayerPlan, PayOff, Plan, Section, Total, Vamp

__all__ = ["layer", "plan", "section", "total"]

KEYS = (
    "name",
    "bars",
    "length",
    "at_least",
    "at_most",
    "resolve",
    "pays_off",
    "same_length_as",
    "meets",
    "settled",
)


def span(value: Span | int | str | Fraction | None) -> Span | None:
    """Bars from an int, seconds from text or a Fraction."""
    if value is None or isinstance(value, (Bars, Seconds)):
        return value
    return Bars(value) if isinstance(value, int) else Seconds(Fraction(value))


def layer(name: str, cycle: int | str, start: str = "0", rate: str = "1") -> LayerPlan:
    """A layer; an int is a cycle in bars, text one in whole notes."""
    return LayerPlan(
        name=name,
        cycle=Bars(cycle) if isinstance(cycle, int) else Length(Fraction(cycle)),
        start=Length(Fraction(start)),
        rate=Ratio(Fraction(rate)),
    )


def section(name: str, layers: str = "", **given: Any) -> dict[str, Any]:
    """What a section says; :func:`plan` works out the rest."""
    return {"name": name, "layers": tuple(layers.split()), **given}


def total(about: str | int | Fraction, within: str | int | None = None, weight: str | int = 1) -> Total:
    return Total(
        about=Fraction(about),
        within=None if within is None else Fraction(within),
        weight=Fraction(weight),
        marks={"about": Where(line=1, column=1), "within": Where(line=1, column=20)},
    )


def tempo(given: str | tuple[str, str]) -> Tempo:
    if isinstance(given, tuple):
        return Tempo.ramp(Fraction(given[0]), Fraction(given[1]))
    return Tempo.constant(Fraction(given))


def plan(
    layers: Iterable[LayerPlan],
    sections: Iterable[dict[str, Any]],
    *,
    song: Total | None = None,
    bpm: str = "120",
    meter: str = "4/4",
) -> Plan:
    """A plan with the loader's defaults: who resolves, wishes, indices for names."""
    given = list(sections)
    index = {entry["name"]: at for at, entry in enumerate(given)}
    made: list[Section] = []
    in_run: list[str] = []
    for at, entry in enumerate(given):
        runs_on = entry.get("runs_on", False)
        in_run += [name for name in entry["layers"] if name not in in_run]
        made.append(_section(at, entry, index, in_run, bpm, meter))
        if not runs_on:
            in_run = []
    return Plan(
        title="Low Tide Relay", layers={one.name: one for one in layers}, sections=tuple(made), total=song
    )


def _section(
    at: int, entry: dict[str, Any], index: dict[str, int], in_run: list[str], bpm: str, meter: str
) -> Section:
    if "free" in entry:
        return _free(at, entry)
    at_least, about = span(entry.get("at_least")), span(entry.get("about"))
    vamp = Vamp(at_least=span(entry["vamp"])) if "vamp" in entry else None
    if about is None and "bars" not in entry:
        about = at_least or (vamp.at_least if vamp else None)
    resolve = entry.get("resolve")
    if resolve is None:
        resolve = () if entry.get("runs_on") else (entry["layers"] or in_run)
    pays = entry.get("pays_off")
    return Section(
        index=at,
        name=entry["name"],
        layers=entry["layers"],
        meters=Meters.parse(entry.get("meter", meter)),
        tempo=tempo(entry.get("tempo", bpm)),
        runs_on=entry.get("runs_on", False),
        resolve=tuple(resolve.split() if isinstance(resolve, str) else resolve),
        bars=entry.get("bars"),
        about=about,
        weight=Fraction(entry.get("weight", 1)),
        at_least=at_least,
        at_most=span(entry.get("at_most")),
        same_length_as=index[entry["same_length_as"]] if "same_length_as" in entry else None,
        pays_off=PayOff(sections=tuple(index[name] for name in pays[0].split()), ratio=Fraction(pays[1]))
        if pays
        else None,
        meets_once=entry.get("meets_once", False),
        settled="settled_bars" in entry,
        settled_bars=entry.get("settled_bars"),
        vamp=vamp,
        marks={key: Where(line=10 + at, column=1 + place) for place, key in enumerate(KEYS)},
    )


def _free(at: int, entry: dict[str, Any]) -> Section:
    """A free passage: its seconds stand under ``free``, everything but its meter is left out."""
    free, meters = Free(about=Fraction(entry["free"])), Meters.parse(entry.get("meter", "4/4"))
    bars, its_tempo = free.on_the_bar_axis(meters)
    return Section(
        index=at,
        name=entry["name"],
        layers=(),
        meters=meters,
        tempo=its_tempo,
        bars=bars,
        free=free,
        marks={key: Where(line=10 + at, column=1) for key in ("name", "free")},
    )
