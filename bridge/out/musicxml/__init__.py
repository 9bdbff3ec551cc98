"""The song as MusicXML 4.0: a rhythm staff a layer."""

from bridge.out.musicxml.score import Score, score_of

__all__ = ["Score", "score_of"]
