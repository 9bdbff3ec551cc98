"""One pass through a section, as far as cues need to know it: how it is left, and what follows.

This file knows nothing about what is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from bridge.cues.axis import Axis
from bridge.cues.distance import barlines_between, far
from bridge.cues.due import DueCue
from bridge.cues.leads import Leads
from bridge.cues.standing import Standing
from bridge.exact import Length
from bridge.song import END, PlacedSection, Song

__all__ = ["Sheet"]


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Section ``index`` of ``song``, left at ``leaves`` for section ``follows``.

    ``leaves`` is None while that is open, ``follows`` at the end of the song.
    """

    song: Song
    index: int
    leaves: Length | None
    follows: int | None
    leads: Leads = field(default_factory=Leads)

    @cached_property
    def axis(self) -> Axis:
        """Its bars, beats and seconds."""
        return Axis(self.song, self.index)

    @cached_property
    def standing(self) -> Standing:
        """Where its layers stand."""
        return Standing(self.song, self.index)

    @property
    def placed(self) -> PlacedSection:
        """The section where it stands in the song."""
        return self.song.sections[self.index]

    @property
    def is_free(self) -> bool:
        """Whether it has no bars to count."""
        return self.placed.section.free is not None

    @property
    def next_name(self) -> str:
        """What comes when it is left."""
        return END if self.follows is None else self.song.sections[self.follows].name

    def lies_in(self, into: Length) -> bool:
        """Tell whether it still lasts at ``into``, as far as is known."""
        return self.leaves is None or into < self.leaves

    def far(self, into: Length, target: Length) -> str:
        """Say how far it is from ``into`` to ``target``."""
        return far(self.axis, into, target)

    def cues(self, kind: str, *, into: Length, target: Length, texts: Mapping[str, str]) -> Iterator[DueCue]:
        """Make the cues that say ``texts`` at ``into``, one for each player; the empty one is everybody.

        What tells a cue from every other of its pass is what it promises, where, and to whom:
        one of the same kind for another target is another promise, and goes out again.
        """
        bars = barlines_between(self.axis, into, target)
        key = f"{kind}:{target}:{into}"
        for player, text in texts.items():
            yield DueCue(
                key=f"{key}:{player}",
                into=into,
                target=target,
                text=text,
                bars_until=bars,
                player=player,
            )
