"""What an interview adds up to: a finding for every line under ``hears``.

Pure: what happened in, findings out.  This file knows nothing about files or the terminal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.errors import PlanError
from bridge.hostmap import Message
from bridge.hostmap.message import address_or_error
from bridge.learn.finding import Finding, Missing
from bridge.learn.lists import find_marker_end
from bridge.learn.mark import Happening, Mark, What
from bridge.learn.markers import find_gone, find_marker, made_markers
from bridge.learn.playing import find_playing
from bridge.learn.position import find_position
from bridge.learn.spell import Round, spells_of
from bridge.learn.stream import streams_of
from bridge.learn.tempo import find_meter, find_tempo

__all__ = ["Explained", "explain"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """The findings in the order of a host map, and what was heard in all."""

    findings: tuple[Finding, ...]
    messages: int
    addresses: tuple[str, ...]
    unexplained: tuple[str, ...]
    """Addresses that no finding names."""
    round: Round
    """The tempo and meter told last."""
    steps: int
    """How many steps of the interview were done."""

    def __getitem__(self, key: str) -> Finding:
        return next(one for one in self.findings if one.key == key)

    @property
    def missing(self) -> tuple[Missing, ...]:
        """What a further round would have to bring for transport and places, each once.

        What was left out of the first course (markers, say) is not asked for again.
        """
        asked = (self["playing"].missing, self["position"].missing, self["marker"].missing)
        return tuple(dict.fromkeys(one for one in asked if one is not None and one is not Missing.MARKER))


def explain(happenings: Sequence[Happening]) -> Explained:
    """Explain an interview; PlanError for a step in it that says nothing."""
    happenings = [one for one in happenings if isinstance(one.said, Mark) or _can_be_written(one.said)]
    spells = spells_of(happenings)
    streams = streams_of(happenings)
    marker = find_marker(made_markers(happenings, spells), happenings)
    findings = (
        find_playing(streams, spells),
        find_position(streams, spells),
        find_tempo(streams, spells),
        find_meter(streams, spells),
        marker,
        find_gone(happenings, spells, marker),
        find_marker_end(happenings, marker),
    )
    addresses = tuple(dict.fromkeys(one.said.address for one in happenings if isinstance(one.said, Message)))
    named = {one.heard.address for one in findings if one.heard is not None}
    return Explained(
        findings=findings,
        messages=sum(isinstance(one.said, Message) for one in happenings),
        addresses=addresses,
        unexplained=tuple(address for address in addresses if address not in named),
        round=spells[-1].round if spells else Round(),
        steps=sum(isinstance(one.said, Mark) and one.said.what is What.DONE for one in happenings),
    )


def _can_be_written(message: Message) -> bool:
    """Whether a host map may name the message's address; patterns and spaces are refused there."""
    try:
        address_or_error(message.address)
    except PlanError:
        return False
    return True
