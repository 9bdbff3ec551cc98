"""Decoys, hurried users and lost packets may cost an answer, but never give a wrong one."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.learn import Mark, What, explain, first_course
from tests.learn.hosts import Host, Session, interview, random_host
from tests.learn.test_explain import told, truth

COURSE = first_course()


class AmongDecoys(Session):
    """The host also says much that looks like a position or a transport, and is none."""

    def __init__(self, host, seed):
        super().__init__(host, seed)
        self.since = self.cursor = self.total = 0.0
        self.first = seed % 11

    def do(self, step):
        if step.step == "play":
            self.since = self.now
        if step.step == "bar":
            self.cursor = (int(step.detail) - 1) * float(self.host.sig.length.quarters)
        super().do(step)

    def chatter_value(self, index):
        self.total += 0.002 * self.playing
        return (
            round(self.quarters / 4) * 4.0,  # the nearest whole bar
            (self.now - self.since) * self.playing,  # time since the start
            float(self.playing and self.quarters % 1 < 0.2),  # a beat lamp
            self.now * 3,  # a clock
            float(self.host.bpm) + self.chance.random() * 0.1,  # a tempo as measured
            self.cursor,  # an edit cursor
            self.playing * float(int(self.quarters) % 2),  # a lamp on every other quarter
            self.total,  # all the time that was ever played
            1.0 - self.playing,  # a lamp while it stands
            self.total * 2 + 100,
            -self.quarters,  # what is left
        )[(self.first + index) % 11]


class Hurried(Session):
    """The user says 'done' now and then before it is done."""

    def hold(self, step):
        if self.chance.random() > 0.3:
            super().hold(step)
            return
        self.mark(What.ASKED, step)
        self.pass_time(0.4)
        self.mark(What.DONE if step.answer is None else What.TOLD, step)
        late = self.chance.random() * 3
        self.pass_time(late)
        self.do(step)
        self.pass_time(max(0.0, step.dwell - late))


def wrong(host, happenings):
    """Return what was found and is not so; an id left out is not wrong."""
    explained = explain(happenings)
    found = {key: told(explained, key) for key in truth(host)}
    marker = found["marker"]
    if marker is not None:
        marker[1].setdefault("id", truth(host)["marker"][1]["id"])
    return {key: one for key, one in found.items() if one not in (None, truth(host)[key])}


def maybe_silent(seed):
    chance = random.Random(seed)
    host = random_host(chance)
    for key in ("rolling", "tempo", "meter", "marker", "gone", "position"):
        if chance.random() < 0.3:
            setattr(host, key, None)
    return host


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**9))
def test_decoys_are_not_taken(seed):
    host = maybe_silent(seed)
    host.chatter = tuple(f"/decoy/{number}" for number in range(5))
    assert wrong(host, interview(host, COURSE, seed, AmongDecoys)) == {}


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**9))
def test_a_hurried_user_is_not_told_what_is_not_so(seed):
    host = random_host(random.Random(seed))
    assert wrong(host, interview(host, COURSE, seed, Hurried)) == {}


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**9))
def test_a_quarter_lost_doubled_and_late_gives_no_wrong_answer(seed):
    host, chance = random_host(random.Random(seed)), random.Random(seed)
    arrived = []
    for one in interview(host, COURSE, seed):
        copies = (
            1 if isinstance(one.said, Mark) else (chance.random() > 0.25) * (1 + (chance.random() < 0.25))
        )
        late = [chance.random() * 0.03 if chance.random() < 0.25 else 0.0 for _ in range(copies)]
        arrived += [replace(one, at=one.at + (0.0 if isinstance(one.said, Mark) else more)) for more in late]
    assert wrong(host, sorted(arrived, key=lambda one: one.at)) == {}


def test_a_count_in_of_a_bar_before_it_plays_does_not_hide_the_position():
    class CountsIn(Session):
        def hold(self, step):
            if step.step != "play":
                super().hold(step)
                return
            self.mark(What.ASKED, step)
            self.pass_time(0.5)
            self.mark(What.DONE, step)
            self.pass_time(1.6)
            self.do(step)
            self.pass_time(step.dwell - 1.6)

    host = Host()
    explained = explain(interview(host, COURSE, 1, CountsIn))
    assert told(explained, "position") == truth(host)["position"]
    assert told(explained, "playing") == truth(host)["playing"]
