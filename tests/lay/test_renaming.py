"""A section renamed in the plan, its place the same: the marker is renamed, and never one of the user's."""

from collections import Counter

import pytest

from bridge.errors import PlanError
from bridge.hostmap import load
from bridge.lay import dry_run, want
from tests.lay.simulate import USERS, CrashError, Net, SimHost, host_map, lay, plan_state, song_ruler

SONG = song_ruler((4, 12, 12, 8))
NAMES = ("Prelude", "Causeway", "Landfall", "Ebb")
RENAMED = song_ruler((4, 12, 12, 8), names=NAMES)
BY_ID = ["{id:i}", "{name:s}"]
BY_NAME = ["{old_name:s}", "{name:s}"]
BY_BOTH = ["{id:i}", "{old_name:s}", "{name:s}"]
BY_PLACE = ["{old_name:s}", "{seconds:f}", "{name:s}"]
WAYS = [BY_ID, BY_NAME, BY_BOTH, BY_PLACE]
MEAN = Net(lose=0.25, double=0.25, reorder=0.25, delay=0.003)


def laid(rename, *, kind="stable", users=USERS, **more) -> tuple[SimHost, tuple]:
    sim = SimHost(host_map(rename=rename, **more), ids=kind)
    for name, at in users:
        sim.put(name, at)
    return sim, lay(SONG, sim).record


@pytest.mark.parametrize("rename", WAYS)
def test_the_marker_keeps_its_number_and_its_place_and_gets_the_name(rename):
    sim, record = laid(rename)
    (number,) = (n for n, (name, _) in sim.markers.items() if name == "Crossing")
    run = lay(RENAMED, sim, record)
    assert (run.result.renamed, run.result.kept, run.result.placed, run.result.removed) == (1, 4, 0, 0)
    assert (run.result.verified, run.result.failed) == (5, ())
    assert sim.markers[number] == ("Causeway", 8.0)
    assert (sim.heard["put"], sim.heard["drop"]) == (5, 0)
    again = lay(RENAMED, sim, run.record)
    assert (again.result.kept, again.result.renamed) == (5, 0)
    back = lay(SONG, sim, again.record)
    assert (back.result.renamed, sim.state()) == (1, plan_state(SONG) + Counter(USERS))


@pytest.mark.parametrize("kind", ["stable", "positions", "timeline"])
@pytest.mark.parametrize("rename", WAYS)
def test_on_a_bad_network_the_name_arrives_and_all_of_the_users_stays(rename, kind):
    for seed in range(3):
        sim, record = laid(rename, kind=kind, users=(*USERS, ("take", 40.0)))
        sim.put("y", 90.0)
        users = Counter([*USERS, ("take", 40.0), ("y", 90.0)])
        run = lay(RENAMED, sim, record, net=MEAN, seed=seed)
        assert sim.state() & users == users, seed
        new = sim.state() - users - plan_state(SONG)
        assert set(new) == {("Causeway", 8.0)}, seed
        assert new.total() == 1 or (rename == BY_ID and kind != "stable"), (
            "a double of ours may be unsafe to remove"
        )
        assert run.result.verified == 5, seed


@pytest.mark.parametrize(("rename", "mine"), [(BY_NAME, ("Crossing", 50.0)), (BY_PLACE, ("Crossing", 8.0))])
def test_a_marker_of_the_users_that_the_message_could_mean_is_never_renamed(rename, mine):
    sim, record = laid(rename)
    sim.put(*mine)
    run = lay(RENAMED, sim, record)
    assert (run.result.renamed, sim.heard["name"]) == (0, 0)
    assert (run.result.placed, run.result.verified) == (1, 5)
    assert sim.state() == plan_state(RENAMED) + Counter([*USERS, mine])


def test_a_marker_of_the_users_at_the_place_keeps_its_name_and_ours_is_placed():
    sim, record = laid(BY_ID)
    (number,) = (n for n, (name, _) in sim.markers.items() if name == "Crossing")
    sim.markers[number] = ("my own words", 8.0)
    run = lay(RENAMED, sim, record)
    assert (run.result.renamed, run.result.placed) == (0, 1)
    assert sim.markers[number] == ("my own words", 8.0)


def test_a_host_that_does_not_do_it_gets_the_marker_placed_and_the_old_one_removed():
    sim, record = laid(BY_ID)
    sim.deaf_to = frozenset({"name"})
    run = lay(RENAMED, sim, record)
    assert (run.result.renamed, run.result.placed, run.result.removed) == (0, 1, 1)
    assert (run.result.verified, run.result.failed) == (5, ())
    assert sim.state() == plan_state(RENAMED) + Counter(USERS)


def test_a_host_that_cuts_the_new_name_is_told_it_once_and_the_reason_is_named():
    sim, record = laid(BY_ID)
    sim.name_of = lambda name: name[:4]
    run = lay(RENAMED, sim, record)
    ((name, why),) = [(one.name, one.why) for one in run.result.failed]
    assert (name, "'Caus'" in why, sim.heard["name"]) == ("Causeway", True, 1)


@pytest.mark.parametrize("rename", [BY_ID, BY_NAME])
def test_killed_after_any_step_the_next_laying_mends_it_for_either_plan(rename):
    kept, record = laid(rename)
    steps = lay(RENAMED, laid(rename)[0], record).steps
    assert len(kept.markers) == 8
    for step in range(1, steps + 1):
        for final in (SONG, RENAMED):
            sim, record = laid(rename)
            with pytest.raises(CrashError) as killed:
                lay(RENAMED, sim, record, crash_after=step)
            run = lay(final, sim, killed.value.run.record)
            assert run.result.failed == (), step
            assert sim.state() == plan_state(final) + Counter(USERS), step


def test_a_dry_run_says_what_would_be_renamed():
    sim, record = laid(BY_ID)
    messages, result = dry_run(RENAMED, sim.host, want(RENAMED, sim.host), record)
    assert [message.address for message in messages] == ["/h/name"]
    assert messages[0].args[1] == "Causeway"
    assert (result.renamed, result.kept, result.placed, result.removed) == (1, 4, 0, 0)


def test_an_old_name_is_text():
    with pytest.raises(PlanError, match="a name is text"):
        load('pulsebridge_host: 1\nsays: {rename: [{address: /a, args: ["{old_name:i}"]}]}')
