"""Every reading in one table: its rule in a sentence, its limit with the reason, and its source.

A limit may grow with the song: ``short`` holds for songs of three minutes and less,
``long`` for twelve minutes and more, and it goes evenly from one to the other between.
All of it is what experienced writers do and how listeners were found to hear; none of
it is law, and a plan changes any limit with ``accept``.

Sources, as far as they were read: abstracts only.  Huron 1989: D. Huron, Voice
denumerability in polyphonic music of homogeneous timbres, Music Perception 6(4),
361-382.  Chmiel and Schubert 2017: A. Chmiel and E. Schubert, Back to the inverted-U
for music preference: a review of the literature, Psychology of Music 45(6), 886-909
(volume and pages from memory).  This file knows nothing about songs or plans.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from bridge.plan.accepting import READINGS, Measure

__all__ = [
    "BAND",
    "CLEARLY_HIGHER",
    "HIGH",
    "LONG_LOW_SECONDS",
    "LONG_PIECE_SECONDS",
    "LOW",
    "MIDDLE",
    "RULES",
    "SIGN",
    "STEP",
    "VOICES",
    "WHOLE_SONG_SECONDS",
    "Rule",
]

PRACTICE = "common practice, no source"
_SHORT_SECONDS, _LONG_SECONDS = Fraction(180), Fraction(720)

LOW = Fraction(50)
"""Points of energy: a section that never goes above the middle is low."""
HIGH = Fraction(75)
"""Points of energy: what reaches the upper quarter is heard as a payoff, said or not."""
MIDDLE = Fraction(50)
BAND = Fraction(10)
"""Points of energy: what stays within so many is heard as one level."""
SIGN = Fraction(5)
"""Points of energy: a rise of so many across a section is felt as one."""
STEP = Fraction(15)
"""Points of energy: a jump of so many at a barline is heard as something new."""
CLEARLY_HIGHER = Fraction(5)
LONG_LOW_SECONDS = Fraction(60)
"""A low passage of a minute has promised something."""
VOICES = 3
"""Huron 1989: beyond three voices at once even musicians lose count of them."""
LONG_PIECE_SECONDS = Fraction(300)
"""From five minutes on a piece is remembered by what comes back in it."""
WHOLE_SONG_SECONDS = Fraction(120)
"""What is shorter is a fragment: readings on the whole song do not speak of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One reading: what writers do, from where it becomes worth saying, and why there."""

    name: str
    rule: str
    at_least: bool
    """Whether the limit is the least there should be; else the most."""
    short: Fraction
    long: Fraction
    why: str
    """Why the limit lies there."""
    source: str = PRACTICE
    otherwise: str | None = None
    """What helps where no single change of the plan does."""

    @property
    def measure(self) -> Measure:
        """The unit of its limit."""
        return READINGS[self.name]

    def limit(self, song_seconds: Fraction) -> Fraction:
        """Return its limit for a song of that length."""
        share = (song_seconds - _SHORT_SECONDS) / (_LONG_SECONDS - _SHORT_SECONDS)
        return self.short + (self.long - self.short) * max(Fraction(0), min(Fraction(1), share))

    def holds(self, found: Fraction, limit: Fraction) -> bool:
        """Tell whether ``found`` is within ``limit``."""
        return found >= limit if self.at_least else found <= limit


def _rule(
    name: str, rule: str, limit: str, why: str, source: str = PRACTICE, *, otherwise: str | None = None
) -> Rule:
    """Make a rule from a limit written ``least 10..70`` or ``most 160``."""
    side, _, span = limit.partition(" ")
    short, _, long = span.partition("..")
    return Rule(
        name=name,
        rule=rule,
        at_least=side == "least",
        short=Fraction(short),
        long=Fraction(long or short),
        why=why,
        source=source,
        otherwise=otherwise,
    )


_REVIEW = "Chmiel and Schubert 2017, a review of 57 studies; the limit is common practice, no source"

RULES: Mapping[str, Rule] = {
    rule.name: rule
    for rule in (
        _rule(
            "narrow range",
            "The longer a piece, the wider the range of energy that carries it.",
            "least 10..70",
            "three minutes may stay narrow; twelve want most of the way from quiet to loud",
        ),
        _rule(
            "one level",
            "A long stretch at one level of energy stops being felt, high or low.",
            "most 90..180",
            "a verse and a chorus; in a long song a payoff may stand for two and a half minutes",
        ),
        _rule(
            "undecided end",
            "An end left clearly high or clearly low sounds meant; one in between sounds unfinished.",
            "least 15",
            "so far from the middle, 50, either way",
        ),
        _rule(
            "payoff out of reach",
            "A long low passage makes a promise; it is kept while listeners still remember it.",
            "most 120..180",
            "from the end of the low passage to the payoff: room for one long build",
        ),
        _rule(
            "no sign",
            "A low passage holds attention when something in it hints at what is coming:"
            " a part entering, a cycle tightening, energy or tempo rising, a cue that says so.",
            "most 30",
            "half a minute may be simply quiet",
        ),
        _rule(
            "short payoff",
            "After a long build, a payoff of about the same length is felt to be worth the wait;"
            " one short chorus is not.",
            "least 3/4",
            "times as long as all that builds up to it: 'about the same'",
        ),
        _rule(
            "low payoff",
            "A payoff stands higher than everything since the last one; else it is not heard as one.",
            f"least {CLEARLY_HIGHER}",
            "points of energy above the highest since: enough to be heard",
        ),
        _rule(
            "nobody alone",
            "Long pieces have passages for one instrument: they leave room below all the rest.",
            "least 0..30",
            "nothing is missing in three minutes; half a minute is enough in twelve",
        ),
        _rule(
            "always tutti",
            "Where everybody plays nearly all the time, no entry is an event.",
            "most 7/10",
            "of the time in which anybody sounds",
        ),
        _rule(
            "too busy",
            "More than three unlike cycles at once are heard as a texture, not as parts to follow:"
            " in passing a colour, tiring for long.",
            "most 60..180",
            "a minute in a short song; in a long one as long as its payoffs last",
            "Huron 1989: beyond three voices listeners lose count; how long is common practice, no source",
        ),
        _rule(
            "nothing new",
            "Listeners like a balance of what they know and what is new:"
            " too many sections in a row without a new pairing of parts tip it.",
            "most 2",
            "sections in a row: the third finds nobody waiting",
            _REVIEW,
            otherwise="these parts have been paired in every way, or nearly: a part of its own would be new",
        ),
        _rule(
            "nothing returns",
            "Listeners like a balance of what they know and what is new:"
            " in a long piece some combination of parts comes back.",
            "least 1",
            "section in which parts that were heard together are heard together again",
            _REVIEW,
        ),
        _rule(
            "no change",
            "However good a texture is, after some minutes something has to change:"
            " who plays, the meter, the tempo, a step in energy.",
            "most 160",
            "two and a half minutes is what a long build or a long payoff lasts",
        ),
        _rule(
            "never apart",
            "A landing means something once the parts have been heard apart for a while.",
            "least 12",
            "seconds between full meetings in the middle: longer than a four-bar phrase takes",
            otherwise="see 'pulsebridge find' and 'pulsebridge lengths' for cycles that meet later",
        ),
        _rule(
            "landing given away",
            "A landing is earned when it has not been heard many times on the way.",
            "most 3",
            "earlier full meetings: what has come back three times is expected, not awaited",
            otherwise="see 'pulsebridge find' for cycles that meet first at the landing",
        ),
        _rule(
            "change away from home",
            "A new meter or tempo is taken most surely where the parts are home.",
            "most 0",
            "parts cut in the middle of a turn",
        ),
    )
}
"""Every reading by name, in the order in which they are told."""
