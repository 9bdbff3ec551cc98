"""A plan, read and understood: what shape, song and everything after them work from.

All values are exact and legal; each knows its place in the file through ``marks``.
How a file becomes a Plan is the business of the loader; this file knows nothing
about YAML, files or solving.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from bridge.cycles import Layer
from bridge.errors import Where
from bridge.exact import Length, Meters, Span, Tempo
from bridge.plan.accepting import Accept
from bridge.plan.cue import PlanCue
from bridge.plan.layer_plan import LayerPlan, Stay, Tightening
from bridge.plan.released import Free, Vamp
from bridge.plan.tempo_range import TempoRange

__all__ = [
    "Entry",
    "Free",
    "LayerPlan",
    "Origin",
    "PayOff",
    "Pivot",
    "Plan",
    "PlanCue",
    "Section",
    "Stay",
    "TempoRange",
    "Tightening",
    "Total",
    "Vamp",
    "default_resolve",
    "players_of",
]

Marks = Mapping[str, Where]
_NOTHING = Length(0)
_WHOLLY = Stay()


@dataclass(frozen=True, slots=True, kw_only=True)
class PayOff:
    """This section answers earlier ones; with a ratio it must last that many times as long."""

    sections: tuple[int, ...]
    """Indices of the sections paid off, each earlier than this one."""
    ratio: Fraction | None
    where: Where | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pivot:
    """How a metric modulation was written: the ``old`` note of the tempo before is the ``new`` one."""

    old: Length
    new: Length


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One part of the song: who sounds, how it may be long, and what it must reach."""

    index: int
    name: str
    layers: tuple[str, ...]
    """Who sounds, in the order of the plan's layers; empty: a general pause, or a free passage."""
    changed: Mapping[str, LayerPlan] = field(default_factory=dict)
    """Those of them that are other here than the plan's layers."""
    stays: Mapping[str, Stay] = field(default_factory=dict)
    """Those of them that do not sound in all of it."""
    tighten: Tightening | None = None
    meters: Meters
    tempo: Tempo
    beat: Length | None = None
    """The note its tempo was given in; None for the quarter.  ``tempo`` is in quarters all the same."""
    pivot: Pivot | None = None
    """The metric modulation that ``tempo`` came from, if any."""
    in_range: bool = False
    """Its tempo is the song's own, which a range leaves open; ``tempo`` is then the fastest of it."""
    runs_on: bool = False
    resolve: tuple[str, ...] = ()
    """Who must be home at its end, defaults already worked out; empty: nobody."""
    bars: int | None = None
    about: Span | None = None
    """The wish; already an ``at_least`` (or the vamp's) where the plan gives neither bars nor about."""
    weight: Fraction = Fraction(1)
    at_least: Span | None = None
    at_most: Span | None = None
    same_length_as: int | None = None
    """The index of the section whose number of bars it takes."""
    pays_off: PayOff | None = None
    meets_once: bool = False
    settled: bool = False
    settled_bars: int | None = None
    """The bars that a settled section, or one before it, keeps."""
    vamp: Vamp | None = None
    """Held until released."""
    free: Free | None = None
    """Without bars or click; ``bars`` and ``tempo`` are then those that stand for its seconds, and nobody
    of ``layers`` turns in it: ``free.layers`` play."""
    cues: tuple[PlanCue, ...] = ()
    """What is to be said, sent or played, in the file's order."""
    energy: tuple[Fraction, ...] = ()
    """0 to 100, spread evenly from its start to its end; empty where the plan says nothing."""
    letter: str | None = None
    """The rehearsal letter, as players' paper shows it."""
    note: str | None = None
    """What players should read beside it."""
    colour: int | None = None
    """0xRRGGBB, for hosts whose markers and regions have colours."""
    pickup: Length = _NOTHING
    """How long before its first bar those who begin with it sound already; see bridge.song.unroll."""
    count_in: int = 0
    """Bars before its first that are counted in; of the first section, where a file is to begin so."""
    accept: tuple[Accept, ...] = ()
    """Readings on the form that are meant so in this section."""
    marks: Marks = field(default_factory=dict, compare=False)
    """Where each key stands in the file; ``name`` is always there for a plan read from text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Where a layer's time counts from in a run: so long after the start of a section."""

    section: Section
    given: LayerPlan
    layer: Layer
    """``given``, its cycle fixed by the section's meters."""
    enters: Length = _NOTHING

    @property
    def from_start(self) -> Layer:
        """The layer as one that counts from the section's start."""
        return replace(self.layer, start=self.layer.start + self.enters) if self.enters else self.layer


def players_of(layers: Mapping[str, LayerPlan]) -> dict[str, tuple[str, ...]]:
    """Return each player with their layers, in order; a layer that nobody owns is its own player."""
    found: dict[str, list[str]] = {}
    for name, layer in layers.items():
        found.setdefault(layer.player or name, []).append(name)
    return {player: tuple(names) for player, names in found.items()}


