"""From a finding to a change that clears it: ideas tried one after another, on the planner.

A remedy is told only when the changed plan was solved anew, every section comes home as
asked, this finding is gone, and no other has come.  Where no idea does all that, none is
told.  This file knows nothing about rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import chain, islice

from bridge.form import ideas_energy as by_energy
from bridge.form import ideas_layers as by_layers
from bridge.form import ideas_length as by_length
from bridge.form.desk import Desk
from bridge.form.edits import Bar, Edit
from bridge.form.finding import Finding, Remedy
from bridge.form.words import listed

__all__ = ["remedy"]

_MOST_IDEAS = 60
"""Ideas that are tried for one finding."""

Ideas = Callable[[Desk, Finding], Iterator[tuple[Edit, ...]]]

_IDEAS: Mapping[str, tuple[Ideas, ...]] = {
    "narrow range": (by_energy.wider_range,),
    "one level": (by_energy.another_level, by_length.shorter),
    "undecided end": (by_energy.clear_end,),
    "payoff out of reach": (by_length.sooner, by_energy.payoff_near),
    "no sign": (by_energy.hint, by_layers.enter_before, by_layers.enter_within),
    "short payoff": (by_length.longer_payoff,),
    "low payoff": (by_energy.higher_payoff,),
    "nobody alone": (by_layers.leave_one_alone, by_length.away_less),
    "always tutti": (by_layers.rest_some,),
    "too busy": (by_layers.fewer_cycles, by_length.shorter),
    "nothing new": (by_layers.new_pairing,),
    "nothing returns": (by_layers.bring_back,),
    "no change": (by_layers.enter_within, by_energy.step, by_layers.other_players, by_length.shorter),
    "never apart": (by_layers.unlike_layer, by_layers.earned_landing, by_layers.other_cycle),
    "landing given away": (
        by_layers.unlike_layer,
        by_layers.earned_landing,
        by_length.fewer_meetings,
        by_layers.other_cycle,
    ),
    "change away from home": (by_length.home_at_the_change,),
}


def remedy(desk: Desk, finding: Finding) -> Remedy | None:
    """Return the first idea that clears ``finding`` and adds nothing; None where none does."""
    ideas = chain.from_iterable(idea(desk, finding) for idea in _IDEAS[finding.rule.name])
    for edits in islice(ideas, _MOST_IDEAS):
        cured = desk.cures(finding, edits)
        if cured is not None:
            plan, bars = cured
            return Remedy(
                says=_says(desk, edits, bars),
                change=tuple(edit.record(desk.plan) for edit in edits),
                plan=plan,
                bars=bars,
            )
        if desk.is_spent:
            return None
    return None


def _says(desk: Desk, edits: tuple[Edit, ...], bars: tuple[int, ...]) -> str:
    said = "; ".join(edit.says(desk.plan) for edit in edits)
    told = {edit.section for edit in edits if isinstance(edit, Bar)}
    moved = [
        f"{desk.score.name(index)} then has {now} bars (now {before})"
        for index, (before, now) in enumerate(zip(desk.bars, bars, strict=True))
        if now != before and index not in told
    ]
    if moved:
        return f"{said}. Solved again, every section comes home: {listed(moved)}."
    if bars == desk.bars:
        return f"{said}. Every length stays, and every section comes home."
    return f"{said}. Solved again: the other lengths stay, and every section comes home."
