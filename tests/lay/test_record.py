"""What the record promises."""

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.errors import PlanError
from bridge.hostmap import Message, Number, Reply, Step, load
from bridge.lay import Entry, State, read_record, record_key, write_record

REPLY = Reply("/c", "ds", (1.5, "x"), F(1, 5), 3)
SLOW = (Step(Message("/b", "ib[T]", (1, b"\x00\xff", True)), F(1, 50), REPLY), Step(Message("/d"), F(1)))
ENTRIES = st.builds(
    Entry,
    name=st.text(min_size=1, max_size=20),
    state=st.sampled_from(State),
    unit=st.sampled_from(["seconds", "samples@48000"]),
    at=st.fractions(),
    step=st.fractions(0, 1),
    cap=st.fractions(0, 1),
    id=st.one_of(st.none(), st.integers(), st.text(max_size=5), st.floats(allow_nan=False)),
    seen=st.one_of(st.none(), st.tuples(st.text(max_size=5), st.fractions())),
    rest=st.integers(0, 5),
    sent=st.just((Step(Message("/a", "fs", (0.5, "x"))),)),
    undo=st.one_of(st.none(), st.just((Step(Message("/b", "i", (1,))),)), st.just(SLOW)),
)


@settings(max_examples=30)
@given(st.dictionaries(st.text(max_size=10), st.lists(ENTRIES, max_size=3).map(tuple), max_size=3))
def test_a_record_comes_back_as_it_was(hosts):
    assert read_record(write_record(hosts)) == hosts


def test_no_record_is_an_empty_one():
    assert read_record(None) == {}


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[]", "null", '{"pulsebridge_laid": 2, "hosts": {}}', '{"pulsebridge_laid": 1, "hosts": 3}',
     '{"pulsebridge_laid": 1, "hosts": {"a": {"markers": [{}]}}}', "\x00", "[" * 100_000],
)  # fmt: skip
def test_what_is_no_record_is_said_with_what_to_do(text):
    with pytest.raises(PlanError, match="cannot be read") as caught:
        read_record(text, source="song.yaml.laid.json")
    assert "song.yaml.laid.json" in caught.value.message
    assert "--adopt" in caught.value.hint


def test_a_host_is_filed_under_its_maps_name_and_its_address():
    assert record_key(load("pulsebridge_host: 1\nname: rig\nsend_to: 127.0.0.1:9001")) == "rig 127.0.0.1:9001"


def test_a_place_is_the_same_within_the_coarser_step_and_never_beyond_the_cap():
    entry = Entry(name="Ebb", state=State.LAID, at=F(10), step=F(1, 1000), cap=F(1, 2000))
    assert entry.stands_at(Number(F(10) + F(1, 2000), F(0)))
    assert not entry.stands_at(Number(F(10) + F(1, 1999), F(1)))
