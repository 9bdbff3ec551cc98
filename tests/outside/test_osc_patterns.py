"""Address patterns by the OSC 1.0 specification, "OSC Message Dispatching and Pattern Matching".

https://opensoundcontrol.stanford.edu/spec-1_0.html (Wright, 2002).  The rows marked
"published" are in the specification's words or restate a rule of it; the others are
worked out from its rules by hand.
"""

import pytest

from bridge.hostmap import matches

TABLE = [
    # the same number of parts, each part matching (published)
    ("/a/b", "/a/b", True),
    ("/a/b", "/a/c", False),
    ("/a/*", "/a/b", True),
    ("/a/*", "/a/b/c", False),
    ("/*/c", "/a/b/c", False),
    ("/a", "/a/b", False),
    # "?" matches any single character (published)
    ("/a?", "/ab", True),
    ("/a?", "/a", False),
    ("/a?", "/abc", False),
    ("/a?b", "/a/b", False),
    # "*" matches any sequence of zero or more characters (published)
    ("/a*", "/a", True),
    ("/a*c", "/abbc", True),
    ("/*b*", "/abc", True),
    ("/*b*", "/ac", False),
    ("/**", "/abc", True),
    # a string in square brackets matches any character in it (published)
    ("/[abc]", "/b", True),
    ("/[abc]", "/d", False),
    ("/[abc]", "/ab", False),
    # two characters with a minus between: a range (published)
    ("/[a-z]x", "/qx", True),
    ("/[a-z]x", "/Qx", False),
    ("/[0-9a]", "/a", True),
    ("/[0-9a]", "/5", True),
    # a minus at the end has no special meaning (published)
    ("/[a-]", "/-", True),
    ("/[a-]", "/b", False),
    # an exclamation point at the beginning negates (published)
    ("/[!a-c]", "/d", True),
    ("/[!a-c]", "/b", False),
    ("/[!a-c]", "/", False),
    # ... and has no special meaning anywhere else (published)
    ("/[a!]", "/!", True),
    ("/[a!]", "/b", False),
    # {foo,bar}: any of the strings (published)
    ("/{foo,bar}", "/foo", True),
    ("/{foo,bar}", "/bar", True),
    ("/{foo,bar}", "/foobar", False),
    # the longer or the shorter one, whichever lets the rest match
    ("/{a,ab}c", "/abc", True),
    ("/{a,ab}c", "/ac", True),
    ("/{,x}y", "/y", True),
    # all together
    ("/{rig,host}/[!_]*/w?ere", "/rig/one/where", True),
    ("/{rig,host}/[!_]*/w?ere", "/rig/_one/where", False),
    # what is not closed matches nothing, and "//" is not in OSC 1.0
    ("/[abc", "/a", False),
    ("/{foo", "/foo", False),
    ("//where", "/rig/where", False),
    # a bracket or brace that closes nothing is a character like any other (published)
    ("/*]", "/a]", True),
]


@pytest.mark.parametrize(("pattern", "address", "expected"), TABLE)
def test_the_pattern_table(pattern, address, expected):
    assert matches(pattern, address) is expected
