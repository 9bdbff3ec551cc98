"""The user's recordings end a counted beat ahead of their cues, at any rate, under the same peak limit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.errors import PlanError
from bridge.out.guide.options import GuideOptions
from bridge.out.guide.performance import Performance
from bridge.out.guide.recordings import read_recordings, resampled
from bridge.song import Frame, Song
from tests.cues.songs import RELAY, unrolled

RATE = 48000
LAST = RELAY[2].replace("bars: 12", "bars: 2")


def made(cue: str) -> Song:
    return unrolled(
        RELAY[0], f"name: Crossing, layers: [band], bars: 4, cues: [{{{cue}, sound: go.wav}}]", LAST
    )


def tone(rate: int, seconds: float = 0.5, pitch: float = 440.0) -> np.ndarray:
    return np.sin(2 * np.pi * pitch * np.arange(round(rate * seconds)) / rate)


def heard(song: Song, folder: Path) -> tuple[np.ndarray, Performance]:
    """The guide with nothing in it but recordings, one channel."""
    recordings = read_recordings(song, folder, per_second=RATE)
    muted = ("click", "meetings", *(name for name, parts in song.sounding().items() if parts))
    performance = Performance(Frame.of(song), GuideOptions(recordings=recordings, without=muted))
    return np.concatenate([one[:, 0].copy() for one in performance.blocks()]), performance


@pytest.mark.parametrize("rate", [22050, 44100, 48000, 96000])
def test_a_recording_ends_a_counted_beat_ahead_at_any_rate(tmp_path: Path, rate: int) -> None:
    soundfile.write(tmp_path / "go.wav", tone(rate), rate)
    sound, _ = heard(made("at: start"), tmp_path)
    loud = np.flatnonzero(np.abs(sound.astype(int)) > 300)
    ends = 8 * 2 * RATE - RATE // 2  # eight bars of two seconds, less a beat
    assert abs(int(loud[-1]) - ends) < 60
    assert abs(int(loud[0]) - (ends - RATE // 2)) < 60


def test_the_mix_keeps_its_peak_limit_with_a_recording_at_full_scale(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "go.wav", np.sign(tone(RATE)) * 0.999, RATE)
    song = made("at: start")
    recordings = read_recordings(song, tmp_path, per_second=RATE)
    performance = Performance(Frame.of(song), GuideOptions(recordings=recordings))
    peak = max(int(np.abs(one.astype(int)).max()) for one in performance.blocks())
    assert 0 < peak <= 2**15 * 10 ** (-12 / 20)


@pytest.mark.parametrize("rate", [22050, 44100, 96000])
def test_resampling_keeps_a_tone(rate: int) -> None:
    out = resampled(tone(rate, seconds=1.0), rate, RATE)
    wanted = tone(RATE, seconds=1.0)
    assert len(out) == len(wanted)
    assert np.abs(out - wanted)[500:-500].max() < 0.01


def test_one_that_would_begin_before_the_guide_is_left_out_and_counted(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "go.wav", tone(RATE, seconds=14.9), RATE)
    song = unrolled(
        "name: Prelude, layers: [bells], bars: 8, cues: [{at: bar 2, sound: go.wav}]", RELAY[1], LAST
    )
    sound, performance = heard(song, tmp_path)
    assert not sound.any()
    assert any("1 recording(s) left out" in said and "go.wav" in said for said in performance.remarks())


def test_what_cannot_be_read_or_is_too_long_is_refused(tmp_path: Path) -> None:
    song = made("at: start")
    with pytest.raises(PlanError, match=r"go\.wav.*cannot be read") as found:
        read_recordings(song, tmp_path, per_second=RATE)
    assert found.value.where == song.sections[1].section.cues[0].where
    assert found.value.where is not None
    (tmp_path / "go.wav").write_bytes(b"no sound at all")
    with pytest.raises(PlanError, match="cannot be read"):
        read_recordings(song, tmp_path, per_second=RATE)
    soundfile.write(tmp_path / "go.wav", np.zeros(16 * 8000), 8000)
    with pytest.raises(PlanError, match=r"lasts 16\.00 s"):
        read_recordings(song, tmp_path, per_second=RATE)
