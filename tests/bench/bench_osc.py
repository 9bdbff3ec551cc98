"""OSC in: messages lost at 30,000 a second, and in half a second of stall; a peer beside.

The peer is python-osc's asyncio server.  Run by hand: ``python tests/bench/bench_osc.py``.
One sender process, paced, over the loopback; each receiver runs alone in its turn, with the
same sender and the same stall.
"""

from __future__ import annotations

import asyncio
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import asynccontextmanager

from pythonosc.dispatcher import Dispatcher
from pythonosc.osc_server import AsyncIOOSCUDPServer

from bridge.hostmap import Address
from bridge.osc import Port
from bridge.osc.listener import Listener

SENDER = """
import socket, sys, time
port, count, rate = map(int, sys.argv[1:])
there = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
there.connect(("127.0.0.1", port))
start = time.perf_counter()
for number in range(count):
    while time.perf_counter() - start < number / rate:
        pass
    there.send(b"/rig/where\\0\\0,f\\0\\0" + b"\\x3f\\x80\\0\\0")
print(time.perf_counter() - start)
"""


@asynccontextmanager
async def ours(count: Callable[[], None]):
    with Port(Address("127.0.0.1", 0)) as port:
        async with Listener(port, lambda _: count()):
            yield port.place[1]


@asynccontextmanager
async def peers(count: Callable[[], None]):
    dispatcher = Dispatcher()
    dispatcher.map("/rig/where", lambda *_: count())
    server = AsyncIOOSCUDPServer(("127.0.0.1", 0), dispatcher, asyncio.get_running_loop())
    transport, _ = await server.create_serve_endpoint()
    try:
        yield transport.get_extra_info("sockname")[1]
    finally:
        transport.close()


async def lost(receiver, *, count: int, rate: int, stall: float = 0.0) -> tuple[int, float, float]:
    """Return how many were lost, the rate really sent, and the receiver's processor time a message in µs."""
    got = 0

    def heard() -> None:
        nonlocal got
        got += 1

    async with receiver(heard) as port:
        words = [sys.executable, "-c", SENDER, str(port), str(count), str(rate)]
        sender = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
        used = time.process_time()
        while not got and sender.poll() is None:
            await asyncio.sleep(0.01)
        time.sleep(stall)
        while sender.poll() is None:
            await asyncio.sleep(0.05)
        before = -1
        while before != got:
            before = got
            await asyncio.sleep(0.3)
        assert sender.stdout is not None
        seconds = float(sender.stdout.read())
        return count - got, count / seconds, (time.process_time() - used) / max(got, 1) * 1e6


def main() -> None:
    with Port(Address("127.0.0.1", 0)) as port:
        print(f"receive buffer granted to ours: {port.buffer / 2**20:.2f} MiB of 4")
    rows = [
        ("30,000 a second for 3 s", 90_000, 30_000, 0.0),
        ("10,000 a second, stall 0.5 s", 20_000, 10_000, 0.5),
    ]
    for name, count, rate, stall in rows:
        for who, receiver in (("ours", ours), ("python-osc asyncio", peers)):
            missing, real, cost = asyncio.run(lost(receiver, count=count, rate=rate, stall=stall))
            sent = f"of {count} sent at {real:,.0f}/s, {cost:.1f} µs each"
            print(f"{name:<30} {who:<20} lost {missing:>6} {sent}")


if __name__ == "__main__":
    main()
