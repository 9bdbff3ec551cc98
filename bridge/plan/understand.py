"""What a plan file means: names looked up, defaults worked out, contradictions refused.

Takes the groups of keys as written and makes the Plan.  What can only be seen once the
lengths are known is the planner's business.  This file knows nothing about YAML.
"""

from __future__ import annotations

from collections.abc import Collection, Container, Mapping
from dataclasses import dataclass, field

from bridge.errors import PlanError
from bridge.exact import Meters, Span, show_number
from bridge.plan.accept_entry import acceptances
from bridge.plan.cue_entry import plan_cues
from bridge.plan.hints import did_you_mean, listed
from bridge.plan.layers import layer_plan
from bridge.plan.lead_in import refuse_pickup
from bridge.plan.limits import refuse_longer_than_a_day
from bridge.plan.model import (
    LayerPlan,
    Origin,
    PayOff,
    Plan,
    Section,
    Tightening,
    Total,
    default_resolve,
    players_of,
)
from bridge.plan.models import OriginEntry, PayOffEntry, PlanFile, SectionEntry, TotalEntry
from bridge.plan.passages import free_passage, refuse_around_free
from bridge.plan.references import index_of_sections, length_links, refuse_same_letters, section_before
from bridge.plan.released import Vamp
from bridge.plan.released_entry import vamp_of
from bridge.plan.sounding import ChangeEntry
from bridge.plan.tempi import Given, section_tempo, song_tempo
from bridge.plan.there import There, refuse_tightening_with, who_is_there
from bridge.plan.tightening import tightening
from bridge.plan.values import Word

__all__ = ["UNTITLED", "understand"]

UNTITLED = "Untitled"


def understand(file: PlanFile, *, kept: tuple[int, ...] = (), source: str | None = None) -> Plan:
    """Make the plan; ``kept`` are the bars of the sections up to the last settled one.

    PlanError, with its place, where the keys do not make sense together.
    """
    layers = {name: layer_plan(name, entry) for name, entry in file.layers.items()}
    reader = _Reader(
        file=file,
        kept=kept,
        layers=layers,
        index=index_of_sections(file.sections),
        links=length_links(file.sections),
        song_tempo=song_tempo(file),
        players=players_of(layers),
    )
    refuse_same_letters(file.sections)
    refuse_around_free(file.sections)
    sections = reader.sections()
    refuse_longer_than_a_day(sections)
    plan = Plan(
        title=file.title.text if file.title else UNTITLED,
        layers=reader.layers,
        sections=sections,
        tempo_range=reader.song_tempo.range,
        total=_total(file.total) if file.total else None,
        origin=_origin(file.origin) if file.origin else Origin(),
        source=source,
        accept=acceptances(file.accept),
        marks=file.key_places,
    )
    _try_slowest(plan, file)
    return plan


def _try_slowest(plan: Plan, file: PlanFile) -> None:
    """Refuse a range at whose slow end a metric modulation leads beyond the tempi there are."""
    if plan.tempo_range is not None:
        try:
            plan.at_tempo(plan.tempo_range.grid[0])
        except PlanError as error:
            error.message += f" (after a modulation, from {show_number(plan.tempo_range.low)})"
            raise error.at(file.place_of("tempo")) from None


