"""The guide as FLAC: the same samples, and no half file from a full disk."""

from __future__ import annotations

import errno
import io

import numpy as np
import pytest
import soundfile

from bridge.out import flac_file, wave_file
from bridge.out.request import Request
from bridge.song import Frame
from tests.out.songs import tide


class FullDisk(io.BytesIO):
    def write(self, data):
        if self.tell() > 10_000:
            raise OSError(errno.ENOSPC, "No space left on device")
        return super().write(data)


def test_it_holds_the_samples_of_the_wave_file():
    frame, flac, wave = Frame.of(tide()), io.BytesIO(), io.BytesIO()
    told = flac_file.write(frame, flac, Request())
    assert told.facts == {
        k: v for k, v in wave_file.write(frame, wave, Request()).facts.items() if k != "cue_points"
    }
    flac.seek(0)
    wave.seek(0)
    one, other = (soundfile.read(file, dtype="int16") for file in (flac, wave))
    assert one[1] == other[1] == 48000
    assert np.array_equal(one[0], other[0])
    assert len(flac.getvalue()) < len(wave.getvalue()) / 4


@pytest.mark.parametrize("exporter", [flac_file, wave_file])
def test_a_full_disk_is_told_as_what_it_is(exporter):
    with pytest.raises(OSError, match="No space left"):
        exporter.write(Frame.of(tide()), FullDisk(), Request())
