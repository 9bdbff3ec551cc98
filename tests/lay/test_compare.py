"""When the host's tempo and meter count as the plan's."""

from fractions import Fraction as F

import pytest

from bridge.errors import PeerError
from bridge.hostmap import Message, MeterHeard, Number, Ruler
from bridge.lay import Options, Transport, difference
from bridge.plan import load as load_plan
from bridge.song import unroll
from tests.lay.simulate import SimHost, host_map, lay

PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 115.2
meter: 4/4
layers: {band: {cycle: 1/8}}
sections:
  - {name: Prelude, layers: [band], bars: 4}
  - {name: Crossing, layers: [band], bars: 8, tempo: {from: 60, to: 90}}
  - {name: Landfall, layers: [band], bars: 4, tempo: 90, meter: 7/8}
"""
RULER = Ruler(unroll(load_plan(PLAN), (4, 8, 4)))
HEARS = """  tempo: {address: /h/tempo, arg: 0, unit: bpm}
  meter: {address: /h/meter, args: {top: 0, bottom: 1}}
  position: {address: /h/where, arg: 0, unit: quarters}
"""


def single(value) -> Number:
    from bridge.hostmap import read_number
    from bridge.hostmap.message import as_float32

    return read_number(as_float32(float(value)), "f")


def found(*, bpm=None, meter=None, at=None, ramps="position") -> str | None:
    host = host_map(extra=HEARS)
    text = {"position": host}.get(ramps)
    if text is None:
        from dataclasses import replace

        from bridge.hostmap import Ramps

        host = replace(host, ramps=Ramps(ramps))
    transport = Transport(
        tempo=None if bpm is None else single(bpm),
        meter=None if meter is None else MeterHeard(*meter),
        position=None if at is None else single(at),
    )
    return difference(RULER, host, transport)


@pytest.mark.parametrize(
    "told",
    [
        {},
        {"bpm": "115.2"},
        {"bpm": "115.2", "meter": (4, 4)},
        {"bpm": "115.2", "at": 15.5},
        {"bpm": 60, "at": 16},
        {"bpm": "115.2", "at": 16},
        {"bpm": 75, "at": 32},
        {"bpm": 90, "meter": (7, 8), "at": 50},
        {"bpm": F(5850) ** F(1, 2), "at": 32, "ramps": "time"},
        {"bpm": 60, "at": 32, "ramps": "steps"},
        {"bpm": 90, "at": 999},
    ],
)
def test_the_plans_own_tempo_and_meter_at_the_hosts_place_are_no_difference(told):
    assert found(**told) is None


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"bpm": 120}, "the host's tempo is 120, the plan's 115.2"),
        ({"bpm": 115}, "the host's tempo is 115, the plan's 115.2"),
        ({"bpm": "115.21"}, "the host's tempo is 115.21, the plan's 115.2"),
        ({"bpm": "115.2", "at": 50}, "bar 13.5"),
        ({"bpm": 80, "at": 32}, "the plan's 75"),
        ({"bpm": 75, "at": 32, "ramps": "time"}, "the host's tempo is 75"),
        ({"bpm": 59, "at": 32, "ramps": "steps"}, "the host's tempo is 59"),
        ({"meter": (3, 4)}, "the host's meter is 3/4, the plan's 4/4"),
        ({"meter": (4, 4), "at": 50}, "the host's meter is 4/4, the plan's 7/8"),
    ],
)
def test_a_difference_is_told_with_both_figures_and_the_place(told, words):
    assert words in found(**told)


def chatter(bpm: float, at: float = 0.0) -> tuple[Message, ...]:
    return (
        Message("/h/where", "f", (at,)),
        Message("/h/tempo", "f", (bpm,)),
        Message("/h/meter", "ii", (4, 4)),
    )


def seconds_host() -> SimHost:
    return SimHost(host_map(extra=HEARS))


def test_laying_by_seconds_is_refused_at_another_tempo_before_anything_is_sent():
    sim = seconds_host()
    with pytest.raises(PeerError, match="nothing was sent") as refused:
        lay(RULER, sim, chatter=chatter(120.0))
    assert refused.value.exit_code == 3
    assert not sim.heard


def test_anyway_lays_with_a_warning():
    run = lay(RULER, seconds_host(), chatter=chatter(120.0), options=Options(anyway=True))
    assert run.result.verified == 4
    assert any(say.warning and "120" in say.text for say in run.said)


def test_a_silent_host_is_waited_for_one_second_and_warned_about():
    run = lay(RULER, seconds_host())
    assert run.times[0] == 1.0
    assert any(say.warning for say in run.said)
    assert run.result.verified == 4


def test_a_host_that_tells_all_is_not_waited_for():
    run = lay(RULER, seconds_host(), chatter=chatter(115.2))
    assert run.times[0] < 0.1
    assert run.said == []


def test_laying_by_quarters_compares_nothing():
    sim = SimHost(host_map(extra=HEARS, place="{quarters:f}", unit="quarters"))
    run = lay(RULER, sim, chatter=chatter(120.0))
    assert run.times[0] == 0.0
    assert (run.result.verified, run.said) == (4, [])


class _TellsWhenAsked(SimHost):
    """A host that tells its tempo and meter only beside a list of its markers."""

    bpm = 115.2

    def tell(self):
        return [*super().tell(), *((0.0, message) for message in chatter(self.bpm))]


def test_a_host_that_tells_its_tempo_only_when_asked_for_its_markers_is_not_called_silent():
    run = lay(RULER, _TellsWhenAsked(host_map(extra=HEARS)))
    assert (run.result.verified, run.said) == (4, [])


def test_another_tempo_told_only_beside_the_markers_is_refused_before_anything_is_placed():
    sim = _TellsWhenAsked(host_map(extra=HEARS))
    sim.bpm = 120.0
    with pytest.raises(PeerError, match="nothing was sent"):
        lay(RULER, sim)
    assert not sim.heard["put"]


def test_a_silent_host_that_is_laid_blind_is_warned_about_once():
    run = lay(RULER, SimHost(host_map(marker=False, extra=HEARS)))
    assert [say.warning for say in run.said] == [True]
