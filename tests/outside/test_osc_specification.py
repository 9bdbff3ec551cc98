"""The byte examples of the OSC specification.

OSC 1.0 (Wright, 2002), its page of examples
(https://opensoundcontrol.stanford.edu/spec-1_0-examples.html).  The bundle's bytes are
computed from the same specification's format.
"""

import struct

import pytest

from bridge.hostmap import Message
from bridge.osc import decode, encode


def _float(value: float) -> float:
    return struct.unpack(">f", struct.pack(">f", value))[0]


EXAMPLES = [
    (
        "2f6f7363 696c6c61 746f722f 342f6672 65717565 6e637900 2c660000 43dc0000",
        Message("/oscillator/4/frequency", "f", (440.0,)),
    ),
    (
        "2f666f6f 00000000 2c696973 66660000 000003e8 ffffffff 68656c6c 6f000000 3f9df3b6 40b5b22d",
        Message("/foo", "iisff", (1000, -1, "hello", _float(1.234), _float(5.678))),
    ),
]
BUNDLE = "2362756e 646c6500 00000000 00000001 00000010 2f666f6f 00000000 2c690000 00000001"


@pytest.mark.parametrize(("octets", "message"), EXAMPLES)
def test_the_examples_are_read_and_written_byte_for_byte(octets, message):
    assert decode(bytes.fromhex(octets)) == ((message,), ())
    assert encode(message) == bytes.fromhex(octets)


def test_a_bundle_for_immediately_is_read():
    assert decode(bytes.fromhex(BUNDLE)) == ((Message("/foo", "i", (1,)),), ())
