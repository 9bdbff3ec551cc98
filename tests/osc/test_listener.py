"""What listening on the event loop promises, over the loopback."""

import asyncio
import contextlib
import socket
import struct
import subprocess
import sys
import time

import pytest

from bridge.hostmap import Address, Message
from bridge.osc import WANTED_BUFFER, Port, encode
from bridge.osc.held import MOST_HELD
from bridge.osc.listener import Listener

LOOPBACK = Address("127.0.0.1", 0)
ONE = Message("/one", "i", (1,))
TWO = Message("/two", "i", (2,))


class WithoutReaders(asyncio.SelectorEventLoop):
    """Like the default loop of Windows: it cannot watch a socket."""

    def add_reader(self, fd, callback, *args):
        raise NotImplementedError


class Ear:
    """Everything that was heard, and a way to wait for it."""

    def __init__(self):
        self.heard, self.warnings = [], []
        self._wanted, self._enough = 0, asyncio.Event()

    def take(self, heard):
        self.heard.append(heard)
        if len(self.heard) >= self._wanted:
            self._enough.set()

    async def wait_for(self, count, seconds=5.0):
        self._wanted = count
        if len(self.heard) < count:
            self._enough.clear()
            await asyncio.wait_for(self._enough.wait(), seconds)


@contextlib.asynccontextmanager
async def listening():
    with Port(LOOPBACK) as port, socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as there:
        there.connect(port.place)
        ear = Ear()
        async with Listener(port, ear.take, warn=ear.warnings.append) as listener:
            yield port, listener, ear, there.send


def run(test):
    """Run on a loop that watches sockets, and on one that cannot."""
    asyncio.run(test())
    with asyncio.Runner(loop_factory=WithoutReaders) as runner:
        runner.run(test())


def bundle(tag, *elements):
    body = b"".join(struct.pack(">i", len(each)) + each for each in elements)
    return b"#bundle\x00" + struct.pack(">Q", tag) + body


def tag_ahead(seconds):
    return 0x83AA7E80_00000000 + round((time.time() + seconds) * 2**32)


def test_messages_arrive_in_order_with_their_sender_and_a_rising_time():
    async def test():
        async with listening() as (port, _, ear, send):
            before = time.monotonic()
            for number in range(200):
                send(encode(Message("/n", "i", (number,))))
            await ear.wait_for(200)
            assert [heard.message.args[0] for heard in ear.heard] == list(range(200))
            times = [heard.at for heard in ear.heard]
            assert times == sorted(times)
            assert before <= times[0] <= times[-1] <= time.monotonic()
            assert {heard.sender[0] for heard in ear.heard} == {"127.0.0.1"}
            assert port.counts.received == 200

    run(test)


def test_hostile_packets_are_heard_as_raw_bytes_and_counted():
    async def test():
        async with listening() as (port, _, ear, send):
            strange = b"/x\x00\x00,Q\x00\x00"
            for packet in (b"", b"\xff\xff", strange, bundle(1, encode(ONE), strange, b"junk"), encode(TWO)):
                send(packet)
            await ear.wait_for(7)
            assert [heard.message for heard in ear.heard] == [None, None, None, ONE, None, None, TWO]
            assert [heard.raw for heard in ear.heard[:3]] == [b"", b"\xff\xff", strange]
            assert [heard.raw for heard in ear.heard[4:6]] == [strange, b"junk"]
            assert (port.counts.unreadable, port.counts.unknown_types) == (3, 2)

    run(test)


def test_a_bundle_ahead_of_its_time_is_held_until_then():
    async def test():
        async with listening() as (_, listener, ear, send):
            start = time.monotonic()
            send(bundle(tag_ahead(0.15), encode(TWO), encode(TWO)))
            send(bundle(tag_ahead(0.05), encode(ONE)))
            send(encode(ONE))
            await ear.wait_for(4)
            assert [heard.message for heard in ear.heard] == [ONE, ONE, TWO, TWO]
            assert ear.heard[1].at == pytest.approx(start + 0.05, abs=0.02)
            assert ear.heard[2].at == ear.heard[3].at == pytest.approx(start + 0.15, abs=0.02)
            assert time.monotonic() >= ear.heard[3].at
            assert len(listener.held) == 0

    run(test)


def test_a_wrong_clock_is_said_once_and_its_bundles_taken_at_once():
    async def test():
        async with listening() as (_, listener, ear, send):
            for ahead in (3600.0, 1e8, -1e8):
                send(bundle(tag_ahead(ahead), encode(ONE)))
            await ear.wait_for(3)
            assert listener.held.wrong_clock == 3
            assert len(listener.held) == 0
            assert len(ear.warnings) == 1
            assert "127.0.0.1" in ear.warnings[0]

    run(test)


def test_no_sender_makes_us_hold_more_than_the_bound():
    async def test():
        async with listening() as (_, listener, ear, send):
            packet = bundle(tag_ahead(8.0), *[encode(ONE)] * 50)
            for _ in range(MOST_HELD // 50 + 2):
                send(packet)
            await ear.wait_for(50)
            assert len(listener.held) == MOST_HELD
            assert listener.held.crowded_out == len(ear.heard)

    run(test)


def test_leaving_is_clean_with_bundles_still_held():
    async def test():
        async with listening() as (_, listener, ear, send):
            send(bundle(tag_ahead(5.0), encode(ONE)))
            send(encode(TWO))
            await ear.wait_for(1)
            assert len(listener.held) == 1

    run(test)


SENDER = """
import socket, sys, time
port, count, rate = map(int, sys.argv[1:])
there = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
there.connect(("127.0.0.1", port))
start = time.perf_counter()
for number in range(count):
    while time.perf_counter() - start < number / rate:
        pass
    there.send(b"/n\\0\\0,i\\0\\0" + number.to_bytes(4, "big"))
"""


async def receive(count, rate, *, stall=0.0):
    async with listening() as (port, _, ear, _):
        words = [sys.executable, "-c", SENDER, str(port.place[1]), str(count), str(rate)]
        with subprocess.Popen(words):
            await ear.wait_for(1)
            time.sleep(stall)  # the stall is what is tested: the loop is kept from its work
            with contextlib.suppress(TimeoutError):
                await ear.wait_for(count)
        return port.buffer, [heard.message.args[0] for heard in ear.heard]


@pytest.mark.parametrize(("count", "stall"), [(10_000, 0.0), (8_000, 0.5)])
def test_ten_thousand_a_second_lose_none_in_half_a_second_of_stall_either_where_the_room_was_granted(
    count, stall
):
    granted, numbers = asyncio.run(receive(count, 10_000, stall=stall))
    if granted >= WANTED_BUFFER:
        assert numbers == list(range(count))
    else:  # the system's limit: what was lost must at least not disturb the rest
        assert numbers == sorted(set(numbers))
