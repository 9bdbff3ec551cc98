"""A vamp is held from its start; a passage without bars waits, and what follows is counted in."""

import pytest

from bridge.show import Conductor, Programme, SendOsc, Tell, control
from tests.show.songs import song_of
from tests.show.stand_in import Stage

PLAN = """
pulsebridge: 1
title: Slack Water
tempo: 120
meter: 4/4
layers:
  band: {cycle: 4 bars, player: guitars}
  drum: {cycle: 3/16, player: percussion}
sections:
  - {name: Prelude, layers: [band], bars: 4}
  - {name: Crossing, layers: [band, drum], vamp: {at_least: 12 bars}}
  - {name: Hush, layers: [], free: {about: "0:45"}}
  - {name: Landfall, layers: [band, drum], bars: 12, count_in: 2}
"""
ALL = ("locate", "play", "stop")


@pytest.fixture(scope="module")
def song():
    return song_of(PLAN)


def started(song, **told):
    stage = Stage(song, **told)
    stage.run(1.0)
    stage.play(0.0)
    return stage


def sections(stage):
    return [(one.data["section"], one.at) for one in stage.told if one.what == "section"]


def test_a_vamp_goes_on_until_it_is_released_at_a_place_where_all_are_home(song):
    stage = started(song, ability=ALL)
    stage.run(60.0)  # Crossing began at 9 s; its 12 bars were over at 33 s
    assert stage.conductor.view(60.0).held
    stage.press("release")
    stage.run(85.0)
    # its third round of 12 bars ends at 9 + 72 s
    assert sections(stage)[-1] == ("Hush", pytest.approx(81.0, abs=0.05))


def test_a_free_passage_stops_the_host_and_waits(song):
    stage = started(song, ability=ALL)
    stage.run(10.0)
    stage.press("release")
    stage.run(200.0)
    stage.host.run(200.0)
    assert not stage.host.playing
    view = stage.conductor.view(200.0)
    assert (view.waits, view.song.sections[view.section].name) == (True, "Hush")
    silent = [at for at, _ in stage.sent if at > 34.0]
    assert not silent


def test_a_release_ends_it_with_a_count_in_and_the_host_comes_in_on_the_one(song):
    stage = started(song, ability=ALL)
    stage.run(10.0)
    stage.press("release")
    stage.run(100.0)
    stage.press("release")
    stage.run(103.9)
    stage.host.run(103.9)
    assert not stage.host.playing
    counted = [effect.message.args[3] for at, effect in stage.sent if at >= 100 and is_now(effect)]
    assert counted == [1.0, 2.0, 3.0, 4.0, 1.0, 2.0, 3.0, 4.0]
    stage.run(110.0)
    stage.host.run(110.0)
    # two bars of count-in from 100 s; Landfall stands after 4 + 12 bars and the one for the passage
    assert stage.host.playing
    assert stage.host.quarters == pytest.approx((4 + 12 + 1) * 4 + (110 - 104) * 2, abs=0.05)
    assert stage.conductor.view(110.0).line.quarters == pytest.approx(12.0, abs=0.05)


def is_now(effect):
    return effect.message.address == "/pulsebridge/now"


def test_a_host_that_cannot_be_stopped_plays_through_a_free_passage(song):
    stage = started(song, ability=())
    stage.run(10.0)
    stage.press("release")
    stage.run(76.0)
    assert [name for name, _ in sections(stage)] == ["Prelude", "Crossing", "Hush"]
    stage.run(80.0)
    # the stand-in enters the slow bar up to a twentieth of a second late, at 120: a second of the bar
    assert sections(stage)[-1] == ("Landfall", pytest.approx(33.0 + 45.0, abs=1.3))


def test_where_the_bridge_leads_it_waits_by_itself(song):
    conductor = Conductor(Programme((song,)), led=True)
    effects = conductor.begin(0.0, count_in=0)
    effects += conductor.control(0.0, control("hold"))
    effects += conductor.control(0.0, control("release"))
    while conductor.wake_at is not None and conductor.wake_at < 500:
        at = conductor.wake_at
        effects += conductor.wake(at)
        if conductor.passed.held:
            effects += conductor.control(at, control("release"))
    assert conductor.waits
    assert at == pytest.approx(32.0)
    effects = conductor.control(95.0, control("release"))
    while (wake := conductor.wake_at) is not None:
        effects += conductor.wake(wake)
    starts = [one.at for one in effects if isinstance(one, Tell) and one.what == "section"]
    assert starts == [95.0]
    beats = [one.due for one in effects if isinstance(one, SendOsc) and is_now(one)]
    assert beats[0] == 95.0
    assert beats[8] == 99.0
    assert [one.text for one in effects if isinstance(one, Tell) and one.what == "end"] == [
        "Slack Water is over"
    ]
