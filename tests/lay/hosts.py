"""The invented hosts of examples/hosts/ as programs: each a pure one, served over real UDP.

Written from the comments in their maps; each keeps markers of the user's and ours alike
and shows its full state.  They play at 120 quarters a minute in 4/4.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from bridge.cli.host_maps import load_host_map
from bridge.hostmap import Address, HostMap, Message
from bridge.osc import Port
from bridge.practice import FAIR, Serving, Weather
from bridge.store import shipped

HOSTS = shipped("examples/hosts")
NEVER = float("inf")


class Quiet:
    """What the four have in common: nothing of their own accord; places in quarters from 0."""

    map = ""
    wake_at = NEVER

    def __init__(self, users: Iterable[tuple[str, float]] = ()) -> None:
        self.marks: list[tuple[str, float]] = []
        self.heard: Counter[str] = Counter()
        for name, quarters in users:
            self.add(name, quarters)

    def add(self, name: str, quarters: float) -> None:
        self.marks.append((name, quarters))

    def wake(self, now: float) -> list[Message]:
        return []

    def hear(self, message: Message, now: float) -> list[Message]:
        word = message.address.rpartition("/")[2]
        self.heard[word] += 1
        return self.do(word, *message.args)

    def do(self, word: str, *args) -> list[Message]:
        raise NotImplementedError

    def state(self) -> Counter:
        return Counter((name, round(quarters, 6)) for name, quarters in self.marks)


class TallyDesk(Quiet):
    """Numbers its markers along the timeline; seconds."""

    map = "tally-desk.yaml"

    def do(self, word: str, *args) -> list[Message]:
        if word == "add":
            self.add(args[1], args[0] * 2)
        elif word == "strike":
            number, name = args
            if 1 <= number <= len(self.marks) and self.marks[number - 1][0] == name:
                del self.marks[number - 1]
        elif word == "read":
            told = [
                Message("/tally/line", "ids", (number, quarters / 2, name))
                for number, (name, quarters) in enumerate(self.marks, start=1)
            ]
            return [
                Message("/tally/pace", "f", (120.0,)),
                Message("/tally/measure", "ii", (4, 4)),
                *told,
                Message("/tally/sum"),
            ]
        return []

    def add(self, name: str, quarters: float) -> None:
        self.marks.append((name, quarters))
        self.marks.sort(key=lambda mark: mark[1])


class NameWall(Quiet):
    """One marker a name; bars from 1."""

    map = "name-wall.yaml"

    def do(self, word: str, *args) -> list[Message]:
        if word == "hang":
            self.unhang(args[0])
            self.add(args[0], (args[1] - 1) * 4 + args[2] - 1)
        elif word == "unhang":
            self.unhang(args[0])
        elif word == "look":
            return [Message("/wall/hung", "sd", (name, 1 + at / 4)) for name, at in self.marks]
        return []

    def unhang(self, name: str) -> None:
        self.marks = [mark for mark in self.marks if mark[0] != name]


class HarbourCrane(Quiet):
    """Marks only where it stands; quarters."""

    map = "harbour-crane.yaml"
    at = 0.0

    def do(self, word: str, *args) -> list[Message]:
        if word == "go":
            self.at = args[0]
            return [Message("/crane/at", "d", (self.at,))]
        if word == "mark" and (args[0], self.at) not in self.marks:
            self.add(args[0], self.at)
        elif word == "lift" and (args[0], self.at) in self.marks:
            self.marks.remove((args[0], self.at))
        elif word == "count":
            return [*(Message("/crane/load", "sd", mark) for mark in self.marks), Message("/crane/all")]
        return []


class ChalkBoard(Quiet):
    """Says nothing; ticks, 480 a quarter."""

    map = "chalk-board.yaml"

    def do(self, word: str, *args) -> list[Message]:
        mark = (args[1], args[0] / 480)
        if word == "write" and mark not in self.marks:
            self.add(*mark)
        elif word == "wipe" and mark in self.marks:
            self.marks.remove(mark)
        return []


class TideTable(Quiet):
    """Writes and tells its whole timeline; meters at bars, tempi and regions at quarters."""

    map = "tide-table.yaml"

    def __init__(self, users: Iterable[tuple[str, float]] = ()) -> None:
        self.tempi: dict[float, tuple[float, float, float]] = {0.0: (120.0, 0.0, 120.0)}
        self.meters: dict[int, tuple[int, int]] = {1: (4, 4)}
        self.regions: dict[int, tuple[str, float, float]] = {}
        self.colours: dict[int, int] = {}
        self.next = 1
        self.numbers: dict[int, tuple[str, float]] = {}
        super().__init__(users)

    def add(self, name: str, quarters: float) -> None:
        self.numbers[self.next] = (name, quarters)
        self.next += 1
        self.marks = list(self.numbers.values())

    def hear(self, message: Message, now: float) -> list[Message]:
        word = message.address.removeprefix("/tide/")
        self.heard[word] += 1
        return self.do(word, *message.args)

    def do(self, word: str, *args) -> list[Message]:
        if word == "mark/add":
            self.add(args[1], args[0])
        elif word == "mark/name":
            number, old, new = args
            if self.numbers.get(number, ("", 0.0))[0] == old:
                self.numbers[number] = (new, self.numbers[number][1])
                self.marks = list(self.numbers.values())
        elif word == "reach/add":
            self.regions[self.next] = (args[2], args[0], args[1])
            self.colours[self.next] = args[3]
            self.next += 1
        elif word == "flow/set":
            self.tempi[args[0]] = (args[1], args[2], args[3])
        elif word == "swell/set":
            self.meters[args[0]] = (args[1], args[2])
        elif word == "tell":
            return self.tell()
        else:
            kept = {"mark/drop": self.numbers, "reach/drop": self.regions, "flow/drop": self.tempi}
            kept.get(word, self.meters).pop(args[0], None)
            self.marks = list(self.numbers.values())
        return []

    def tell(self) -> list[Message]:
        return [
            *(Message("/tide/mark", "ids", (n, at, name)) for n, (name, at) in self.numbers.items()),
            *(Message("/tide/flow", "df", (at, tempo[0])) for at, tempo in self.tempi.items()),
            *(Message("/tide/swell", "iii", (bar, *meter)) for bar, meter in self.meters.items()),
            *(
                Message("/tide/reach", "iddsi", (n, at, end, name, self.colours.get(n, 0)))
                for n, (name, at, end) in self.regions.items()
            ),
            Message("/tide/told"),
        ]


REPORTING = (TallyDesk, NameWall, HarbourCrane)


def free_port() -> int:
    with Port(Address("127.0.0.1", 0)) as port:
        return port.place[1]


def map_text(name: str, *, there: int, here: int) -> str:
    text = (HOSTS / name).read_text(encoding="utf-8")
    text = re.sub(r"(?m)^send_to: \S+", f"send_to: 127.0.0.1:{there}", text)
    return re.sub(r"(?m)^receive_on: \S+", f"receive_on: 127.0.0.1:{here}", text)


class Stage:
    """One program, its ports, and the map that reaches it; it can be stopped and started again."""

    def __init__(self, program: Quiet, folder: Path, *, weather: Weather = FAIR) -> None:
        self.program = program
        self.weather = weather
        self.there, self.here = free_port(), free_port()
        self.path = folder / program.map
        self.path.write_text(map_text(program.map, there=self.there, here=self.here), encoding="utf-8")
        self._serving: Serving | None = None

    @property
    def host(self) -> HostMap:
        return load_host_map(self.path)

    def start(self, port: int | None = None) -> None:
        self._serving = Serving(
            self.program,
            listen_on=Address("127.0.0.1", port or self.there),
            send_to=Address("127.0.0.1", self.here),
            weather=self.weather,
        )
        self._serving.__enter__()

    def stop(self) -> None:
        if self._serving is not None:
            self._serving.__exit__(None, None, None)
            self._serving = None

    def __enter__(self) -> Stage:
        self.start()
        return self

    def __exit__(self, *_error) -> None:
        self.stop()
