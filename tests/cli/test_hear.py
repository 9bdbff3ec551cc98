"""``hear``: the guide on a sound card, here a stand-in for the library that plays."""

from __future__ import annotations

import json
import sys

import numpy as np
import pytest

from bridge.cli.main import main

PLAN = """\
pulsebridge: 1
tempo: 120
meter: 4/4
layers:
  band: {cycle: 1 bar}
sections:
  - {name: Prelude, layers: [band], bars: 4}
"""


class Failure(Exception):
    pass


class Card:
    """Stands in for sounddevice: keeps what is played, fails when told to."""

    PortAudioError = Failure

    def __init__(self, *, broken=False):
        self.asked, self.played, self.broken = {}, [], broken

    def query_devices(self):
        return [
            {"name": "microphone", "max_output_channels": 0},
            {"name": "speakers\x1b[31m", "max_output_channels": 2},
        ]

    def OutputStream(self, **asked):  # the library's own spelling
        self.asked = asked
        return self

    def __enter__(self):
        if self.broken:
            raise Failure("Invalid device")
        return self

    def __exit__(self, *_):
        return None

    def write(self, block):
        self.played.append(block.copy())


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "tide.yaml"
    path.write_text(PLAN, encoding="utf-8")
    return str(path)


def test_it_plays_what_a_wave_file_would_hold(plan, tmp_path, monkeypatch, capsys):
    import soundfile

    card = Card()
    monkeypatch.setitem(sys.modules, "sounddevice", card)
    assert main(["hear", plan, "--count-in", "--device", "3", "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["peak_dbfs"] <= -12
    assert "mind your hearing" in told.err
    assert card.asked == {"samplerate": 48000, "channels": 2, "dtype": "int16", "device": 3}
    assert main(["export", plan, str(tmp_path / "guide.wav"), "--count-in"]) == 0
    heard, _ = soundfile.read(tmp_path / "guide.wav", dtype="int16")
    assert np.array_equal(np.concatenate(card.played), heard)


def test_without_the_extra_it_names_it(plan, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    assert main(["hear", plan]) == 3
    assert "pip install 'pulsebridge[sound]'" in capsys.readouterr().err


def test_without_portaudio_it_says_what_to_install(plan, monkeypatch, capsys):
    def refuse(name):
        raise OSError("PortAudio library not found")

    monkeypatch.setattr("bridge.out.sound_card.import_module", refuse)
    assert main(["hear", plan]) == 3
    assert "libportaudio2" in capsys.readouterr().err


def test_a_card_that_fails_is_a_device_fault(plan, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "sounddevice", Card(broken=True))
    assert main(["hear", plan, "--device", "nothing"]) == 3
    assert "Invalid device" in capsys.readouterr().err


def test_devices_are_listed_without_a_plan_and_without_escapes(monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "sounddevice", Card())
    assert main(["hear", "--devices"]) == 0
    assert capsys.readouterr().out == "1: speakers\\x1b[31m\n"


def test_without_a_plan_it_says_so(capsys):
    assert main(["hear"]) == 2
    assert "needs a plan" in capsys.readouterr().err
