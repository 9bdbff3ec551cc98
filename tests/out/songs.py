"""Songs for the tests of exporters, built without a file or the planner."""

from __future__ import annotations

from fractions import Fraction

from bridge.cycles.layer import Kind
from bridge.exact import Bars, Length, Meters, Ratio, Tempo
from bridge.plan.model import LayerPlan, Origin, Plan, Section
from bridge.song import Song, unroll

__all__ = ["layer", "section", "song", "tide"]


def layer(name, cycle, *, start="0", rate="1", groups=(), pulses=0) -> LayerPlan:
    """A layer; ``cycle`` is a number of bars or text such as 3/16."""
    kind = Kind.GROUPS if groups else Kind.PULSES if pulses else Kind.CYCLE
    return LayerPlan(
        name=name,
        cycle=Bars(cycle) if isinstance(cycle, int) else Length(cycle),
        start=Length(start),
        rate=Ratio(rate),
        kind=kind,
        groups=tuple(groups),
        pulses=pulses,
    )


def section(
    name, bars, layers, *, meter="4/4", tempo="115.2", to=None, runs_on=False, resolve=None, **more
) -> dict:
    """A section's fields, and its bars; its index comes when the song is put together."""
    start = Fraction(tempo)
    return {
        **more,
        "name": name,
        "bars": bars,
        "layers": tuple(layers),
        "meters": Meters.parse(meter),
        "tempo": Tempo.ramp(start, Fraction(to) if to else start),
        "runs_on": runs_on,
        "resolve": tuple(layers if resolve is None and not runs_on else resolve or ()),
    }


def song(layers, sections, *, title="Low Tide Relay", origin=None) -> Song:
    """The song of these layers and sections."""
    plan = Plan(
        title=title,
        layers={one.name: one for one in layers},
        sections=tuple(Section(index=index, **fields) for index, fields in enumerate(sections)),
        origin=origin or Origin(),
    )
    return unroll(plan, [fields["bars"] for fields in sections])


def tide(**options) -> Song:
    """A song with most of what there is: a run, a pause, a ramp, several meters, a drifting layer."""
    layers = [
        layer("band", 4),
        layer("hand drum", "3/16"),
        layer("bells", "1", groups=[3, 3, 2]),
        layer("keys", 1, pulses=5),
        layer("slow drum", "12/16", rate="73/72"),
        layer("shaker", "5/8", start="1/4"),
    ]
    sections = [
        section("Prelude", 4, ["band"]),
        section("Crossing", 12, ["band", "hand drum"]),
        section("Narrows", 8, ["band", "bells", "keys"], to="132", runs_on=True),
        section("Slack", 1, [], tempo="132", resolve=()),
        section("Landfall", 12, ["band", "hand drum", "shaker"], tempo="132", resolve=["band", "hand drum"]),
        section("Ebb", 8, ["slow drum"], meter="2+2+3/8", tempo="90", resolve=[]),
        section("Drift", 6, ["bells"], meter="4/4,4/4,7/8", tempo="97", resolve=[]),
    ]
    return song(layers, sections, **options)
