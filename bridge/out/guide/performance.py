"""One performance of the guide: the mix of a take, its length, its markers, its loudness.

What the files and the sound card share.  This file knows nothing about formats.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import log10
from typing import Any

from bridge.errors import UsageError
from bridge.out.guide.loudness import PER_SECOND, Meter
from bridge.out.guide.mix import Block, Mix
from bridge.out.guide.options import GuideOptions
from bridge.out.guide.recordings import recorded_hits
from bridge.out.guide.take import Take
from bridge.out.guide.voices import voices_of
from bridge.out.request import MOST_NOTES, refuse_too_many_notes
from bridge.song import Frame, Song, counted_rows

__all__ = ["RING_SECONDS", "Performance"]

RING_SECONDS = 5
"""What follows the end, so that the last landing can ring."""
_MOST_HOURS = 24


class Performance:
    """The guide, ready to be heard; blocks are computed as they are asked for."""

    def __init__(self, frame: Frame, options: GuideOptions) -> None:
        """Place every hit; UsageError for options that cannot be followed."""
        self.options = options
        self.take = Take.of(frame, options, PER_SECOND)
        share = (self.take.end - self.take.begin) / frame.song.end.since_start
        notes = (refuse_too_many_notes(frame.song) + _beats(frame.song)) * share.value * options.times
        if notes > MOST_NOTES:
            raise UsageError(
                f"the guide would have about {round(notes)} notes and clicks, and holds {MOST_NOTES}",
                hint="Give a shorter excerpt or fewer --times.",
            )
        self.frames = self.take.end_sample + RING_SECONDS * PER_SECOND
        if self.frames > _MOST_HOURS * 3600 * PER_SECOND:
            raise UsageError(
                f"the guide would last longer than {_MOST_HOURS} hours",
                hint="Give a shorter excerpt, fewer --times, or a higher --speed.",
            )
        self.voices = voices_of(self.take, options)
        self._mix = Mix(self.voices, per_second=PER_SECOND, peak_dbfs=options.peak_dbfs)
        self._meter = Meter()
        self._peak = 0

    @property
    def seconds(self) -> Fraction:
        """How long it lasts, the last landing's ring included."""
        return Fraction(self.frames, PER_SECOND)

    @property
    def cues(self) -> list[tuple[int, str]]:
        """The sample and name of every marker that is heard, and of where each pass begins."""
        song, begin = self.take.frame.song, self.take.begin
        names = {begin: f"bar {song.bars.bar_beat(begin)}"}
        # A section's name goes before that of a stage that begins with it.
        names |= {marker.place: marker.name for marker in reversed(song.markers)}
        return [
            (one.sample(place), name)
            for one in self.take.passes()
            for place, name in sorted(names.items(), key=lambda item: item[0].whole_notes)
            if one.holds(place)
        ]

    def blocks(self, *, seconds: int = 1) -> Iterator[Block]:
        """Compute the guide in blocks of a second, measuring it on the way."""
        frames, block = self.frames, seconds * PER_SECOND
        reaches = self._mix.reaches(frames=frames, block=block)
        blocks = self._mix.blocks(frames=frames, block=block, meter=self._meter)
        for reach, one in zip(reaches, blocks, strict=True):
            if reach > self._peak:  # few blocks can reach it: the others need no look
                self._peak = max(self._peak, int(one.max()), -int(one.min()))
            yield one

    def stem(self, number: int) -> Iterator[Block]:
        """Compute voice ``number`` alone, as loud as it is in the mix: the stems add up to the guide."""
        return self._mix.blocks(frames=self.frames, block=PER_SECOND, only=number)

    def facts(self) -> dict[str, Any]:
        """Return what there is to say once all blocks are computed: plain values for the JSON."""
        return {
            "samples_per_second": PER_SECOND,
            "seconds": self.frames / PER_SECOND,
            "starts_at_seconds": float(self.take.lead * self.take.rate / PER_SECOND),
            "peak_limit_dbfs": self.options.peak_dbfs,
            "peak_dbfs": _dbfs(self._peak),
            "loudness_lufs": self._meter.lufs(),
        }

    def remarks(self) -> list[str]:
        """Return what people should know about its levels, with the hearing caution."""
        lufs, peak = self._meter.lufs(), _dbfs(self._peak)
        levels = f"{lufs:.1f} LUFS (BS.1770), peak {peak:.1f} dBFS" if lufs and peak else "silent"
        said = f"guide: {levels}; start low, turn it up slowly, and mind your hearing"
        return [said, *self.left_out()]

    def left_out(self) -> list[str]:
        """Say which recordings are not heard, since they would begin before the guide does."""
        _, early = recorded_hits(self.take, self.options.recordings)
        if not early:
            return []
        names = ", ".join(dict.fromkeys(early))
        return [f"{len(early)} recording(s) left out, for they would begin before the guide: {names}"]


def _beats(song: Song) -> int:
    return sum(row.count for placed in song.sections for row in counted_rows(placed))


def _dbfs(peak: int) -> float | None:
    return 20 * log10(peak / 2**15) if peak else None
