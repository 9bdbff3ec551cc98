"""What laying promises, against a simulated host in virtual time; each test is a rule of the contract."""

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import pytest

from bridge.hostmap import MarkerHeard, Message, Number
from bridge.lay import Failure, Options, State
from tests.lay.simulate import USERS, Net, SimHost, host_map, lay, plan_state, song_ruler

SONG = song_ruler((4, 12, 12, 8))
CHANGED = song_ruler((4, 8, 16, 8))
"""Landfall comes 8 s earlier; all else stands where it stood."""
SHORTER = song_ruler((4, 8, 16), names=("Prelude", "Crossing", "Landfall"))
KINDS = ["stable", "positions", "fresh", "shuffled", "none"]


def host(kind: str = "stable", *, end: bool = True, users=USERS, **more) -> SimHost:
    remove = "{id:i}" if kind != "none" else ["{name:s}", "{seconds:f}"]
    sim = SimHost(host_map(end=end, ids=kind != "none", remove=remove), end=end, ids=kind, **more)
    for name, at in users:
        sim.put(name, at)
    return sim


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
@pytest.mark.parametrize("kind", KINDS)
def test_every_marker_is_placed_once_and_verified(kind, end):
    sim = host(kind, end=end)
    run = lay(SONG, sim)
    assert run.result.as_record() == {
        "placed": 5, "kept": 0, "moved": 0, "removed": 0, "renamed": 0, "verified": 5, "unverified": 0,
        "failed": [],
    }  # fmt: skip
    assert sim.state() == plan_state(SONG) + Counter(USERS)
    assert sim.heard["put"] == 5


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
@pytest.mark.parametrize("kind", KINDS)
def test_laying_twice_changes_nothing(kind, end):
    sim = host(kind, end=end)
    first = lay(SONG, sim)
    before = sim.heard["put"], sim.heard["drop"], sim.state()
    second = lay(SONG, sim, first.record)
    assert (second.result.kept, second.result.verified, second.result.placed) == (5, 5, 0)
    assert (sim.heard["put"], sim.heard["drop"], sim.state()) == before


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_changed_plan_moves_adds_and_removes_only_what_changed(kind, end):
    sim = host(kind, end=end)
    run = lay(SONG, sim)
    placed = sim.heard["put"]
    run = lay(CHANGED, sim, run.record)
    assert (run.result.moved, run.result.kept, run.result.placed, run.result.removed) == (1, 4, 0, 0)
    assert (sim.heard["put"] - placed, sim.heard["drop"]) == (1, 1)
    assert sim.state() == plan_state(CHANGED) + Counter(USERS)
    run = lay(SHORTER, sim, run.record)
    assert (run.result.moved, run.result.kept, run.result.placed, run.result.removed) == (1, 3, 0, 1)
    assert sim.state() == plan_state(SHORTER) + Counter(USERS)
    run = lay(SONG, sim, run.record)
    assert (run.result.moved, run.result.kept, run.result.placed, run.result.removed) == (2, 2, 1, 0)
    assert sim.state() == plan_state(SONG) + Counter(USERS)


def test_a_new_marker_is_seen_before_the_old_one_goes():
    sim = host()
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record)
    words = [message.address for message in run.sent]
    assert words.index("/h/put") < words.index("/h/all", words.index("/h/put")) < words.index("/h/drop")


LOSS = Net(lose=0.25)
STORM = Net(lose=0.25, double=0.1, reorder=0.1, delay=0.004)


@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
@pytest.mark.parametrize(
    ("kind", "net"),
    [(kind, LOSS) for kind in KINDS] + [("stable", STORM)],
    ids=[f"{kind}, loss" for kind in KINDS] + ["stable, storm"],
)
def test_with_a_quarter_lost_both_ways_all_of_the_users_stays_and_nothing_stands_twice(kind, end, net):
    for seed in range(3):
        sim = host(kind, end=end)
        first = lay(SONG, sim, net=net, seed=seed)
        assert (first.result.verified, first.result.failed) == (5, ())
        assert sim.state() == plan_state(SONG) + Counter(USERS)
        second = lay(SHORTER, sim, first.record, net=net, seed=seed + 100)
        assert (second.result.verified, second.result.failed) == (4, ())
        assert sim.state() == plan_state(SHORTER) + Counter(USERS)
        assert max(first.seconds, second.seconds) < 40


