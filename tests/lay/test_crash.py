"""Killed after any write or send and laid again: nothing of the user's changes, nothing stands twice."""

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.lay.simulate import USERS, CrashError, Net, SimHost, host_map, lay, plan_state, song_ruler

SONG = song_ruler((4, 12, 12, 8))
SHORTER = song_ruler((4, 8, 16), names=("Prelude", "Crossing", "Landfall"))


def host(kind: str, *, end: bool = True) -> SimHost:
    remove = "{id:i}" if kind != "none" else ["{name:s}", "{seconds:f}"]
    sim = SimHost(host_map(end=end, ids=kind != "none", remove=remove), end=end, ids=kind)
    for name, at in USERS:
        sim.put(name, at)
    return sim


def steps_of(ruler, sim: SimHost, record=()) -> list[int]:
    """Every write, every change, and the first of each row of questions."""
    kinds = lay(ruler, sim, record).kinds
    return [i for i, kind in enumerate(kinds, start=1) if kind != "all" or kinds[i - 2] != "all"]


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
@pytest.mark.parametrize("kind", ["stable", "positions", "fresh", "none"])
def test_killed_after_any_step_of_the_first_laying_the_next_one_mends_it(kind, end):
    for step in steps_of(SONG, host(kind, end=end)):
        sim = host(kind, end=end)
        with pytest.raises(CrashError) as killed:
            lay(SONG, sim, crash_after=step)
        run = lay(SONG, sim, killed.value.run.record)
        assert (run.result.verified, run.result.failed) == (5, ()), step
        assert sim.state() == plan_state(SONG) + Counter(USERS), step


@pytest.mark.parametrize("kind", ["stable", "positions", "none"])
def test_killed_after_any_step_of_a_change_the_next_one_mends_it_for_either_plan(kind):
    laid = host(kind)
    record = lay(SONG, laid).record
    sim = replace(laid, markers=dict(laid.markers))
    for step in steps_of(SHORTER, sim, record):
        for final in (SONG, SHORTER):
            sim = replace(laid, markers=dict(laid.markers))
            with pytest.raises(CrashError) as killed:
                lay(SHORTER, sim, record, crash_after=step)
            run = lay(final, sim, killed.value.run.record)
            assert run.result.failed == (), step
            assert sim.state() == plan_state(final) + Counter(USERS), step


def test_killed_while_ours_goes_an_equal_of_the_users_stays():
    laid = host("stable")
    record = lay(SONG, laid).record
    laid.put("Landfall", 32.0)
    users = max(laid.markers)
    sim = replace(laid, markers=dict(laid.markers))
    for step in steps_of(SHORTER, sim, record):
        sim = replace(laid, markers=dict(laid.markers))
        with pytest.raises(CrashError) as killed:
            lay(SHORTER, sim, record, crash_after=step)
        lay(SHORTER, sim, killed.value.run.record)
        assert sim.markers[users] == ("Landfall", 32.0), step
        assert sim.state() == plan_state(SHORTER) + Counter([*USERS, ("Landfall", 32.0)]), step


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    share=st.floats(0, 1),
    kind=st.sampled_from(["stable", "positions", "fresh", "none"]),
    end=st.booleans(),
    delay=st.sampled_from([0.001, 0.02]),
)
def test_killed_anywhere_on_a_network_that_loses_a_quarter_the_next_one_mends_it(
    seed, share, kind, end, delay
):
    net = Net(lose=0.25, delay=delay)
    sim = host(kind, end=end)
    try:
        record = lay(SONG, sim, net=net, seed=seed, crash_after=1 + int(share * 90)).record
    except CrashError as killed:
        record = killed.run.record
    run = lay(SHORTER, sim, record, net=net, seed=seed + 1)
    assert (run.result.verified, run.result.failed) == (4, ())
    assert sim.state() == plan_state(SHORTER) + Counter(USERS)
