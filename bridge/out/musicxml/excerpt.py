"""A few bars of one layer as MusicXML, for engraving on players' paper: no names, no directions.

This file knows nothing about engraving.
"""

from __future__ import annotations

from itertools import accumulate
from math import lcm
from xml.etree.ElementTree import Element, tostring

from bridge.out.musicxml.bars import Staff
from bridge.out.musicxml.elements import add, attributes, beams, note

__all__ = ["excerpt"]


def excerpt(staff: Staff) -> bytes:
    """Return the bars of ``staff`` as a score of its own."""
    shown = staff.bars
    divisions = lcm(*((piece.length * 4).denominator for bar in shown for piece in bar.pieces))
    root = Element("score-partwise", {"version": "4.0"})
    entry = add(add(root, "part-list"), "score-part", id="P1")
    add(entry, "part-name", "")
    part = add(root, "part", id="P1")
    meter = None
    for bar in shown:
        measure = add(part, "measure", number=str(bar.number))
        attributes(
            measure,
            divisions=divisions if bar is shown[0] else None,
            meter=bar.meter if bar.meter != meter else None,
        )
        meter = bar.meter
        states = beams(bar.pieces, list(accumulate(beat.whole_notes for beat in bar.meter.counted)))
        for piece, beam in zip(bar.pieces, states, strict=True):
            note(measure, piece, divisions=divisions, beam=beam)
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True))