def test_a_marker_is_missing_only_after_sixteen_answered_listings_without_it():
    sim = host(end=False, deaf_to=frozenset({"put"}))
    run = lay(SONG, sim, options=Options(tries=3))
    words = [message.address for message in run.sent]
    puts = [i for i, word in enumerate(words) if word == "/h/put"]
    rounds = [puts[i : i + 5] for i in range(0, len(puts), 5)]
    assert len(rounds) == 3
    assert words[: puts[0]].count("/h/all") >= 16
    for before, after in pairwise(rounds):
        assert words[before[-1] : after[0]].count("/h/all") >= 16
    assert run.result.unverified == 5
    assert [failure.why for failure in run.result.failed] == ["the host never told of it"] * 5


def test_an_empty_host_without_an_end_is_known_by_sixteen_unanswered_listings():
    sim = host(end=False, users=())
    run = lay(SONG, sim)
    words = [message.address for message in run.sent]
    assert words.index("/h/put") == 16
    assert run.result.verified == 5


def test_gaps_grow_from_twenty_to_two_hundred_and_fifty_milliseconds():
    sim = host(mute=True)
    run = lay(SONG, sim)
    gaps = [after - before for before, after in pairwise(run.times)]
    assert gaps[0] == pytest.approx(0.02)
    assert max(gaps) == pytest.approx(0.25)
    assert all(before <= after + 1e-9 for before, after in pairwise(gaps))


def test_a_host_whose_map_tells_an_end_and_that_stays_silent_is_sent_nothing_but_the_question():
    sim = host(mute=True)
    run = lay(SONG, sim)
    assert sim.heard["put"] == 0
    assert run.result.silent
    assert {failure.why for failure in run.result.failed} == {"the host does not answer"}
    assert run.record == ()


def test_a_host_that_hears_and_never_tells_has_each_marker_once_and_unverified():
    sim = host(end=False, mute=True, users=())
    run = lay(SONG, sim)
    assert sim.state() == plan_state(SONG)
    assert (run.result.verified, run.result.unverified, len(run.result.failed)) == (0, 5, 5)
    assert run.seconds < 15


def test_it_ends_within_forty_seconds_whatever_happens():
    sim = host(end=False, deaf_to=frozenset({"put"}), think=0.1)
    assert lay(SONG, sim, net=Net(lose=0.5, delay=0.5)).seconds < 40


@pytest.mark.parametrize("delay", [0.1, 0.4, 1.0])
@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
@pytest.mark.parametrize("users", [(), USERS], ids=["empty", "not empty"])
def test_a_slow_host_is_waited_for_and_gets_each_marker_once(delay, end, users):
    sim = host(end=end, users=users)
    run = lay(SONG, sim, net=Net(delay=delay / 2))
    assert run.result.verified == 5
    assert sim.heard["put"] == 5
    assert run.seconds < 40
    run = lay(CHANGED, sim, run.record, net=Net(delay=delay / 2))
    assert (run.result.moved, run.result.verified) == (1, 5)
    assert sim.state() == plan_state(CHANGED) + Counter(users)


@pytest.mark.parametrize("think", [0.005, 0.02])
@pytest.mark.parametrize("end", [True, False], ids=["end told", "no end"])
def test_a_host_that_tells_its_markers_slowly_is_heard_to_the_end(think, end):
    users = [(f"mine {i}", 100.0 + i) for i in range(20)]
    sim = host(end=end, users=users, think=think)
    run = lay(SONG, sim)
    assert run.result.verified == 5
    assert sim.heard["put"] == 5


