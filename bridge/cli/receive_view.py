"""The live view of ``receive``: who sends what, how often, how evenly, and where the host is by it.

Names from the wire are shown escaped and never read as markup.  This file only draws.
"""

from __future__ import annotations

from collections import deque
from types import TracebackType
from typing import TYPE_CHECKING, Self

from rich.console import Group, RenderableType
from rich.live import Live as Screen
from rich.table import Table
from rich.text import Text

from bridge.cli.output import console, plain_ascii, safe

if TYPE_CHECKING:
    from bridge.cli.receive_live import Live
    from bridge.follow import Transport
    from bridge.live.traffic import Stream

__all__ = ["View", "picture", "transport_line"]

_MOST_ROWS = 14
_NEWS = 6


class View:
    """Draw on the terminal while a ``with`` block runs."""

    def __init__(self, live: Live) -> None:
        self._live = live
        self._news: deque[str] = deque(maxlen=_NEWS)
        self._screen = Screen(console=console(), auto_refresh=False)

    def __enter__(self) -> Self:
        self._screen.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._screen.stop()

    def tell(self, line: str) -> None:
        """Show a line of news below, for as long as no six newer ones come."""
        self._news.append(line)

    def draw(self, now: float) -> None:
        """Draw how things stand at ``now``, in the seconds of the inputs."""
        self._screen.update(picture(self._live, now, list(self._news)), refresh=True)


def picture(live: Live, now: float, news: list[str]) -> RenderableType:
    """Return the whole view: streams, transport, what was dropped, news."""
    plain = plain_ascii()
    parts: list[RenderableType] = [_table(list(live.traffic.streams.values()), now, plain=plain)]
    parts.append(Text(transport_line(live.receiver.transport(now), plain=plain), style="bold"))
    parts += [Text(safe(line), style="yellow") for line in live.losses]
    parts += [Text(safe(line), style="dim", overflow="fold") for line in news]
    return Group(*parts)


def transport_line(state: Transport, *, plain: bool) -> str:
    """Say the transport in one line."""
    if state.source is None:
        return "no transport yet"
    words = [("> " if plain else "▶ ") + "playing" if state.playing else "standing"]
    if state.quarters is not None:
        words.append(f"at quarter {state.quarters:.2f}")
    if state.bpm is not None:
        words.append(f"{state.bpm:.2f} bpm")
    words.append(f"by {state.source}")
    if state.playing:
        sure = ("+-" if plain else "±") + f"{state.error_ms:.1f} ms" if state.error_ms is not None else ""
        words.append(f"locked {sure}".strip() if state.locked else "not sure where")
    return ", ".join(words)


def _table(streams: list[Stream], now: float, *, plain: bool) -> RenderableType:
    if not streams:
        return Text("nothing has come in yet")
    table = Table(box=None, pad_edge=False, expand=True)
    cut = "crop" if plain else "ellipsis"
    table.add_column("from", no_wrap=True, overflow=cut, max_width=21)  # type: ignore[arg-type]
    table.add_column("what", no_wrap=True, overflow=cut, ratio=2)  # type: ignore[arg-type]
    table.add_column("count", justify="right", no_wrap=True)
    table.add_column("a second", justify="right", no_wrap=True)
    table.add_column("jitter", justify="right", no_wrap=True)
    table.add_column("newest", no_wrap=True, overflow=cut, ratio=1)  # type: ignore[arg-type]
    for stream in streams[:_MOST_ROWS]:
        table.add_row(*(Text(cell) for cell in _cells(stream, now)))
    if len(streams) > _MOST_ROWS:
        table.add_row("", f"and {len(streams) - _MOST_ROWS} more")
    return table


def _cells(stream: Stream, now: float) -> tuple[str, ...]:
    rate, jitter = stream.rate(now), stream.jitter()
    return (
        safe(stream.sender),
        safe(stream.what),
        f"{stream.count:,}",
        "" if rate is None else f"{rate:.1f}",
        "" if jitter is None else f"{jitter * 1000:.2f} ms",
        safe(stream.newest),
    )
