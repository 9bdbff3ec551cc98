"""A host and a network for the pure laying machine, in virtual time.

The host is written from the host map's contract alone: it keeps markers as they arrive,
makes a new one each time it is told to, and answers to a list with all of them.  Its
peculiarities (no ids, ids counted anew, no end of the list, names cut, places rounded)
and those of the network (loss, doubles, delay, disorder) are switched on by the tests.
"""

from __future__ import annotations

import heapq
import random
import struct
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction as F
from itertools import count

from bridge.hostmap import HostMap, Message, Ruler, hear, load
from bridge.lay import BlindLaying, Entry, Laying, Options, Result, Say, Write, want
from bridge.lay.wanted import reports
from bridge.plan import load as load_plan
from bridge.song import unroll

USERS = (("Prelude", 99.0), ("my idea", 12.5), ("Ebb", 30.0))
"""The user's own markers: one has the name of a section, one a place of its own."""


class CrashError(Exception):
    """The laying was killed here."""


def song_ruler(
    bars: tuple[int, ...], *, names=("Prelude", "Crossing", "Landfall", "Ebb"), origin=1, tempo=120
) -> Ruler:
    sections = "".join(
        f"  - {{name: {name}, layers: [band], bars: {n}}}\n" for name, n in zip(names, bars, strict=False)
    )
    text = (
        f"pulsebridge: 1\ntitle: Low Tide Relay\ntempo: {tempo}\nmeter: 4/4\norigin: {{bar: {origin}}}\n"
        f"layers: {{band: {{cycle: 1/8}}}}\nsections:\n{sections}"
    )
    return Ruler(unroll(load_plan(text), bars))


def host_map(
    *,
    unit="seconds",
    place="{seconds:f}",
    remove="{id:i}",
    ids=True,
    end=True,
    marker=True,
    extra="",
    rename=None,
) -> HostMap:
    args = "{id: 0, at: 1, name: 2}" if ids else "{at: 0, name: 1}"
    hears = f"  marker: {{address: /h/m, args: {args}, unit: {unit}}}\n" if marker else ""
    hears += "  marker_end: {address: /h/end}\n" if end and marker else ""
    says = f"  place: [{{address: /h/put, args: ['{place}', '{{name:s}}']}}]\n"
    if remove:
        says += f"  remove: [{{address: /h/drop, args: {[remove] if isinstance(remove, str) else remove}}}]\n"
    if rename:
        says += f"  rename: [{{address: /h/name, args: {rename}}}]\n"
    says += "  list: [{address: /h/all}]\n" if marker else ""
    return load(
        f"pulsebridge_host: 1\nname: sim\nsend_to: 127.0.0.1:9001\nreceive_on: 127.0.0.1:9000\n"
        f"hears:\n{hears}{extra}says:\n{says}pace: 1ms\n"
    )


@dataclass
class Net:
    lose: float = 0.0
    double: float = 0.0
    reorder: float = 0.0
    delay: float = 0.001


@dataclass
class SimHost:
    """Markers by id, in the order of their making."""

    host: HostMap
    end: bool = True
    ids: str = "stable"
    """stable; positions (counted anew from the top at each change); timeline (the same, in the order of
    their places); fresh (new ones at each list);
    shuffled (the same ones dealt out anew at each list); none."""
    name_of: Callable[[str], str] = lambda name: name
    place_of: Callable[[float], float] = lambda at: at
    tag: str = "f"
    upsert: bool = False
    """Placing a name that stands moves it."""
    mute: bool = False
    deaf_to: frozenset[str] = frozenset()
    think: float = 0.0
    """Seconds between two markers of a list."""
    markers: dict[int, tuple[str, float]] = field(default_factory=dict)
    heard: Counter = field(default_factory=Counter)
    next_id: int = 1

    def put(self, name: str, at: float) -> None:
        if self.upsert:
            for handle, (old, _) in self.markers.items():
                if old == name:
                    self.markers[handle] = (name, at)
                    return
        self.markers[self.next_id] = (name, at)
        self.next_id += 1
        if self.ids == "timeline":
            self.markers = dict(sorted(self.markers.items(), key=lambda one: one[1][1]))

    def state(self) -> Counter:
        return Counter(self.markers.values())

    def hear(self, message: Message) -> list[tuple[float, Message]]:
        """Return answers with how long each takes."""
        word = message.address.rpartition("/")[2]
        self.heard[(word, *message.args)] += 1
        self.heard[word] += 1
        if word in self.deaf_to:
            return []
        if word == "put":
            self.put(self.name_of(message.args[1]), self.place_of(message.args[0]))
        elif word == "drop":
            self.drop(message)
        elif word == "name":
            self.rename(*message.args)
        elif word == "all" and not self.mute:
            return self.tell()
        return []

    def handles(self) -> list[int]:
        if self.ids in ("positions", "timeline"):
            return list(range(len(self.markers)))
        if self.ids == "fresh":
            self.next_id += len(self.markers)
            self.markers = {self.next_id + i: marker for i, marker in enumerate(self.markers.values())}
            self.next_id += len(self.markers)
        if self.ids == "shuffled":
            dealt = list(self.markers.values())
            random.Random(self.heard["all"]).shuffle(dealt)
            self.markers = dict(enumerate(dealt, start=1))
            self.next_id = len(dealt) + 1
        return list(self.markers)

    def drop(self, message: Message) -> None:
        arg = message.args[0]
        if isinstance(arg, int) and self.ids in ("positions", "timeline"):
            keys = list(self.markers)
            if 0 <= arg < len(keys):
                del self.markers[keys[arg]]
        elif isinstance(arg, int):
            self.markers.pop(arg, None)
        else:
            wanted = tuple(message.args)
            for key, (name, at) in list(self.markers.items()):
                if wanted in {(name,), (at,), (name, at)}:
                    del self.markers[key]

    def rename(self, which: int | str, *more: str | float) -> None:
        """By number, or by the name it has, and its place where the message says that too; all that fit."""
        keys = list(self.markers)
        if isinstance(which, int):
            hit = keys[which : which + 1] if self.ids in ("positions", "timeline") else [which]
            *which_too, name = more
        else:
            hit, (*which_too, name) = keys, (which, *more)
        for key in hit:
            if key in self.markers and set(which_too) <= set(self.markers[key]):
                self.markers[key] = (self.name_of(name), self.markers[key][1])

    def tell(self) -> list[tuple[float, Message]]:
        answers = []
        for handle, (name, at) in zip(self.handles(), self.markers.values(), strict=True):
            if self.ids == "none":
                answers.append(Message("/h/m", f"{self.tag}s", (at, name)))
            else:
                answers.append(Message("/h/m", f"i{self.tag}s", (handle, at, name)))
        if self.end:
            answers.append(Message("/h/end"))
        return [(self.think * i, message) for i, message in enumerate(answers)]


