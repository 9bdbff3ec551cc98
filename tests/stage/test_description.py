"""The song as the page is told it."""

from __future__ import annotations

import asyncio
import json

from bridge.stage import Stage
from bridge.stage.description import described
from tests.stage.songs import UNEVEN
from tests.stage.standin import StandIn, low_tide_relay, song_of


def test_the_description_has_no_number_that_json_cannot_hold():
    for song in (low_tide_relay(), song_of(UNEVEN)):
        assert json.loads(json.dumps(list(described(song)), allow_nan=False))


def test_a_long_song_is_described_between_other_things():
    """The description of a song with many sections never keeps the loop for longer than a section takes."""
    sections = "\n".join(f"  - {{name: S{n}, layers: [band, drum], bars: 12}}" for n in range(100))
    song = song_of(
        "pulsebridge: 1\ntitle: Long\ntempo: 120\nmeter: 4/4\nlayers:\n  band: {cycle: 4 bars}\n"
        f"  drum: {{cycle: 3/16}}\nsections:\n{sections}\n"
    )

    async def turns_of_the_loop() -> int:
        show, turns = StandIn(song), 0
        show.begin()

        async def count() -> None:
            nonlocal turns
            while True:
                turns += 1
                await asyncio.sleep(0)

        counting = asyncio.create_task(count())
        async with Stage(view=show.view, listen="127.0.0.1:0"):
            found = turns
        counting.cancel()
        return found

    assert asyncio.run(turns_of_the_loop()) > 100
