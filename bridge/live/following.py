"""The follower of one host, made of what is known of it: its map, a plan, its sources' delays.

``receive`` and ``follow`` both make theirs here.  A plan is a prior only: where the host
plays other tempi, it is followed as if there were none.  This file opens no port.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.follow import Expected, Follower, PlanScale, Source
from bridge.follow.scale import Scale, SetScale
from bridge.hostmap import HostMap, Ruler
from bridge.song import HostCount, Song

__all__ = ["follower_for", "follower_for_set", "scale_of"]


def follower_for_set(
    host: HostMap | None, songs: Sequence[Song], delays: Mapping[Source, float] | None = None
) -> Follower:
    """Return the follower of a host that plays ``songs``, in the order of their origins.

    Of several songs the plans' tempi are no prior for its clock: where one ends and the
    next begins, nobody knows what the host plays between them.
    """
    if len(songs) == 1:
        return follower_for(host, songs[0], delays)
    position = host.hears.get("position") if host is not None else None
    return Follower(
        scale=scale_of(songs),
        unit=position.unit if position is not None else None,
        delays=delays,
    )


def scale_of(songs: Sequence[Song]) -> Scale:
    """Return what turns the numbers of a host that plays ``songs`` into quarters."""
    rulers = tuple(map(Ruler, songs))
    return PlanScale(ruler=rulers[0]) if len(rulers) == 1 else SetScale(rulers)


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
