"""Laying in a host that reports nothing, and laying dry."""

from collections import Counter
from dataclasses import replace

import pytest

from bridge.hostmap import Message
from bridge.lay import dry_run, want
from tests.lay.simulate import CrashError, SimHost, host_map, lay, plan_state, song_ruler

SONG = song_ruler((4, 12, 12, 8))
CHANGED = song_ruler((4, 8, 16, 8))
SHORTER = song_ruler((4, 8, 16), names=("Prelude", "Crossing", "Landfall"))
BY_PLACE = ["{name:s}", "{seconds:f}"]


def host(remove=BY_PLACE) -> SimHost:
    sim = SimHost(host_map(marker=False, remove=remove), ids="none")
    sim.put("my idea", 12.5)
    return sim


MINE = Counter({("my idea", 12.5): 1})


def counts(run) -> tuple[int, ...]:
    result = run.result
    return result.placed, result.kept, result.moved, result.removed, result.verified, result.unverified


def test_each_marker_is_sent_once_and_stays_unverified():
    sim = host()
    run = lay(SONG, sim)
    assert counts(run) == (5, 0, 0, 0, 0, 5)
    assert run.result.failed == ()
    assert sim.state() == plan_state(SONG) + MINE
    assert [message.address for message in run.sent] == ["/h/put"] * 5


def test_laid_again_only_what_differs_from_the_record_is_sent():
    sim = host()
    run = lay(SONG, sim)
    again = lay(SONG, sim, run.record)
    assert (again.sent, counts(again)) == ([], (0, 5, 0, 0, 0, 5))
    run = lay(CHANGED, sim, again.record)
    assert [message.address for message in run.sent] == ["/h/put", "/h/drop"]
    assert counts(run) == (0, 4, 1, 0, 0, 5)
    run = lay(SHORTER, sim, run.record)
    assert counts(run) == (0, 3, 1, 1, 0, 4)
    assert sim.state() == plan_state(SHORTER) + MINE


def test_what_cannot_be_removed_is_told_once():
    sim = host(remove="{id:i}")
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record)
    assert [(failure.name, "by hand" in failure.why) for failure in run.result.failed] == [("Landfall", True)]
    assert lay(CHANGED, sim, run.record).result.failed == ()


def test_killed_after_any_step_the_next_one_mends_it():
    for step in range(1, lay(SONG, host()).steps + 1):
        sim = host()
        with pytest.raises(CrashError) as killed:
            lay(SONG, sim, crash_after=step)
        lay(SONG, sim, killed.value.run.record)
        assert sim.state() == plan_state(SONG) + MINE, step


def test_killed_in_a_change_the_next_one_mends_it():
    laid = host()
    record = lay(SONG, laid).record
    for step in range(1, 12):
        sim = replace(laid, markers=dict(laid.markers))
        try:
            lay(SHORTER, sim, record, crash_after=step)
            break
        except CrashError as killed:
            lay(SHORTER, sim, killed.run.record)
        assert sim.state() == plan_state(SHORTER) + MINE, step


def test_where_names_alone_remove_the_old_one_goes_first():
    sim = host(remove="{name:s}")
    run = lay(SONG, sim)
    run = lay(CHANGED, sim, run.record)
    assert [message.address for message in run.sent] == ["/h/drop", "/h/put"]
    assert sim.state() == plan_state(CHANGED) + MINE


def test_a_dry_run_tells_the_messages_that_laying_sends():
    sim = host()
    messages, result = dry_run(SONG, sim.host, want(SONG, sim.host), ())
    assert list(messages) == lay(SONG, sim).sent
    assert (result.placed, result.unverified) == (5, 5)


def test_a_dry_run_of_a_reporting_host_works_from_the_record():
    sim = SimHost(host_map())
    messages, result = dry_run(SONG, sim.host, want(SONG, sim.host), ())
    assert (result.placed, len(messages)) == (5, 5)
    record = lay(SONG, sim).record
    messages, result = dry_run(SONG, sim.host, want(SONG, sim.host), record)
    assert (result.kept, messages) == (5, ())
    messages, result = dry_run(SHORTER, sim.host, want(SHORTER, sim.host), record)
    assert (result.kept, result.moved, result.removed) == (2, 2, 1)
    put = [message for message in messages if message.address == "/h/put"]
    assert put == [Message("/h/put", "fs", (24.0, "Landfall")), Message("/h/put", "fs", (56.0, "End"))]
    assert sum(message.address == "/h/drop" for message in messages) == 3
