"""The ways out of a held section: where who stands as at its planned end.

A layer stands at a barline as it would have stood at the planned end when whole turns lie
between the two; so the next section begins in the phase that was planned.  All of them
do so at every common multiple of their turns that is a barline.  Each rung offers
somebody whom no sooner rung brings home.  This file knows nothing about who holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from bridge.cues.axis import Axis
from bridge.cues.rung import Rung
from bridge.cues.standing import Standing
from bridge.cycles import Layer, meetings
from bridge.exact import Length
from bridge.song import Song

__all__ = ["Exits"]

_NOTHING = Length(0)
_MOST_TURNS = 6
"""With more different turns than this, only single layers, pairs and all of them are asked for."""


@dataclass(frozen=True)
class Exits:
    """Where section ``index`` of ``song`` can be left."""

    song: Song
    index: int

    @cached_property
    def turns(self) -> dict[str, Length]:
        """Each layer that matters at its end, with the length of its turn there.

        Those that sound up to its end; where it runs on, also the tacet ones whose time counts.
        """
        standing = Standing(self.song, self.index)
        found = {turner.name: turner.turn for turner in standing.turners if turner.until is None}
        section = standing.placed.section
        if section.runs_on:
            plan = self.song.plan
            run = next(run for run in plan.runs if section in run)
            counting = plan.counting(run)[run.index(section)]
            found |= {name: entry.layer.turn for name, entry in counting.items() if name not in found}
        return found

    def whole(self, since: Length) -> Rung:
        """Return the first rung at ``since`` or later at which everybody stands as planned."""
        return self._rung(self._next(self.turns.values(), since))

    def for_layer(self, name: str, since: Length) -> Rung:
        """Return the first rung at ``since`` or later at which ``name`` stands as planned, or KeyError."""
        return self._rung(self._next([self.turns[name]], since))

    def next_barline(self, since: Length) -> Rung:
        """Return the first barline at ``since`` or later, whoever is home."""
        return self._rung(self._next([], since))

    def ladder(self, since: Length) -> tuple[Rung, ...]:
        """Return the rungs at ``since`` or later, the soonest first; the last brings everybody home."""
        found = sorted({self._next(turns, since) for turns in self._choices()}, key=lambda at: at.whole_notes)
        rungs: list[Rung] = []
        for rung in map(self._rung, found):
            if rung.home and not any(set(rung.home) <= set(sooner.home) for sooner in rungs):
                rungs.append(rung)
            if rung.is_whole:
                break
        return tuple(rungs) or (self.next_barline(since),)

    @cached_property
    def loop(self) -> Length | None:
        """The shortest stretch before its end that can be played again with everybody in phase.

        None where it is longer than the section itself, from the last entry of a layer on.
        """
        standing = Standing(self.song, self.index)
        if any(turner.until is not None for turner in standing.turners):
            since = max(turner.until or turner.start for turner in standing.turners)
        else:
            since = max((turner.pieces[-1].start for turner in standing.turners), default=_NOTHING)
        every = self._next(self.turns.values(), self._axis.bar_at(self._end).end) - self._end
        meters = self._axis.placed.section.meters
        start = self._end - every
        while start >= since and meters.bars_in(start) is None:
            start -= every
        return self._end - start if start >= since else None

    def _choices(self) -> Iterator[Iterable[Length]]:
        different = sorted(set(self.turns.values()), key=lambda turn: turn.whole_notes)
        sizes: Sequence[int] = range(1, len(different) + 1)
        if len(different) > _MOST_TURNS:
            sizes = (1, 2, len(different))
        for size in sizes:
            yield from combinations(different, size)

    def _next(self, turns: Iterable[Length], since: Length) -> Length:
        """Return the first barline at ``since`` or later that is whole turns of each from the planned end."""
        common = _common(turns)
        if common is None:
            return self._axis.barline_at_or_after(since)
        at = self._end + common * -((self._end - since) // common)
        while self._axis.bar_at(at).start != at:
            at += common
        return at

    def _rung(self, into: Length) -> Rung:
        home = tuple(name for name, turn in self.turns.items() if not (into - self._end) % turn)
        return Rung(
            into=into,
            bar=self._axis.bar_at(into).number - 1,
            home=home,
            others=tuple(name for name in self.turns if name not in home),
        )

    @cached_property
    def _axis(self) -> Axis:
        return Axis(self.song, self.index)

    @property
    def _end(self) -> Length:
        return self._axis.length


def _common(turns: Iterable[Length]) -> Length | None:
    layers = [Layer(name="", cycle=turn) for turn in turns]
    found = meetings(layers) if layers else None
    return found.every if found else None