def test_a_host_that_moves_a_marker_of_the_same_name_ends_with_one():
    sim = host(users=(("my idea", 12.5),), upsert=True)
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record)
    assert (run.result.moved, run.result.verified, run.result.failed) == (1, 5, ())
    assert sim.state() == plan_state(CHANGED) + Counter({("my idea", 12.5): 1})


def test_a_marker_of_the_users_where_the_plan_wants_one_is_kept_and_stays_the_users():
    sim = host(users=(("Crossing", 8.0),))
    run = lay(SONG, sim)
    assert (run.result.placed, run.result.kept, run.result.verified) == (4, 1, 5)
    moved_on = song_ruler((6, 10, 12, 8))
    run = lay(moved_on, sim, run.record)
    assert sim.state() == plan_state(moved_on) + Counter({("Crossing", 8.0): 1})


def test_an_equal_of_the_users_made_later_is_told_from_ours_by_its_id():
    sim = host()
    run = lay(SONG, sim)
    sim.put("Landfall", 32.0)
    users = max(sim.markers)
    run = lay(CHANGED, sim, run.record)
    assert sim.markers[users] == ("Landfall", 32.0)
    assert sim.state() == plan_state(CHANGED) + Counter(USERS) + Counter({("Landfall", 32.0): 1})


def test_an_equal_of_the_users_is_told_from_ours_even_when_ours_is_told_of_late():
    for seed in range(6):
        sim = host(end=False)
        run = lay(SONG, sim)
        sim.put("Landfall", 32.0)
        users = max(sim.markers)
        lay(CHANGED, sim, run.record, net=Net(lose=0.25), seed=seed)
        assert sim.markers[users] == ("Landfall", 32.0)


def find(sim: SimHost, name: str, at: float) -> int:
    return next(handle for handle, marker in sim.markers.items() if marker == (name, at))


def test_what_the_user_moved_is_left_and_listed():
    sim = host()
    run = lay(SONG, sim)
    sim.markers[find(sim, "Landfall", 32.0)] = ("Landfall", 40.0)
    before = sim.state(), sim.heard["put"]
    run = lay(SONG, sim, run.record)
    assert run.result.failed == (Failure("Landfall", "moved in the host"),)
    assert (run.result.kept, run.result.verified, run.result.placed) == (4, 4, 0)
    assert (sim.state(), sim.heard["put"]) == before
    again = lay(CHANGED, sim, run.record)
    assert again.result.failed == (Failure("Landfall", "moved in the host"),)
    assert sim.state() == before[0]


def test_what_the_user_moved_is_put_back_on_request():
    sim = host()
    run = lay(SONG, sim)
    sim.markers[find(sim, "Landfall", 32.0)] = ("Landfall", 40.0)
    run = lay(SONG, sim, run.record, options=Options(put_back=True))
    assert (run.result.moved, run.result.verified, run.result.failed) == (1, 5, ())
    assert sim.state() == plan_state(SONG) + Counter(USERS)
    assert lay(SONG, sim, run.record).result.kept == 5


def test_what_the_user_moved_to_where_the_plan_wants_it_now_is_kept():
    sim = host()
    run = lay(SONG, sim)
    sim.markers[find(sim, "Landfall", 32.0)] = ("Landfall", 24.0)
    run = lay(CHANGED, sim, run.record)
    assert (run.result.kept, run.result.failed) == (5, ())
    assert sim.heard["drop"] == 0


def test_what_the_user_renamed_is_theirs_and_ours_is_placed_anew():
    sim = host()
    run = lay(SONG, sim)
    sim.markers[find(sim, "Landfall", 32.0)] = ("Big one", 32.0)
    run = lay(SONG, sim, run.record)
    assert (run.result.placed, run.result.verified, run.result.failed) == (1, 5, ())
    assert sim.state() == plan_state(SONG) + Counter(USERS) + Counter({("Big one", 32.0): 1})


