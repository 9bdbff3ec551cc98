"""The running bridge: binds the conductor to sockets, ports, files and the clock. Decides nothing.

One event loop, one precise timer.  The conductor is asked a little before things are due,
so that all is made and kept on the disk when they are, and by the longest lead before it
where a receiver is sent to ahead of time: the show's time is the machine's plus that.
What runs beside it (the clock that a led show sends, the stage page) is handed in.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable
from contextlib import AbstractContextManager, AsyncExitStack, ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

from bridge.clock.calm import Calm
from bridge.clock.priority import FirstInLine
from bridge.clock.timer import PreciseTimer
from bridge.clock.wall import WallClock
from bridge.errors import UsageError
from bridge.hostmap import Unusable, hear
from bridge.live.answers import Answers
from bridge.live.borrowed import open_port
from bridge.live.companion import Companion
from bridge.live.control_socket import ControlSocket
from bridge.live.controls import Controls
from bridge.live.feet import Press
from bridge.live.following import follower_for_set, scale_of
from bridge.live.host_line import HostLine
from bridge.live.inputs import Arrival, Inputs, MidiChoice, midi_input
from bridge.live.new_forms import NewForms
from bridge.live.opening import journal_of, midi_out, running_of
from bridge.live.outputs import Outputs
from bridge.live.performing import Performer
from bridge.live.settings import Settings
from bridge.midi.news import PortNews
from bridge.osc import Port
from bridge.osc.listener import Heard, Listener
from bridge.osc.sender import Sender
from bridge.show import AskHost, Conductor, Control, Effect, Offer, Programme, Replan, Spot, Tell, View
from bridge.song import Song
from bridge.store.event_log import EventLog
from bridge.store.journal import Journal
from bridge.store.running import Running, RunningFile, new_token

__all__ = ["Companion", "Daemon"]

_PREPARE = 0.02
"""Seconds: making and keeping what is due on a beat takes 1 to 5 ms."""
_QUIET_EVERY = 0.1
"""Seconds between two looks at what is not urgent."""
_QUIET_GAP = 0.004
"""Seconds that have to be free for it."""
_MOST_PUT_OFF = 20
"""After so many looks without a gap it is done all the same."""
_CLOCK_EVERY = 1.0
_GOODBYE = 1.0
"""Seconds that a host is given to hear the last that it is asked."""

Report = Callable[[dict[str, Any]], None]


class Daemon:
    """One bridge.  :meth:`run` it on an event loop; :meth:`stop` ends it.

    ``make`` makes the conductor of the programme, given what was remembered and when that
    was; ``report`` gets a record of everything that happens, ``warn`` a sentence for people.
    """

    def __init__(
        self,
        programme: Programme,
        settings: Settings,
        *,
        report: Report = lambda _: None,
        warn: Callable[[str], None] = lambda _: None,
        make: Callable[..., Conductor] = Conductor,
    ) -> None:
        self.settings = settings
        self.conductor = Conductor(programme)
        self.controls = Controls(self, token=settings.token, feet=settings.feet, warn=self.warn)
        self.companions: list[Companion] = []
        self.inputs: Inputs | None = None
        self.sender: Sender | None = None
        self.wall = WallClock()
        self._ear: Port | None = None
        self.running: Running | None = None
        self.unusable = 0
        """Messages of the host that did not fit its map."""
        self.taps: set[Callable[[Arrival], None]] = set()
        """Who else is given what comes in."""
        self.opened: list[Callable[[], Any]] = []
        """Async context managers to be open while the bridge runs, made once its ports are."""
        self.at_start: list[Callable[[], None]] = []
        """Called once everything is open, before anything is played."""
        self.changed: list[Callable[[], None]] = []
        """Called when the show may look otherwise than could be foreseen."""
        self.stage_record: Callable[[], dict[str, Any]] | None = None
        """Tells how the stage page stands; None where it is not served."""
        self.after_saved: list[Callable[[Path], Awaitable[None]]] = []
        """Awaited when a saved plan has been planned."""
        self.quiet: list[Callable[[float], None]] = []
        """Called now and then, in a gap, with the time."""
        self._programme = programme
        self._make = make
        self._say = report
        self._warn_people = warn
        self._log: EventLog | None = None
        self._heard: list[Any] = []
        self._listening = False
        self._stops = False
        self._ended: asyncio.Future[None] | None = None
        self.follower = follower_for_set(settings.host, programme.songs, settings.delays)

    def now(self) -> float:
        """Return the seconds of the steady clock: those of ``View.at``."""
        return time.monotonic()

    @property
    def listens_on(self) -> tuple[str, int] | None:
        """Where controls come in over OSC; None: nowhere."""
        return self._ear.place if self._ear is not None else None

    def view(self) -> View:
        """Return the show as it stands, a little ahead of now: ``View.at`` says when."""
        return self.conductor.view(self._show_now())

    def control(self, control: Control) -> list[Tell]:
        """Do what somebody asks; UsageError, with the reason, where the show cannot."""
        if self._stops:
            raise UsageError("the bridge is ending")
        told = self._perform(self.conductor.control(self._show_now(), control))
        refused = next((tell for tell in told if tell.what == "refused"), None)
        if refused is not None:
            raise UsageError(refused.text)
        return told

    def begin(self, *, after: float, spot: Spot | None = None, count_in: int | None = None) -> None:
        """Start a show that the bridge leads, ``after`` seconds from now."""
        self._perform(self.conductor.begin(self._show_now() + after, spot=spot, count_in=count_in))

    def ask_host(self, asked: AskHost) -> None:
        """Ask the host for something that the conductor has no part in."""
        if self._performer.host is not None:
            self._performer.host.ask(asked, self.conductor.song, self.now())
            self._timer.set(self._next_due())

    def press(self, press: Press) -> None:
        """Take a key of the terminal."""
        self.controls.pressed(press)

    def replace(self, number: int, song: Song) -> None:
        """Take another form of one song of the set."""
        at = self._show_now()
        if number == self.conductor.number:
            self._perform(self.conductor.replaced(at, song))
        else:
            self.conductor.programme = self.conductor.programme.with_song(number, song)
        self._programme = self.conductor.programme
        self.follower.rescale(scale_of(self._programme.songs))

    def offer(self, offer: Offer) -> None:
        """Take what the rest of the song could become."""
        self._perform(self.conductor.offered(self._show_now(), offer))

    @property
    def lost(self) -> tuple[int, int]:
        """How many memories, and lines of the log, the disk refused."""
        journal = self._performer.journal
        return journal.lost if journal else 0, self._log.lost if self._log else 0

    def stop(self) -> None:
        """End it soon, everything closed in order."""
        self._stops = True
        if self._ended is not None and not self._ended.done():
            self._ended.set_result(None)

    async def run(self) -> None:
        """Run until it is stopped; raise what goes wrong with a port."""
        self._loop = asyncio.get_running_loop()
        self._ended = self._loop.create_future()
        async with AsyncExitStack() as stack:
            await self._open(stack)
            for start in self.at_start:
                start()
            if self._stops:
                return
            quiet = asyncio.create_task(self._keep_house())
            try:
                self._guarded(self._ring)
                await self._ended
            finally:
                quiet.cancel()
                self._timer.close()
                await asyncio.gather(quiet, return_exceptions=True)
                await self._close()

    async def _open(self, stack: AsyncExitStack) -> None:
        wanted, files = self.settings, stack.enter_context(ExitStack())
        if wanted.log is not None:
            self._log = stack.enter_context(EventLog(wanted.log, warn=self.warn))
        journal = journal_of(wanted, files, self.warn)
        if wanted.listen is not None:
            self._ear = stack.enter_context(open_port(wanted.listen, borrow=False))
        self.sender = stack.enter_context(Sender(wanted.cues_to)) if wanted.cues_to else None
        self.outputs = Outputs(
            sender=self.sender,
            midi=midi_out(wanted, files, self._on_news),
            wall=self.wall,
            report=self.report,
            now=time.monotonic,
        )
        self._timer = PreciseTimer(self._loop, lambda: self._guarded(self._ring))
        stack.callback(self._timer.close)
        self._performer = Performer(
            outputs=self.outputs,
            wall=self.wall,
            report=self.report,
            song=lambda: self.conductor.song,
            replan=self._replan,
            journal=journal,
        )
        self._forms = NewForms(self)
        stack.push_async_callback(self._forms.close)
        self._resume(journal)
        self.inputs = await stack.enter_async_context(
            Inputs(host=wanted.host, midi=wanted.midi, deliver=self._arrived, warn=self.warn, zero=0.0)
        )
        if wanted.host is not None:
            line = HostLine(wanted.host, self.inputs.port, self.warn)
            self._performer.host = stack.enter_context(line)
        if wanted.foot_midi is not None:
            stack.enter_context(self._foot_port(wanted.foot_midi))
        if self._ear is not None:
            await stack.enter_async_context(Listener(self._ear, self._ordered, warn=self.warn))
        await self._tell_the_world(stack)
        for opened in self.opened:
            await stack.enter_async_context(opened())
        stack.enter_context(FirstInLine())
        self._calm = stack.enter_context(Calm())

    def _resume(self, journal: Journal | None) -> None:
        """Make the conductor, with what the bridge before us remembered."""
        remembered = journal.last() if journal else None
        host = self.settings.host
        self.conductor = self._make(
            self._programme,
            ability=() if host is None else tuple(host.says),
            memory=remembered.memory if remembered else None,
            remembered_at=self.wall.steady(remembered.wall) if remembered else 0.0,
        )

    def _foot_port(self, choice: MidiChoice) -> AbstractContextManager[Any]:
        def take(_: float, message: bytes) -> None:
            self._loop.call_soon_threadsafe(self._guarded, self.controls.stepped_on, message)

        return midi_input(choice, take=take, tell=self._on_news)

    async def _tell_the_world(self, stack: AsyncExitStack) -> None:
        """Open the control socket, and write the file by which it is found."""
        token = new_token()
        socket = await stack.enter_async_context(ControlSocket(token, Answers(self).answer))
        ports = (self._ear, self.inputs.port if self.inputs is not None else None)
        self.running = running_of(self.settings, control=socket.place, token=token, ports=ports)
        stack.enter_context(RunningFile(self.running))

    async def _close(self) -> None:
        """Send what has been decided, and leave the host as it should be: nothing of ours goes on in it."""
        at = self._show_now()
        self._performer.take(self.conductor.close(at))
        for companion in self.companions:
            self._performer.take(companion.stop(at))
        until = at + _GOODBYE
        while (due := self._performer.wake_at) is not None and due < until:
            await asyncio.sleep(due - self.now())
            self._performer.wake(self.now())

    def _guarded(self, act: Callable[..., None], *given: Any) -> None:
        """Do it; what goes wrong ends the run, and is raised where that is waited for."""
        try:
            act(*given)
        except Exception as error:  # noqa: BLE001  raised again by run()
            self._fail(error)

    def _arrived(self, arrival: Arrival) -> None:
        self._guarded(self._take, arrival)

    def _take(self, arrival: Arrival) -> None:
        recorded, host = arrival.recorded, self.settings.host
        for tap in tuple(self.taps):
            tap(arrival)
        if recorded.midi is not None:
            self.controls.stepped_on(recorded.midi)
            self._heard += self.follower.midi(recorded.at, recorded.midi)
        elif recorded.osc is not None and host is not None:
            if self._performer.host is not None:
                self._performer.host.hear(recorded.osc, self.now())
            for meaning in hear(host, recorded.osc):
                self.unusable += isinstance(meaning, Unusable)
                self._heard += self.follower.heard(recorded.at, meaning)
        if not self._listening:
            self._listening = True
            self._loop.call_soon(self._guarded, self._listen)

    def _listen(self) -> None:
        """Let the conductor hear where the host is, once for all that came in together."""
        self._listening = False
        if self.conductor.led or self.inputs is None or self._stops:
            return
        events, self._heard = self._heard, []
        at = self._show_now()
        transport = replace(self.follower.transport(max(at, self.inputs.now())), at=at)
        moved = [replace(event, at=at) for event in events]
        self._perform(self.conductor.hear(at, transport, moved))

    def _ordered(self, heard: Heard) -> None:
        self._guarded(self.controls.ordered, heard)

    def _on_news(self, news: PortNews) -> None:
        self._loop.call_soon_threadsafe(self.warn, str(news))

    def _show_now(self) -> float:
        return self.now() + self._early

    @property
    def _early(self) -> float:
        return _PREPARE + self.outputs.ahead

    def _ring(self) -> None:
        """Send what is due, then make what comes."""
        if self._stops:
            return
        self._performer.wake(self.now())
        self._perform(self._due())

    def _due(self) -> list[Effect]:
        at = self._show_now()
        due = self.conductor.wake_at
        return self.conductor.wake(at) if due is not None and due <= at else []

    def _perform(self, effects: list[Effect]) -> list[Tell]:
        """Do effects and what else is due, and set the timer to what comes next."""
        told = self._performer.take(effects)
        at = self._show_now()
        for companion in self.companions:
            due = companion.wake_at
            if effects:
                told += self._performer.take(companion.look(at, self.conductor))
            elif due is not None and due <= at:
                told += self._performer.take(companion.wake(at))
        self._performer.wake(self.now())
        self._timer.set(self._next_due())
        if told:
            self._forms.look(told)
        if effects:
            for changed in self.changed:
                changed()
        return told

    def _next_due(self) -> float | None:
        shows = [self.conductor.wake_at, *(companion.wake_at for companion in self.companions)]
        times = [at - self._early for at in shows if at is not None]
        waits = self._performer.wake_at
        return min(times if waits is None else [*times, waits], default=None)

    def report(self, record: dict[str, Any]) -> None:
        """Tell everybody who listens, and the log."""
        self._record(record)
        self._say(record)

    def tell(self, what: str, text: str, **data: Any) -> None:
        """Tell everybody something that did not come from the conductor."""
        self.report({"event": what, "at": time.time(), "text": text, **data})

    def warn(self, text: str) -> None:
        """Tell people something that they have to know."""
        self._record({"event": "warning", "at": time.time(), "text": text})
        self._warn_people(text)

    def _record(self, record: dict[str, Any]) -> None:
        if self._log is not None:
            self._log.write(record)

    def _fail(self, error: BaseException) -> None:
        self._stops = True
        if self._ended is not None and not self._ended.done():
            self._ended.set_exception(error)

    def _replan(self, effect: Replan) -> None:
        self._forms.replan(effect)

    async def _keep_house(self) -> None:
        put_off, clock_at = 0, 0.0
        while True:
            await asyncio.sleep(_QUIET_EVERY)
            gap = self._gap()
            if gap < _QUIET_GAP and put_off < _MOST_PUT_OFF:
                put_off += 1
                continue
            put_off = 0
            self._guarded(self._tidy, gap)
            if self.now() - clock_at >= _CLOCK_EVERY:
                clock_at = self.now()
                self._guarded(self._look_around)

    def _gap(self) -> float:
        due = self._next_due()
        return 1.0 if due is None else due - self.now()

    def _tidy(self, gap: float) -> None:
        if self._log is not None:
            self._log.flush()
        if self.inputs is not None and not self.conductor.led:
            self._heard += self.follower.pass_time(self.inputs.now())
            self._listen()
        for look in self.quiet:
            look(self.now())
        self._calm.tidy(min(gap, self._gap()))

    def _look_around(self) -> None:
        """See to the clock, the journal and the plans, once a second."""
        self._performer.take([self.conductor.kept(self._show_now())])
        self._forms.poll()
        leapt = self.wall.measure()
        if leapt:
            self.warn(
                f"the time of day leapt by {leapt:+.3f} s: this machine slept, or its clock was set;"
                " time tags follow it"
            )
