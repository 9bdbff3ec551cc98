"""Which notes sound, by what was sent, and the messages that end them: no note is left stuck.

MIDI 1.0: a note on of velocity 0 ends its note; controller 64 is the sustain pedal.  This
file knows no port.
"""

from __future__ import annotations

__all__ = ["Sounding"]

_NOTE_OFF, _NOTE_ON, _CONTROLLER = 0x80, 0x90, 0xB0
_SUSTAIN = 64


class Sounding:
    """Told each message that is sent, it gives those that end everything."""

    __slots__ = ("_notes", "_pedals")

    def __init__(self) -> None:
        self._notes: dict[tuple[int, int], None] = {}
        """Channel and note, in the order in which they began."""
        self._pedals: dict[int, None] = {}

    def sent(self, message: bytes) -> None:
        """Take note of one whole message."""
        if len(message) != 3:
            return
        kind, channel = message[0] & 0xF0, message[0] & 0x0F
        if kind == _NOTE_ON and message[2]:
            self._notes[channel, message[1]] = None
        elif kind in (_NOTE_OFF, _NOTE_ON):
            self._notes.pop((channel, message[1]), None)
        elif kind == _CONTROLLER and message[1] == _SUSTAIN:
            if message[2] >= 64:
                self._pedals[channel] = None
            else:
                self._pedals.pop(channel, None)

    def endings(self) -> list[bytes]:
        """Return the messages that end what sounds: pedals up, notes off."""
        pedals = [bytes((_CONTROLLER | channel, _SUSTAIN, 0)) for channel in self._pedals]
        return pedals + [bytes((_NOTE_OFF | channel, note, 0x40)) for channel, note in self._notes]