def test_an_id_alone_makes_nothing_ours():
    sim = host()
    run = lay(SONG, sim)
    handle = find(sim, "Landfall", 32.0)
    sim.markers[handle] = ("Other", 77.0)
    run = lay(SHORTER, sim, run.record)
    assert sim.markers[handle] == ("Other", 77.0)


def test_what_the_user_removed_is_placed_again():
    sim = host()
    run = lay(SONG, sim)
    del sim.markers[find(sim, "Landfall", 32.0)]
    run = lay(SONG, sim, run.record)
    assert (run.result.placed, run.result.kept) == (1, 4)
    assert sim.state() == plan_state(SONG) + Counter(USERS)


def test_a_lost_record_makes_everything_the_users_until_it_is_adopted():
    sim = host()
    lay(SONG, sim)
    run = lay(CHANGED, sim)
    assert (run.result.kept, run.result.placed, run.result.removed) == (4, 1, 0)
    assert sim.state()[("Landfall", 32.0)] == 1
    sim = host()
    lay(SONG, sim)
    run = lay(SONG, sim, options=Options(adopt=True))
    assert (run.result.kept, run.result.verified) == (5, 5)
    assert [say.text for say in run.said if not say.warning] == [
        f"taken over: {m.name!r}" for m in SONG.song.markers
    ]
    run = lay(CHANGED, sim, run.record)
    assert sim.state() == plan_state(CHANGED) + Counter(USERS)


def test_a_host_that_cuts_names_is_told_each_marker_once_and_never_again():
    sim = host(name_of=lambda name: name[:4])
    run = lay(SONG, sim)
    whys = {failure.name: failure.why for failure in run.result.failed}
    assert whys == {
        "Prelude": "it stands under another name: 'Prel'",
        "Crossing": "it stands under another name: 'Cros'",
        "Landfall": "it stands under another name: 'Land'",
    }
    assert (run.result.placed, run.result.verified, run.result.unverified) == (5, 2, 3)
    puts, state = sim.heard["put"], sim.state()
    assert puts == 5
    again = lay(SONG, sim, run.record)
    assert [failure.name for failure in again.result.failed] == ["Prelude", "Crossing", "Landfall"]
    assert (sim.heard["put"], sim.state()) == (puts, state)


def test_a_host_that_rounds_places_is_told_each_marker_once_and_never_again():
    ruler = song_ruler((4, 13, 12, 8), tempo="115.2")
    sim = host(place_of=lambda at: round(at, 2))
    run = lay(ruler, sim)
    assert [failure.name for failure in run.result.failed] == ["Crossing", "Landfall", "Ebb", "End"]
    assert "its place" in run.result.failed[0].why
    assert "ms" in run.result.failed[0].why
    assert sim.heard["put"] == 5
    lay(ruler, sim, run.record)
    assert sim.heard["put"] == 5


@pytest.mark.parametrize("tag", ["f", "d"])
def test_a_place_counts_within_the_rounding_of_what_was_sent(tag):
    ruler = song_ruler((5, 13, 12, 8), tempo="115.2")
    sim = host(tag=tag)
    run = lay(ruler, sim)
    assert run.result.verified == 5


def test_a_user_of_the_same_place_and_another_name_is_no_failure():
    sim = host(users=(("mine", 8.0), ("Cros", 8.0)))
    run = lay(SONG, sim)
    assert run.result.failed == ()
    assert sim.heard["put"] == 5


def test_without_a_way_to_remove_the_new_marker_stands_and_the_old_one_is_listed():
    sim = host()
    sim.host = host_map(remove="")
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record)
    assert (run.result.moved, run.result.verified) == (1, 5)
    ((name, why),) = [(failure.name, failure.why) for failure in run.result.failed]
    assert name == "Landfall"
    assert "says.remove" in why
    assert lay(CHANGED, sim, run.record).result.failed == run.result.failed


