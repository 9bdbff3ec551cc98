"""Notes, directions and attributes as MusicXML elements.

Source: MusicXML 4.0, W3C Music Notation Community Group, final report of June 2021; the
order of elements within ``note`` and ``direction`` is the schema's.  The library that
writes is the standard one, ElementTree: the package ``musicxml``, which checks every
element against the schema as it is made, takes 6 ms a note (measured), half a minute for
a song; our tests check the whole file against the same schema instead.  This file knows
nothing about songs.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from bridge.exact import Meter
from bridge.out.musicxml.rhythm import Piece
from bridge.out.xml_text import xml_text

__all__ = ["add", "attributes", "beams", "note", "rehearsal", "tempo_mark", "words"]


def add(parent: Element, tag: str, text: str | int | None = None, **settings: str) -> Element:
    """Add a child with its text and settings; return it."""
    child = SubElement(
        parent, tag, {name.replace("_", "-"): xml_text(value) for name, value in settings.items()}
    )
    if text is not None:
        child.text = xml_text(str(text))
    return child


def attributes(measure: Element, *, divisions: int | None, meter: Meter | None) -> None:
    """Add divisions, key, time, clef and the one-line staff, as far as they change here."""
    if divisions is None and meter is None:
        return
    element = add(measure, "attributes")
    if divisions is not None:
        add(element, "divisions", divisions)
    if meter is not None:
        time = add(element, "time")
        add(time, "beats", "+".join(map(str, meter.groups)))
        add(time, "beat-type", meter.unit)
    if divisions is not None:
        clef = add(element, "clef")
        add(clef, "sign", "percussion")
        details = add(element, "staff-details")
        add(details, "staff-lines", 1)


def rehearsal(measure: Element, text: str) -> None:
    """Add a rehearsal mark."""
    kind = add(add(measure, "direction", placement="above"), "direction-type")
    add(kind, "rehearsal", text)


def words(measure: Element, text: str, *, placement: str = "above") -> None:
    """Add a direction in words."""
    kind = add(add(measure, "direction", placement=placement), "direction-type")
    add(kind, "words", text)


def tempo_mark(measure: Element, bpm: Fraction, *, shown: bool) -> None:
    """Add a tempo in quarter notes a minute, shown as a metronome mark or only for playing."""
    decimal = f"{float(bpm):.6f}".rstrip("0").rstrip(".")
    if not shown:
        add(measure, "sound", tempo=decimal)
        return
    direction = add(measure, "direction", placement="above")
    mark = add(add(direction, "direction-type"), "metronome")
    add(mark, "beat-unit", "quarter")
    add(mark, "per-minute", f"{float(bpm):.2f}".rstrip("0").rstrip("."))
    add(direction, "sound", tempo=decimal)


def note(
    measure: Element, piece: Piece, *, divisions: int, beam: Sequence[str] = (), held: bool = False
) -> None:
    """Add one note or rest; ``beam`` are the states of its beams, the outermost first.

    One that is ``held`` stands under a fermata.
    """
    element = add(measure, "note")
    if piece.sounds:
        unpitched = add(element, "unpitched")
        add(unpitched, "display-step", "E")
        add(unpitched, "display-octave", 4)
    else:
        rest = add(element, "rest")
        if piece.whole_bar:
            rest.set("measure", "yes")
    add(element, "duration", int(piece.length * 4 * divisions))
    ties = [kind for kind, tied in (("stop", piece.tied_from), ("start", piece.tied_on)) if tied]
    for kind in ties:
        add(element, "tie", type=kind)
    add(element, "voice", 1)
    if not piece.whole_bar:
        add(element, "type", piece.value.name)
        for _ in range(piece.value.dots):
            add(element, "dot")
    if piece.tuplet is not None:
        modification = add(element, "time-modification")
        add(modification, "actual-notes", piece.tuplet.actual)
        add(modification, "normal-notes", piece.tuplet.normal)
        add(modification, "normal-type", piece.tuplet.unit.name)
    if piece.sounds:
        add(element, "stem", "up")
    for number, state in enumerate(beam, start=1):
        add(element, "beam", state, number=str(number))
    _notations(element, piece, ties, held=held)


def _notations(element: Element, piece: Piece, ties: Sequence[str], *, held: bool) -> None:
    if not (ties or piece.opens or piece.closes or piece.accent or held):
        return
    notations = add(element, "notations")
    for kind in ties:
        add(notations, "tied", type=kind)
    if piece.opens:
        add(notations, "tuplet", type="start", bracket="yes", number="1")
    if piece.closes and not piece.opens:
        add(notations, "tuplet", type="stop", number="1")
    if piece.accent:
        add(add(notations, "articulations"), "accent")
    if held:
        add(notations, "fermata")


def beams(pieces: Sequence[Piece], beats: Sequence[Fraction]) -> list[list[str]]:
    """Return the beams of every piece of a bar; flagged notes side by side in a beat or tuplet share them."""
    states: list[list[str]] = [[] for _ in pieces]
    for group in _beamed(pieces, beats):
        if len(group) < 2:
            continue
        flags = [pieces[index].value.flags for index in group]
        for place, index in enumerate(group):
            before = flags[place - 1] if place else 0
            after = flags[place + 1] if place + 1 < len(group) else 0
            states[index] = [_state(level, before, after) for level in range(1, flags[place] + 1)]
    return states


def _state(level: int, before: int, after: int) -> str:
    if level <= before and level <= after:
        return "continue"
    if level <= after:
        return "begin"
    if level <= before:
        return "end"
    return "backward hook" if before else "forward hook"


def _beamed(pieces: Sequence[Piece], beats: Sequence[Fraction]) -> list[list[int]]:
    groups: list[list[int]] = [[]]
    for index, piece in enumerate(pieces):
        fresh = piece.opens if piece.tuplet else piece.start in beats or not piece.start
        if fresh or not piece.sounds or not piece.value.flags:
            groups.append([])
        if piece.sounds and piece.value.flags:
            groups[-1].append(index)
    return groups
