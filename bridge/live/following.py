"""The follower of one host, made of what is known of it: its map, a plan, its sources' delays.

``receive`` and ``follow`` both make theirs here.  A plan is a prior only: where the host
plays other tempi, it is followed as if there were none.  This file opens no port.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.follow import Expected, Follower, PlanScale, Source
from bridge.hostmap import HostMap, Ruler
from bridge.song import HostCount, Song

__all__ = ["follower_for"]


def follower_for(
    host: HostMap | None, song: Song | None = None, delays: Mapping[Source, float] | None = None
) -> Follower:
    """Return the follower of the host that ``host`` describes, playing ``song``.

    Without a map, MIDI alone is understood; without a song, tempi and meters are the host's
    word and no more.  ``delays`` are the seconds from what happens in the host to its
    message here, by source; negative where the message comes first.
    """
    position = host.hears.get("position") if host is not None else None
    return Follower(
        scale=PlanScale(ruler=Ruler(song)) if song is not None else None,
        expected=Expected.of(song.tempo_map, HostCount(song).lead_in) if song is not None else None,
        unit=position.unit if position is not None else None,
        delays=delays,
    )