@dataclass(slots=True, kw_only=True)
class _Reader:
    """Reads section after section, remembering who sounded in the run and the tempo before."""

    file: PlanFile
    kept: tuple[int, ...]
    layers: Mapping[str, LayerPlan]
    index: Mapping[str, int]
    links: tuple[int | None, ...]
    song_tempo: Given
    players: Collection[str]
    _sounded: dict[str, LayerPlan] = field(default_factory=dict)
    """Whose time counts in the run, as they last were."""
    _before: Given | None = None
    _meters_before: Meters | None = None

    def sections(self) -> tuple[Section, ...]:
        last = self.file.sections[-1]
        if last.runs_on:
            raise PlanError(
                f"{last.name.text!r} is the last section and cannot run on: nothing follows it",
                hint="Take 'runs_on' out of it.",
                where=last.key_places["runs_on"],
            )
        return tuple(self._section(index, entry) for index, entry in enumerate(self.file.sections))

    def _section(self, index: int, entry: SectionEntry) -> Section:
        meters = entry.meter or self.file.meter
        passage = free_passage(entry, meters, self._layer, self.layers)
        free, bars, tempo = passage or (None, entry.bars, self._tempo(entry))
        vamp = vamp_of(entry.vamp)
        there = There(given={}, stays={}) if free else self._there(entry, meters)
        layers = tuple(there.given)
        entering = [name for name in layers if self._enters(name, there)]
        self._refuse_pickup(entry, there, entering)
        self._sounded.update(there.given)
        resolve = self._resolve(entry, there)
        about, at_least, at_most = _lengths(entry, vamp)
        section = Section(
            index=index,
            name=entry.name.text,
            layers=layers,
            changed={name: given for name, given in there.given.items() if given != self.layers[name]},
            stays=there.stays,
            tighten=self._tighten(entry, there, meters),
            meters=meters,
            tempo=tempo.tempo,
            beat=tempo.beat,
            pivot=tempo.pivot,
            in_range=tempo.range is not None,
            runs_on=entry.runs_on,
            resolve=resolve,
            bars=bars,
            about=about,
            weight=entry.weight,
            at_least=at_least,
            at_most=at_most,
            same_length_as=self.links[index],
            pays_off=self._pays_off(index, entry),
            meets_once=_meets_once(entry, resolve),
            settled=entry.settled,
            settled_bars=self.kept[index] if index < len(self.kept) else None,
            energy=entry.energy,
            letter=entry.letter,
            note=entry.note,
            colour=entry.colour,
            pickup=entry.pickup,
            count_in=entry.count_in,
            accept=acceptances(entry.accept),
            vamp=vamp,
            free=free,
            cues=plan_cues(entry.cues, self.players),
            marks={**(entry.length.key_places if entry.length else {}), **entry.key_places},
        )
        self._fix(entering, section)
        self._before, self._meters_before = tempo, meters
        if not entry.runs_on:
            self._sounded = {}
        elif section.tighten is not None:
            del self._sounded[section.tighten.layer]
        return section

    def _tempo(self, entry: SectionEntry) -> Given:
        return section_tempo(entry, song=self.song_tempo, before=self._before)

    def _there(self, entry: SectionEntry, meters: Meters) -> There:
        """Look up who sounds in a section, in the order of the plan's layers, and what is other."""
        words: dict[str, ChangeEntry | None] = {}
        for item in entry.layers:
            word, change = (item, None) if isinstance(item, Word) else next(iter(item.items()))
            words[self._layer(word)] = change
        return who_is_there({name: words[name] for name in self.layers if name in words}, self.layers, meters)

    def _enters(self, name: str, there: There) -> bool:
        """Tell whether a layer's time begins in this section."""
        return self._sounded.get(name) != there.given[name] or there.enters(name)

    def _tighten(self, entry: SectionEntry, there: There, meters: Meters) -> Tightening | None:
        if entry.tighten is None:
            return None
        word = entry.tighten.layer
        if self._layer(word) not in there.given:
            raise PlanError(
                f"{word.text!r} cannot tighten: it does not sound in {entry.name.text!r}",
                hint=f"Name a layer that does ({listed(there.given) or 'none does'}).",
                where=word.where,
            )
        refuse_tightening_with(entry, there)
        return tightening(entry.tighten, word.text, meters)

    def _refuse_pickup(self, entry: SectionEntry, there: There, entering: list[str]) -> None:
        if entry.pickup:
            refuse_pickup(
                entry.pickup,
                section=entry.name.text,
                sounding=tuple(there.given),
                entering=[name for name in entering if not there.enters(name)],
                layers=there.given,
                before=self._meters_before or entry.meter or self.file.meter,
                where=entry.key_places["pickup"],
            )

    def _layer(self, word: Word) -> str:
        if word.text not in self.layers:
            raise PlanError(
                f"there is no layer {word.text!r}; there are {listed(self.layers) or 'none'}",
                hint=did_you_mean(word.text, self.layers) or "Add it to 'layers' at the top of the plan.",
                where=word.where,
            )
        return word.text

    def _in_order(self, names: Container[str]) -> tuple[str, ...]:
        return tuple(name for name in self.layers if name in names)

    def _resolve(self, entry: SectionEntry, there: There) -> tuple[str, ...]:
        if entry.resolve is None:
            sounded = self._in_order(self._sounded)
            return default_resolve(
                tuple(there.given), sounded=sounded, runs_on=entry.runs_on, stays=there.stays
            )
        for word in entry.resolve:
            if self._layer(word) not in self._sounded:
                raise PlanError(
                    f"{word.text!r} cannot be resolved at the end of {entry.name.text!r}:"
                    " it sounds neither in it nor earlier in its run",
                    hint="Name layers that sound here or earlier in the run"
                    f" ({listed(self._in_order(self._sounded)) or 'none do'}).",
                    where=word.where,
                )
        return self._in_order({word.text for word in entry.resolve})

    def _pays_off(self, index: int, entry: SectionEntry) -> PayOff | None:
        if entry.pays_off is None:
            return None
        if isinstance(entry.pays_off, PayOffEntry):
            ratio, words = entry.pays_off.ratio, entry.pays_off.section
            where = entry.pays_off.key_places["ratio"]
        else:
            ratio, words, where = None, entry.pays_off, entry.key_places["pays_off"]
        earlier = sorted(section_before(word, index, self.index) for word in words)
        return PayOff(sections=tuple(earlier), ratio=ratio, where=where)

    def _fix(self, names: list[str], section: Section) -> None:
        """Check that every cycle in bars fits the meters of the section it enters in."""
        for name in names:
            try:
                section.changed.get(name, self.layers[name]).fixed(section.meters)
            except PlanError as error:
                error.message += f" (it first sounds in {section.name!r})"
                raise