def default_resolve(
    layers: tuple[str, ...],
    *,
    sounded: tuple[str, ...],
    runs_on: bool,
    stays: Mapping[str, Stay] | None = None,
) -> tuple[str, ...]:
    """Name who must be home at a section's end where the plan does not say.

    ``sounded`` are all whose time counts in the run, this section included.  Nobody where
    the section runs on; at the end of a run all that sound at its end, or in a general
    pause all whose time counts.
    """
    if runs_on:
        return ()
    if not layers:
        return sounded
    gone = {name for name, stay in (stays or {}).items() if stay.leaves is not None}
    return tuple(name for name in layers if name not in gone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """The wish for the whole song, in seconds; ``within`` makes it a hard bound as well."""

    about: Fraction
    within: Fraction | None = None
    weight: Fraction = Fraction(1)
    marks: Marks = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """The host's bar on which the plan's bar 1 falls, and its seconds when the plan names them."""

    bar: int = 1
    seconds: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole plan: layers by name in the file's order, sections in playing order."""

    title: str
    layers: Mapping[str, LayerPlan]
    sections: tuple[Section, ...]
    tempo_range: TempoRange | None = None
    """The wished tempi; None once one is chosen, or where the plan says one."""
    total: Total | None = None
    origin: Origin = Origin()
    source: str | None = field(default=None, compare=False)
    """The name of the file it came from, for messages."""
    accept: tuple[Accept, ...] = ()
    """Readings on the form that are meant so in the whole song."""
    marks: Marks = field(default_factory=dict, compare=False)
    """Where each key of the whole stands in the file."""

    @property
    def players(self) -> Mapping[str, tuple[str, ...]]:
        """Each player with their layers, in the plan's order; a layer that nobody owns is its own player."""
        return players_of(self.layers)

    @property
    def runs(self) -> tuple[tuple[Section, ...], ...]:
        """The sections grouped into runs: joined while they run on."""
        runs: list[tuple[Section, ...]] = []
        run: list[Section] = []
        for section in self.sections:
            run.append(section)
            if not section.runs_on:
                runs.append(tuple(run))
                run = []
        if run:
            runs.append(tuple(run))
        return tuple(runs)

    def at_tempo(self, bpm: Fraction) -> Plan:
        """Return the plan with one tempo for its range, metric modulations following.

        PlanError where a modulation then leads beyond the tempi there are.
        """
        sections: list[Section] = []
        for section in self.sections:
            if section.pivot is not None and sections:
                tempo = sections[-1].tempo.pivot(section.pivot.old, section.pivot.new)
            else:
                tempo = Tempo.constant(bpm) if section.in_range else section.tempo
            sections.append(replace(section, tempo=tempo, in_range=False))
        return replace(self, sections=tuple(sections), tempo_range=None)

    def times_tempo(self, ratio: Fraction) -> Plan:
        """Return the plan with every tempo so many times as fast; PlanError beyond the tempi there are."""
        sections = tuple(
            replace(section, tempo=Tempo(section.tempo.start * ratio, section.tempo.end * ratio), pivot=None)
            for section in self.sections
        )
        return replace(self, sections=sections)

    def given(self, section: Section, name: str) -> LayerPlan:
        """Return the layer ``name`` as it is in ``section``."""
        return section.changed.get(name, self.layers[name])

    def counting(self, run: tuple[Section, ...]) -> tuple[Mapping[str, Entry], ...]:
        """Name, for each section of ``run``, whose time counts in it, with where from.

        From the start of the first section in which a layer sounds.  It begins anew where
        it ``enters`` a section or has another cycle than before; one that has tightened
        is home at the section's end, and counts again from where it next sounds.
        """
        counts: dict[str, Entry] = {}
        found = []
        for section in run:
            for name in section.layers:
                given, stay = self.given(section, name), section.stays.get(name, _WHOLLY)
                before = counts.get(name)
                # Mostly they are one and the same, and comparing all fields takes long.
                is_other = before is None or (before.given is not given and before.given != given)
                if is_other or stay.enters is not None:
                    layer, enters = given.fixed(section.meters), stay.enters or _NOTHING
                    counts[name] = Entry(section=section, given=given, layer=layer, enters=enters)
            found.append(dict(counts))
            if section.tighten is not None:
                counts.pop(section.tighten.layer, None)
        return tuple(found)

    def entries(self, run: tuple[Section, ...]) -> dict[str, tuple[Section, Layer]]:
        """Name each layer whose time counts in the last section of ``run``, with where it entered."""
        return {name: (entry.section, entry.from_start) for name, entry in self.counting(run)[-1].items()}
