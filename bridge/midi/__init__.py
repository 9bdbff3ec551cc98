"""MIDI ports: whole messages in, with the time at which they came, and out. Thin."""

from bridge.midi.news import PortNews
from bridge.midi.out import MidiOut
from bridge.midi.port import MidiIn

__all__ = ["MidiIn", "MidiOut", "PortNews"]
