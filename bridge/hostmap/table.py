"""What a host map may hold, as one table: the loader, the schema and the help read it.

This file knows nothing about YAML or sockets.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["HEARS", "SAYS", "TOP", "Hearing", "Units"]


class Units(StrEnum):
    """Which unit a message takes."""

    NONE = "none"
    PLACE = "place"
    TEMPO = "bpm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """One key under ``hears``: its arguments by meaning, required ones first."""

    about: str
    needs: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    units: Units = Units.NONE

    @property
    def single(self) -> bool:
        """Whether it has one argument, written ``arg: 0``."""
        return self.needs == ("value",)


HEARS: dict[str, Hearing] = {
    "playing": Hearing(about="whether the transport rolls: any number but 0", needs=("value",)),
    "position": Hearing(about="where the transport stands", needs=("value",), units=Units.PLACE),
    "tempo": Hearing(about="quarter notes a minute now", needs=("value",), units=Units.TEMPO),
    "meter": Hearing(about="the meter now", needs=("top", "bottom")),
    "marker": Hearing(about="one marker", needs=("at", "name"), may=("id",), units=Units.PLACE),
    "marker_gone": Hearing(about="a marker was removed", needs=("id",)),
    "marker_end": Hearing(about="the list of markers is complete"),
    "tempo_mark": Hearing(
        about="one tempo of the timeline, told with the list",
        needs=("at", "bpm"),
        may=("id",),
        units=Units.PLACE,
    ),
    "meter_mark": Hearing(
        about="one meter of the timeline, told with the list",
        needs=("at", "top", "bottom"),
        may=("id",),
        units=Units.PLACE,
    ),
    "region": Hearing(
        about="one region, told with the list",
        needs=("at", "name"),
        may=("id", "end", "colour"),
        units=Units.PLACE,
    ),
}

SAYS: dict[str, str] = {
    "place": "make a marker",
    "remove": "remove a marker",
    "list": "ask for all markers; the host answers with one 'marker' message each",
    "locate": "move the transport to a place",
    "play": "start the transport",
    "stop": "stop the transport",
    "rename": "give a marker another name: {name:s}; {id:i}, {old_name:s} or a place say which marker",
    "tempo": "set the tempo at a place",
    "meter": "set the meter at a place",
    "loop": "loop between two places: {quarters:f} and {end_quarters:f}, say",
    "loop_off": "stop looping",
    "region": "make a region",
    "tempo_remove": "remove the tempo at a place",
    "meter_remove": "remove the meter at a place",
    "region_remove": "remove a region",
}

TOP: dict[str, str] = {
    "pulsebridge_host": "the format's version: 1",
    "extends": "the file of another host map, from this one's folder, of which this one says the rest",
    "name": "what messages and the record call the host",
    "send_to": "where the host listens, HOST:PORT",
    "receive_on": "where we listen and send from, HOST:PORT",
    "hears": "what the host says",
    "says": "what the host understands, each a list of messages",
    "pace": "the least gap between messages sent, as in 5ms",
    "ramps": "how the host bends its tempo: position, time or steps",
    "names": "whether two markers may have the same name: many, or once",
}
