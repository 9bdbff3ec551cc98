"""The hosts of examples/hosts/ over real UDP: laid, changed and laid again on a bad network.

After each laying the host's full state is what the plan wants and what is the user's,
nothing more and nothing less.
"""

from collections import Counter

import pytest

from bridge.cli.laying import Job, lay_song
from bridge.hostmap import Message
from bridge.lay import Options, Send
from bridge.practice import FAIR, Weather
from tests.lay.hosts import REPORTING, ChalkBoard, HarbourCrane, NameWall, Stage, TallyDesk, free_port
from tests.lay.simulate import Net, SimHost, host_map, plan_state, song_ruler
from tests.lay.simulate import lay as simulated

SONG = song_ruler((4, 12), names=("Prelude", "Crossing")).song
CHANGED = song_ruler((4, 8, 3), names=("Prelude", "Crossing", "Ebb")).song
BAD = Weather(lose=0.25, double=0.25, reorder=0.25, delay=0.003, seed=11)
LATE = Weather(double=0.25, reorder=0.25, delay=0.003, seed=11)
USERS = (("Landfall", 13.0), ("my idea", 8.5), ("loud", 300.0))


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path / "state"))
    return tmp_path


def wanted(song) -> Counter:
    return Counter((marker.name, float(marker.place.quarters)) for marker in song.markers)


def lay(stage: Stage, song, **more):
    job = Job(song=song, host=stage.host, record=stage.path.with_suffix(".laid.json"))
    return lay_song(job, tell=lambda _text: None, **more).result


@pytest.mark.parametrize("kind", REPORTING, ids=lambda kind: kind.map)
def test_laid_changed_and_laid_again_on_a_bad_network(folder, kind):
    with Stage(kind(USERS), folder, weather=BAD) as stage:
        first = lay(stage, SONG)
        assert (first.placed, first.verified, first.failed) == (3, 3, ())
        assert stage.program.state() == wanted(SONG) + Counter(USERS)
        again = lay(stage, SONG)
        assert (again.kept, again.placed, again.moved, again.verified) == (3, 0, 0, 3)
        changed = lay(stage, CHANGED)
        assert (changed.verified, changed.kept, changed.moved, changed.placed) == (4, 2, 1, 1)
        assert changed.failed == ()
        assert stage.program.state() == wanted(CHANGED) + Counter(USERS)


@pytest.mark.parametrize("weather", [FAIR, BAD], ids=["fair", "bad"])
@pytest.mark.parametrize("kind", REPORTING, ids=lambda kind: kind.map)
def test_a_host_that_dies_half_way_and_comes_back_gets_what_was_missing(folder, kind, weather):
    with Stage(kind(USERS), folder, weather=weather) as stage:
        word = next(iter(stage.host.says["place"])).address
        sent = Counter()

        def die_and_come_back(effect) -> None:
            if isinstance(effect, Send):
                sent[effect.message.address == word] += 1
                if effect.message.address == word and sent[True] == 2:
                    stage.stop()
                    sent["dead at"] = sent[False]
                elif sent["dead at"] and sent[False] == sent["dead at"] + 4:
                    sent["dead at"] = 0
                    stage.start()

        result = lay(stage, SONG, after=die_and_come_back)
        assert (result.verified, result.failed) == (3, ())
        assert stage.program.state() == wanted(SONG) + Counter(USERS)


def test_a_host_that_comes_back_on_another_port_is_found_by_what_it_reports(folder):
    told = []
    with Stage(TallyDesk(USERS), folder) as stage:
        other, sent = free_port(), Counter()
        stage.program.wake = lambda _now: [Message("/tally/clock", "d", (0.0,))]
        stage.program.wake_at = 0.0

        def move(effect) -> None:
            if isinstance(effect, Send) and effect.message.address == "/tally/add":
                sent["add"] += 1
                if sent["add"] == 1:
                    stage.stop()
                    stage.start(other)

        job = Job(song=SONG, host=stage.host, record=stage.path.with_suffix(".laid.json"))
        result = lay_song(job, tell=told.append, after=move).result
        assert (result.verified, result.failed) == (3, ())
        assert f"note: the host answers at port {other} now" in told
        assert stage.program.state() == wanted(SONG) + Counter(USERS)


