"""The guide's speed: 12 minutes of stereo at 48 kHz, 16 bits, five layers.

Run by hand: ``python tests/bench/bench_guide.py``.  Limit: a raw write of the same bytes.
Target: at most 2 times that, sound, loudness and cue points included.  Peer: soundfile
writing the same number of samples from floats, the write alone.  Each figure is the best
of several rounds taken in turn, each begun with nothing waiting for the disk, so that a
noisy machine disturbs all alike; the ratio is also given round by round, and for the
processor's time alone, which no other program's writing or computing disturbs.
"""

from __future__ import annotations

import os
import sys
import tempfile
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

import numpy as np
import soundfile

sys.path.insert(0, str(Path(__file__).parents[2]))

from bridge.out import wave_file
from bridge.out.request import Request
from bridge.song import Frame, Song
from tests.out.songs import layer, section, song

ROUNDS = 9
RATE = 48000


def five_layers() -> Song:
    """344 bars at 115.2: 11:57; with the last landing's ring 12:02; 5232 notes, 1377 clicks."""
    layers = [
        layer("band", 4),
        layer("hand drum", "3/16"),
        layer("bells", "1", groups=[3, 3, 2]),
        layer("keys", 1, pulses=5),
        layer("shaker", "5/8"),
    ]
    names = [one.name for one in layers]
    return song(layers, [section(f"part {number}", 43, names, resolve=[]) for number in range(8)])


def seconds(work: Callable[[], object]) -> tuple[float, float]:
    """Return the seconds on the wall and those of the processor, once earlier writes are on the disk."""
    os.sync()
    start, busy = perf_counter(), process_time()
    work()
    return perf_counter() - start, process_time() - busy


def main() -> None:
    made = five_layers()
    with tempfile.TemporaryDirectory() as folder:
        mine, bare, peer = (Path(folder) / name for name in ("ours.wav", "raw", "peer.wav"))

        def guide() -> None:
            with mine.open("wb") as file:
                wave_file.write(Frame.of(made), file, Request())

        guide()
        size = mine.stat().st_size
        zeros, floats = bytes(RATE * 4), np.zeros((RATE, 2))

        def raw_write() -> None:
            with bare.open("wb") as file:
                for _ in range(size // len(zeros)):
                    file.write(zeros)

        def from_floats() -> None:
            with soundfile.SoundFile(peer, "w", RATE, 2, subtype="PCM_16") as file:
                for _ in range(size // len(zeros)):
                    file.write(floats)

        rounds = [[seconds(work) for work in (raw_write, guide, from_floats)] for _ in range(ROUNDS)]
        tracemalloc.start()
        guide()
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    best = [min(wall for wall, _ in column) for column in zip(*rounds, strict=True)]
    busy = [min(cpu for _, cpu in column) for column in zip(*rounds, strict=True)]
    print(f"{size / 2**20:.0f} MiB, best of {ROUNDS} rounds, ratios to the raw write of the same bytes")
    for name, wall, cpu in zip(
        ("raw write", "our guide, all of it", "soundfile from floats"), best, busy, strict=True
    ):
        print(
            f"{name:<24}{wall * 1000:6.0f} ms {wall / best[0]:6.2f} x   "
            f"processor {cpu * 1000:5.0f} ms {cpu / busy[0]:6.2f} x"
        )
    wall, cpu = (median(ours[part] / raw[part] for raw, ours, _ in rounds) for part in (0, 1))
    print(f"our guide over the raw write, median of the rounds: {wall:.2f} (target 2), processor {cpu:.2f}")
    print(f"most memory of ours in use: {most / 2**20:.0f} MiB")


if __name__ == "__main__":
    main()
