"""OSC over UDP: bytes to messages and back, and one socket. Thin."""

from bridge.osc.codec import UnreadableError, decode, encode
from bridge.osc.port import WANTED_BUFFER, Arrived, Counts, Port, resolve

__all__ = ["WANTED_BUFFER", "Arrived", "Counts", "Port", "UnreadableError", "decode", "encode", "resolve"]
