"""All readings of one song, in the order of the table of rules.

A plan's own threshold for the whole song is taken where it is the stricter; a looser one
accepts what is found, so that it is still told.  This file knows nothing about remedies.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from bridge.form.finding import Finding, Look
from bridge.form.forces import always_tutti, nobody_alone, too_busy
from bridge.form.landings import change_away_from_home, landing_given_away, never_apart
from bridge.form.levels import narrow_range, one_level, undecided_end
from bridge.form.rules import RULES, Rule
from bridge.form.score import Score
from bridge.form.variety import no_change, nothing_new, nothing_returns
from bridge.form.waiting import low_payoff, no_sign, payoff_out_of_reach, short_payoff

__all__ = ["findings", "look"]

_LOOKS: Mapping[str, Callable[[Score, Fraction], Look]] = {
    "narrow range": narrow_range,
    "one level": one_level,
    "undecided end": undecided_end,
    "payoff out of reach": payoff_out_of_reach,
    "no sign": no_sign,
    "short payoff": short_payoff,
    "low payoff": low_payoff,
    "nobody alone": nobody_alone,
    "always tutti": always_tutti,
    "too busy": too_busy,
    "nothing new": nothing_new,
    "nothing returns": nothing_returns,
    "no change": no_change,
    "never apart": never_apart,
    "landing given away": landing_given_away,
    "change away from home": change_away_from_home,
}


def look(score: Score) -> list[Look]:
    """Return what every reading finds in a song."""
    return [_LOOKS[name](score, _limit(score, rule)) for name, rule in RULES.items()]


def findings(score: Score) -> list[Finding]:
    """Return all that is found in a song, in the order of the rules."""
    return [finding for one in look(score) for finding in one.findings]


def _limit(score: Score, rule: Rule) -> Fraction:
    usual = rule.limit(score.seconds)
    own = [
        accept.threshold
        for accept in score.plan.accept
        if accept.reading == rule.name and accept.threshold is not None
    ]
    return (max if rule.at_least else min)(usual, *own) if own else usual
