"""All cues of one pass through a section, in the order in which they are sent.

What is coming is told of by the section in which the telling lies: that Landfall comes is
a cue of the section before it.  This file knows nothing about the words of a cue.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.cues.due import DueCue
from bridge.cues.leads import Leads
from bridge.cues.next_section import counting_in, section_coming
from bridge.cues.own import own_cues
from bridge.cues.players import changes_at_its_end, changes_counted_in, changes_within
from bridge.cues.sheet import Sheet
from bridge.cues.tightening import tightenings
from bridge.cues.together import landing, meetings_on_the_way
from bridge.cues.until_released import free_passage, held
from bridge.exact import Length
from bridge.song import Song

__all__ = ["section_cues"]

_DEFAULT = Leads()
_LOOKED_AT_BEYOND = 500
"""Bars past its planned end for which an open section's meetings are told of."""


def section_cues(
    song: Song,
    index: int,
    *,
    leaves: Length | None,
    follows: int | None,
    leads: Leads = _DEFAULT,
    until: Length | None = None,
) -> tuple[DueCue, ...]:
    """Return what is due in a pass through section ``index``, the first first.

    ``leaves`` is where it will be left, counted from its start, None while that is open:
    then what is told from its end is not due yet.  ``follows`` is the section that comes
    then, None at the end of the song.  An open section is looked at up to ``until``, by
    default 500 bars past its planned end.  A cue keeps its key whatever ``leaves`` becomes, as
    long as it promises the same.
    """
    here = Sheet(song=song, index=index, leaves=leaves, follows=follows, leads=leads)
    if leaves is not None:
        until = leaves
    elif until is None:
        until = here.axis.bar(here.placed.bars + 1 + _LOOKED_AT_BEYOND).start
    return tuple(sorted(_all(here, until), key=lambda cue: cue.into.whole_notes))


def _all(here: Sheet, until: Length) -> Iterator[DueCue]:
    yield from counting_in(here)
    yield from changes_counted_in(here)
    yield from free_passage(here)
    yield from held(here)
    yield from changes_within(here)
    yield from tightenings(here)
    yield from meetings_on_the_way(here, until=until)
    yield from landing(here)
    yield from section_coming(here)
    yield from changes_at_its_end(here)
    yield from own_cues(here)
