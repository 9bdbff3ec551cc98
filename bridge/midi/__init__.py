"""MIDI ports: whole messages in, with the time at which they came. Thin."""

from bridge.midi.news import PortNews
from bridge.midi.port import MidiIn

__all__ = ["MidiIn", "PortNews"]
