"""From nothing to a verified laying: each invented host program is learnt over real UDP, and laid into.

The interview is the real one, with a script in the place of the user; only its pauses are
shorter.  All hosts are interviewed at once, each with ports of its own.
"""

from __future__ import annotations

import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import pytest

from bridge.cli.laying import Job, lay_song
from bridge.cli.learn_ear import Ear
from bridge.cli.learning import Talk
from bridge.exact import Meter
from bridge.hostmap import Address, HostMap, load
from bridge.lay import Kind
from bridge.learn import Explained, host_map_text, spoken_of
from bridge.osc import Port
from bridge.practice import Serving
from tests.lay.hosts import ChalkBoard, HarbourCrane, NameWall, Stage, TallyDesk, TideTable
from tests.lay.simulate import song_ruler
from tests.learn.living import TYPED, Living, User

HURRIES = (0.3, 0.3, 1.0)
"""Share of each pause that is waited: the programs answer at once, except on a machine that is too busy."""
PLAYING = 2.4
"""Seconds that a program plays at least: a line through its positions needs as much."""
USERS = (("my idea", 8.5), ("loud", 300.0))
KINDS = (TallyDesk, NameWall, HarbourCrane, TideTable)
ALL = (*KINDS, ChalkBoard)
SONG = song_ruler((4, 12), names=("Prelude", "Crossing")).song


@dataclass
class Learnt:
    """What came of one interview, and of a laying by the map that it gave."""

    wanted: HostMap
    explained: Explained
    text: str
    user: User
    before: Counter = field(default_factory=Counter)
    after: Counter = field(default_factory=Counter)
    laid: object = None


def interview(kind, folder) -> Learnt:
    """Hold the interview, again where the machine was too busy for it, and lay by what it gave."""
    stage = Stage(kind(USERS), folder)
    there, here = Address("127.0.0.1", stage.there), Address("127.0.0.1", stage.here)
    for hurry in HURRIES:
        living = Living(kind(USERS), stage.host)
        with Serving(living, listen_on=there, send_to=here):
            learnt = talk_with(living, there, here, hurry)
            if load(learnt.text).says.keys() != TYPED[kind].keys():
                continue
            with living.lock:
                living.bpm, living.meter, living.playing = 120.0, Meter.parse("4/4"), False
            learnt.before = living.program.state()
            job = Job(song=SONG, host=load(learnt.text), record=folder / "learnt.laid.json")
            learnt.laid = lay_song(job, tell=lambda _text: None)
            learnt.after = arrived(living, learnt.before.total() + len(SONG.markers))
        break
    return learnt


def arrived(living: Living, markers: int) -> Counter:
    """Return the program's markers once so many are there: one that reports nothing may be behind."""
    end = time.monotonic() + 5
    while living.program.state().total() < markers and time.monotonic() < end:
        time.sleep(0.01)
    return living.program.state()


def talk_with(living: Living, there: Address, here: Address, hurry: float) -> Learnt:
    user = User(living)

    def wait(seconds: float) -> None:
        time.sleep(max(PLAYING, seconds * hurry) if seconds > 4 else seconds * hurry)

    with Port(here) as port, Ear(port, None) as ear:
        explained = Talk(ear, to=there, ask=user.ask, wait=wait).hold()
    said = spoken_of(ear.happenings)
    text = host_map_text(explained, said, name="learnt", send_to=str(there), receive_on=str(here))
    return Learnt(living.host, explained, text, user)


@pytest.fixture(scope="module")
def learnt(tmp_path_factory):
    folders = {kind: tmp_path_factory.mktemp(kind.__name__) for kind in ALL}
    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(len(ALL)) as pool:
        patch.setenv("PULSEBRIDGE_STATE", str(tmp_path_factory.mktemp("state")))
        return dict(zip(ALL, pool.map(interview, ALL, folders.values()), strict=True))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.map)
def test_what_the_program_says_is_found_as_its_own_map_has_it(learnt, kind):
    one = learnt[kind]
    for key in ("playing", "position", "tempo", "meter", "marker", "marker_end"):
        assert one.explained[key].heard == one.wanted.hears.get(key), (key, one.explained[key].evidence)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.map)
def test_what_the_user_typed_is_kept_once_the_program_reacted(learnt, kind):
    one = learnt[kind]
    says = load(one.text).says
    assert says.keys() == TYPED[kind].keys()
    assert "seen by the user" not in one.text
    assert len(one.user.sent) == 1 + len(TYPED[kind]), "each is shown before it is sent; the list twice"


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.map)
def test_the_learnt_map_lays_and_verifies_every_marker_and_leaves_the_users(learnt, kind):
    one = learnt[kind]
    wanted = Counter((marker.name, float(marker.place.quarters)) for marker in SONG.markers)
    assert (one.laid.result.verified, one.laid.result.failed) == (3, ())
    assert one.after == one.before + wanted
    assert {name for name, _ in one.before} == {"my idea", "loud", "ebb"}


def test_tempo_meter_and_regions_go_by_the_learnt_words(learnt):
    timeline = learnt[TideTable].laid.timeline
    assert timeline.keys() == {Kind.TEMPO, Kind.METER, Kind.REGION}
    assert all(part.placed > 0 and part.failed == () for part in timeline.values())


def test_a_program_that_says_nothing_is_laid_blind_by_what_the_user_saw_happen(learnt):
    one = learnt[ChalkBoard]
    wanted = Counter((marker.name, float(marker.place.quarters)) for marker in SONG.markers)
    assert all(finding.heard is None for finding in one.explained.findings)
    assert one.text.count("seen by the user, not heard") == 2
    assert (one.laid.result.unverified, one.laid.result.verified, one.laid.result.failed) == (3, 0, ())
    assert one.after == one.before + wanted
