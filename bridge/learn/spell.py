"""The spells of an interview: stretches of time in which the host was left as it was.

Between 'done' and the next 'asked' nothing changes but what runs by itself; between
'asked' and 'done' the user acts.  This file does not know what the host said.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import inf, nextafter

from bridge.errors import PlanError
from bridge.exact import Meter, parse_number, parse_whole
from bridge.learn.mark import Happening, Mark, What

__all__ = ["Round", "Spell", "spells_of"]

_SETTLE = 0.25
"""Seconds after 'done' in which what was on its way may still arrive."""
_LATE_SHARE = 0.35
"""How much of a spell a late start may take."""


@dataclass(frozen=True, slots=True)
class Round:
    """Under which tempo and meter something happened, as the user told them; None: not told."""

    bpm: Fraction | None = None
    meter: Meter | None = None

    @property
    def bar_quarters(self) -> Fraction:
        """Quarters in a bar; only where the meter is known."""
        return (self.meter or Meter.parse("4/4")).length.quarters

    @property
    def known(self) -> bool:
        """Whether both tempo and meter were told."""
        return self.bpm is not None and self.meter is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """From ``asked`` on the user acted, from ``done`` to ``end`` the host was left alone."""

    step: str
    detail: str
    asked: float
    done: float
    end: float
    playing: bool
    bar: int | None
    """Where the host stood when the spell began, where that is known."""
    round: Round

    @property
    def calm(self) -> float:
        """From when on whatever the user or the host was late with is over: count-ins, late packets."""
        return self.done + max(_SETTLE, _LATE_SHARE * (self.end - self.done))


@dataclass(frozen=True, slots=True)
class _State:
    playing: bool = False
    sure: bool = False
    bar: int | None = None
    round: Round = Round()


def spells_of(happenings: Iterable[Happening]) -> tuple[Spell, ...]:
    """Return the spells in order; PlanError for a mark that says nothing a step can say."""
    spells: list[Spell] = []
    state, asked, last = _State(), 0.0, 0.0
    for one in happenings:
        last = max(last, one.at)
        if not isinstance(one.said, Mark):
            continue
        if one.said.what is What.ASKED:
            asked = one.at
            _close(spells, one.at)
        if one.said.what is What.SENT and one.said.step != "list":
            _close(spells, one.at)
            state = replace(state, sure=False)
        if one.said.what in (What.DONE, What.TOLD):
            _close(spells, one.at)
            state = _after(state, one.said)
            if state.sure:
                spells.append(_begin(one, asked, state))
    _close(spells, nextafter(last, inf))
    return tuple(spell for spell in spells if spell.end > spell.done or not spell.playing)


def _begin(one: Happening, asked: float, state: _State) -> Spell:
    mark = one.said
    assert isinstance(mark, Mark)  # noqa: S101  the caller asked
    return Spell(
        step=mark.step,
        detail=mark.detail,
        asked=asked,
        done=one.at,
        end=inf,
        playing=state.playing,
        bar=state.bar,
        round=state.round,
    )


def _close(spells: list[Spell], at: float) -> None:
    if spells and spells[-1].end == inf:
        spells[-1] = replace(spells[-1], end=at)


def _after(state: _State, mark: Mark) -> _State:
    try:
        match mark.step:
            case "play":
                return replace(state, playing=True, sure=True)
            case "stop":
                return replace(state, playing=False, sure=True, bar=None)
            case "bar":
                return replace(state, bar=parse_whole(mark.detail, what="the bar", least=1))
            case "tempo":
                bpm = parse_number(mark.detail, what="the tempo")
                return replace(state, bar=None, round=replace(state.round, bpm=bpm or None))
            case "meter":
                meter = Meter.parse(mark.detail)
                return replace(state, bar=None, round=replace(state.round, meter=meter))
    except PlanError as error:
        raise PlanError(f"a step of the interview cannot be read: {error.message}", hint=error.hint) from None
    return state
