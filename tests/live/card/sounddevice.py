"""Stands in for sounddevice in another process: a card in real time that keeps what it is given."""

import os
import threading
import time
from types import SimpleNamespace

import numpy as np

BLOCK = 256


class PortAudioError(Exception):
    """What the card refuses with."""


class OutputStream:
    latency = 0.02

    def __init__(self, *, samplerate, channels, dtype, device, callback):
        if device == "broken":
            raise PortAudioError("no such device")
        self._rate, self._channels, self._call = samplerate, channels, callback
        self._blocks, self._ending = [], threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._ending.set()
        self._thread.join()
        np.savez(os.environ["PULSEBRIDGE_TEST_CARD"], start=self._start, sound=np.concatenate(self._blocks))

    def _run(self):
        self._start = time.monotonic() + self.latency
        while not self._ending.is_set():
            frame = len(self._blocks) * BLOCK
            heard = self._start + frame / self._rate
            time.sleep(max(0.0, heard - self.latency - time.monotonic()))
            out = np.zeros((BLOCK, self._channels), np.int16)
            times = SimpleNamespace(outputBufferDacTime=heard, currentTime=time.monotonic())
            self._call(out, BLOCK, times, SimpleNamespace(output_underflow=False))
            self._blocks.append(out)
