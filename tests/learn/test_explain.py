"""What an interview is said to mean: the truth, or 'I can't tell', and nothing else."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.learn import Confidence, explain, first_course
from tests.learn.hosts import interview, random_host

COURSE = first_course()
SURE = ("playing", "position", "tempo", "meter", "marker")


def told(explained, key):
    heard = explained[key].heard
    return None if heard is None else (heard.address, dict(heard.args), heard.unit)


def truth(host):
    order = host.marker_order
    return {
        "playing": (host.rolling, {"value": 0}, None),
        "position": (host.position, {"value": host.lead}, host.unit),
        "tempo": (host.tempo, {"value": 0}, None),
        "meter": (host.meter, {"top": 0, "bottom": 1}, None),
        "marker": (host.marker, {word: order.index(word) for word in ("id", "at", "name")}, host.marker_unit),
        "marker_gone": (host.gone, {"id": 0}, None),
    }


@pytest.mark.parametrize("seed", range(6))
def test_six_made_up_hosts_are_understood_in_full(seed):
    host = random_host(random.Random(seed))
    explained = explain(interview(host, COURSE, seed))
    for key, wanted in truth(host).items():
        assert told(explained, key) == wanted, explained[key]


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**9))
def test_a_made_up_host_is_never_misunderstood(seed):
    chance = random.Random(seed)
    host = random_host(chance)
    for key in ("rolling", "tempo", "meter", "marker", "gone", "position"):
        if chance.random() < 0.2:
            setattr(host, key, None)
    steps = [step for step in COURSE if chance.random() > 0.1]
    explained = explain(interview(host, steps, seed))
    for key, wanted in truth(host).items():
        found = told(explained, key)
        if key == "marker" and found is not None and "id" not in found[1]:
            found[1]["id"] = wanted[1]["id"]
        assert found in (None, wanted), explained[key]


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**9))
def test_the_whole_course_always_tells_position_and_transport(seed):
    host = random_host(random.Random(seed))
    explained = explain(interview(host, COURSE, seed))
    for key in SURE:
        assert told(explained, key) == truth(host)[key], explained[key]
        assert explained[key].confidence is Confidence.SURE
