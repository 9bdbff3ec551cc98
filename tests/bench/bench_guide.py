"""The guide's speed: 12 minutes of stereo at 48 kHz, 16 bits, five layers.

Run by hand: ``python tests/bench/bench_guide.py``.  Limit: a raw write of the same bytes.
Target: at most 2 times that, sound, loudness and cue points included.  Peer: soundfile
writing the same number of samples from floats, the write alone.  Each figure is the best
of several rounds taken in turn, so that a noisy machine disturbs all alike; the ratio is
also given round by round.
"""

from __future__ import annotations

import sys
import tempfile
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter

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


def seconds(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def main() -> None:
    made = five_layers()
    with tempfile.TemporaryDirectory() as folder:
        ours, raw, peer = (Path(folder) / name for name in ("ours.wav", "raw", "peer.wav"))

        def guide() -> None:
            with ours.open("wb") as file:
                wave_file.write(Frame.of(made), file, Request())

        guide()
        size = ours.stat().st_size
        zeros, floats = bytes(RATE * 4), np.zeros((RATE, 2))

        def raw_write() -> None:
            with raw.open("wb") as file:
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
    best = [min(column) for column in zip(*rounds, strict=True)]
    print(f"{size / 2**20:.0f} MiB, best of {ROUNDS}: raw write {best[0] * 1000:.0f} ms")
    print(f"our guide, all of it       {best[1] * 1000:6.0f} ms   {best[1] / best[0]:.2f} x raw (target 2)")
    print(f"soundfile from floats      {best[2] * 1000:6.0f} ms   {best[2] / best[0]:.2f} x raw")
    print(f"ours over raw, median of the rounds: {median(one[1] / one[0] for one in rounds):.2f}")
    print(f"most memory of ours in use: {most / 2**20:.0f} MiB")


if __name__ == "__main__":
    main()
