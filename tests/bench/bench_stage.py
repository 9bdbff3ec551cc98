"""The stage page to 50 clients at 20 messages a second: how late the messages come, and what it costs.

The peer is plain starlette: one queue a client and a streaming answer, served by uvicorn with
the same parser, sending the same bytes.  The two run by turns, in processes of their own, so
that neither gets the quieter minute; the clients share another process.  Run by hand:
``python tests/bench/bench_stage.py``.
"""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import resource
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

CLIENTS = 50
A_SECOND = 20
SECONDS = 8
ROUNDS = 5


def _message(at: float) -> bytes:
    state = {
        "at": at,
        "section": 8,
        "line": {"at": at, "quarters": 123.456, "rate": 1.0},
        "filling": "x" * 420,
    }
    return f"event: state\ndata: {json.dumps(state)}\n\n".encode()


async def _send(tell: Callable[[bytes], None]) -> float:
    """Tell a message 20 times a second; return the share of a core that the process took."""
    loop = asyncio.get_running_loop()
    used = resource.getrusage(resource.RUSAGE_SELF)
    began = loop.time()
    for number in range(SECONDS * A_SECOND):
        await asyncio.sleep(max(0.0, began + number / A_SECOND - loop.time()))
        tell(_message(time.monotonic()))
    now = resource.getrusage(resource.RUSAGE_SELF)
    return (now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime) / (loop.time() - began)


async def _ours(pipe) -> float:
    from starlette.applications import Starlette
    from starlette.routing import Route

    from bridge.hostmap import Address
    from bridge.stage.connection import Door
    from bridge.stage.fan import Fan
    from bridge.stage.guard import Guard, names_of_this_machine
    from bridge.stage.limits import Limits, Refused
    from bridge.stage.server import Server, bind

    refused, limits = Refused(), Limits(per_address=CLIENTS + 5)
    fan = Fan(lambda: _message(time.monotonic()), now=time.monotonic, limits=limits, refused=refused)
    app = Guard(Starlette(routes=[Route("/state", fan)]), names=names_of_this_machine(), refused=refused)
    server, port = Server(app, Door(limits, refused)), bind(Address("127.0.0.1", 0))
    pipe.send(port.getsockname()[1])
    serving = asyncio.create_task(server.serve(sockets=[port]))
    while len(fan) < CLIENTS:
        await asyncio.sleep(0.02)
    share = await _send(fan.tell)
    fan.close()
    server.end()
    await serving
    return share


async def _plain(pipe) -> float:
    import uvicorn
    from starlette.applications import Starlette
    from starlette.responses import StreamingResponse
    from starlette.routing import Route

    from bridge.hostmap import Address
    from bridge.stage.server import bind

    queues: list[asyncio.Queue[bytes]] = []

    async def state(request) -> StreamingResponse:
        queue: asyncio.Queue[bytes] = asyncio.Queue()
        queues.append(queue)

        async def messages():
            while message := await queue.get():
                yield message

        return StreamingResponse(messages(), media_type="text/event-stream")

    app = Starlette(routes=[Route("/state", state)])
    server = uvicorn.Server(uvicorn.Config(app, http="h11", ws="none", lifespan="off", log_level="critical"))
    port = bind(Address("127.0.0.1", 0))
    pipe.send(port.getsockname()[1])
    serving = asyncio.create_task(server.serve(sockets=[port]))
    while len(queues) < CLIENTS:
        await asyncio.sleep(0.02)
    share = await _send(lambda message: [queue.put_nowait(message) for queue in queues])
    for queue in queues:
        queue.put_nowait(b"")
    server.should_exit = True
    await serving
    return share


async def _listen(port: int) -> list[float]:
    """Listen with all clients; return how late each message came, in seconds."""
    late: list[float] = []

    async def one() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(f"GET /state HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        async for line in reader:
            if line.startswith(b"data: "):
                now = time.monotonic()
                late.append(now - json.loads(line[6:])["at"])
        writer.close()

    await asyncio.gather(*(one() for _ in range(CLIENTS)))
    return late[CLIENTS:]


def _serve(which: str, pipe) -> None:
    pipe.send(asyncio.run({"ours": _ours, "plain starlette": _plain}[which](pipe)))


def _run(which: str) -> tuple[float, float, float]:
    here, there = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=_serve, args=(which, there))
    process.start()
    late = sorted(asyncio.run(_listen(here.recv())))
    share = here.recv()
    process.join()
    return late[len(late) // 2], late[int(len(late) * 0.99)], share


def main() -> None:
    """Run both by turns and print their medians over the rounds, and the ratios."""
    found: dict[str, list[tuple[float, float, float]]] = {"ours": [], "plain starlette": []}
    for number in range(ROUNDS):
        for which in sorted(found, reverse=bool(number % 2)):
            found[which].append(_run(which))
    medians = {
        which: [statistics.median(one[part] for one in rounds) for part in range(3)]
        for which, rounds in found.items()
    }
    print(f"{CLIENTS} clients, {A_SECOND} messages a second, {ROUNDS} rounds of {SECONDS} s by turns")
    for which, (half, most, share) in medians.items():
        print(f"{which:>16}: median {half * 1e3:.2f} ms, p99 {most * 1e3:.2f} ms, CPU {share:.1%}")
    ours, peer = medians["ours"], medians["plain starlette"]
    pairs = [(a[1] / b[1], a[2] / b[2]) for a, b in zip(*found.values(), strict=True)]
    print(f"ours over plain: p99 {ours[1] / peer[1]:.2f}, CPU {ours[2] / peer[2]:.2f} (target 1.2)")
    print("round by round:  " + ", ".join(f"{late:.2f}/{cpu:.2f}" for late, cpu in pairs))


if __name__ == "__main__":
    main()
