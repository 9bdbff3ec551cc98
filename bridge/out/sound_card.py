"""The guide on the sound card, through the extra ``sound`` (sounddevice, PortAudio).

This file knows nothing about how the guide is computed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType
from typing import Any

from bridge.errors import DeviceError
from bridge.out.guide.loudness import PER_SECOND
from bridge.out.guide.performance import Performance

__all__ = ["devices", "opened", "play", "refuse_missing"]


def play(performance: Performance, *, device: str | None, told: Callable[[float], None]) -> None:
    """Play the guide to its end on ``device`` (a name, part of one, or a number; None: the default).

    DeviceError where the extra, PortAudio or the device is missing or fails.
    """
    sounddevice = _library()
    done = 0
    try:
        with sounddevice.OutputStream(
            samplerate=PER_SECOND, channels=2, dtype="int16", device=_named(device)
        ) as stream:
            for block in performance.blocks():
                stream.write(block)
                done += len(block)
                told(done / performance.frames)
    except (sounddevice.PortAudioError, ValueError) as error:
        raise DeviceError(
            f"the sound card refused: {error}",
            hint="See 'pulsebridge hear --devices' for what there is, and choose with --device.",
        ) from None


@contextmanager
def opened(device: str | None, *, channels: int, call: Callable[[Any, int, Any, Any], None]) -> Iterator[Any]:
    """Open ``device`` while a block runs; ``call`` fills each block: its frames, their number, times, status.

    DeviceError as :func:`play`.
    """
    sounddevice = _library()
    try:
        with sounddevice.OutputStream(
            samplerate=PER_SECOND, channels=channels, dtype="int16", device=_named(device), callback=call
        ) as stream:
            yield stream
    except (sounddevice.PortAudioError, ValueError) as error:
        raise DeviceError(
            f"the sound card refused {channels} channels: {error}",
            hint="See 'pulsebridge hear --devices' for what there is, and choose with --device.",
        ) from None


def refuse_missing() -> None:
    """Raise DeviceError where the extra or PortAudio is missing, before there is any work."""
    _library()


def devices() -> list[str]:
    """Return the names of the devices that can play, by their numbers; DeviceError as :func:`play`."""
    return [
        f"{number}: {one['name']}"
        for number, one in enumerate(_library().query_devices())
        if one["max_output_channels"] > 0
    ]


def _named(device: str | None) -> str | int | None:
    return int(device) if device is not None and device.isascii() and device.isdigit() else device


def _library() -> ModuleType:
    try:
        return import_module("sounddevice")
    except ImportError:
        raise DeviceError(
            "playing needs the extra 'sound', which is not installed",
            hint="Install it with: pip install 'pulsebridge[sound]', or export a .wav and play that.",
        ) from None
    except OSError as error:
        raise DeviceError(
            f"the sound library cannot be loaded: {error}",
            hint="Install PortAudio (on Debian: libportaudio2), or export a .wav and play that.",
        ) from None
