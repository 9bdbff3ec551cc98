"""All cues of one pass through a section, in the order in which they are sent.

What is coming is told of by the section in which the telling lies: that Landfall comes is
a cue of the section before it.  This file knows nothing about the words of a cue.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.cues.due import DueCue
from bridge.cues.leads import Leads
from bridge.cues.next_section import counting_in, section_coming
from bridge.cues.one_pass import Pass
from bridge.exact import Length
from bridge.song import Song

__all__ = ["section_cues"]

_DEFAULT = Leads()


def section_cues(
    song: Song,
    index: int,
    *,
    leaves: Length | None,
    follows: int | None,
    leads: Leads = _DEFAULT,
) -> tuple[DueCue, ...]:
    """Return what is due in a pass through section ``index``, the first first.

    ``leaves`` is where it will be left, counted from its start, None while that is open:
    then what is told from its end is not due yet.  ``follows`` is the section that comes
    then, None at the end of the song.  A cue keeps its key whatever ``leaves`` becomes, as
    long as it promises the same.
    """
    here = Pass(song=song, index=index, leaves=leaves, follows=follows, leads=leads)
    return tuple(sorted(_all(here), key=lambda cue: cue.into.whole_notes))


def _all(here: Pass) -> Iterator[DueCue]:
    yield from counting_in(here)
    yield from section_coming(here)
