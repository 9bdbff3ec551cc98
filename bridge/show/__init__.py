"""The conductor: a pure function from the state, an event and a time to a state and effects."""

from bridge.show.control import CONTROLS, Control, control
from bridge.show.effect import AskHost, Effect, Keep, Replan, SendMidi, SendOsc, Tell
from bridge.show.memory import Memory
from bridge.show.view import Line, View

__all__ = [
    "CONTROLS",
    "AskHost",
    "Control",
    "Effect",
    "Keep",
    "Line",
    "Memory",
    "Replan",
    "SendMidi",
    "SendOsc",
    "Tell",
    "View",
    "control",
]
