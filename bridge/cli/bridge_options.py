"""The options of a running bridge, the same for ``follow`` and ``lead``, and what they add up to.

This file opens no port.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from bridge.errors import PlanError, UsageError

if TYPE_CHECKING:
    from bridge.hostmap import Address
    from bridge.live.feet import Feet
    from bridge.live.inputs import MidiChoice
    from bridge.osc.sender import Destination

__all__ = [
    "CAUTION",
    "NOWHERE",
    "Ahead",
    "Background",
    "CuesMidi",
    "CuesTo",
    "FootMidi",
    "Foot_",
    "LearnFoot",
    "Listen",
    "Log",
    "MakePorts",
    "PlainCues",
    "Plans",
    "StagePage",
    "choice",
    "destinations",
    "feet_of",
    "listen_on",
]

CAUTION = (
    "Caution: cues are not for pyrotechnics, rigging, moving stage machinery"
    " or anything on which safety depends."
)
NOWHERE = "off"

Plans = Annotated[
    list[Path], typer.Argument(help="The plan files of the song, or of the set.", metavar="PLAN")
]
CuesTo = Annotated[
    list[str] | None,
    typer.Option(
        "--cues-to",
        help="Send cues there over OSC; HOST:PORT@40ms sends that much early, with the time. Several times.",
        metavar="HOST:PORT",
    ),
]
Ahead = Annotated[
    str | None,
    typer.Option(help="Send cues so much before they are due, as in 40ms.", metavar="TIME"),
]
PlainCues = Annotated[
    bool,
    typer.Option("--plain-cues", help="What is sent ahead goes without bundles and their time."),
]
CuesMidi = Annotated[
    str | None,
    typer.Option(help="Send the cues' program changes to this MIDI port.", metavar="PORT"),
]
MakePorts = Annotated[
    bool, typer.Option("--virtual", help="Make the MIDI ports that are named, for others to use.")
]
Listen = Annotated[
    str,
    typer.Option(
        help="Take controls over OSC there; beyond this machine they need the token; 'off' for nowhere.",
        metavar="HOST:PORT",
    ),
]
Foot_ = Annotated[
    list[str] | None,
    typer.Option(
        "--foot",
        help="A pedal, pad or key: 'hold=controller 64', 'release=note 36 channel 10', 'again=key a'.",
        metavar="DO=WHAT",
    ),
]
LearnFoot = Annotated[
    list[str] | None,
    typer.Option(help="What is pressed next does this; says how to write it. Several times.", metavar="DO"),
]
FootMidi = Annotated[str | None, typer.Option(help="The MIDI port that pedals come in by.", metavar="PORT")]
StagePage = Annotated[
    str | None,
    typer.Option("--stage", help="Serve the stage page there, as in 0.0.0.0:9080.", metavar="HOST:PORT"),
]
Log = Annotated[
    Path | None,
    typer.Option(help="The log of all that happened; else in the user's state folder.", metavar="FILE"),
]
Background = Annotated[
    bool, typer.Option("--background", help="Go on in the background; 'status' and 'stop' talk to it.")
]


def destinations(texts: Sequence[str] | None, ahead: str | None, *, plain: bool) -> tuple[Destination, ...]:
    """Read where cues go; UsageError for what is no such place."""
    from bridge.exact import parse_seconds
    from bridge.osc.sender import MOST_AHEAD, Destination

    early = 0.0
    if ahead is not None:
        early = float(parse_seconds(ahead, what="--ahead", zero=True).value)
        if early > MOST_AHEAD:
            raise UsageError(f"--ahead is at most {MOST_AHEAD}s, not {ahead[:40]}")
    return tuple(Destination.parse(text, ahead=early, bundles=not plain) for text in texts or ())


def listen_on(text: str) -> Address | None:
    """Read where controls come in; None for nowhere."""
    from bridge.hostmap.load import read_address

    if text.strip() == NOWHERE:
        return None
    try:
        return read_address(text, least=0)
    except PlanError as error:
        raise UsageError(
            f"--listen: {error.message}",
            hint="Write 127.0.0.1:9010, 0.0.0.0:9010 for the whole network, or off.",
        ) from None


def choice(name: str | None, *, virtual: bool = False, jack: bool = False) -> MidiChoice | None:
    """Return the MIDI port that is meant; None where none is named."""
    if name is None:
        return None
    from bridge.live.inputs import MidiChoice

    return MidiChoice(name=name, virtual=virtual, jack=jack)


def feet_of(feet: Sequence[str] | None, learning: Sequence[str] | None) -> Feet:
    """Read the feet; UsageError for what is none."""
    from bridge.live.feet import Feet

    return Feet.of(feet or (), learning or ())
