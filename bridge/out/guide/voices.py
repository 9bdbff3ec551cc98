"""Who sounds when: the song's notes, beats and meetings as hits at exact samples.

This file knows nothing about levels in the mix, nor about files.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from bridge.errors import UsageError
from bridge.exact import Place
from bridge.out.guide.click import clicked
from bridge.out.guide.options import GuideOptions
from bridge.out.guide.recordings import recorded_hits
from bridge.out.guide.sounds import CLICK, COUNT, DOWNBEAT, LANDING, LAST, MEETING, Sound, layer_sound, struck
from bridge.out.guide.take import Pass, Take
from bridge.out.voicing import note_number
from bridge.song import Part, Song, full_meetings, landings

__all__ = ["CLICK_NAME", "MEETINGS_NAME", "RECORDINGS_NAME", "Hit", "Voice", "voices_of"]

CLICK_NAME, MEETINGS_NAME, RECORDINGS_NAME = "click", "meetings", "recordings"
_NO_LAYERS = (CLICK_NAME, MEETINGS_NAME, RECORDINGS_NAME)

Hit = tuple[int, str]
"""A sample and which of the voice's sounds begins there."""

_CLICK_PITCH, _BELL_PITCH = 1200.0, 1046.5
_LEVELS = {
    "click": 0.7,
    "downbeat": 0.95,
    "count": 0.95,
    "home": 1.0,
    "note": 0.55,
    "meeting": 0.6,
    "landing": 0.8,
    "last": 0.9,
    "recording": 0.95,
}
_CLICKS = {"click": CLICK, "downbeat": DOWNBEAT, "count": COUNT}
_BELLS = {"meeting": MEETING, "landing": LANDING, "last": LAST}
_WIDEST = 0.85


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """One voice of the guide: its place, from left (-1) to right (1), its hits and its sounds."""

    name: str
    pan: float
    hits: Sequence[Hit]
    """In rising order, one a sample."""
    sounds: Mapping[str, Sound]
    """Those that are hit, at their levels."""

    @classmethod
    def of(cls, name: str, *, pan: float, hits: Sequence[Hit], make: Callable[[str], Sound]) -> Voice:
        """Make the voice, and of its sounds those that are hit."""
        kinds = sorted({kind for _, kind in hits})
        return cls(name=name, pan=pan, hits=hits, sounds={kind: _LEVELS[kind] * make(kind) for kind in kinds})


def voices_of(take: Take, options: GuideOptions) -> list[Voice]:
    """Return the click, the layers that sound, and the bell of the meetings, as ``options`` choose.

    A layer keeps its pitch and its place between left and right whoever else is heard.
    UsageError for a name that is no layer of the plan.
    """
    song = take.frame.song
    _refuse_unknown(song, options)
    muted = {name for name in options.without if name not in song.plan.layers}
    found = [] if CLICK_NAME in muted else [_click(take, options)]
    sounding = {name: parts for name, parts in song.sounding().items() if parts}
    for number, (name, parts) in enumerate(sounding.items()):
        pan = _WIDEST * (2 * number / (len(sounding) - 1) - 1) if len(sounding) > 1 else 0.0
        if name in (options.only or sounding) and name not in options.without:
            found.append(_layer(take, name, parts, pan))
    if MEETINGS_NAME not in muted:
        found.append(_bell(take))
    if options.recordings and RECORDINGS_NAME not in muted:
        found.append(_recordings(take, options.recordings))
    return found


def _recordings(take: Take, recordings: Mapping[str, Sound]) -> Voice:
    """Play the recordings that cues name, in the middle; one is cut where the next begins."""
    hits, _ = recorded_hits(take, recordings)
    heard = {name: _LEVELS["recording"] * recordings[name] for name in sorted({name for _, name in hits})}
    return Voice(name=RECORDINGS_NAME, pan=0.0, hits=hits, sounds=heard)


def _refuse_unknown(song: Song, options: GuideOptions) -> None:
    layers = list(song.plan.layers)
    for name in (*options.only, *options.without):
        if name not in layers and not (
            name in (CLICK_NAME, MEETINGS_NAME, RECORDINGS_NAME) and name in options.without
        ):
            raise UsageError(
                f"the plan has no layer {name[:80]!r}; it has {', '.join(layers)}",
                hint=f"--without also takes {CLICK_NAME}, {MEETINGS_NAME} and {RECORDINGS_NAME}.",
            )


def _click(take: Take, options: GuideOptions) -> Voice:
    hits = [(at, "downbeat" if first else "click") for at, first in take.count_in()]
    for one in take.passes():
        hits += clicked(one, take.frame.song, options)
    return Voice.of(
        CLICK_NAME,
        pan=0.0,
        hits=_in_order(hits, first=("count", "downbeat", "click")),
        make=lambda kind: struck(_CLICKS[kind], _CLICK_PITCH, per_second=take.per_second),
    )


def _layer(take: Take, name: str, parts: tuple[Part, ...], pan: float) -> Voice:
    index = list(take.frame.song.plan.layers).index(name)
    hits: list[Hit] = []
    for one in take.passes():
        for row in (row for part in parts for row in part.rows()):
            kind = "home" if row.home else "note"
            hits += [(at, kind) for at in one.along(row)]
        hits += _landing(one, take.frame.song, name)
    return Voice.of(
        name,
        pan=pan,
        hits=_in_order(hits, first=("home", "note")),
        make=lambda kind: layer_sound(
            index, note_number(index), home=kind == "home", per_second=take.per_second
        ),
    )


def _landing(one: Pass, song: Song, name: str) -> Iterator[Hit]:
    """Sound the landing on which a pass ends, where the layer was to come home and did."""
    for placed in song.sections:
        if placed.end == one.end and one.last and placed.resolved and name in placed.section.resolve:
            yield one.sample(one.end), "home"


def _bell(take: Take) -> Voice:
    """Ring at every full meeting, longer at a landing, longest at the last; one bell a place."""
    song = take.frame.song
    rung = {meeting.place: "meeting" for meeting in full_meetings(song)}
    rung |= {meeting.place: "landing" for meeting in landings(song)}
    hits: list[Hit] = []
    for one in take.passes():
        hits += _rung(one, rung)
    return Voice.of(
        MEETINGS_NAME,
        pan=0.0,
        hits=_in_order(hits, first=("last", "landing", "meeting")),
        make=lambda kind: struck(_BELLS[kind], _BELL_PITCH, per_second=take.per_second),
    )


def _rung(one: Pass, rung: Mapping[Place, str]) -> Iterator[Hit]:
    for place, sound in rung.items():
        if one.holds(place):
            yield one.sample(place), "last" if place == one.end else sound


def _in_order(hits: Iterable[Hit], *, first: tuple[str, ...]) -> list[Hit]:
    """Sort hits; of several on one sample keep the sound that comes ``first``."""
    rank = {name: number for number, name in enumerate(first)}
    kept: dict[int, str] = {}
    for at, name in hits:
        if at not in kept or rank[name] < rank[kept[at]]:
            kept[at] = name
    return sorted(kept.items())
