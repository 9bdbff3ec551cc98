"""The stage page: each player sees what comes, on any phone in the room's own network."""

from bridge.stage.limits import Limits, Refused
from bridge.stage.stage import Stage

__all__ = ["Limits", "Refused", "Stage"]
