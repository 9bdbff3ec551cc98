"""What the options of ``lead`` add up to: the time code, what is heard, where it begins.

This file opens no port.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.errors import UsageError
from bridge.exact import parse_whole

if TYPE_CHECKING:
    from bridge.follow import Rate
    from bridge.live.daemon import Daemon
    from bridge.live.lead_ports import Heard
    from bridge.show import Programme, Spot
    from bridge.show.leading_sound import OwnClick

__all__ = ["HEARING", "READY", "Start", "heard_of", "rate_of"]

HEARING = "What you hear: start low, turn it up slowly, and mind your hearing."
READY = 0.6
"""Seconds between the word and the first beat: so long it takes to hand sounds over to a card."""
_TIMECODES = {"24": 0, "25": 1, "29.97df": 2, "30": 3}
"""The rates, and how MIDI time code numbers them."""
_MOST_CHANNELS = 64


def rate_of(text: str | None) -> Rate | None:
    """Read a rate of time code; UsageError for one that MIDI time code does not have."""
    if text is None:
        return None
    from bridge.follow import RATES

    if text.strip() not in _TIMECODES:
        raise UsageError(
            f"MIDI time code has no rate {text[:20]!r}", hint=f"Give one of {', '.join(_TIMECODES)}."
        )
    return RATES[_TIMECODES[text.strip()]]


def heard_of(
    *, guide: bool, clicks: Sequence[str] | None, device: str | None, peak_dbfs: float
) -> Heard | None:
    """Return what is to be heard; None for nothing.  UsageError for a click that is none."""
    own = tuple(_own_click(text) for text in clicks or ())
    if not guide and not own:
        if device is not None:
            raise UsageError("--device is for what is heard", hint="Give --sound, or --click WHO=CHANNEL.")
        return None
    from bridge.live.lead_ports import Heard
    from bridge.out.sound_card import refuse_missing
    from bridge.show.leading_sound import Sounding

    refuse_missing()
    return Heard(sounding=Sounding(guide=guide, clicks=own), device=device, peak_dbfs=peak_dbfs)


def _own_click(text: str) -> OwnClick:
    from bridge.show.leading_sound import OwnClick

    who, found, channel = text.rpartition("=")
    if not found or not who.strip():
        raise UsageError(
            f"--click cannot be {text[:60]!r}",
            hint="Write a player or layer and a channel of the sound card, as in 'hand drum=3'.",
        )
    number = parse_whole(channel.strip(), what="a channel of the sound card", least=1)
    if number > _MOST_CHANNELS:
        raise UsageError(f"a channel of the sound card is 1 to {_MOST_CHANNELS}, not {number}")
    return OwnClick(who=who.strip(), channel=number)


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where and when the show begins."""

    at: str | None
    count_in: int | None
    wait: bool

    def spot(self, programme: Programme) -> Spot | None:
        """Return where in the first song it begins; None for its beginning.  UsageError for nowhere."""
        if self.wait and self.count_in is not None:
            raise UsageError(
                "--wait and --count-in do not go together",
                hint="What waits is counted in as the plan says (count_in), or one bar.",
            )
        if self.at is None:
            return None
        from bridge.show import Spot
        from bridge.song import place_named

        song = programme.songs[0]
        place = place_named(song, self.at)
        placed = song.section_at(place)
        if placed is None:
            raise UsageError(f"nothing is played from {self.at!r} on", hint="Name a place before the end.")
        return Spot(song=0, section=placed.section.index, into=place - placed.start)

    def begin(self, daemon: Daemon) -> None:
        """Begin the show, or have it wait for its release."""
        from bridge.show import control

        spot = self.spot(daemon.conductor.programme)
        if not self.wait:
            bars = 1 if self.count_in is None and spot is not None else self.count_in
            daemon.begin(after=READY, spot=spot, count_in=bars)
            return
        daemon.conductor.waits = True
        if self.at is not None:
            daemon.control(control("locate", self.at))
        daemon.tell("waiting", "it begins when it is released: 'pulsebridge press release'")
