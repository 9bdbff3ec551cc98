"""A free passage whose length is not held to: as one of any number of tenths of a second.

As long as its length holds it is a fixed number of bars like another section's.  This file
knows nothing about why it should give way.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from bridge.exact import Meters, Tempo
from bridge.plan.model import Section

__all__ = ["TENTHS", "in_tenths"]

TENTHS = 10
"""Of a second: the steps in which it then grows and shrinks."""
_METERS = Meters.parse("1/4")
_TEMPO = Tempo.constant(Fraction(60 * TENTHS))


def in_tenths(section: Section) -> Section:
    """Return the section with bars that last a tenth of a second, and as many of them as may fit."""
    return replace(section, free=None, bars=None, settled_bars=None, meters=_METERS, tempo=_TEMPO)
