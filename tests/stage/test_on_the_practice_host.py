"""The page on a whole running bridge: a practice host plays, the bridge follows it, a browser watches."""

from __future__ import annotations

import asyncio
import re
import threading
import time

import pytest

from bridge.cli.bridge_live import _stage
from bridge.live.answers import status_record
from tests.live.rig import Rig
from tests.stage.browser import open_page, running_browser

PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 400
meter: 4/4
layers:
  band: {cycle: 2 bars, player: guitars}
  hand drum: {cycle: 3/16, player: percussion}
sections:
  - {name: Prelude, layers: [band], bars: 12}
  - {name: Crossing, layers: [band, hand drum], bars: 6}
  - {name: Landfall, layers: [band], bars: 40}
"""


class Evening:
    """A rig with its stage page, on an event loop in a thread of its own."""

    def __init__(self, folder) -> None:
        (folder / "tide.yaml").write_text(PLAN, encoding="utf-8")
        self._folder = folder
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)

    def run(self, work):
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(timeout=30)

    async def _open(self) -> None:
        self.rig = Rig(self._folder)
        self.page = _stage(self.rig.daemon, "127.0.0.1:0")
        await self.rig.__aenter__()

    async def view(self):
        return self.rig.daemon.view()

    async def status(self):
        return status_record(self.rig.daemon)

    async def roll(self, quarters: float) -> None:
        self.rig.roll(quarters)

    def __enter__(self):
        self._thread.start()
        self.run(self._open())
        return self

    def __exit__(self, *about) -> None:
        self.run(self.rig.__aexit__(*about))
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=5)
        self._loop.close()


@pytest.fixture
def evening(tmp_path, monkeypatch):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path / "state"))
    (tmp_path / "state").mkdir()
    with Evening(tmp_path) as found:
        yield found


def _text(page, place: str) -> str:
    return page.locator(place).inner_text()


def _until(page, is_so) -> bool:
    end = time.monotonic() + 15
    while not is_so() and time.monotonic() < end:
        page.wait_for_timeout(30)
    return is_so()


def test_the_page_follows_a_song_on_the_practice_host_and_holds_and_releases_it(evening):
    with (
        running_browser() as browser,
        open_page(browser, evening.page.control_address, waits=False) as page,
    ):
        assert _until(page, lambda: "place is not known" in _text(page, "#link"))
        evening.run(evening.roll(36.0))  # three bars before Crossing
        assert _until(page, lambda: _text(page, "#section") == "Prelude")
        assert _until(page, lambda: _text(page, "#link") == "Connected. In time")
        assert _until(page, lambda: _text(page, "#section") == "Crossing")
        shown, view = int(_text(page, "#bars-left")), evening.run(evening.view())
        exact = 6 - view.line.quarters / 4
        assert exact - 1 <= shown <= exact + 2, (shown, exact)
        page.get_by_role("button", name="Hold", exact=True).click()
        page.get_by_role("heading", name="Held").wait_for()
        assert evening.run(evening.view()).held
        assert _until(page, lambda: re.fullmatch(r"planned: 6", _text(page, "#bars-under")))
        page.get_by_role("button", name="Release at the next bar").click()
        assert _until(page, lambda: _text(page, "#section") == "Landfall")
        assert _until(page, lambda: not page.locator("#held").is_visible())
        assert _text(page, "#answer") == ""
        page.locator("summary").click()
        assert _until(page, lambda: "this machine alone" in _text(page, "#join-words"))
        stood = evening.run(evening.status())["stage"]
        assert stood == {"address": evening.page.address, "watching": 1, "refused": {"slow": 0}}
