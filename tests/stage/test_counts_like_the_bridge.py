"""The page's own arithmetic beside the bridge's exact one: bars, beats, seconds, turns, homes, meetings."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from bridge.cues import Axis, Standing
from bridge.exact import Length
from bridge.stage.description import described
from tests.stage.browser import open_page, running_browser
from tests.stage.songs import UNEVEN
from tests.stage.standin import StandIn, low_tide_relay, song_of, theatre

ASK = """async ([song, places]) => {
  const axis = await import("/page/axis.js");
  const turning = await import("/page/turning.js");
  return places.map(([index, into, until]) => {
    const section = song.sections[index];
    const bar = axis.barAt(section, into);
    const beat = axis.beatAt(section, into);
    return {
      seconds: axis.secondsAt(section, into), back: axis.intoAt(section, axis.secondsAt(section, into)),
      bpm: axis.bpmAt(section, into), bar: bar.number, beat: beat.number + 1 + beat.share,
      left: axis.barsLeft(section, into, until),
      meeting: turning.meetingAfter(section, into, until > section.length),
      layers: section.layers.map((layer) => {
        const stand = turning.stand(layer, into);
        return [layer.name, turning.sounds(layer, into), stand.turn, stand.phase, stand.next,
                turning.turnsLeft(layer, into, until)];
      }),
    };
  });
}"""


def _places(song, seed: int) -> list[tuple[int, Fraction, Fraction]]:
    """Choose places in each section and past its end, on barlines and off them; in quarters."""
    rolled = random.Random(seed)
    found = []
    for index, placed in enumerate(song.sections):
        length = placed.length.quarters
        for number in range(20):
            grid = rolled.choice([1, 2, 4, 12, 48])
            into = Fraction(rolled.randrange(0, int(length * grid * 5 / 4)), grid)
            until = length if number % 2 and into < length else into + rolled.randrange(1, 200)
            found.append((index, into, Fraction(until)))
    return found


def _exactly(song, index: int, into: Fraction, until: Fraction) -> dict:
    axis, standing = Axis(song, index), Standing(song, index)
    at, end = Length(into / 4), Length(until / 4)
    meeting = standing.meeting_after(at, held=until > axis.length.quarters)
    layers = []
    for turner in standing.turners:
        comes = at >= turner.start
        stand = turner.stand(at) if comes else None
        layers.append(
            [
                turner.name,
                comes and turner.sounds(at),
                stand and [stand.turn, float(stand.phase), float(stand.next_home.quarters)],
                turner.turns_left(at, end) if comes else None,
            ]
        )
    return {
        "seconds": float(axis.seconds(at)),
        "bpm": float(axis.bpm(at)),
        "bar": axis.bar_at(at).number,
        "beat": float(axis.counted(at)),
        "left": axis.bars_until(at, end),
        "meeting": None if meeting is None else float(meeting.quarters),
        "layers": layers,
    }


def _near(value):
    return None if value is None else pytest.approx(value, abs=1e-5)


@pytest.fixture(scope="module")
def browser():
    with running_browser() as found:
        yield found


@pytest.mark.parametrize("song_made", [low_tide_relay, lambda: song_of(UNEVEN)], ids=["relay", "uneven"])
def test_the_page_counts_as_the_bridge_does(song_made, browser):
    song = song_made()
    places = _places(song, seed=8)
    head, *sections = described(song)
    asked = [{**head, "sections": sections}, [[i, float(a), float(b)] for i, a, b in places]]
    with theatre(StandIn(song)) as found, open_page(browser, found.stage.address) as page:
        told = page.evaluate(ASK, asked)
    for place, counted in zip(places, told, strict=True):
        exact = _exactly(song, *place)
        for key in ("seconds", "bpm", "beat", "meeting"):
            assert counted[key] == _near(exact[key]), (place, key)
        assert counted["back"] == _near(float(place[1])), place
        assert (counted["bar"], counted["left"]) == (exact["bar"], exact["left"]), place
        for (name, sounds, turn, phase, home, left), known in zip(
            counted["layers"], exact["layers"], strict=True
        ):
            assert [name, sounds] == known[:2], place
            if known[2] is not None:
                assert [turn, phase % 1, home] == [_near(one) for one in known[2]], (place, name)
                assert left == known[3], (place, name)
