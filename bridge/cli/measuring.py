"""``receive --measure-delay``: the options that go with it, and what is said of the result.

This file knows neither ports nor statistics.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NoReturn

from bridge.cli.output import note, plain_ascii, print_json, write_lines
from bridge.errors import PeerError, UsageError

if TYPE_CHECKING:
    from bridge.follow import Follower, Source
    from bridge.follow.delay import Found, Taps, Unsure
    from bridge.hostmap import HostMap
    from bridge.live.inputs import MidiChoice
    from bridge.live.loopback import Looped

__all__ = ["Measuring", "measure", "wanted"]

_TIMES = {"tap": 24, "loop": 50}
_KEYS = ("measured", "delays", "taps", "unused", "ahead_ms", "sent", "round_trip_ms", "share")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measuring:
    """How a delay is to be measured: ``kind`` is tap or loop."""

    kind: str
    tap_on: str | None
    loop_to: str | None
    share: str
    times: int


def wanted(
    kind: str | None, *, tap_on: str | None, loop_to: str | None, share: str | None, times: int | None
) -> Measuring | None:
    """Return what the options ask for, None for no measuring; UsageError where they do not go together."""
    beside = {
        "--tap-on": tap_on if kind != "tap" else None,
        "--loop-to": loop_to if kind != "loop" else None,
        "--loop-share": share if kind != "loop" else None,
        "--times": times if kind is None else None,
    }
    if given := [name for name, value in beside.items() if value is not None]:
        needed = "tap" if given == ["--tap-on"] else "loop" if "--times" not in given else "tap or loop"
        _refuse(f"{' and '.join(given)} needs --measure-delay {needed}")
    if kind is None:
        return None
    if kind not in _TIMES:
        _refuse(f"a delay is measured by 'tap' or 'loop', not {kind[:40]!r}")
    if share not in (None, "half", "whole"):
        _refuse(f"--loop-share is 'half' or 'whole' of the way there and back, not {share!r}")
    return Measuring(
        kind=kind, tap_on=tap_on, loop_to=loop_to, share=share or "half", times=times or _TIMES[kind]
    )


def measure(
    measuring: Measuring,
    follower: Follower,
    *,
    host: HostMap | None,
    midi: MidiChoice | None,
    seconds: float | None,
    as_json: bool,
) -> int:
    """Measure and say the result; return the exit code: 3 where no source's delay could be told."""
    if measuring.kind == "tap":
        record, delays = _by_tap(measuring, follower, host, midi, seconds)
    else:
        record, delays = _by_loop(measuring, host, midi)
    if as_json:
        print_json(record)
    else:
        write_lines(_words(record))
    return 0 if any(row["delay_ms"] is not None for row in delays) else PeerError.exit_code


def _by_tap(
    measuring: Measuring,
    follower: Follower,
    host: HostMap | None,
    midi: MidiChoice | None,
    seconds: float | None,
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    import asyncio

    from bridge.live.tapping import tap_along

    taps = asyncio.run(
        tap_along(
            follower,
            host=host,
            midi=midi,
            tap_on=measuring.tap_on,
            times=measuring.times,
            seconds=seconds,
            tell=note,
        )
    )
    return _tap_record(taps)


def _tap_record(taps: Taps) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    from bridge.follow.delay import AHEAD_MS

    delays = [_row(source, found) for source, found in taps.delays().items()]
    given = {"taps": taps.count, "unused": taps.unused, "ahead_ms": list(AHEAD_MS)}
    return _record("tap", delays, given), delays


def _by_loop(
    measuring: Measuring, host: HostMap | None, midi: MidiChoice | None
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    from bridge.follow import Source
    from bridge.live.loopback import loop_midi, loop_osc

    if measuring.loop_to is not None and midi is not None:
        looped = loop_midi(measuring.loop_to, midi, times=measuring.times)
        return _loop_record(looped, (Source.CLOCK, Source.TIMECODE), measuring.share)
    if measuring.loop_to is not None or midi is not None:
        _refuse("a MIDI loop needs both ports: --loop-to PORT to send to, --midi PORT where it comes back")
    if host is None:
        _refuse("a loop needs the ports of a MIDI loop (--loop-to, --midi), or a host to ask (--host MAP)")
    looped = loop_osc(host, times=measuring.times)
    return _loop_record(looped, (Source.OSC,), measuring.share)


def _loop_record(
    looped: Looped, sources: tuple[Source, ...], share: str
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    from statistics import median

    from bridge.follow.delay import Share, of_round_trips

    found = of_round_trips(looped.seconds, sent=looped.sent, share=Share(share))
    delays = [_row(source, found) for source in sources]
    trip = median(looped.seconds) * 1000 if looped.seconds else None
    given = {"sent": looped.sent, "round_trip_ms": trip, "share": share}
    return _record("loop", delays, given), delays


def _record(measured: str, delays: list[dict[str, Any]], given: dict[str, Any]) -> dict[str, Any]:
    return dict.fromkeys(_KEYS) | {"measured": measured, "delays": delays} | given


def _row(source: Source, found: Found | Unsure) -> dict[str, Any]:
    from bridge.follow.delay import Found, Unsure

    known = found if isinstance(found, Found) else None
    return {
        "source": str(source),
        "delay_ms": None if known is None else known.delay * 1000,
        "error_ms": None if known is None else known.error * 1000,
        "spread_ms": None if found.spread is None else found.spread * 1000,
        "beat_ms": None if found.beat is None else found.beat * 1000,
        "count": found.count,
        "why": found.why if isinstance(found, Unsure) else None,
    }


def _words(record: dict[str, Any]) -> list[str]:
    lines = [_line(row) for row in record["delays"]]
    if not lines:
        lines.append("no source was playing at a known place while you tapped")
    known = [row for row in record["delays"] if row["delay_ms"] is not None]
    if record["share"] is not None and known:
        trip = f"{record['share']} of a round trip of {record['round_trip_ms']:.2f} ms"
        lines.append(f"That is {trip}; {known[0]['count']} of {record['sent']} came back.")
    if record["ahead_ms"] is not None and known:
        least, most = record["ahead_ms"]
        lines.append(f"As a rule people tap {least} to {most} ms ahead of what they hear, musicians less,")
        lines.append("and a key takes some ms: both are in these figures. Take off what you know.")
    if known:
        options = " ".join(f"--delay {row['source']}={row['delay_ms']:.1f}" for row in known)
        lines.append(f"Set with: {options}")
    return lines


def _line(row: dict[str, Any]) -> str:
    if row["delay_ms"] is None:
        return f"{row['source']}: not measured: {row['why']}"
    sure = "+-" if plain_ascii() else "±"
    text = f"{row['source']}: {row['delay_ms']:.1f} {sure}{row['error_ms']:.1f} ms"
    text += f", from {row['count']}, which spread by {row['spread_ms']:.1f} ms"
    beat = row["beat_ms"]
    if beat is not None and abs(row["delay_ms"]) > beat / 4:
        other = row["delay_ms"] - (beat if row["delay_ms"] > 0 else -beat)
        text += f" (or {other:.1f}: a tap cannot tell whole beats)"
    return text


def _refuse(message: str) -> NoReturn:
    raise UsageError(message, hint="See 'pulsebridge receive --help'.")
