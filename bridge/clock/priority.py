"""Run before other programs, where the system lets us: the lowest real-time priority.

On Linux a program with a real-time priority (sched(7)) runs as soon as it is woken, however
busy the machine is; musicians' systems allow it to the people who play.  The lowest is
asked for, since we need a few per cent of a core, and the programs that we start do not
inherit it.  Where the system does not let us, nothing is changed.  This file knows nothing
about what is run.
"""

from __future__ import annotations

import os
import sys
from types import TracebackType
from typing import Self

__all__ = ["FirstInLine"]


class FirstInLine:
    """Ask for it while a ``with`` block runs; :attr:`granted` tells whether we got it."""

    def __init__(self) -> None:
        self.granted = False

    def __enter__(self) -> Self:
        self.granted = _ask()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.granted:
            _give_back()
            self.granted = False


if sys.platform == "linux":

    def _ask() -> bool:
        try:
            if os.sched_getscheduler(0) != os.SCHED_OTHER:
                return False  # whoever started us has chosen already
            policy = os.SCHED_RR | os.SCHED_RESET_ON_FORK
            os.sched_setscheduler(0, policy, os.sched_param(os.sched_get_priority_min(os.SCHED_RR)))
        except OSError:
            return False
        return True

    def _give_back() -> None:
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))

else:

    def _ask() -> bool:
        return False

    def _give_back() -> None:
        pass
