"""The conductor: a pure function from the state, an event and a time to a state and effects."""

from bridge.show.conductor import Conductor
from bridge.show.control import CONTROLS, Control, control
from bridge.show.effect import AskHost, Effect, Keep, Replan, SendMidi, SendOsc, Tell
from bridge.show.memory import Memory, digest
from bridge.show.offer import Offer
from bridge.show.programme import Programme, Spot
from bridge.show.view import Line, View

__all__ = [
    "CONTROLS",
    "AskHost",
    "Conductor",
    "Control",
    "Effect",
    "Keep",
    "Line",
    "Memory",
    "Offer",
    "Programme",
    "Replan",
    "SendMidi",
    "SendOsc",
    "Spot",
    "Tell",
    "View",
    "control",
    "digest",
]
