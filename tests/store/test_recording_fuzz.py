"""No recording, however broken, does more than be refused; no input does more than be counted."""

import json
from contextlib import suppress
from math import isfinite

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.cli.receiving import Receiver, line_of
from bridge.errors import PlanError
from bridge.hostmap import Message, load
from bridge.osc import decode
from bridge.store import shipped
from bridge.store.recording import Recorded, read_recording

RIG = load(shipped("examples/hosts/practice-rig.yaml").read_text(encoding="utf-8"))

JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4),
    max_leaves=8,
)
NEARLY = st.fixed_dictionaries(
    {}, optional={"at": JSON, "midi": JSON, "osc": JSON, "raw": JSON, "pulsebridge_recording": JSON}
)


@given(st.lists(st.binary(max_size=60) | NEARLY.map(lambda line: json.dumps(line).encode()), max_size=6))
def test_a_broken_recording_is_refused_and_nothing_more(lines):
    with suppress(PlanError):
        for recorded in read_recording(lines):
            assert isfinite(recorded.at)


MIDI = st.sampled_from([b"\xf8", b"\xfa", b"\xfb", b"\xfc", b"\xf2\x08\x00"]) | st.binary(max_size=4)
MIDI |= st.integers(0, 127).map(lambda value: bytes([0xF1, value]))
MIDI |= st.binary(min_size=4, max_size=4).map(lambda code: b"\xf0\x7f\x7f\x01\x01" + code + b"\xf7")
VALUES = st.tuples(st.just("f"), st.floats()) | st.tuples(st.just("d"), st.floats())
VALUES |= st.tuples(st.just("i"), st.integers(-(2**31), 2**31 - 1)) | st.tuples(st.just("h"), st.integers())
VALUES |= st.tuples(st.just("s"), st.text(max_size=12)) | st.tuples(st.just("T"), st.just(True))
OSC = st.builds(
    lambda address, pairs: Message(address, "".join(tag for tag, _ in pairs), tuple(arg for _, arg in pairs)),
    st.sampled_from(["/rig/where", "/rig/speed", "/rig/rolling", "/rig/meter", "/rig/*", "/rig/note", "/x"]),
    st.lists(VALUES, max_size=3),
)
GAPS = st.sampled_from([0.0, 0.0001, 0.02, 0.0208, 0.5, 1.0, 3.0, 1e5]) | st.floats(0, 10)
INPUTS = st.lists(st.tuples(GAPS, MIDI | OSC), max_size=60)


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(INPUTS)
def test_whatever_comes_in_the_transport_is_one_that_json_can_tell(inputs):
    receiver, at = Receiver(RIG), 0.0
    for gap, what in inputs:
        at += gap
        is_midi = isinstance(what, bytes)
        receiver.take(Recorded(at=at, midi=what) if is_midi else Recorded(at=at, osc=what))
        told = json.loads(line_of(receiver.transport(at)))
        assert told["at"] == at
        assert told["quarters"] is not None or not told["playing"]


@given(st.binary(max_size=120), st.sampled_from([b"", b"/rig/where\x00\x00", b"#bundle\x00" + b"\x00" * 8]))
def test_whatever_a_packet_holds_the_receiver_lives(raw, start):
    receiver = Receiver(RIG)
    for message in decode(start + raw)[0]:
        receiver.take(Recorded(at=0.0, osc=message))
    line_of(receiver.transport(0.0))
