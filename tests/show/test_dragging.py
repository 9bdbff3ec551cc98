"""A marker of ours dragged in the host: what it would mean, by hand arithmetic."""

import time
from fractions import Fraction

import pytest

from bridge.follow import Source, Transport
from bridge.hostmap import MarkerGone, MarkerHeard, Number, load
from bridge.show.dragging import Dragging
from bridge.show.tempo_lock import TempoLock, keeps_time
from tests.show.songs import SLACK, song_of

HOST = """
pulsebridge_host: 1
name: tide board
send_to: 127.0.0.1:9001
receive_on: 127.0.0.1:9000
hears:
  marker: {address: /board/mark, args: {id: 0, at: 1, name: 2}, unit: UNIT}
says:
  place: [{address: /board/put, args: ["{FIELD:f}", "{name:s}"]}]
"""
ORIGIN = 2
"""Bars before the plan's bar 1."""


def board(unit="bars", field="seconds"):
    return load(HOST.replace("UNIT", unit).replace("FIELD", field).encode(), source="board")


@pytest.fixture(scope="module")
def slack():
    return song_of(SLACK)


@pytest.fixture
def dragging(slack):
    watch = Dragging(slack, board())
    for number, (name, bar) in enumerate(
        [("Prelude", 1), ("Crossing", 9), ("Shallows", 33), ("Landfall", 39), ("End", 51)]
    ):
        assert watch.hear(told(name, bar + ORIGIN, number)) is None
    return watch


def told(name, bar, number):
    return MarkerHeard(id=number, name=name, at=Number(Fraction(bar), Fraction(1, 1000)))


def test_a_drag_names_the_two_nearest_places_where_all_are_home(dragging):
    dragged = dragging.hear(told("Shallows", 29 + ORIGIN, 2))
    # Crossing begins in bar 9; band and drum meet every 12 bars: 12 and 24 bars long, that is bars 21 and 33
    assert [(one.bars, one.host_bar) for one in dragged.choices] == [(24, 33 + ORIGIN), (12, 21 + ORIGIN)]
    assert [one.seconds for one in dragged.choices] == [0, -24]
    # 20 bars are 5 turns of the band, and 106 turns and two thirds of the drum
    assert dragged.cut == (("drum", Fraction(2, 3)),)
    assert not dragged.is_home
    assert dragged.in_words() == (
        "Shallows was dragged to 31.1; cuts drum after 2/3 of a turn; "
        "home at bar 35 (Crossing 24 bars, the song as long as now) "
        "or bar 23 (Crossing 12 bars, the song 0:24 shorter)"
    )


def test_a_drag_to_a_good_place_says_so(dragging):
    dragged = dragging.hear(told("Shallows", 45 + ORIGIN, 2))
    assert dragged.is_home
    assert [(one.bars, one.seconds) for one in dragged.choices] == [(36, 24)]


def test_a_drag_off_the_barline_is_seen_too(dragging):
    dragged = dragging.hear(told("End", 50.5 + ORIGIN, 4))
    assert dragged.section == "Landfall"
    assert dragged.at == "52.3"
    assert [one.bars for one in dragged.choices] == [12]


def test_what_was_never_seen_in_place_is_not_ours(slack):
    watch = Dragging(slack, board())
    assert watch.hear(told("Shallows", 20, 7)) is None
    assert watch.hear(told("Shallows", 25, 7)) is None


def test_a_drag_is_told_once_and_again_when_it_goes_on(dragging):
    assert dragging.hear(told("Shallows", 29 + ORIGIN, 2)) is not None
    assert dragging.hear(told("Shallows", 29 + ORIGIN, 2)) is None
    assert dragging.hear(told("Shallows", 30 + ORIGIN, 2)) is not None
    assert dragging.hear(told("Shallows", 33 + ORIGIN, 2)) is None
    assert dragging.hear(told("Shallows", 34 + ORIGIN, 2)) is not None


def test_one_that_was_removed_is_forgotten(dragging):
    dragging.hear(MarkerGone(id=2))
    assert dragging.hear(told("Shallows", 29 + ORIGIN, 2)) is None


def test_before_its_section_there_is_no_place_for_it(dragging):
    dragged = dragging.hear(told("Shallows", 5 + ORIGIN, 2))
    assert dragged.choices == ()


def test_the_answer_comes_well_within_two_tenths_of_a_second():
    lines = [
        f"  - {{name: S{n}, layers: [band, drum, bells], bars: 60, runs_on: {str(n % 4 != 3).lower()}}}"
        for n in range(64)
    ]
    song = song_of(SLACK.split("sections:")[0] + "sections:\n" + "\n".join(lines) + "\n")
    watch = Dragging(song, board())
    watch.hear(told("S63", 63 * 60 + 1 + ORIGIN, 63))
    began = time.process_time()
    assert watch.hear(told("S63", 63 * 60 - 20 + ORIGIN, 63)) is not None
    assert time.process_time() - began < 0.2


def osc(bpm):
    return Transport(at=0.0, playing=True, quarters=0.0, bpm=bpm, source=Source.OSC)


def test_a_new_tempo_is_laid_for_once_it_holds():
    lock = TempoLock()
    assert lock.hear(0.0, osc(120), 120.0) is None
    assert lock.hear(1.0, osc(126), 120.0) is None
    assert lock.hear(2.0, osc(126), 120.0) is None
    assert lock.hear(2.6, osc(126), 120.0) == pytest.approx(1.05)
    assert lock.hear(9.0, osc(126), 120.0) is None


def test_a_tempo_that_the_plan_changes_is_no_news():
    lock = TempoLock()
    assert [lock.hear(at, osc(bpm), bpm) for at, bpm in [(0, 120.0), (2, 90.0), (4, 90.0), (8, 150.0)]] == [
        None
    ] * 4


def test_a_measured_tempo_moves_no_markers():
    lock = TempoLock()
    clock = Transport(at=0.0, playing=True, quarters=0.0, bpm=140.0, source=Source.CLOCK)
    assert [lock.hear(at, clock, 120.0) for at in (0.0, 2.0, 4.0)] == [None] * 3


@pytest.mark.parametrize(
    ("field", "time_matters"), [("seconds", True), ("samples", True), ("quarters", False)]
)
def test_only_places_told_by_time_depend_on_the_tempo(field, time_matters):
    assert keeps_time(board(field=field)) is time_matters
