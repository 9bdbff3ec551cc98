"""Invented hosts, simulated through an interview on a virtual clock, and the truth about them."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from bridge.exact import Meter
from bridge.hostmap import HostMap, Measure, Message, Unit
from bridge.learn import Happening, Mark, Step, What

__all__ = ["Host", "Session", "from_map", "interview", "random_host"]

WORDS = (
    "reef",
    "sluice",
    "kelp",
    "groyne",
    "shingle",
    "buoy",
    "wrack",
    "spit",
    "fathom",
    "eddy",
    "skerry",
    "neap",
)


QUARTERS, SECONDS = Unit(Measure.QUARTERS), Unit(Measure.SECONDS)


def as_wire(value: float, kind: str):
    """Return the number as its type holds it."""
    if kind in "ih":
        return int(value // 1)
    if kind == "f":
        return struct.unpack(">f", struct.pack(">f", value))[0]
    return f"{value:.4f}" if kind == "s" else value


@dataclass(kw_only=True)
class Host:
    """How one invented host speaks; None: it does not say that."""

    unit: Unit | None = QUARTERS
    position: str | None = "/h/at"
    position_type: str = "f"
    counts: Callable[[Host, float, float], float] | None = None
    """How it counts (its quarters, the time) where no unit of a host map says it."""
    lead: int = 0
    """Arguments before the position in its message."""
    rolling: str | None = "/h/on"
    rolling_values: tuple[int, int] = (0, 1)
    twin: str | None = None
    """Another address that says the same as ``rolling``."""
    tempo: str | None = "/h/bpm"
    meter: str | None = "/h/sig"
    marker: str | None = "/h/mark"
    marker_order: tuple[str, ...] = ("id", "at", "name")
    marker_unit: Unit = SECONDS
    gone: str | None = "/h/mark/gone"
    gap: float = 0.05
    jitter: float = 0.003
    only_playing: bool = False
    """Whether it tells its position only while it plays."""
    stands_often: bool = True
    """Whether it repeats its position while it stands."""
    chatter: tuple[str, ...] = ()
    bpm: Fraction = Fraction(120)
    sig: Meter = field(default_factory=lambda: Meter.parse("4/4"))

    def value(self, quarters: float, unit: Unit) -> float:
        """Return the number of a place in ``unit``."""
        match unit.measure:
            case Measure.QUARTERS:
                return quarters
            case Measure.WHOLE_NOTES:
                return quarters / 4
            case Measure.TICKS:
                return quarters * unit.rate
            case Measure.BARS:
                return 1 + quarters / float(self.sig.length.quarters)
        return quarters * 60 / float(self.bpm) * (unit.rate or 1)


class Session:
    """One interview with one host."""

    def __init__(self, host: Host, seed: int) -> None:
        self.host, self.chance = host, random.Random(seed)
        self.now, self.playing, self.quarters, self.out = 0.0, False, 2.75, []
        self.due, self.next_id, self.ids = 0.0, self.chance.randrange(1, 50), {}
        self.started = 0.0

    def say(self, message: Message, late: float = 0.0) -> None:
        delay = self.chance.random() * self.host.jitter + 0.0005 + late
        self.out.append(Happening(self.now + delay, message))

    def mark(self, what: What, step: Step, detail: str | None = None) -> None:
        self.out.append(Happening(self.now, Mark(what, step.step, step.detail if detail is None else detail)))

    def report(self) -> None:
        host = self.host
        if host.position is None or host.unit is None or (host.only_playing and not self.playing):
            return
        count = host.counts
        told = count(host, self.quarters, self.now) if count else host.value(self.quarters, host.unit)
        value = as_wire(told, host.position_type)
        self.say(Message(host.position, "i" * host.lead + host.position_type, (7,) * host.lead + (value,)))

    def tell_rolling(self) -> None:
        if self.host.rolling:
            self.say(Message(self.host.rolling, "i", (self.host.rolling_values[self.playing],)))
        if self.host.twin:
            self.say(Message(self.host.twin, "i", (int(self.playing),)))

    def pass_time(self, seconds: float) -> None:
        end = self.now + seconds
        while self.now < end:
            step = min(0.01, end - self.now)
            self.now += step
            if self.playing:
                self.quarters += step * float(self.host.bpm) / 60
            self.chat()
            if self.now >= self.due:
                self.due = self.now + (self.host.gap if self.playing else 0.5)
                if self.playing or self.host.stands_often:
                    self.report()

    def chat(self) -> None:
        for index, address in enumerate(self.host.chatter):
            if self.chance.random() < 0.15:
                self.say(Message(address, "f", (self.chatter_value(index),)))

    def chatter_value(self, index: int) -> float:
        """Meters, clocks that never stop, a beat lamp, a blinker, a constant."""
        return [
            self.chance.random() * self.playing,
            self.now + 5000,
            float(int(self.quarters) % 4),
            float(self.chance.random() < 0.5),
            4.0,
            self.chance.gauss(-20, 6),
        ][index % 6]

    def hold(self, step: Step) -> None:
        """Go through one step of the interview as the user does."""
        self.mark(What.ASKED, step)
        self.pass_time(0.3 + self.chance.random())
        self.do(step)
        self.pass_time(0.2 + self.chance.random())
        self.mark(What.DONE if step.answer is None else What.TOLD, step)
        self.pass_time(step.dwell)

    def do(self, step: Step) -> None:
        host = self.host
        match step.step:
            case "play" | "stop":
                self.playing = step.step == "play"
                self.due = self.now + host.gap
                self.tell_rolling()
                if not self.playing:
                    self.report()
            case "bar":
                self.quarters = (int(step.detail) - 1) * float(host.sig.length.quarters)
                self.report()
            case "tempo" | "meter":
                self.set(step)
            case "marker":
                self.tell_marker(step.detail)
            case "remove":
                if host.gone and step.detail in self.ids:
                    self.say(Message(host.gone, "i", (self.ids[step.detail],)))

    def set(self, step: Step) -> None:
        host = self.host
        if step.step == "tempo":
            host.bpm = Fraction(step.detail)
            if host.tempo:
                self.say(Message(host.tempo, "f", (as_wire(float(host.bpm), "f"),)))
            return
        host.sig = Meter.parse(step.detail)
        if host.meter:
            self.say(Message(host.meter, "ii", (host.sig.top, host.sig.unit)))

    def tell_marker(self, name: str) -> None:
        host = self.host
        if host.marker is None:
            return
        self.ids[name] = self.next_id
        self.next_id += self.chance.randrange(1, 4)
        facts = {
            "id": ("i", self.ids[name]),
            "at": ("f", as_wire(host.value(self.quarters, host.marker_unit), "f")),
            "name": ("s", name),
        }
        rows = [facts[word] for word in host.marker_order]
        self.say(Message(host.marker, "".join(kind for kind, _ in rows), tuple(arg for _, arg in rows)))


def interview(
    host: Host, steps: Sequence[Step], seed: int = 1, make: Callable[[Host, int], Session] = Session
) -> list[Happening]:
    """Return everything that happens in an interview of these steps."""
    run = make(host, seed)
    run.pass_time(0.5)
    for step in steps:
        run.hold(step)
    return sorted(run.out, key=lambda one: one.at)


def random_host(chance: random.Random) -> Host:
    """Make up a host: names, units, types, rates and chatter."""
    words = [f"/{a}/{b}" for a in chance.sample(WORDS, 4) for b in chance.sample(WORDS, 4)]
    names: Iterator[str] = iter(chance.sample(words, len(words)))
    take: Callable[[], str] = lambda: next(names)  # noqa: E731
    order = ["id", "at", "name"]
    chance.shuffle(order)
    unit = random_unit(chance)
    whole = unit.rate >= 1000 or (unit.measure is Measure.TICKS and unit.rate >= 96)
    return Host(
        unit=unit,
        position=take(),
        position_type=chance.choice("fdsih" if whole else "fds"),
        lead=chance.randrange(3),
        rolling=take(),
        rolling_values=(0, chance.choice((1, 1, 2, 127))),
        tempo=take(),
        meter=take(),
        marker=take(),
        marker_order=tuple(order),
        marker_unit=random_unit(chance),
        gone=take(),
        gap=chance.uniform(0.02, 0.12),
        jitter=chance.uniform(0, 0.012),
        stands_often=chance.random() < 0.6,
        chatter=tuple(take() for _ in range(chance.randrange(7))),
    )


def random_unit(chance: random.Random) -> Unit:
    """Any unit that a host map has; rates common and uncommon."""
    measure = chance.choice(list(Measure))
    if measure is Measure.SAMPLES:
        return Unit(measure, chance.choice((1000, 25, 44100, 48000, 96000, chance.randrange(2000, 200_000))))
    if measure is Measure.TICKS:
        return Unit(measure, chance.choice((24, 96, 480, 960, chance.randrange(10, 20_000))))
    return Unit(measure)


def from_map(host_map: HostMap) -> Host:
    """Make a host that speaks as a map says, with a meter of levels and a clock besides."""
    hears = host_map.hears
    position, marker = hears.get("position"), hears.get("marker")
    order = sorted(marker.args, key=lambda word: marker.args[word]) if marker else ()
    return Host(
        unit=position.unit if position else None,
        position=position.address if position else None,
        position_type="d",
        lead=position.args["value"] if position else 0,
        rolling=hears["playing"].address if "playing" in hears else None,
        tempo=hears["tempo"].address if "tempo" in hears else None,
        meter=hears["meter"].address if "meter" in hears else None,
        marker=marker.address if marker else None,
        marker_order=tuple(order),
        marker_unit=marker.unit if marker and marker.unit else SECONDS,
        gone=hears["marker_gone"].address if "marker_gone" in hears else None,
        chatter=("/other/level", "/other/clock") if hears else (),
    )
