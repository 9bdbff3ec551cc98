"""What a MIDI port tells people about itself.  This file knows no driver."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PortNews"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PortNews:
    """A port has gone, or has come back and is open again."""

    name: str
    there: bool

    def __str__(self) -> str:
        return f"the MIDI port {self.name!r} is {'back' if self.there else 'gone; waiting for it'}"
