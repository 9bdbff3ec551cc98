"""OSC over UDP: bytes to messages and back, and one socket. Thin.

That socket on an event loop is in :mod:`bridge.osc.listener`, apart, since asyncio is
slow to import.
"""

from bridge.osc.allowed import Allowed
from bridge.osc.codec import UnreadableError, decode, encode
from bridge.osc.port import WANTED_BUFFER, Arrived, Counts, Port, resolve

__all__ = [
    "WANTED_BUFFER",
    "Allowed",
    "Arrived",
    "Counts",
    "Port",
    "UnreadableError",
    "decode",
    "encode",
    "resolve",
]
