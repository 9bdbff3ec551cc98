"""A place at which a held section can be left, and who is home there.

This file knows nothing about how it is found or shown.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.exact import Length

__all__ = ["Rung"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One rung of the ladder out of a held section."""

    into: Length
    """From the section's start; a barline."""
    bar: int
    """The bars of the section that have been played when it is left there."""
    home: tuple[str, ...]
    """The layers that stand there as they would have at the planned end."""
    others: tuple[str, ...] = ()
    """Those that do not."""

    @property
    def is_whole(self) -> bool:
        """Whether everybody stands as planned."""
        return not self.others