def test_two_thousand_markers_of_the_user_stay_as_they_are_though_all_are_renumbered(folder):
    users = [(f"take {n:04}", 0.5 * n) for n in range(1999)] + [("Crossing", 970.0)]
    with Stage(TallyDesk(users), folder) as stage:
        assert lay(stage, SONG).failed == ()
        assert stage.program.state() == wanted(SONG) + Counter(users)
        result = lay(stage, CHANGED)
        assert (result.failed, result.verified) == ((), 4)
        assert stage.program.state() == wanted(CHANGED) + Counter(users)


def test_two_thousand_markers_of_the_user_stay_as_they_are_on_a_bad_network():
    """In virtual time, since a quarter of all packets lost means listing them some fifty times."""
    net = Net(lose=0.25, reorder=0.25, delay=0.003)
    sim = SimHost(host_map(), ids="positions")
    for n in range(2000):
        sim.put(f"take {n:04}", 0.25 * n)
    users = sim.state()
    ruler, changed = song_ruler((4, 12)), song_ruler((4, 8, 3))
    run = simulated(ruler, sim, net=net, seed=4)
    assert sim.state() == plan_state(ruler) + users
    run = simulated(changed, sim, run.record, net=net, seed=5)
    assert (run.result.failed, run.result.verified) == ((), 4)
    assert sim.state() == plan_state(changed) + users


def test_a_name_that_the_user_has_taken_is_not_hung_anew_where_each_is_held_once(folder):
    with Stage(NameWall([("Crossing", 3.0)]), folder) as stage:
        result = lay(stage, SONG)
        ((name, why),) = [(failure.name, failure.why) for failure in result.failed]
        assert (name, "rename" in why, result.verified) == ("Crossing", True, 2)
        assert stage.program.state()[("Crossing", 3.0)] == 1


def test_nothing_is_marked_where_the_host_does_not_say_that_it_stands(folder):
    crane = HarbourCrane(USERS)
    deaf = crane.do
    crane.do = lambda word, *args: [] if word == "go" else deaf(word, *args)
    with Stage(crane, folder) as stage:
        text = stage.path.read_text(encoding="utf-8").replace("120ms, tries: 8", "20ms, tries: 2")
        stage.path.write_text(text, encoding="utf-8")
        result = lay(stage, SONG, options=Options(tries=2))
    assert (result.verified, len(result.failed)) == (0, 3)
    assert crane.heard["mark"] == 0
    assert crane.state() == Counter(USERS)


def test_a_host_that_reports_nothing_is_laid_unverified_and_changed_by_the_record(folder):
    with Stage(ChalkBoard(USERS), folder, weather=LATE) as stage:
        first = lay(stage, SONG)
        assert (first.placed, first.verified, first.unverified) == (3, 0, 3)
        changed = lay(stage, CHANGED)
        assert (changed.kept, changed.moved, changed.placed, changed.unverified) == (2, 1, 1, 4)
        _until(lambda: stage.program.state() == wanted(CHANGED) + Counter(USERS))


def test_a_host_that_reports_nothing_loses_nothing_of_the_users_on_a_bad_network(folder):
    with Stage(ChalkBoard(USERS), folder, weather=BAD) as stage:
        lay(stage, SONG)
        lay(stage, CHANGED)
    state = stage.program.state()
    assert state & Counter(USERS) == Counter(USERS)
    assert state.keys() <= (wanted(SONG) + wanted(CHANGED) + Counter(USERS)).keys()


def _until(holds) -> None:
    """Wait, at most five seconds, for what the program has yet to hear."""
    import time

    end = time.monotonic() + 5
    while not holds() and time.monotonic() < end:
        time.sleep(0.01)
    assert holds()
