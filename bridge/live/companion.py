"""What runs beside the conductor and goes by what it plays.

This file knows nothing about what that is.
"""

from __future__ import annotations

from typing import Protocol

from bridge.show import Conductor, Effect

__all__ = ["Companion"]


class Companion(Protocol):
    """Something that goes by what the conductor plays, such as the clock of a led show.

    ``at`` is the show's time; the effects that it returns are performed with the conductor's.
    """

    @property
    def wake_at(self) -> float | None:
        """When it is to be woken; None while nothing is due."""
        ...

    def wake(self, at: float) -> list[Effect]:
        """Return what is due."""
        ...

    def look(self, at: float, conductor: Conductor) -> list[Effect]:
        """See what the conductor has just decided."""
        ...

    def stop(self, at: float) -> list[Effect]:
        """End: the bridge does."""
        ...
