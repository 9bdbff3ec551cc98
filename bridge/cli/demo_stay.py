"""The demo kept running: the practice host plays on, a bridge follows it and serves the stage page.

This file knows nothing about what the demo did before.
"""

from __future__ import annotations

from importlib.util import find_spec

from bridge.cli.bridge_live import Front, run
from bridge.cli.demo_play import play_on
from bridge.cli.output import note
from bridge.hostmap import Address, HostMap
from bridge.live.daemon import Daemon
from bridge.live.settings import Settings
from bridge.show import Programme
from bridge.song import Song
from bridge.store.token import own_token

__all__ = ["stay"]


def stay(song: Song, host: HostMap, first_bar: int, *, stage: str, as_json: bool) -> int:
    """Let the host play from ``first_bar`` and follow it until it is stopped; return the exit code.

    Without the extra 'stage' there is no page, and it is said how to get one.
    """
    play_on(song, host, first_bar, note)
    if find_spec("starlette") is None or find_spec("uvicorn") is None or find_spec("segno") is None:
        note('There is no stage page: install the extra, pip install "pulsebridge[stage]".')
        page = None
    else:
        page = stage
    settings = Settings(
        what="demo",
        title=song.plan.title,
        host=host,
        listen=Address("127.0.0.1", 0),
        token=own_token(),
    )

    def make(front: Front) -> Daemon:
        return Daemon(Programme((song,)), settings, report=front.report, warn=front.warn)

    return run(make, as_json=as_json, stage=page)
