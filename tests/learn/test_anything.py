"""Whatever comes over the wire, and in whatever order: an answer, and a map that loads."""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.hostmap import Message, load
from bridge.learn import Happening, Mark, What, explain, first_course, host_map_text, read_mark, write_mark
from tests.learn.hosts import Host, interview

STEPS = first_course()
NUMBERS = (
    st.sampled_from([0.0, -0.0, 1.0, 4.0, 97.0, 5e-324, 1e308, -1e308, math.inf, math.nan]) | st.floats()
)
ARGS = st.one_of(
    NUMBERS.map(lambda value: ("d", value)),
    NUMBERS.map(lambda value: ("f", value)),
    st.integers(-(2**63), 2**63 - 1).map(lambda value: ("h", value)),
    st.sampled_from(["tide", "ebb", "1" * 39, "-", "", "9.", "\x1b[2J", "a: b"]).map(
        lambda value: ("s", value)
    ),
    st.sampled_from([("T", True), ("F", False), ("N", None), ("I", math.inf), ("b", b"\x00"), ("[", None)]),
)
ADDRESSES = st.sampled_from(
    ["/a", "/b", "/h/at", "/a b", "/*", "/", "/'\"\\", "/pulsebridge/learn/done", "/#x"]
)


@st.composite
def messages(draw):
    pairs = draw(st.lists(ARGS, max_size=4))
    return Message(draw(ADDRESSES), "".join(kind for kind, _ in pairs), tuple(arg for _, arg in pairs))


MARKS = st.builds(
    Mark, st.sampled_from(list(What)[:5]), st.just("play") | st.just("stop") | st.just("remove")
) | (
    st.builds(
        Mark, st.sampled_from([What.ASKED, What.DONE]), st.just("bar"), st.sampled_from(["1", "9", "5"])
    )
    | st.builds(Mark, st.just(What.DONE), st.just("marker"), st.sampled_from(["tide", "ebb"]))
    | st.builds(Mark, st.just(What.TOLD), st.just("tempo"), st.sampled_from(["97", "60", "141"]))
    | st.builds(Mark, st.just(What.TOLD), st.just("meter"), st.sampled_from(["4/4", "7/8"]))
    | st.builds(Mark, st.just(What.SENT), st.just("list"))
)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 0.5), MARKS | messages()), max_size=40))
def test_anything_has_an_explanation_and_a_map_that_loads(rows):
    at, happenings = 0.0, []
    for gap, said in rows:
        at += gap
        happenings.append(Happening(at, said))
    explained = explain(happenings)
    learnt = load(host_map_text(explained, name="n", send_to=None, receive_on=None))
    assert dict(learnt.hears) == {one.key: one.heard for one in explained.findings if one.heard is not None}


@settings(max_examples=10, deadline=None)
@given(st.lists(messages(), max_size=30), st.integers(0, 1000))
def test_strange_messages_among_good_ones_change_nothing_about_the_good(strange, seed):
    good = interview(Host(), STEPS)
    others = [Message(f"/strange{one.address}", one.types, one.args) for one in strange]
    end = good[-1].at
    mixed = [*good, *(Happening((seed * (n + 7)) % 997 / 997 * end, one) for n, one in enumerate(others))]
    mixed.sort(key=lambda one: one.at)
    assert explain(mixed)["position"] == explain(good)["position"]


@given(st.sampled_from(list(What)), st.text(), st.text())
def test_a_mark_is_read_back_as_it_was_written(what, step, detail):
    mark = Mark(what, step, detail)
    assert read_mark(write_mark(mark)) == mark
    assert read_mark(Message("/pulsebridge/learn/other", "ss", ("a", "b"))) is None
    assert read_mark(Message("/pulsebridge/learn/done", "s", ("a",))) is None
