"""A host on the C library liblo, for the tests: nothing in it is ours.

It keeps markers as they come, makes a new one each time it is told to, and loses a share
of all packets, both ways, before it looks at them.
"""

from __future__ import annotations

import random
import threading
from collections import Counter

from tests import oracle

liblo = oracle("pyliblo3")

MAP = """
pulsebridge_host: 1
name: harbour
send_to: 127.0.0.1:{there}
receive_on: 127.0.0.1:{here}
hears:
  marker: {{address: /pier/mark, args: {{name: 0, at: 1, id: 2}}, unit: quarters}}
{end}
says:
  place:  [{{address: /pier/add, args: ["{{name:s}}", "{{quarters:d}}"]}}]
  remove: [{{address: /pier/cut, args: ["{{id:h}}"]}}]
  list:   [{{address: /pier/tell}}]
pace: 1ms
"""
END = "  marker_end: {address: /pier/told}"


class LibloHost:
    """Runs in a thread of its own while a ``with`` block does."""

    def __init__(self, here: int, *, lose: float = 0.0, seed: int = 1, end: bool = True, users=()) -> None:
        self._chance = random.Random(seed)
        self._lose = lose
        self._end = end
        self._us = liblo.Address("127.0.0.1", here)
        self._server = liblo.Server(None)
        self._server.add_method("/pier/add", "sd", self._add)
        self._server.add_method("/pier/cut", "h", self._cut)
        self._server.add_method("/pier/tell", "", self._tell)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._next = 100
        self.markers: dict[int, tuple[str, float]] = {}
        self.heard: Counter[str] = Counter()
        for name, at in users:
            self._make(name, at)

    @property
    def port(self) -> int:
        return self._server.port

    def state(self) -> Counter:
        return Counter(self.markers.values())

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_error) -> None:
        self._stop.set()
        self._thread.join()
        self._server.free()

    def _run(self) -> None:
        while not self._stop.is_set():
            self._server.recv(20)

    def _lost(self) -> bool:
        return self._chance.random() < self._lose

    def _make(self, name: str, at: float) -> None:
        self.markers[self._next] = (name, at)
        self._next += 1

    def _add(self, _path, args) -> None:
        self.heard["add"] += 1
        if not self._lost():
            self._make(*args)

    def _cut(self, _path, args) -> None:
        self.heard["cut"] += 1
        if not self._lost():
            self.markers.pop(args[0], None)

    def _tell(self, _path, _args) -> None:
        if self._lost():
            return
        answers = [("/pier/mark", name, ("d", at), handle) for handle, (name, at) in self.markers.items()]
        if self._end:
            answers.append(("/pier/told",))
        for answer in answers:
            if not self._lost():
                self._server.send(self._us, *answer)
