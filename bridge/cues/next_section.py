"""The next section coming: in 8 bars, 4, 2, 1.  And the count-in before the first one.

This file knows nothing about layers.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.cues.due import DueCue
from bridge.cues.sheet import Sheet
from bridge.exact import Length

__all__ = ["counted_in_bars", "counting_in", "section_coming"]

_NOTHING = Length(0)


def section_coming(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of the section that comes, or the End; none while it is open when."""
    if here.leaves is None or here.is_free:
        return
    for into in here.leads.row(here.axis, here.leaves):
        text = f"{here.next_name} in {here.far(into, here.leaves)}"
        yield from here.cues(f"next {here.follows}", into=into, target=here.leaves, texts={"": text})


def counted_in_bars(here: Sheet) -> int:
    """Return the bars that are counted in before the section: none where it follows another in time."""
    section = here.placed.section
    after_bars = here.index > 0 and here.song.sections[here.index - 1].section.free is None
    return 0 if here.is_free or after_bars else section.count_in or 1


def counting_in(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of its count-in, which lie before its start."""
    bars = counted_in_bars(here)
    if not bars:
        return
    since = here.axis.bar(1 - bars).start
    for into in here.leads.row(here.axis, _NOTHING, since=since):
        text = f"{here.placed.name} in {here.far(into, _NOTHING)}"
        yield from here.cues("count-in", into=into, target=_NOTHING, texts={"": text})
