"""Laying in a host on the C library, over real UDP, a quarter of all packets lost both ways."""

from collections import Counter
from pathlib import Path

import pytest

from bridge.cli.laying import Job, lay_song
from bridge.hostmap import Address, load
from bridge.lay import Send, Write
from bridge.osc import Port
from tests.lay.liblo_host import END, MAP, LibloHost
from tests.lay.simulate import song_ruler

SONG = song_ruler((4, 12), names=("Prelude", "Crossing")).song
CHANGED = song_ruler((6, 8, 2), names=("Prelude", "Crossing", "Ebb")).song
USERS = (("Crossing", 200.0), ("my idea", 8.5))


class KilledError(Exception):
    """The laying was killed here."""


def wanted(song) -> Counter:
    return Counter((marker.name, float(marker.place.quarters)) for marker in song.markers)


def free_port() -> int:
    with Port(Address("127.0.0.1", 0)) as port:
        return port.place[1]


@pytest.fixture
def job(tmp_path: Path, monkeypatch):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path / "state"))

    def make(song, host: LibloHost, here: int, *, end: bool = True) -> Job:
        text = MAP.format(there=host.port, here=here, end=END if end else "")
        return Job(song=song, host=load(text), record=tmp_path / "song.yaml.laid.json")

    return make


def quiet(_text: str) -> None:
    """Notes are not looked at here."""


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
def test_laid_changed_and_laid_again_with_a_quarter_lost(job, end):
    here = free_port()
    with LibloHost(here, lose=0.25, seed=7, end=end, users=USERS) as host:
        first = lay_song(job(SONG, host, here, end=end), tell=quiet).result
        assert (first.placed, first.verified, first.failed) == (3, 3, ())
        assert host.state() == wanted(SONG) + Counter(USERS)
        second = lay_song(job(SONG, host, here, end=end), tell=quiet).result
        assert (second.kept, second.placed, second.verified) == (3, 0, 3)
        third = lay_song(job(CHANGED, host, here, end=end), tell=quiet).result
        assert (third.kept, third.moved, third.placed, third.removed) == (2, 1, 1, 0)
        assert third.failed == ()
        assert host.state() == wanted(CHANGED) + Counter(USERS)


def after(number: int, kind: type, address: str = ""):
    """Return what kills the laying after the so-manieth effect of a kind."""
    left = [number]

    def count(effect) -> None:
        left[0] -= isinstance(effect, kind) and (kind is Write or effect.message.address == address)
        if left[0] == 0:
            raise KilledError

    return count


@pytest.mark.parametrize(
    "kill",
    [
        (1, Write),
        (2, Send, "/pier/add"),
        (1, Send, "/pier/cut"),
        (5, Send, "/pier/tell"),
    ],
    ids=["write", "all placed", "removed", "asked"],
)
def test_killed_over_the_wire_and_laid_again_nothing_is_lost_and_nothing_stands_twice(job, kill):
    here = free_port()
    with LibloHost(here, lose=0.25, seed=3, users=USERS) as host:
        lay_song(job(SONG, host, here), tell=quiet)
        with pytest.raises(KilledError):
            lay_song(job(CHANGED, host, here), tell=quiet, after=after(*kill))
        result = lay_song(job(CHANGED, host, here), tell=quiet).result
        assert (result.verified, result.failed) == (4, ())
        assert host.state() == wanted(CHANGED) + Counter(USERS)
