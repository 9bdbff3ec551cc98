"""A host on a virtual clock, and a show that follows it: what the tests of the conductor share.

The host knows nothing of shows: it has a place that moves at the plan's tempo times a
breath, it can be located, looped, stopped and started if it is one that can, and it
reports its place.  Time is counted here, never waited for.
"""

import heapq
import itertools
import math
import random
from dataclasses import dataclass, field
from fractions import Fraction

from bridge.follow import Follower
from bridge.follow.scale import PlanScale
from bridge.hostmap import Measure, Number, PlayingHeard, PositionHeard, Ruler, TempoHeard, Unit
from bridge.show import AskHost, Conductor, Keep, Programme, Replan, SendMidi, SendOsc, Tell, control

REPORTS = 0.2
"""Seconds between a host's reports."""


@dataclass
class Host:
    """A timeline that plays."""

    song: object
    breath: float = 0.0
    """How far its tempo strays from the plan's, as a share, in half a minute."""
    playing: bool = False
    at: float = 0.0
    quarters: float = 0.0
    """Its place at ``at``, in quarters of its own."""
    loop: tuple[float, float] | None = None
    jumps: list = field(default_factory=list)

    def __post_init__(self):
        tempi = {placed.section.tempo for placed in self.song.sections}
        self.steady = float(tempi.pop().start) if len(tempi) == 1 else None

    def tempo(self, at: float) -> float:
        if self.steady is not None:
            return self.steady * (1 + self.breath * math.sin(at / 5))
        place = Ruler(self.song).place(Fraction(self.quarters), Unit(Measure.QUARTERS))
        return float(self.song.tempo_map.bpm(place)) * (1 + self.breath * math.sin(at / 5))

    def run(self, to: float) -> None:
        """Let time pass; in each twentieth of a second its tempo is one."""
        while self.at < to:
            step = min(0.05, to - self.at)
            if self.playing:
                before = self.quarters
                self.quarters += self.tempo(self.at) / 60 * step
                if self.loop and self.quarters >= self.loop[1] > before:
                    self.jumps.append((self.at, self.quarters))
                    self.quarters -= self.loop[1] - self.loop[0]
            self.at += step

    def obey(self, ask: AskHost) -> None:
        ruler, unit = Ruler(self.song), Unit(Measure.QUARTERS)
        place = float(ruler.value(ask.place, unit))
        match ask.deed:
            case "locate":
                self.jumps.append((self.at, self.quarters))
                self.quarters = place
            case "play":
                self.playing = True
            case "stop":
                self.playing = False
            case "loop":
                self.loop = (place, float(ruler.value(ask.until, unit)))
            case "loop_off":
                self.loop = None


class Stage:
    """A host, a follower and a conductor on one virtual clock; what goes out is written down."""

    def __init__(self, song, *, ability=(), breath=0.0, delay=0.004, loss=0.0, seed=1, conductor=None):
        self.song, self.ability, self.delay, self.loss = song, ability, delay, loss
        self.host = Host(song, breath=breath)
        self.follower = Follower(scale=PlanScale(ruler=Ruler(song)), unit=Unit(Measure.QUARTERS))
        self.conductor = conductor or Conductor(Programme((song,)), ability=ability)
        self.chance = random.Random(seed)
        self.now = 0.0
        self.sent, self.told, self.asked, self.kept, self.replans, self.midi = [], [], [], [], [], []
        self.memory, self.heard, self.tempo_told = None, 0, 1.0
        self.alive = True
        self._queue, self._number = [], itertools.count()
        self.at(0.0, self._report)

    def at(self, when, do):
        heapq.heappush(self._queue, (when, next(self._number), do))

    def run(self, until):
        while True:
            wake = self.conductor.wake_at if self.alive else None
            event = self._queue[0][0] if self._queue else math.inf
            if min(event, math.inf if wake is None else wake) > until:
                break
            if wake is not None and wake <= event:
                self.now = max(self.now, wake)
                self.do(self.conductor.wake(self.now))
            else:
                self.now = max(self.now, event)
                heapq.heappop(self._queue)[2]()
        self.now = until

    def press(self, do, *words):
        self.do(self.conductor.control(self.now, control(do, *words)))

    def do(self, effects):
        for effect in effects:
            match effect:
                case SendOsc():
                    self.sent.append((self.now, effect))
                case SendMidi():
                    self.midi.append((self.now, effect))
                case Tell():
                    self.told.append(effect)
                case Keep():
                    self.memory = effect.memory
                case Replan():
                    self.replans.append(effect)
                case AskHost():
                    self.asked.append((self.now, effect))
                    if self.chance.random() >= self.loss:
                        self.at(max(self.now, effect.due) + self.delay, lambda ask=effect: self._obey(ask))

    def play(self, quarters=None):
        self.host.run(self.now)
        if quarters is not None:
            self.host.quarters = quarters
        self.host.playing = True
        self._hear()

    def _obey(self, ask):
        self.host.run(self.now)
        self.host.obey(ask)
        self._hear()

    def _report(self):
        self.host.run(self.now)
        self._hear()
        self.at(self.now + REPORTS, self._report)

    def _hear(self):
        if not self.alive:
            return
        host, events = self.host, []
        self.heard += 1
        said = [PlayingHeard(playing=host.playing), PositionHeard(at=_number(host.quarters))]
        tempo = host.tempo(self.now)
        if self.heard % 5 == 1 or abs(tempo / self.tempo_told - 1) > 0.1:
            said.insert(1, TempoHeard(bpm=_number(tempo)))
            self.tempo_told = tempo
        for heard in said:
            events += self.follower.heard(self.now, heard)
        self.do(self.conductor.hear(self.now, self.follower.transport(self.now), events))

    def kill(self):
        self.alive = False

    def restart(self, *, gone):
        """Begin again ``gone`` seconds after the last memory was written."""
        self.conductor = Conductor(
            self.conductor.programme,
            ability=self.ability,
            memory=self.memory,
            remembered_at=self.memory.at,
        )
        self.follower = Follower(scale=PlanScale(ruler=Ruler(self.song)), unit=Unit(Measure.QUARTERS))
        self.alive = True


def _number(value):
    return Number(Fraction(value), Fraction(1, 2**40))