@dataclass
class Run:
    """What a laying left behind."""

    record: tuple[Entry, ...]
    result: Result | None
    seconds: float
    steps: int
    said: list[Say]
    sent: list[Message]
    times: list[float]
    kinds: list[str] = field(default_factory=list)
    """By step: write, put, drop or all."""


class _Wire:
    """Effects on their way to the host, and its answers on their way back."""

    def __init__(self, sim: SimHost, net: Net, seed: int, crash_after: int | None, run: Run) -> None:
        self._sim, self._net, self._chance = sim, net, random.Random(seed)
        self._crash_after = crash_after
        self._number = count()
        self.queue: list[tuple[float, int, bool, Message]] = []
        self.run = run

    def carry(self, now: float, message: Message, *, inward: bool) -> None:
        chance, net = self._chance, self._net
        if chance.random() < net.lose:
            return
        for _ in range(2 if chance.random() < net.double else 1):
            late = chance.uniform(0, 0.03) if chance.random() < net.reorder else 0.0
            heapq.heappush(self.queue, (now + net.delay + late, next(self._number), inward, message))

    def do(self, effects, now: float) -> None:
        for effect in effects:
            if isinstance(effect, Say):
                self.run.said.append(effect)
                continue
            word = "write" if isinstance(effect, Write) else effect.message.address.rpartition("/")[2]
            self.run.kinds.append(word)
            if isinstance(effect, Write):
                self.run.record = effect.entries
            else:
                self.run.sent.append(effect.message)
                self.run.times.append(now)
                self.carry(now, effect.message, inward=True)
            self.run.steps += 1
            if self.run.steps == self._crash_after:
                self.drain()
                error = CrashError()
                error.run = self.run
                raise error

    def drain(self) -> None:
        """Let what is on its way to the host arrive, though nobody listens to its answers any more."""
        while self.queue:
            _, _, inward, message = heapq.heappop(self.queue)
            if inward:
                self._sim.hear(message)

    def deliver(self, laying) -> float:
        """Let the next message arrive, and return when that is."""
        now, _, inward, message = heapq.heappop(self.queue)
        if inward:
            for after, answer in self._sim.hear(message):
                self.carry(now + after, answer, inward=False)
        else:
            for event in hear(self._sim.host, message):
                self.do(laying.hear(event, now), now)
        return now


def lay(
    ruler: Ruler, sim: SimHost, record: tuple[Entry, ...] = (), *, net: Net | None = None, seed: int = 1,
    crash_after: int | None = None, options: Options | None = None, chatter: tuple[Message, ...] = (),
) -> Run:  # fmt: skip
    """Run one laying against ``sim``; CrashError after so many effects, with the run so far in it."""
    kind = Laying if reports(sim.host) else BlindLaying
    laying = kind(ruler, sim.host, want(ruler, sim.host), record, options or Options())
    run = Run(record, None, 0.0, 0, [], [], [])
    wire = _Wire(sim, net or Net(), seed, crash_after, run)
    now = 0.0
    for message in chatter:
        wire.carry(now, message, inward=False)
    wire.do(laying.start(now), now)
    while laying.wake_at < float("inf"):
        if wire.queue and wire.queue[0][0] <= laying.wake_at:
            now = wire.deliver(laying)
        else:
            now = laying.wake_at
            wire.do(laying.wake(now), now)
    run.result, run.seconds = laying.result, now
    wire.drain()
    return run


def float32(value: F | float) -> float:
    return struct.unpack(">f", struct.pack(">f", float(value)))[0]


def plan_state(ruler: Ruler) -> Counter:
    """The plan's markers as a host in 32-bit seconds holds them."""
    return Counter((m.name, float32(ruler.count.seconds(m.place))) for m in ruler.song.markers)
