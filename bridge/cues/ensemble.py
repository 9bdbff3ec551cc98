"""Who plays when: each player with the layers that sound, and what changes for whom, in words.

In a free passage those play whom the plan names for it, though no cycle turns.  This file
knows nothing about when a change is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bridge.craft.stages import written
from bridge.cues.standing import Standing
from bridge.exact import Bars, Length
from bridge.plan.layer_plan import LayerPlan
from bridge.song import Part, PlacedSection, Song

__all__ = ["Ensemble", "as_it_begins", "listed", "new_cycles", "what_changes"]

_NOTHING = Length(0)
_MOST_NAMED = 3
"""More players than this are counted, not named."""


@dataclass(frozen=True, slots=True)
class Ensemble:
    """Each player who plays, with the layers that sound and what each of them turns in."""

    plays: Mapping[str, Mapping[str, str]]

    @classmethod
    def at(cls, song: Song, standing: Standing, into: Length, *, until: bool = False) -> Ensemble:
        """Return who plays from ``into`` on or, with ``until``, up to it."""
        placed = standing.placed
        free = placed.section.free
        if free is not None:
            return cls(_by_player(song, placed, dict.fromkeys(free.layers, "")))
        parts = {part.layer.name: part for part in placed.parts}
        names = (
            turner.name
            for turner in standing.turners
            if (turner.start < into if until else turner.start <= into)
            and (turner.until is None or (into <= turner.until if until else into < turner.until))
        )
        turning = {name: _turns_in(song, placed, parts[name], into, until=until) for name in names}
        return cls(_by_player(song, placed, turning))

    def others(self, player: str) -> tuple[str, ...]:
        """Name who plays beside ``player``."""
        return tuple(name for name in self.plays if name != player)

    def is_alone(self, player: str) -> bool:
        """Tell whether ``player`` plays and nobody else does."""
        return player in self.plays and len(self.plays) == 1


def as_it_begins(song: Song, index: int | None) -> Ensemble:
    """Return who plays as section ``index`` begins; nobody where it is None, after the End."""
    return Ensemble({}) if index is None else Ensemble.at(song, Standing(song, index), _NOTHING)


def what_changes(song: Song, player: str, before: Ensemble, after: Ensemble) -> Iterator[str]:
    """Say what changes for ``player``: in, tacet, alone, with whom after that, other layers."""
    was, now = before.plays.get(player, {}), after.plays.get(player, {})
    if not now:
        if was:
            yield "tacet"
        return
    if not was:
        yield "in"
    if after.is_alone(player):
        if not before.is_alone(player):
            yield "alone"
    elif not was or before.is_alone(player):
        yield _company(song, player, after)
    if len(song.plan.players[player]) > 1 and set(was) != set(now):
        yield listed(tuple(now))


def new_cycles(player: str, before: Ensemble, after: Ensemble) -> Iterator[str]:
    """Say which layers ``player`` goes on with in another cycle."""
    was = before.plays.get(player, {})
    for name, cycle in after.plays.get(player, {}).items():
        if was.get(name, cycle) not in (cycle, ""):
            yield f"{name} in turns of {cycle}"


def listed(names: tuple[str, ...]) -> str:
    """Write names in a row: ``bells, fives and steps``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _company(song: Song, player: str, after: Ensemble) -> str:
    others = after.others(player)
    sounding = song.sounding()
    ever = [who for who, own in song.plan.players.items() if any(sounding[name] for name in own)]
    if set(ever) == set(after.plays):
        return "with everybody"
    return f"with {listed(others)}" if len(others) <= _MOST_NAMED else f"with {len(others)} others"


def _turns_in(song: Song, placed: PlacedSection, part: Part, into: Length, *, until: bool) -> str:
    """Say what ``part`` turns in there: its cycle, or that of the stage of its tightening."""
    words = _cycle_in_words(song.plan.given(placed.section, part.layer.name))
    if part.tightened is None:
        return words
    begins = part.tightens_at - placed.start
    for cycle, stage in zip(written(part.tightened.asked.cycles), part.tightened.stages, strict=True):
        at = begins + stage.start
        if at < into or (at == into and not until):
            words = cycle
    return words


def _cycle_in_words(given: LayerPlan) -> str:
    cycle = given.cycle
    notes = str(cycle) if isinstance(cycle, Bars) else written((cycle,))[0]
    if given.pulses:
        notes = f"{given.pulses} over {notes}"
    elif given.groups:
        notes = f"{notes} as {'+'.join(map(str, given.groups))}"
    return notes if given.rate.value == 1 else f"{notes} at {given.rate} of the speed"


def _by_player(song: Song, placed: PlacedSection, turning: Mapping[str, str]) -> dict[str, dict[str, str]]:
    plays: dict[str, dict[str, str]] = {}
    for name, cycle in turning.items():
        plays.setdefault(song.plan.given(placed.section, name).player or name, {})[name] = cycle
    return plays
