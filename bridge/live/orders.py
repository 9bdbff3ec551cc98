"""What people ask over OSC: ``/pulsebridge/hold`` and its like, as controls, or refused.

From anywhere but this machine a message ends with the token, compared in constant time.
A button that sends 1 when it is pressed and 0 when it is let go is taken as a press.
Addresses are taken as they stand: a pattern would press several at once.  This file knows
nothing about sockets.
"""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address

from bridge.errors import UsageError
from bridge.hostmap import Message
from bridge.show import Control, control

__all__ = ["Orders", "is_loopback"]

_HEAD = "/pulsebridge/"
_BUTTONS = "ifdhTF"


@dataclass(slots=True)
class Orders:
    """Reads messages as controls; ``token`` is what strangers have to know."""

    token: str
    taken: int = 0
    strangers: int = 0
    """Refused: from another machine, without the token."""
    stranger: str | None = None
    """The last such machine."""
    wrong: int = 0
    """Refused: no control, or with the wrong words."""

    def read(self, message: Message, sender: str) -> Control | None:
        """Return the control; None where a button was let go.  UsageError, and counted, where refused."""
        words, types = list(message.args), message.types
        if types[-1:] == "s" and self._is_token(str(words[-1])):
            words, types = words[:-1], types[:-1]
        elif not is_loopback(sender):
            self.strangers += 1
            self.stranger = sender
            raise UsageError(
                f"{message.address} from {sender} did not end with the token and was refused",
                hint="From another machine every message ends with the token as s.",
            )
        try:
            found = _control(message.address, types, words)
        except UsageError:
            self.wrong += 1
            raise
        self.taken += found is not None
        return found

    def _is_token(self, word: str) -> bool:
        return hmac.compare_digest(word.encode("utf-8", "replace"), self.token.encode())


def is_loopback(sender: str) -> bool:
    """Tell whether an IP address is this machine's own."""
    try:
        address = ip_address(sender.partition("%")[0])
    except ValueError:
        return False
    if isinstance(address, IPv6Address) and address.ipv4_mapped is not None:
        address = address.ipv4_mapped
    return address.is_loopback


def _control(address: str, types: str, words: list[object]) -> Control | None:
    if not address.startswith(_HEAD):
        raise UsageError(f"{address[:80]} is no control", hint=f"They begin with {_HEAD}.")
    do = address.removeprefix(_HEAD)
    if len(types) == 1 and types in _BUTTONS:
        pressed = {"T": True, "F": False}.get(types, bool(words[0]))
        return control(do) if pressed else None
    if types.strip("s"):
        raise UsageError(f"{address[:80]} takes words (s), not {types!r}")
    if do == "release" and words == [""]:
        return control(do)  # a button that always sends a word, and has none to send
    return control(do, *map(str, words))
