"""What address patterns promise beyond the specification's table in tests/outside."""

import re
import time

from hypothesis import given
from hypothesis import strategies as st

from bridge.hostmap import HostMap, Message, PlayingHeard, hear, matches
from bridge.hostmap.model import Heard

NAMES = st.text("ab/", max_size=8).map("/".__add__)
PIECES = st.lists(st.sampled_from(["a", "b", "/", "?", "*", "[a]", "[!a]", "[a-b]", "{a,ab}", "{,b}"]))
AS_EXPRESSION = {"?": "[^/]", "*": "[^/]*", "[!a]": "[^a/]", "{a,ab}": "(a|ab)", "{,b}": "(|b)"}


@given(PIECES, NAMES)
def test_patterns_agree_with_regular_expressions(pieces, name):
    expression = "/" + "".join(AS_EXPRESSION.get(piece, piece) for piece in pieces)
    assert matches("/" + "".join(pieces), name) == bool(re.fullmatch(expression, name))


@given(st.text(max_size=60), st.text(max_size=60))
def test_no_pattern_breaks_the_matcher(pattern, address):
    assert matches(pattern, address) in (True, False)
    matches(f"/{pattern}*[{pattern}", f"/{address}")


def test_a_hostile_pattern_takes_no_time():
    start = time.process_time()
    assert not matches("/" + "*a" * 200 + "b", "/" + "a" * 500)
    assert not matches("/" + "*" * 60_000, "/a")
    assert time.process_time() - start < 1


def test_a_message_under_a_pattern_is_heard():
    host = HostMap(name="rig", hears={"playing": Heard(address="/rig/rolling", args={"value": 0})})
    assert hear(host, Message("/rig/r*", "i", (1,))) == (PlayingHeard(True),)
    assert hear(host, Message("/rig/*/r*", "i", (1,))) == ()
