"""A free passage whose length is not held to: as one of any number of tenths of a second.

As long as its length holds it is a fixed number of bars like another section's.  This file
knows nothing about why it should give way.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from bridge.exact import Meters, Seconds, Tempo
from bridge.plan.model import Section

__all__ = ["TENTHS", "in_tenths"]

TENTHS = 10
"""Of a second: the steps in which it then grows and shrinks."""
_METERS = Meters.parse("1/4")
_TEMPO = Tempo.constant(Fraction(60 * TENTHS))


def in_tenths(section: Section) -> Section:
    """Return a free passage with bars that last a tenth of a second, as many of them as may fit.

    What was its length is its wish: without one the search has nowhere to begin.
    """
    if section.free is None:
        raise ValueError(f"{section.name!r} is no free passage")
    about = Seconds(section.free.about)
    return replace(
        section, free=None, bars=None, settled_bars=None, about=about, meters=_METERS, tempo=_TEMPO
    )
