"""Loudness as the standard defines it, beside a second opinion.

Source: ITU-R BS.1770-4; the value of the full-scale sine is from memory and computed with
pyloudnorm (filter DeMan, -3.0103); EBU Tech 3341 case 1 as restated elsewhere.
"""

from __future__ import annotations

import io

import numpy as np
import pytest
import soundfile

from bridge.out import wave_file
from bridge.out.guide.loudness import EVERY, PER_SECOND, Meter, weighted
from bridge.out.guide.options import GuideOptions
from bridge.out.request import Request
from bridge.song import Frame
from tests import oracle
from tests.out.songs import tide


def lufs(*channels: np.ndarray) -> float | None:
    meter, frames = Meter(), len(channels[0]) // EVERY
    heard = np.zeros((frames, len(channels)), np.float32)
    for number, channel in enumerate(channels):
        after = weighted(channel)[:frames]
        heard[: len(after), number] = after
    meter.take(heard)
    return meter.lufs()


def sine(hertz: float, dbfs: float, seconds: float) -> np.ndarray:
    time = np.arange(round(seconds * PER_SECOND)) / PER_SECOND
    return 10 ** (dbfs / 20) * np.sin(2 * np.pi * hertz * time)


def test_a_997_hz_full_scale_sine_in_one_channel_reads_3_01_below():
    tone = sine(997, 0, 20)
    assert lufs(tone, np.zeros_like(tone)) == pytest.approx(-3.01, abs=0.01)


def test_a_1_khz_stereo_sine_at_23_below_reads_23_below():
    tone = sine(1000, -23, 20)
    assert lufs(tone, tone) == pytest.approx(-23.0, abs=0.1)


def test_silence_and_less_than_a_block_have_no_loudness():
    assert lufs(np.zeros(PER_SECOND), np.zeros(PER_SECOND)) is None
    assert lufs(sine(997, 0, 0.3), sine(997, 0, 0.3)) is None


def test_the_gate_leaves_out_what_is_quiet():
    loud, quiet = sine(1000, -23, 10), sine(1000, -60, 10)
    both = np.concatenate([loud, quiet])
    assert lufs(both, both) == pytest.approx(-23.0, abs=0.2)


@pytest.mark.parametrize(
    "options",
    [
        GuideOptions(),
        GuideOptions(begin="Landfall", times=2),
        GuideOptions(only=("band",), without=("meetings",)),
    ],
)
def test_the_stated_loudness_and_peak_are_those_of_the_file(options):
    pyloudnorm = oracle("pyloudnorm")
    file = io.BytesIO()
    told = wave_file.write(Frame.of(tide()), file, Request(guide=options)).facts
    file.seek(0)
    heard, rate = soundfile.read(file)
    second = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(heard)
    assert told["loudness_lufs"] == pytest.approx(second, abs=0.01)
    assert told["peak_dbfs"] == pytest.approx(20 * np.log10(np.abs(heard).max()), abs=1e-6)
