"""The invented host programs with a transport, and the user who sits at them during an interview.

What a host says of its transport is as its own map has it: the map is the program's
specification here, and what ``learn`` must find out.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable

from bridge.exact import Meter
from bridge.hostmap import HostMap, Measure, Message, Unit
from bridge.learn import DEEDS, LIST
from tests.lay.hosts import ChalkBoard, HarbourCrane, NameWall, Quiet, TallyDesk, TideTable

GAP = 0.04
TYPED: dict[type[Quiet], dict[str, str]] = {
    TallyDesk: {
        "list": "/tally/read",
        "locate": "/tally/wind {seconds:d}",
        "play": "[{address: /tally/run, args: [{type: T}]}]",
        "stop": "[{address: /tally/run, args: [{type: F}]}]",
        "place": "/tally/add {seconds:d} {name:s}",
        "remove": "/tally/strike {id:i} {name:s}",
    },
    NameWall: {
        "list": "/wall/look",
        "locate": "/wall/walk {bar:i} {beat:d}",
        "play": "/wall/wake yes",
        "stop": "/wall/wake no",
        "place": "/wall/hang {name:s} {bar:i} {beat:d}",
        "remove": "/wall/unhang {name:s}",
    },
    HarbourCrane: {
        "list": "/crane/count",
        "locate": "/crane/go {quarters:d}",
        "place": (
            '[{address: /crane/go, args: ["{quarters:d}"], reply: {address: /crane/at, args:'
            ' ["{quarters:d}"], within: 120ms, tries: 8}}, {wait: 40ms}, {address: /crane/mark, args:'
            ' ["{name:s}"]}, {wait: 40ms}]'
        ),
        "remove": (
            '[{address: /crane/go, args: ["{quarters:d}"], reply: {address: /crane/at, args:'
            ' ["{quarters:d}"], within: 120ms, tries: 8}}, {wait: 40ms}, {address: /crane/lift, args:'
            ' ["{name:s}"]}, {wait: 40ms}]'
        ),
    },
    ChalkBoard: {
        "place": "/chalk/write {ticks@480:h} {name:s}",
        "remove": "/chalk/wipe {ticks@480:h} {name:s}",
    },
    TideTable: {
        "list": "/tide/tell",
        "place": "/tide/mark/add {quarters:d} {name:s}",
        "rename": "/tide/mark/name {id:i} {old_name:s} {name:s}",
        "remove": "/tide/mark/drop {id:i}",
        "region": "/tide/reach/add {quarters:d} {end_quarters:d} {name:s} {colour:i}",
        "meter": "/tide/swell/set {bar:i} {meter_top:i} {meter_bottom:i}",
        "tempo": "/tide/flow/set {quarters:d} {bpm:d} {end_quarters:d} {bpm_end:d}",
    },
}
"""What the user knows that each program understands."""
TRANSPORT: dict[str, Callable[[Living, tuple], None]] = {
    "wind": lambda host, args: host.move(args[0] * host.bpm / 60),
    "walk": lambda host, args: host.move((args[0] - 1) * host.bar + args[1] - 1),
    "go": lambda host, args: host.move(args[0]),
    "run": lambda host, args: host.roll(args[0]),
    "wake": lambda host, args: host.roll(args[0] == "yes"),
}
STORED = {TallyDesk: lambda told: told * 2, NameWall: lambda told: (told - 1) * 4}
"""From a place as the program tells it to the quarters that it keeps; the others keep what they tell."""


class Living:
    """A program with a transport: it reports by itself where it is and whether it plays."""

    def __init__(self, program: Quiet, host: HostMap) -> None:
        self.program, self.host = program, host
        self.lock = threading.RLock()
        self.bpm, self.meter = 120.0, Meter.parse("4/4")
        self.playing = False
        self.quarters, self.since, self.now = 2.75, 0.0, 0.0
        self.wake_at = 0.0

    @property
    def bar(self) -> float:
        return float(self.meter.length.quarters)

    @property
    def here(self) -> float:
        return self.quarters + ((self.now - self.since) * self.bpm / 60 if self.playing else 0.0)

    def told(self, unit: Unit) -> float:
        """The place where it stands, in a unit of its map."""
        if unit.measure is Measure.BARS:
            return 1 + self.here / self.bar
        return self.here * 60 / self.bpm if unit.measure is Measure.SECONDS else self.here

    def move(self, quarters: float) -> None:
        self.quarters, self.since = quarters, self.now

    def roll(self, playing: bool) -> None:
        self.move(self.here)
        self.playing = playing

    def transport(self) -> list[Message]:
        hears = self.host.hears
        rows = {
            "playing": lambda: ("i", (int(self.playing),)),
            "position": lambda: ("d", (self.told(hears["position"].unit),)),
            "tempo": lambda: ("f", (self.bpm,)),
            "meter": lambda: ("ii", (self.meter.top, self.meter.unit)),
        }
        return [Message(hears[key].address, *row()) for key, row in rows.items() if key in hears]

    def wake(self, now: float) -> list[Message]:
        with self.lock:
            if now < self.wake_at:
                return []
            self.now, self.wake_at = now, now + GAP
            return self.transport()

    def hear(self, message: Message, now: float) -> list[Message]:
        with self.lock:
            self.now = now
            word = message.address.rpartition("/")[2]
            if word in TRANSPORT:
                TRANSPORT[word](self, message.args)
            own = {self.host.hears[key].address for key in ("tempo", "meter") if key in self.host.hears}
            answers = self.program.hear(message, now)
            return [*self.transport(), *(one for one in answers if one.address not in own)]


class User:
    """Does in the host what the interview asks for, and types what there is to type."""

    def __init__(self, living: Living) -> None:
        self.living = living
        self.sent: list[str] = []

    def ask(self, text: str) -> str:
        words = " ".join(text.split())
        with self.living.lock:
            return self.answer(words) + "\n"

    def answer(self, words: str) -> str:
        if "About to send" in words:
            self.sent.append(words)
            return "y"
        if "Which message" in words or "The host itself says" in words:
            words = words.replace("named tern again", "named gull again")
            deed = next(one for one in (LIST, *DEEDS) if f" {one.about}" in words)
            return TYPED[type(self.living.program)].get(deed.key, "")
        if "Did you see it happen" in words:
            return "y" if isinstance(self.living.program, ChalkBoard) else ""
        if words.startswith("In the host:"):
            self.do(words)
        return ""

    def do(self, words: str) -> None:
        living = self.living
        if "press play" in words or "stop" in words.partition(",")[0]:
            living.roll("press play" in words)
        elif found := re.search(r"set the tempo of the whole song to (\d+)", words):
            living.bpm = float(found[1])
        elif found := re.search(r"set the meter of the whole song to (\d+/\d+)", words):
            living.meter = Meter.parse(found[1])
        elif found := re.search(r"move to the beginning of bar (\d+)", words):
            living.move((int(found[1]) - 1) * living.bar)
        elif found := re.search(r"add a marker named (\w+)", words):
            marker = living.host.hears.get("marker")
            stored = STORED.get(type(living.program), lambda one: one)
            living.program.add(found[1], stored(living.told(marker.unit)) if marker else living.here)
        elif found := re.search(r"remove the marker named (\w+)", words):
            forget(living.program, found[1])


def forget(program: Quiet, name: str) -> None:
    """Remove a marker as the user does, with the mouse."""
    if isinstance(program, TideTable):
        program.numbers = {n: mark for n, mark in program.numbers.items() if mark[0] != name}
    program.marks = [mark for mark in program.marks if mark[0] != name]
