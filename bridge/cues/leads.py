"""How long before its target a cue is sent: in bars, and never less than some seconds.

'In 1 bar' said 1.3 seconds ahead is too late to act on.  So a cue goes out on the barline
that its bars ask for or, where that is nearer than the least seconds at the plan's tempo,
on the last counted beat that is not.  Nothing goes out before the section begins: what
should have gone out earlier goes out then.  This file knows nothing about what is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.cues.axis import Axis
from bridge.exact import Length

__all__ = ["Leads"]

_NOTHING = Length(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Leads:
    """The lead times of cues: in bars (1 or more), and the least in seconds (0 or more)."""

    bars: tuple[int, ...] = (8, 4, 2, 1)
    """Before the next section: one cue each, where the section is that long."""
    once: int = 4
    """Before what is said once: a player in or tacet, a tightening."""
    together: int = 3
    """Before a meeting of all, or a landing."""
    apart: int = 8
    """A meeting nearer than this after the one before, or the section's start, is not told of."""
    least_seconds: Fraction = Fraction(2)

    def __post_init__(self) -> None:
        if min((*self.bars, self.once, self.together, self.apart)) < 1 or self.least_seconds < 0:
            raise ValueError(f"a cue leads by 1 bar or more and by 0 seconds or more: {self}")

    def row(self, axis: Axis, target: Length, *, since: Length = _NOTHING) -> tuple[Length, ...]:
        """Return where a row of cues for ``target`` goes out, the first first; none before ``since``.

        One for each of the bars that there is room for, and one at ``since`` where there is
        room for none; each place once.
        """
        places = {self._ahead(axis, target, bars) for bars in self.bars}
        fitting = sorted((at for at in places if at >= since), key=lambda at: at.whole_notes)
        return tuple(fitting) or ((since,) if since < target else ())

    def one(self, axis: Axis, target: Length, bars: int, *, since: Length = _NOTHING) -> Length:
        """Return where a cue ``bars`` before ``target`` goes out: at ``since`` at the earliest."""
        return max(since, self._ahead(axis, target, bars), key=lambda at: at.whole_notes)

    def _ahead(self, axis: Axis, target: Length, bars: int) -> Length:
        barline = axis.bar(axis.bar_at(target).number - bars).start
        if axis.lasts(barline, target, self.least_seconds):
            return barline
        at = self._beat_at_or_before(axis, axis.at(axis.seconds(target) - self.least_seconds))
        # In a ramp the way back from seconds is rounded.
        while not axis.lasts(at, target, self.least_seconds):
            at = self._beat_before(axis, at)
        return at

    def _beat_at_or_before(self, axis: Axis, into: Length) -> Length:
        return [at for at, _ in axis.bar_at(into).beats() if at <= into][-1]

    def _beat_before(self, axis: Axis, into: Length) -> Length:
        bar = axis.bar_at(into)
        if bar.start == into:
            bar = axis.bar(bar.number - 1)
        return [at for at, _ in bar.beats() if at < into][-1]
