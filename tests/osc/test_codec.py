"""What reading and writing OSC promises. Values of the specification stand in tests/outside."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.hostmap import Address, Message
from bridge.osc import Port, decode, encode
from tests import oracle


def string(text: bytes) -> bytes:
    return text + b"\x00" * (4 - len(text) % 4)


def bundle(*elements: bytes) -> bytes:
    return b"#bundle\x00" + struct.pack(">Q", 1) + b"".join(struct.pack(">i", len(e)) + e for e in elements)


ONE = Message("/one", "i", (1,))
TWO = Message("/two", "f", (0.5,))


@pytest.mark.parametrize(
    "message",
    [
        Message("/a"),
        Message("/a/b", "ihfds", (-1, 2**40, 0.5, 1 / 3, "tide")),
        Message("/a", "s", ("潮 🌊",)),
        Message("/a", "b", (b"\x00\x01\x02",)),
        Message("/a", "TFN", (True, False, None)),
    ],
)
def test_a_message_comes_back_as_it_was(message):
    assert decode(encode(message)) == ((message,), ())


def test_bundles_are_opened_in_order_however_nested():
    packet = bundle(encode(ONE), bundle(encode(TWO), encode(ONE)), encode(TWO))
    assert decode(packet) == ((ONE, TWO, ONE, TWO), ())


def test_a_message_with_an_unknown_type_tag_is_discarded_and_its_neighbours_stay():
    strange = string(b"/x") + string(b",iQi") + struct.pack(">ii", 1, 2)
    messages, faults = decode(bundle(encode(ONE), strange, encode(TWO)))
    assert messages == (ONE, TWO)
    assert len(faults) == 1
    assert "'Q'" in faults[0]


def test_a_message_without_a_type_tag_string_counts_without_arguments():
    assert decode(string(b"/end")) == ((Message("/end"),), ())
    assert decode(string(b"/old") + struct.pack(">i", 7)) == ((Message("/old"),), ())


@pytest.mark.parametrize(
    "packet",
    [
        b"",
        b"hello",
        b"/no-end",
        string(b"/a") + string(b",s"),
        string(b"/a") + string(b",s") + b"\xff\xff\xff\x00",
        string(b"/a") + string(b",b") + struct.pack(">i", -8),
        string(b"/a") + string(b",b") + struct.pack(">i", 2**31 - 1),
        string(b"\xff\xfe"),
        b"#bundle\x00",
        b"#bundle\x00" + struct.pack(">Qi", 1, -4),
        b"#bundle\x00" + struct.pack(">Qi", 1, 0) * 2,
        b"#bundle\x00" + struct.pack(">Qi", 1, 400),
    ],
)
def test_a_hostile_packet_is_a_fault_and_nothing_more(packet):
    messages, faults = decode(packet)
    assert messages == ()
    assert faults


def test_a_thousand_nested_bundles_are_refused():
    packet = encode(ONE)
    for _ in range(1000):
        packet = bundle(packet)
    messages, faults = decode(packet)
    assert messages == ()
    assert "nested" in faults[0]


@given(st.binary(max_size=200))
def test_no_bytes_break_the_reader(raw):
    decode(raw)
    decode(b"/a\x00\x00" + raw)
    decode(b"#bundle\x00" + raw)


PAIRS = st.lists(
    st.one_of(
        st.tuples(st.just("i"), st.integers(-(2**31), 2**31 - 1)),
        st.tuples(st.just("f"), st.floats(width=32, allow_nan=False)),
        st.tuples(st.just("d"), st.floats(allow_nan=False)),
        st.tuples(st.just("h"), st.integers(-(2**63), 2**63 - 1)),
        st.tuples(st.just("s"), st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]))),
    ),
    max_size=8,
)


@given(PAIRS)
def test_every_message_of_our_types_comes_back(pairs):
    message = Message("/some/where", "".join(t for t, _ in pairs), tuple(value for _, value in pairs))
    assert len(encode(message)) % 4 == 0
    assert decode(encode(message)) == ((message,), ())


def test_the_c_library_understands_us_and_we_it():
    liblo = oracle("pyliblo3")
    message = Message("/a/b", "ihfds", (-7, 2**40, 0.5, 1 / 3, "Ebb"))
    heard = []
    server = liblo.Server(None)
    server.add_method(
        "/a/b", "ihfds", lambda _path, args, types: heard.append(Message("/a/b", types, tuple(args)))
    )
    with Port(Address("127.0.0.1", 0)) as port:
        port.send(message, ("127.0.0.1", server.port))
        assert server.recv(2000)
        assert heard == [message]
        there = liblo.Address("127.0.0.1", port.place[1])
        theirs = liblo.Message("/a/b", *zip(message.types, message.args, strict=True))
        server.send(there, liblo.Bundle(theirs, theirs))
        (arrived,) = port.receive(2.0)
        assert arrived.messages == (message, message)
    server.free()