def test_a_host_that_ignores_removals_is_given_up_with_the_reason():
    sim = host(deaf_to=frozenset({"drop"}))
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record, options=Options(tries=4))
    assert sim.heard["drop"] == 4
    assert run.result.failed == (
        Failure("Landfall", "its old marker still stands after 4 attempts to remove it"),
    )


def test_nothing_is_removed_that_could_be_the_users_by_what_it_is_removed_with():
    sim = SimHost(host_map(ids=False, remove="{name:s}"), ids="none")
    sim.put("Landfall", 99.0)
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record)
    assert sim.state()[("Landfall", 99.0)] == 1
    assert sim.heard["drop"] == 0
    assert "cannot be told from" in run.result.failed[0].why


def test_where_names_alone_remove_the_old_one_goes_before_the_new_one_comes():
    sim = SimHost(host_map(ids=False, remove="{name:s}"), ids="none")
    sim.put("my idea", 12.5)
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record)
    assert (run.result.moved, run.result.verified, run.result.failed) == (1, 5, ())
    assert sim.state() == plan_state(CHANGED) + Counter({("my idea", 12.5): 1})


def test_what_there_was_no_time_to_remove_is_listed():
    sim = host("positions")
    run = lay(SONG, sim)
    run = lay(SHORTER, sim, run.record, net=Net(delay=0.15), options=Options(lasts=4.0))
    left = sim.state() - plan_state(SHORTER) - Counter(USERS)
    assert left
    assert {name for name, _ in left} <= {failure.name for failure in run.result.failed}
    assert lay(SHORTER, sim, run.record).result.failed == ()
    assert sim.state() == plan_state(SHORTER) + Counter(USERS)


def test_doubles_of_ours_are_removed_at_the_end():
    sim = host()
    net = Net(double=1.0)
    run = lay(SONG, sim, net=net)
    assert (run.result.placed, run.result.removed, run.result.verified) == (5, 0, 5)
    assert sim.state() == plan_state(SONG) + Counter(USERS)


def test_a_host_that_wants_to_be_told_ids_gets_free_ones():
    sim = host()
    sim.host = host_map(place="{id:i}")
    text = [said.address for said in sim.host.says["place"]]
    assert text == ["/h/put"]


def test_ids_that_are_texts_are_handles_as_well():
    record = lay(SONG, host()).record
    assert all(isinstance(entry.id, int) and entry.state is State.LAID for entry in record)
    assert [entry.name for entry in record] == [marker.name for marker in SONG.song.markers]


def test_the_record_is_written_before_anything_is_sent():
    sim = host()
    run = lay(SONG, sim, crash_after=None)
    assert run.record
    first = next(i for i, message in enumerate(run.sent) if message.address == "/h/put")
    assert first > 0


def test_messages_keep_the_pace():
    sim = host()
    sim.host = replace(sim.host, pace=host_map().pace * 20)
    run = lay(SONG, sim)
    assert min(after - before for before, after in pairwise(run.times)) >= 0.02 - 1e-9


def test_stray_messages_before_the_first_question_do_no_harm():
    sim = host()
    stray = (Message("/h/m", "ifs", (77, 8.0, "Crossing")), Message("/h/end"), Message("/h/m", "s", ("x",)))
    run = lay(SONG, sim, chatter=stray)
    assert run.result.verified == 5
    assert sim.state() == plan_state(SONG) + Counter(USERS)


def test_a_reported_marker_is_a_value():
    assert MarkerHeard(1, "Ebb", Number(SONG.song.end.whole_notes, SONG.song.end.whole_notes)).id == 1


def test_a_host_that_keeps_whole_samples_and_reports_doubles_is_in_place():
    ruler = song_ruler((5, 13, 12, 8), tempo="115.2")
    sim = host(tag="d", place_of=lambda at: round(at * 48_000) / 48_000)
    assert lay(ruler, sim).result.verified == 5