def _lengths(entry: SectionEntry, vamp: Vamp | None) -> tuple[Span | None, Span | None, Span | None]:
    """Return the wish and the bounds; the wish is ``at_least`` or the vamp's where nothing else is said."""
    if entry.free is not None:
        return None, None, None
    length = entry.length
    about, at_least, at_most = (
        (length.about, length.at_least, length.at_most) if length else (None, None, None)
    )
    if about is None and entry.bars is None:
        about = at_least or (vamp.at_least if vamp else None)
    if entry.bars is None and about is None and not entry.same_length_as and not entry.settled:
        raise PlanError(
            f"the section {entry.name.text!r} has no length",
            hint="Add 'bars: 16', or 'length: {about: 2:30}', or 'length: {at_least: 24 bars}',"
            " or 'same_length_as: NAME'.",
            where=length.where if length else entry.where,
        )
    return about, at_least, at_most


def _meets_once(entry: SectionEntry, resolve: tuple[str, ...]) -> bool:
    if entry.meets is None:
        return False
    if len(resolve) < 2:
        raise PlanError(
            f"'meets: once' in {entry.name.text!r} needs two layers to be resolved at its end;"
            f" found: {listed(resolve) or 'none'}",
            hint="Name them, as in 'resolve: [one, another]', or take 'meets' out.",
            where=entry.key_places["meets"],
        )
    return True


def _total(entry: TotalEntry) -> Total:
    return Total(about=entry.about, within=entry.within, weight=entry.weight, marks=entry.key_places)


def _origin(entry: OriginEntry) -> Origin:
    return Origin(bar=entry.bar, seconds=entry.seconds)
