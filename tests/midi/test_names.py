"""What finding a MIDI port by its name promises."""

import sys

import pytest

from bridge.errors import DeviceError
from bridge.midi import MidiIn
from bridge.midi.names import find, no_such_port

ALSA = ["Midi Through:Midi Through Port-0 14:0", "Rig:Rig MIDI 1 20:0", "Rig:Rig MIDI 2 20:1"]


@pytest.mark.parametrize("wanted", ["Rig:Rig MIDI 1 20:0", "Rig:Rig MIDI 1", "Rig:Rig MIDI 1 24:0"])
def test_a_port_is_known_again_whatever_its_numbers_are_now(wanted):
    assert find(wanted, ALSA) == "Rig:Rig MIDI 1 20:0"


def test_nothing_is_guessed():
    assert find("Rig", ALSA) is None
    assert find("rig:rig midi 1", ALSA) is None
    assert find("Rig", []) is None


def test_two_of_the_same_name_are_told_apart_by_their_full_names_only():
    names = ["Rig 0", "Rig 1"]
    assert find("Rig 1", names) == "Rig 1"
    assert find("Rig", names) is None
    assert "several MIDI ports are called 'Rig'" in no_such_port("Rig", names).message


@pytest.mark.parametrize("wanted", ["rig midi 1", "Rig:Rig MIDI1", "Rig MIDI 1"])
def test_the_near_name_is_named(wanted):
    assert no_such_port(wanted, ALSA).hint == "Did you mean 'Rig:Rig MIDI 1 20:0'?"


def test_no_ports_at_all_are_said():
    error = no_such_port("Rig", [])
    assert "none at all" in error.message
    assert "--virtual" in (error.hint or "")


def test_a_missing_library_names_the_extra(monkeypatch):
    monkeypatch.setitem(sys.modules, "rtmidi", None)
    with pytest.raises(DeviceError, match="python-rtmidi") as caught:
        MidiIn("Rig", take=lambda *_: None).__enter__()
    assert "pulsebridge[midi]" in (caught.value.hint or "")
    assert caught.value.exit_code == 3
