"""The user's own short recordings, heard before the cues of the plan that name them.

A recording ends a counted beat ahead of its cue's place, so that the beat before a
downbeat stays free to breathe on.  One at another rate is resampled over its spectrum
(band-limited interpolation by a zero-padded discrete Fourier transform; common practice,
no source), with silence around it so that its ends do not run into each other.  This file
knows nothing about levels in the mix.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np

from bridge.errors import PlanError
from bridge.exact import Length, Place
from bridge.out.guide.sounds import Sound
from bridge.out.guide.take import Take
from bridge.song import Song, asked_cues

__all__ = ["LONGEST_SECONDS", "read_recordings", "recorded_hits", "resampled"]

LONGEST_SECONDS = 15
_AROUND_SECONDS = 1


def read_recordings(song: Song, folder: Path, *, per_second: int) -> dict[str, Sound]:
    """Read every recording that the plan's cues name, one channel, ``per_second`` samples a second.

    PlanError, with its place in the plan, for one that cannot be read, is empty, or is longer
    than 15 s.
    """
    found: dict[str, Sound] = {}
    for cue in (asked.cue for asked in asked_cues(song)):
        if cue.sound is not None and cue.sound not in found:
            try:
                found[cue.sound] = _read(folder / cue.sound, cue.sound, per_second)
            except PlanError as error:
                raise (error.at(cue.where) if cue.where else error) from None
    return found


def recorded_hits(take: Take, recordings: Mapping[str, Sound]) -> tuple[list[tuple[int, str]], list[str]]:
    """Return where each recording begins, in order, and the names of those that would begin too early.

    Of two that would begin at one sample the first in the plan is heard.
    """
    hits: dict[int, str] = {}
    early = []
    for one in take.passes():
        for asked in asked_cues(take.frame.song):
            name = asked.cue.sound
            if name is None or name not in recordings or not one.holds(asked.place):
                continue
            begins = one.sample(_beat_before(take.frame.song, asked.place)) - len(recordings[name])
            if begins < 0:
                early.append(name)
            else:
                hits.setdefault(begins, name)
    return sorted(hits.items()), early


def resampled(sound: Sound, rate: int, per_second: int) -> Sound:
    """Return ``sound``, at ``rate`` samples a second, at ``per_second``; as long to within a sample."""
    if rate == per_second:
        return sound
    padded = np.concatenate([sound, np.zeros(_AROUND_SECONDS * rate + -(len(sound)) % rate)])
    size = len(padded) // rate * per_second
    spectrum = np.fft.rfft(padded)[: size // 2 + 1]
    out = np.fft.irfft(spectrum, size) * (size / len(padded))
    return np.asarray(out[: round(len(sound) * per_second / rate)], np.float64)


def _read(path: Path, name: str, per_second: int) -> Sound:
    import soundfile

    try:
        with soundfile.SoundFile(path) as file:
            rate, frames = file.samplerate, file.frames
            _refuse_length(name, frames, rate)
            samples = file.read(always_2d=True, dtype="float64")
    except (OSError, soundfile.SoundFileError) as error:
        raise PlanError(
            f"the recording {name[:80]!r} of a cue cannot be read: {error}",
            hint="'sound' names a WAVE, FLAC or Ogg file, as a path from the plan's folder.",
        ) from None
    return np.clip(resampled(np.mean(samples, axis=1), rate, per_second), -1, 1)


def _refuse_length(name: str, frames: int, rate: int) -> None:
    if not 0 < frames <= LONGEST_SECONDS * rate:
        raise PlanError(
            f"the recording {name[:80]!r} of a cue lasts {frames / rate:.2f} s",
            hint=f"It is heard before its cue: more than 0 and at most {LONGEST_SECONDS} s.",
        )


def _beat_before(song: Song, place: Place) -> Place:
    """Return the counted beat before ``place``, in the bar before where ``place`` is a barline."""
    bar = song.bars.bar_at(place)
    if bar.start == place:
        bar = song.bars.bar_at(song.bars.start_of(bar.number - 1))
    return max(
        (at for at in _beats(bar.start, bar.meter.counted) if at < place), key=lambda at: at.whole_notes
    )


def _beats(start: Place, counted: tuple[Length, ...]) -> Iterator[Place]:
    for beat in counted:
        yield start
        start += beat
