"""What the stage page's server takes and refuses, and how often it had to.

This file knows nothing about sockets.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

__all__ = ["Limits", "Refused"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Bounds on what clients may take; seconds, bytes and counts, all more than 0."""

    connections: int = 256
    """Open at a time, from everywhere."""
    per_address: int = 48
    """Open at a time from one address; a browser opens up to six for a page."""
    head_bytes: int = 8192
    """Of a request line and its headers."""
    body_bytes: int = 1024
    """Of what is sent to the control."""
    request_seconds: float = 10.0
    """Until a new connection has asked for something."""
    patience_seconds: float = 5.0
    """For a client that has stopped reading."""
    buffer_bytes: int = 32768
    """Held for one client before it counts as one that does not read."""

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            if getattr(self, name) <= 0:
                raise ValueError(f"the limit {name} is more than 0, not {getattr(self, name)}")


@dataclass(slots=True)
class Refused:
    """How often something was refused, by its reason, and how many clients were dropped as too slow."""

    reasons: Counter[str] = field(default_factory=Counter)
    slow: int = 0

    def count(self, reason: str) -> None:
        """Count one more refusal for ``reason``: host, origin, token, size, connections, request ..."""
        self.reasons[reason] += 1

    def as_record(self) -> dict[str, int]:
        """Return the counts as JSON can hold them, the slow clients among them."""
        return {**dict(sorted(self.reasons.items())), "slow": self.slow}
