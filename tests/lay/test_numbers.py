"""Removal by number alone: on a network that doubles packets no marker of the user's is ever hit.

The user has markers before and after ours.  Where the host's numbers hold, the change is
made whole; where they do not, and a doubled packet could hit the user's, it is refused by
name with the way out.
"""

from collections import Counter

import pytest

from bridge.lay.numbers import TRIAL, UNSAFE, survivors_kept_ids
from tests.lay.simulate import USERS, CrashError, Net, SimHost, host_map, lay, plan_state, song_ruler

SONG = song_ruler((4, 12, 12, 8))
CHANGED = song_ruler((4, 8, 16), names=("Prelude", "Crossing", "Landfall"))
LATER = (("my idea", 20.0), ("take", 57.0), ("x", 71.5), ("y", 90.0))
ALL = Counter([*USERS, *LATER])
MEAN = {"lose": 0.25, "reorder": 0.25, "delay": 0.003}


def changed_plan(kind: str, *, seed: int, end: bool = True, remove="{id:i}", **net):
    """Lay a plan, let the user add markers after it, and lay the changed plan."""
    sim, first = first_plan(kind, seed=seed, end=end, remove=remove, **net)
    return sim, lay(CHANGED, sim, first.record, net=Net(**net), seed=seed + 1000)


def first_plan(kind: str = "stable", *, seed: int, end: bool = True, remove="{id:i}", **net):
    sim = SimHost(host_map(end=end, remove=remove), end=end, ids=kind)
    for marker in USERS:
        sim.put(*marker)
    first = lay(SONG, sim, net=Net(**net), seed=seed)
    assert first.result.verified == 5
    for marker in LATER:
        sim.put(*marker)
    return sim, first


def placed_by(run) -> list[str]:
    return [message.args[-1] for message in run.sent if message.address == "/h/put"]


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
@pytest.mark.parametrize("kind", ["stable", "positions", "timeline", "shuffled"])
@pytest.mark.parametrize("double", [0.25, 0.1])
def test_what_is_doubled_hits_nothing_of_the_users_and_leaves_no_trial(kind, end, double):
    for seed in range(4):
        sim, run = changed_plan(kind, seed=seed, end=end, double=double, **MEAN)
        assert sim.state() & ALL == ALL, seed
        assert TRIAL not in {name for name, _ in sim.state()}, seed
        if kind != "stable":
            assert {failure.why for failure in run.result.failed} <= {UNSAFE}, seed


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
def test_where_numbers_hold_the_change_is_made_whole(end):
    for seed in range(4):
        sim, run = changed_plan("stable", seed=seed, end=end, double=0.25, **MEAN)
        assert (run.result.failed, run.result.removed) == ((), 1), seed
        assert sim.state() == plan_state(CHANGED) + ALL, seed


@pytest.mark.parametrize("kind", ["positions", "timeline"])
def test_a_network_that_only_loses_and_reorders_is_told_from_one_that_doubles(kind):
    for seed in range(3):
        sim, run = changed_plan(kind, seed=seed, **MEAN)
        assert run.result.failed == (), seed
        assert sim.state() == plan_state(CHANGED) + ALL, seed


@pytest.mark.parametrize("kind", ["stable", "positions", "timeline", "shuffled"])
def test_on_a_good_network_nothing_is_tried_and_nothing_refused(kind):
    sim, run = changed_plan(kind, seed=1)
    assert run.result.failed == ()
    assert sim.state() == plan_state(CHANGED) + ALL
    assert TRIAL not in placed_by(run)


@pytest.mark.parametrize("kind", ["positions", "timeline"])
def test_what_was_refused_is_done_once_the_network_is_good(kind):
    sim, run = changed_plan(kind, seed=3, double=0.25, **MEAN)
    assert {failure.why for failure in run.result.failed} == {UNSAFE}
    again = lay(CHANGED, sim, run.record)
    assert again.result.failed == ()
    assert sim.state() == plan_state(CHANGED) + ALL


def test_killed_while_it_tries_the_next_laying_takes_the_trials_away():
    seed, run = next(
        (seed, run)
        for seed in range(20)
        for _, run in [changed_plan("stable", seed=seed, double=0.25, **MEAN)]
        if TRIAL in placed_by(run)
    )
    placings = [step for step, kind in enumerate(run.kinds, start=1) if kind == "put"]
    step = placings[placed_by(run).index(TRIAL)]
    sim, first = first_plan(seed=seed, double=0.25, **MEAN)
    with pytest.raises(CrashError) as killed:
        lay(CHANGED, sim, first.record, net=Net(double=0.25, **MEAN), seed=seed + 1000, crash_after=step + 20)
    assert TRIAL in {name for name, _ in sim.state()}
    assert lay(CHANGED, sim, killed.value.run.record).result.failed == ()
    assert sim.state() == plan_state(CHANGED) + ALL


def test_whether_numbers_held_is_said_only_of_what_was_seen():
    before = {1: ("a", 1), 2: ("b", 2), 3: ("c", 3)}
    assert survivors_kept_ids(before, {1: ("a", 1), 3: ("c", 3)}, 2)
    assert not survivors_kept_ids(before, {1: ("a", 1), 2: ("c", 3)}, 2)
    assert not survivors_kept_ids(before, {1: ("a", 1), 2: ("b", 2)}, 3)
    assert not survivors_kept_ids(before, before, 2)
