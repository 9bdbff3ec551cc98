"""Sounds handed to another process, and heard there in time, on a stand-in card."""

from __future__ import annotations

import os
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from bridge.errors import DeviceError
from bridge.live.sound_out import SoundOut
from bridge.out.guide.live_mix import LiveMix
from bridge.show.conductor import Conductor
from bridge.show.leading_sound import OwnClick, Sounding
from bridge.show.programme import Programme
from tests.out.songs import layer, section, song

RATE = 48_000


@pytest.fixture
def card(tmp_path, monkeypatch):
    """The stand-in card's file, to be read when the sound is over."""
    path = tmp_path / "card.npz"
    monkeypatch.setenv("PULSEBRIDGE_TEST_CARD", str(path))
    paths = [str(Path(__file__).parent / "card"), os.environ.get("PYTHONPATH", "")]
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, paths)))
    return path


def onsets(sound, channel, *, quiet=2400):
    """The frames at which something begins after at least ``quiet`` frames of next to nothing."""
    loud = np.flatnonzero(np.abs(sound[:, channel - 1].astype(int)) > 40)
    return [int(loud[0]), *(int(after) for before, after in pairwise(loud) if after - before > quiet)]


def performed(card, start_after=0.6):
    """Play two bars of eighths to a player on channel 3: the start, and what was heard and said."""
    layers = [layer("band", 1), layer("drum", "3/8")]
    made = song(layers, [section("Prelude", 2, ["band", "drum"], tempo="200")])
    conductor = Conductor(Programme((made,)), led=True)
    sounding = Sounding(guide=False, clicks=(OwnClick(who="drum", channel=3),))
    told = []
    with SoundOut(sounding, layers=2, device=None, peak_dbfs=-12.0, tell=told.append) as out:
        start = time.monotonic() + start_after
        conductor.begin(start, count_in=0)
        out.look(time.monotonic(), conductor)
        while out.wake_at is not None:
            time.sleep(0.01)  # the card plays in real time
            out.wake(time.monotonic())
    assert (out.lost, told) == (0, [])
    return start, np.load(card), out.said


def test_each_channel_is_struck_when_it_is_due(card):
    """A starved machine may hand something over late: such a performance says nothing, it is played again."""
    for _ in range(5):
        start, found, said = performed(card)
        if not said["late"]:
            break
    dues = [start + 0.15 * number for number in range(16)]  # eighths at 200
    heard = [float(found["start"]) + frame / RATE for frame in onsets(found["sound"], 3)]
    assert heard == pytest.approx(dues, abs=0.003)
    assert not found["sound"][:, :2].any()


def test_a_card_that_refuses_is_told_with_its_reason(card):
    out = SoundOut(Sounding(), layers=1, device="broken", peak_dbfs=-12.0, tell=print)
    with pytest.raises(DeviceError, match="refused 2 channels: no such device"):
        out.__enter__()


def test_when_the_process_dies_the_show_goes_on_and_people_are_told_once(card):
    made = song([layer("band", 1)], [section("Prelude", 2, ["band"])])
    conductor = Conductor(Programme((made,)), led=True)
    told = []
    with SoundOut(Sounding(), layers=1, device=None, peak_dbfs=-12.0, tell=told.append) as out:
        conductor.begin(10.0, count_in=0)
        out._process.kill()
        out._process.wait()
        out.look(10.0, conductor)
        out.wake(12.0)
    assert len(told) == 1
    assert "the sound is gone" in told[0]


def mix(**more):
    fields = {"layers": 2, "channels": 4, "own": [4], "per_second": RATE, "peak_dbfs": -12.0}
    return LiveMix(**{**fields, **more})


def test_a_sound_begins_on_its_frame_whatever_the_blocks():
    whole, parts = mix(), mix()
    for one in (whole, parts):
        one.strike(1000, "downbeat", 4)
        one.strike(1500, "home 1", None)
    blocks = [parts.block(start, 256) for start in range(0, 4096, 256)]
    assert (np.concatenate(blocks) == whole.block(0, 4096)).all()
    sound = np.concatenate(blocks)
    assert not sound[:1000, 3].any()
    assert sound[1000:1010, 3].any()
    assert not sound[:1500, :2].any()
    assert sound[1500:1520, 0].any()
    assert not sound[:, 2].any()


def test_nothing_is_louder_than_asked_however_much_falls_together():
    one = mix()
    for number in range(40):
        one.strike(number, "home 0", None)
        one.strike(number, "downbeat", 4)
    assert np.abs(one.block(0, 9600).astype(int)).max() <= 2**15 * 10 ** (-12 / 20)


def test_what_comes_late_is_counted_and_what_comes_too_late_is_not_struck():
    one = mix()
    one.block(0, 9600)
    one.strike(9599, "click", 4)
    assert one.block(9600, 480)[:, 3].any()
    one = mix()
    one.block(0, 9600)
    one.strike(100, "click", 4)
    assert not one.block(9600, 480).any()
    assert one.late == 1


def test_a_single_channel_gets_the_guide_unless_it_is_a_players():
    one = mix(channels=1, own=[])
    one.strike(0, "home 1", None)
    assert one.block(0, 480).any()
    one = mix(channels=1, own=[1])
    one.strike(0, "home 1", None)
    assert not one.block(0, 480).any()
