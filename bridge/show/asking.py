"""What a control does to the pass that is played: where it is left, what comes then, what is said.

This file knows nothing about hosts, clocks or who asks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from bridge.cues import DueCue, Rung, release_cues
from bridge.errors import UsageError
from bridge.exact import Bars, Length, Place
from bridge.show.control import Control
from bridge.show.passing import Pass, Then
from bridge.song import END, Song, place_named

__all__ = ["Asked", "asked", "ladder_from", "ladder_in_words", "then_at"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The pass as it goes on, and what has to be said at once."""

    passed: Pass
    text: str
    data: Mapping[str, object] = field(default_factory=dict)
    cues: tuple[DueCue, ...] = ()
    changes_the_rest: bool = False
    """The song will not be as it was planned: the rest of it can be planned anew."""


def asked(passed: Pass, into: Length, control: Control) -> Asked:
    """Return what ``control`` does at ``into``; UsageError where it cannot be done, saying why."""
    match control.do:
        case "hold":
            return _hold(passed, into)
        case "release":
            return _release(passed, into, control.name)
        case "release_now":
            return _leave_at(passed, into, _next_way_out(passed, into), "release_now")
        case "skip":
            return _skip(passed)
        case "again":
            return _turned(passed, Then(section=passed.index), f"{passed.name} once more when it ends")
        case "locate":
            return _locate(passed, into, control.name or "")
    raise UsageError(f"{control.do!r} is not for a section that is played")


def ladder_from(passed: Pass, into: Length) -> tuple[Rung, ...]:
    """Return the ways out of a held section as they are at ``into``."""
    return passed.exits.ladder(_soonest_release(passed, into))


def ladder_in_words(passed: Pass, into: Length, ladder: tuple[Rung, ...]) -> str:
    """Write the ladder: ``in 4 bars: band; in 12: band, hand drum; in 108: all``."""
    rungs = []
    for number, rung in enumerate(ladder):
        bars = passed.axis.bars_until(into, rung.into)
        count = str(Bars(bars)) if number == 0 else str(bars)
        rungs.append(f"in {count}: {'all' if rung.is_whole else ', '.join(rung.home)}")
    return "; ".join(rungs)


def then_at(song: Song, place: Place) -> Then | None:
    """Return where the show goes on at ``place``; None at the song's end."""
    placed = song.section_at(place)
    return None if placed is None else Then(section=placed.section.index, into=place - placed.start)


def _hold(passed: Pass, into: Length) -> Asked:
    if passed.is_free:
        raise UsageError(f"{passed.name} has no bars to hold: it goes on until it is released")
    held = replace(passed, held=True, leaves=None)
    ladder = ladder_from(held, into)
    text = f"{passed.name} is held; a release would leave it {ladder_in_words(held, into, ladder)}"
    return Asked(passed=held, text=text, data={"ladder": _rungs(held, into, ladder)})


def _release(passed: Pass, into: Length, name: str | None) -> Asked:
    released = _released_to(passed)
    if not passed.held and (released is None or name is None):
        state = "is not held" if released is None else "is released already"
        raise UsageError(
            f"{passed.name} {state}",
            hint="'hold' keeps it going; 'release_now' leaves it at the next barline.",
        )
    rung = _rung_for(passed, name, _soonest_release(passed, into))
    if released is not None and rung.into >= released:
        raise UsageError(
            f"{passed.name} is released already, and ends no later than that",
            hint="'hold' keeps it going; then release it anew.",
        )
    return _leave_at(passed, into, rung, "release")


def _released_to(passed: Pass) -> Length | None:
    """Return where a section that was held ends, past its planned end; None where nothing is pending."""
    return passed.leaves if passed.leaves is not None and passed.leaves > passed.axis.length else None


def _rung_for(passed: Pass, name: str | None, since: Length) -> Rung:
    """Return the first rung that brings home a layer, a player's layers, or without a name everybody."""
    if name is None:
        return passed.exits.whole(since)
    layers = passed.exits.turns
    if name in layers:
        return passed.exits.for_layer(name, since)
    owned = [
        turner.name for turner in passed.standing.turners if turner.player == name and turner.name in layers
    ]
    if not owned:
        raise UsageError(
            f"nobody called {name[:80]!r} sounds at the end of {passed.name}",
            hint=f"There are {', '.join(layers)}." if layers else None,
        )
    return next(rung for rung in passed.exits.ladder(since) if set(owned) <= set(rung.home))


def _next_way_out(passed: Pass, into: Length) -> Rung:
    """Return the next barline; never one past that at which it is left anyhow, however near that is."""
    soonest = _soonest(passed, into)
    return passed.exits.next_barline(soonest if passed.leaves is None else min(soonest, passed.leaves))


def _leave_at(passed: Pass, into: Length, rung: Rung, what: str) -> Asked:
    leaving = replace(passed, held=False, leaves=rung.into)
    follows = None if leaving.then is None else leaving.then.section
    bars = passed.axis.bars_until(into, rung.into)
    text = f"{passed.name} ends in {Bars(bars)}, then {leaving.next_name}"
    if rung.others:
        text += f"; not home there: {', '.join(rung.others)}"
    return Asked(
        passed=leaving,
        text=text,
        data={"bars": bars, "home": list(rung.home), "not_home": list(rung.others), "by": what},
        cues=release_cues(passed.song, passed.index, now=into, leaves=rung.into, follows=follows),
        changes_the_rest=rung.into != passed.axis.length,
    )


def _skip(passed: Pass) -> Asked:
    if passed.then is None:
        raise UsageError(f"nothing comes after {passed.name} that could be left out")
    beyond = passed.then.section + 1
    then = Then(section=beyond) if beyond < len(passed.song.sections) else None
    return _turned(passed, then, f"{passed.next_name} is left out")


def _locate(passed: Pass, into: Length, name: str) -> Asked:
    place = place_named(passed.song, name)
    at = passed.exits.next_barline(_soonest(passed, into)).into
    going = replace(passed, held=False, leaves=at, then=then_at(passed.song, place))
    bars = passed.axis.bars_until(into, at)
    return Asked(passed=going, text=f"to {name} in {Bars(bars)}", data={"bars": bars}, changes_the_rest=True)


def _turned(passed: Pass, then: Then | None, text: str) -> Asked:
    turned = replace(passed, then=then)
    after = f"after {passed.name} comes {turned.next_name}"
    if turned.next_name != END:
        text = f"{text}: {after}"
    return Asked(passed=turned, text=text, data={"then": turned.next_name}, changes_the_rest=True)


def _soonest(passed: Pass, into: Length) -> Length:
    """Return the first place that a player can still be told of: a counted beat from now."""
    beat = passed.axis.bar_at(into).meter.counted[0]
    return into + beat


def _soonest_release(passed: Pass, into: Length) -> Length:
    """Return where a release may leave at the soonest: at its planned end, and not before a vamp's least."""
    return max(_soonest(passed, into), passed.axis.length)


def _rungs(passed: Pass, into: Length, ladder: tuple[Rung, ...]) -> list[dict[str, object]]:
    return [
        {
            "bars": passed.axis.bars_until(into, rung.into),
            "home": list(rung.home),
            "not_home": list(rung.others),
        }
        for rung in ladder
    ]
