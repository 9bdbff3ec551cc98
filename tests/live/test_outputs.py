"""What goes out, on a virtual clock: when, in which order, and what is logged of it."""

from __future__ import annotations

from bridge.clock.wall import WallClock
from bridge.hostmap import Address, Message
from bridge.live.outputs import Outputs
from bridge.osc import encode
from bridge.osc.codec import read_packet
from bridge.osc.held import unix_seconds
from bridge.osc.sender import Destination, Receiver, Sender
from bridge.show import SendMidi, SendOsc


class Network:
    """Takes what a socket would."""

    def __init__(self, clock):
        self.packets, self._clock, self.broken = [], clock, False

    def sendto(self, packet, place):
        if self.broken:
            raise OSError("the cable is out")
        self.packets.append((self._clock[0], place[1], packet))


class MidiPort:
    name, failed = "synth", 0

    def __init__(self):
        self.sent = []

    def send(self, message):
        self.sent.append(message)
        return True


class Post:
    """Outputs to receivers with the leads named, on a clock that is moved by hand."""

    def __init__(self, *leads, midi=None):
        self.clock, self.log = [100.0], []
        self.network = Network(self.clock)
        sender = Sender(())
        sender.receivers = tuple(self._receiver(9000 + n, lead) for n, lead in enumerate(leads))
        self.outputs = Outputs(
            sender=sender if leads else None,
            midi=midi,
            wall=WallClock(steady=lambda: 0.0, wall=lambda: 1_000_000.0),
            report=self.log.append,
            now=lambda: self.clock[0],
        )

    def _receiver(self, port, lead):
        destination = Destination(address=Address("127.0.0.1", port), ahead=lead)
        return Receiver(destination, ("127.0.0.1", port), self.network)

    def run(self, until):
        while (at := self.outputs.wake_at) is not None and at <= until:
            self.clock[0] = max(self.clock[0], at)
            self.outputs.wake(self.clock[0])


def osc(due, text):
    return SendOsc(due=due, message=Message("/pulsebridge/cue", "sis", (text, 1, "")))


def test_each_receiver_is_sent_to_by_its_own_lead():
    post = Post(0.0, 0.25)
    assert post.outputs.ahead == 0.25
    post.outputs.take([osc(101.0, "one"), osc(102.0, "two")])
    post.run(110)
    assert [(at, port) for at, port, _ in post.network.packets] == [
        (100.75, 9001),
        (101.0, 9000),
        (101.75, 9001),
        (102.0, 9000),
    ]
    early, plain = post.network.packets[0][2], post.network.packets[1][2]
    assert plain == encode(osc(0, "one").message)
    assert unix_seconds(read_packet(early)[0].tag) == 1_000_101.0


def test_what_is_due_together_goes_out_as_it_was_made():
    midi = MidiPort()
    post = Post(0.0, midi=midi)
    post.outputs.take(
        [osc(101.0, "a"), SendMidi(due=101.0, data=b"\xc0\x01"), osc(101.0, "b"), osc(100.5, "c")]
    )
    post.run(110)
    texts = [read_packet(packet)[0].message.args[0] for _, _, packet in post.network.packets]
    assert texts == ["c", "a", "b"]
    assert midi.sent == [b"\xc0\x01"]


def test_due_and_actual_time_of_everything_are_logged():
    post = Post(0.25, midi=MidiPort())
    post.outputs.take([osc(101.0, "one"), SendMidi(due=101.5, data=b"\xc0\x01")])
    post.clock[0] = 100.76  # ten milliseconds late
    post.run(110)
    first, second = post.log
    assert (first["event"], first["due"], round(first["actual"], 6), first["ahead"]) == (
        "sent",
        1_000_101.0,
        1_000_100.76,
        0.25,
    )
    assert first["osc"] == ["/pulsebridge/cue", "sis", "one", 1, ""]
    assert first["to"] == ["127.0.0.1:9000"]
    assert (second["midi"], second["to"]) == ("C0 01", ["synth"])
    assert round(post.outputs.worst, 6) == 0.01


def test_a_failure_is_counted_and_the_rest_goes_on():
    post = Post(0.0)
    post.network.broken = True
    post.outputs.take([osc(101.0, "one")])
    post.run(101.5)
    post.network.broken = False
    post.outputs.take([osc(102.0, "two")])
    post.run(110)
    assert [record["event"] for record in post.log] == ["failed", "sent"]
    assert (post.outputs.sent, post.outputs.failed) == (1, 1)


def test_without_receivers_nothing_waits():
    post = Post()
    post.outputs.take([osc(101.0, "one"), SendMidi(due=101.0, data=b"\xc0\x01")])
    assert post.outputs.wake_at is None
    assert post.outputs.ahead == 0.0


def test_a_message_that_cannot_be_written_is_told_of():
    post = Post(0.0)
    post.outputs.take([SendOsc(due=101.0, message=Message("/x", "i", ("no number",)))])
    assert post.outputs.failed == 1
    assert "cannot be sent" in post.log[0]["text"]
