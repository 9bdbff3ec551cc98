"""The counting of flashes counts right, and the page flashes no more than three times in any second."""

from __future__ import annotations

import base64
import io

import numpy as np
import pytest
from PIL import Image

from tests.stage.browser import open_page, running_browser
from tests.stage.flashes import luminance_by_square, most_flashes_in_a_second
from tests.stage.songs import QUICK, STEADY
from tests.stage.standin import StandIn, song_of, theatre

SECONDS = 1.8


@pytest.fixture(scope="module")
def browser():
    with running_browser() as found:
        yield found


def _blinking(times_a_second: float, low: float, high: float) -> list[tuple[float, np.ndarray]]:
    frames = [number / 50 for number in range(150)]
    return [(at, np.array([high if int(at * times_a_second * 2) % 2 else low])) for at in frames]


@pytest.mark.parametrize(
    ("times", "low", "high", "counted"),
    [
        (1, 0, 1, 1),
        (3, 0, 1, 3),
        (4, 0, 1, 4),
        (6, 0, 1, 6),
        (6, 0.05, 0.14, 0),
        (6, 0.85, 1.0, 0),
        (6, 0.7, 0.85, 6),
    ],
)
def test_flashes_are_counted_as_the_criterion_defines_them(times, low, high, counted):
    assert most_flashes_in_a_second(_blinking(times, low, high)) == counted


def test_luminance_is_that_of_the_standard():
    """WCAG 2.2, relative luminance: white 1, black 0; #767676 on white is 4.542 to 1 (shared table, C)."""
    picture = Image.new("RGB", (16, 8), "#767676")
    picture.paste("#ffffff", (8, 0, 16, 8))
    kept = io.BytesIO()
    picture.save(kept, "png")
    grey, white = luminance_by_square(kept.getvalue())
    assert white == pytest.approx(1)
    assert (white + 0.05) / (grey + 0.05) == pytest.approx(4.542, abs=0.001)


COUNT = """() => {
  window.drawn = 0;
  const count = () => { window.drawn += 1; requestAnimationFrame(count); };
  count();
}"""


def _frames(page) -> list[tuple[float, np.ndarray]]:
    """Take the frames that the browser shows for a while."""
    session = page.context.new_cdp_session(page)
    taken: list[tuple[float, bytes]] = []

    def keep(frame):
        taken.append((frame["metadata"]["timestamp"], base64.b64decode(frame["data"])))
        session.send("Page.screencastFrameAck", {"sessionId": frame["sessionId"]})

    session.on("Page.screencastFrame", keep)
    session.send(
        "Page.startScreencast", {"format": "png", "everyNthFrame": 2, "maxWidth": 160, "maxHeight": 320}
    )
    page.wait_for_timeout(SECONDS * 1000)
    session.send("Page.stopScreencast")
    taken.sort()  # the browser does not always hand them over in order
    return [(at, luminance_by_square(picture)) for at, picture in taken]


@pytest.mark.parametrize(
    ("text", "scheme"),
    [*((STEADY.format(bpm=bpm), "dark") for bpm in (60, 179, 181, 300)), (QUICK, "light")],
    ids=["60", "179", "181", "300", "480 in bars of one beat"],
)
def test_the_page_never_flashes_more_than_three_times_in_a_second(browser, text, scheme):
    song = song_of(text)
    with (
        theatre(StandIn(song, section=1)) as found,
        open_page(
            browser,
            f"{found.stage.address}#light=beat&part=percussion",
            viewport={"width": 320, "height": 640},
            color_scheme=scheme,
        ) as page,
    ):
        page.evaluate(COUNT)
        frames = _frames(page)
        drawn = page.evaluate("window.drawn")
    assert drawn / SECONDS > 8, "too few frames to judge by"
    assert most_flashes_in_a_second(frames) <= 3
    if text is not QUICK:  # the beat is seen
        assert most_flashes_in_a_second(frames) >= 1
