"""A plan, read and understood: what shape, song and everything after them work from.

All values are exact and legal; each knows its place in the file through ``marks``.
How a file becomes a Plan is the business of the loader; this file knows nothing
about YAML, files or solving.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate

from bridge.craft.pattern import Pattern
from bridge.cycles import Kind, Layer, fixed_cycle
from bridge.errors import Where
from bridge.exact import Bars, Length, Meters, Ratio, Span, Tempo
from bridge.plan.accepting import Accept

__all__ = ["LayerPlan", "Origin", "PayOff", "Pivot", "Plan", "Section", "Total", "default_resolve"]

Marks = Mapping[str, Where]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerPlan:
    """A layer as the plan gives it: its cycle may still be in bars, of a meter yet to come."""

    name: str
    cycle: Length | Bars
    start: Length
    rate: Ratio
    kind: Kind = Kind.CYCLE
    groups: tuple[int, ...] = ()
    """For Kind.GROUPS: the groups, in units."""
    pulses: int = 0
    """For Kind.PULSES: how many evenly spaced pulses fill the cycle."""
    pattern: Pattern | None = None
    """For Kind.PATTERN: who hits when; its steps divide the cycle evenly."""
    player: str | None = None
    where: Where | None = field(default=None, compare=False)
    """Where its cycle stands in the file."""

    def fixed(self, meters: Meters) -> Layer:
        """Return the layer once it first sounds in a section with these meters.

        PlanError when a cycle in bars is no multiple of a repeating list of meters,
        naming the nearest that is.
        """
        cycle = fixed_cycle(self.cycle, meters, name=self.name, where=self.where)
        return Layer(
            name=self.name,
            cycle=cycle,
            start=self.start,
            rate=self.rate,
            kind=self.kind,
            accents=tuple(cycle * Ratio(share) for share in self._accent_shares()),
        )

    def _accent_shares(self) -> tuple[Fraction, ...]:
        if self.kind is Kind.PULSES:
            return tuple(Fraction(pulse, self.pulses) for pulse in range(self.pulses))
        if self.pattern is not None:
            steps = len(self.pattern.steps)
            return tuple(Fraction(onset, steps) for onset in self.pattern.onsets)
        units = sum(self.groups)
        heads = accumulate(self.groups[:-1], initial=0)
        return tuple(Fraction(head, units or 1) for head in heads)


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
    """Who sounds, in the order of the plan's layers; empty: a general pause."""
    meters: Meters
    tempo: Tempo
    beat: Length | None = None
    """The note its tempo was given in; None for the quarter.  ``tempo`` is in quarters all the same."""
    pivot: Pivot | None = None
    """The metric modulation that ``tempo`` came from, if any."""
    runs_on: bool = False
    resolve: tuple[str, ...] = ()
    """Who must be home at its end, defaults already worked out; empty: nobody."""
    bars: int | None = None
    about: Span | None = None
    """The wish; already the ``at_least`` where the plan gives neither bars nor about."""
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
    energy: tuple[Fraction, ...] = ()
    """0 to 100, spread evenly from its start to its end; empty where the plan says nothing."""
    letter: str | None = None
    """The rehearsal letter, as players' paper shows it."""
    note: str | None = None
    """What players should read beside it."""
    pickup: Length = Length(0)
    """How long before its first bar those who begin with it sound already; see bridge.song.unroll."""
    count_in: int = 0
    """Bars before its first that are counted in; of the first section, where a file is to begin so."""
    accept: tuple[Accept, ...] = ()
    """Readings on the form that are meant so in this section."""
    marks: Marks = field(default_factory=dict, compare=False)
    """Where each key stands in the file; ``name`` is always there for a plan read from text."""


def default_resolve(layers: tuple[str, ...], *, sounded: tuple[str, ...], runs_on: bool) -> tuple[str, ...]:
    """Name who must be home at a section's end where the plan does not say.

    ``sounded`` are all that sounded in the run, this section included.  Nobody where the
    section runs on; at the end of a run all that sound in it, or in a general pause all
    that sounded in the run.
    """
    if runs_on:
        return ()
    return layers or sounded


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
    total: Total | None = None
    origin: Origin = Origin()
    source: str | None = field(default=None, compare=False)
    """The name of the file it came from, for messages."""
    accept: tuple[Accept, ...] = ()
    """Readings on the form that are meant so in the whole song."""
    marks: Marks = field(default_factory=dict, compare=False)
    """Where each key of the whole stands in the file."""

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

    def entries(self, run: tuple[Section, ...]) -> dict[str, tuple[Section, Layer]]:
        """Name each layer that sounds in ``run``, with the section it enters in and itself, fixed."""
        found: dict[str, tuple[Section, Layer]] = {}
        for section in run:
            for name in section.layers:
                if name not in found:
                    found[name] = (section, self.layers[name].fixed(section.meters))
        return found
