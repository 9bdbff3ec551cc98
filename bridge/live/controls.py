"""Controls as they come in, from the wire, a foot or a key: done, or refused and told of.

This file decides nothing: what a control means is the conductor's.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from bridge.errors import UsageError
from bridge.live.feet import Feet, Foot, Press
from bridge.live.orders import Orders
from bridge.osc.listener import Heard
from bridge.show import Control

__all__ = ["Bridge", "Controls"]

_MOST_TOLD_OF = 64
_AT_ONCE, _A_SECOND = 16, 8
"""Controls from the wire that are done however close together, and then so many a second."""


class Bridge(Protocol):
    """What is asked of a running bridge here."""

    def now(self) -> float:
        """Return the seconds of the steady clock."""
        ...

    def control(self, control: Control, /) -> object:
        """Do it; UsageError where it cannot be done, which has been told."""
        ...

    def tell(self, what: str, text: str, **data: Any) -> None:
        """Tell everybody."""
        ...


class Controls:
    """Takes what comes in for ``bridge``; ``warn`` gets a sentence for people about what was refused."""

    def __init__(self, bridge: Bridge, *, token: str, feet: Feet, warn: Callable[[str], None]) -> None:
        self.orders = Orders(token)
        self.too_many = 0
        """Controls from the wire that came faster than anybody presses, and did nothing."""
        self._budget, self._budget_at = float(_AT_ONCE), bridge.now()
        self._bridge = bridge
        self._feet = feet
        self._warn = warn
        self._told_of: set[str] = set()

    def ordered(self, heard: Heard) -> None:
        """Take a message from the wire; a refusal is said once for each machine, and counted after that."""
        if heard.message is None:
            return
        try:
            control = self.orders.read(heard.message, heard.sender[0])
        except UsageError as error:
            self._refuse(error, heard.sender[0])
            return
        if control is not None and self._is_in_time():
            self._do(control)

    def stepped_on(self, message: bytes) -> None:
        """Take a MIDI message: it may be a foot's."""
        self._stepped(*self._feet.midi(self._bridge.now(), message))

    def pressed(self, press: Press) -> None:
        """Take a key."""
        self._stepped(*self._feet.pressed(self._bridge.now(), press))

    def _stepped(self, control: Control | None, learnt: Foot | None) -> None:
        if learnt is not None:
            self._bridge.tell("foot", f"learnt: --foot '{learnt}'", foot=str(learnt))
        self._do(control)

    def _do(self, control: Control | None) -> None:
        if control is None:
            return
        try:
            self._bridge.control(control)
        except UsageError:
            return  # the conductor has told it

    def _is_in_time(self) -> bool:
        """Whether a control is still within what people press: a flood must not hold up the beats."""
        at = self._bridge.now()
        grown = self._budget + (at - self._budget_at) * _A_SECOND
        self._budget, self._budget_at = min(grown, float(_AT_ONCE)), at
        if self._budget >= 1:
            self._budget -= 1
            return True
        if not self.too_many:
            self._warn(f"controls come in faster than {_A_SECOND} a second: those beyond do nothing")
        self.too_many += 1
        return False

    def _refuse(self, error: UsageError, sender: str) -> None:
        if sender not in self._told_of and len(self._told_of) < _MOST_TOLD_OF:
            self._told_of.add(sender)
            self._warn(error.message)
