"""The conductor: what happens, and when, in; what is to be done out.

A show goes through passes of sections.  In each it knows where it stands (from a host
that is followed, or from its own start where the bridge leads), makes what is due bar by
bar, and decides where the section is left and what comes then.  Time is a parameter:
every call names its seconds on one steady clock, never before the call before it.  This
file knows nothing about sockets, ports, files or real clocks.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from bridge.cues import DueCue, Leads
from bridge.errors import UsageError
from bridge.exact import Length
from bridge.follow import Event, Transport
from bridge.show.agenda import Item, said_of
from bridge.show.asking import asked, ladder_from
from bridge.show.control import Control
from bridge.show.effect import AskHost, Effect, Keep, Replan, SendMidi, SendOsc, Tell
from bridge.show.hosting import Hosting
from bridge.show.memory import Memory, digest
from bridge.show.offer import Offer
from bridge.show.passing import Pass, Then
from bridge.show.playing import Playing
from bridge.show.programme import Programme, Spot
from bridge.show.remembering import remembered, shift_then
from bridge.show.telling import told_event, told_section, where
from bridge.show.tempo_line import TempoLine, of_quarters
from bridge.show.view import Line, View
from bridge.song import Song, bars_counted_in, place_named

__all__ = ["Conductor"]

_NOTHING = Length(0)
_TICK = Length("1/96")
"""A MIDI clock's tick: what lies no more before the place of a start is due at the start."""
_WORD_TAKES, _HALF_A_BEAT = 0.15, Length("1/8")
"""Seconds that word of a host's start may take, and at most half a quarter note."""
_AFTERGLOW = Length("1/4")
"""How near its end a host is not taken to play a song anew that has just ended."""
_STALL = 2.0
"""Seconds: whoever wakes later than this has slept, and what was due meanwhile is over."""
_RESUMES = 15.0
"""Seconds after which a memory is too old to go on from."""
_SETTLES = 1.5
"""Seconds that a host is given to start, or to stop, when asked."""
_FASTEST, _SLOWEST = 4.0, 0.25
"""How many times the plan's tempo is believed."""


class Conductor:
    """One show: a programme of songs, the host or the lead, and everything that is due.

    ``ability`` names the deeds that the host's map has words for; ``leads`` says how long
    before things are cued.  With ``led`` the bridge is the clock: nothing is followed, and
    :meth:`begin` starts it; ``starts_after`` seconds pass between a release that starts
    something and its first beat, so that those that need time can get ready.  A ``memory``
    of a bridge that was killed, ``remembered_at`` seconds on this clock, is gone on from
    where the show is still found there.
    """

    def __init__(
        self,
        programme: Programme,
        *,
        ability: Collection[str] = (),
        leads: Leads | None = None,
        led: bool = False,
        starts_after: float = 0.0,
        memory: Memory | None = None,
        remembered_at: float = 0.0,
    ) -> None:
        self.programme = programme
        self.led = led
        self.number = 0
        """Which song of the set."""
        self.dropped = 0
        """Cues whose moment had passed."""
        self.late = 0
        """Cues made later than a clock tick after their time."""
        self.waits = False
        """In a passage without bars, or between two songs: until it is released."""
        self._leads = leads or Leads()
        self._starts_after = starts_after
        self._hosting = Hosting(ability)
        self._memory = memory
        self._remembered_at = remembered_at
        self._playing: Playing | None = None
        self._following: Playing | None = None
        """The pass that comes next, made in a quiet moment."""
        self._stood = _NOTHING
        """Where the pass stood when the transport stopped."""
        self._own_until = float("-inf")
        """Until then the show goes by its own time: the host was asked to start or to stop."""
        self._transport = Transport(at=0.0)
        self._passes = 0
        self._played: dict[str, int] = {}
        self._offer: Offer | None = None
        self._over: int | None = None
        """The song that is over, while nothing else has begun."""
        self._last_cue: tuple[str, str, float] | None = None

    @property
    def song(self) -> Song:
        """The song that is played."""
        return self.programme.songs[self.number]

    @property
    def passed(self) -> Pass | None:
        """The pass that is played; None before anything is known and after the end."""
        return self._playing.passed if self._playing else None

    @property
    def line(self) -> TempoLine | None:
        """Where that pass stands in time; None while nothing moves."""
        return self._playing.line if self._playing else None

    @property
    def wake_at(self) -> float | None:
        """When :meth:`wake` is to be called next; None while nothing is due."""
        due = self._next_due()
        asks = self._hosting.wake_at if self.line else None
        return min((at for at in (due, asks) if at is not None), default=None)

    def begin(self, at: float, *, spot: Spot | None = None, count_in: int | None = None) -> list[Effect]:
        """Start a show that the bridge leads, at ``spot`` or its beginning; ``count_in`` bars before it.

        Without a number, as many as the plan counts in before a song, and none within one.
        """
        was_cut_off = self._memory is not None and self._memory.playing
        resumed = self._resume(at, None) if was_cut_off else None
        if resumed is not None:
            return resumed
        spot = spot or Spot(song=self.number, section=0, into=_NOTHING)
        self.number = spot.song
        bars = count_in if count_in is not None else self._counted_in(spot)
        return self._go(at, self._before(spot.section, spot.into, bars))

    def hear(self, at: float, transport: Transport, events: Sequence[Event] = ()) -> list[Effect]:
        """Take where the host is, and what happened to it; return what is to be done."""
        effects: list[Effect] = [told_event(event) for event in events]
        self._transport = transport
        if self.led or (at < self._own_until and not self._is_here(at, transport)):
            return effects
        if not transport.playing:
            return effects if self.waits else effects + self._stand(at)
        if transport.quarters is None:
            return effects
        self._own_until, self.waits = float("-inf"), False
        if self.line is None:
            return effects + self._start(at, transport.quarters)
        return effects + self._track(at, transport.quarters)

    def control(self, at: float, control: Control) -> list[Effect]:
        """Do what people ask; what cannot be done is told, with the reason."""
        try:
            return self._control(at, control)
        except UsageError as error:
            text = error.message if error.hint is None else f"{error.message}. {error.hint}"
            return [Tell(at=at, what="refused", text=text, data={"control": control.do})]

    def wake(self, at: float) -> list[Effect]:
        """Return everything that is due at ``at``."""
        effects = self._after_sleep(at)
        while (due := self.wake_at) is not None and due <= at:
            asks = self._hosting.wake_at
            effects += self._ask_again(at) if asks is not None and asks <= due else self._next(due, at)
        return effects

    def offered(self, at: float, offer: Offer) -> list[Effect]:
        """Take what the rest of the song could become; it is told, and waits for ``accept``."""
        self._offer = offer
        return [Tell(at=at, what="offer", text=offer.in_words(self.song), data={"bars": dict(offer.bars)})]

    def replaced(self, at: float, song: Song) -> list[Effect]:
        """Take another form of the song that is played: its plan was changed, or an offer accepted.

        The pass that is played goes on; what comes after it is as ``song`` has it.
        """
        self.programme = self.programme.with_song(self.number, song)
        self._following = None
        playing = self._playing
        if playing is not None:
            passed = playing.passed.in_song(song)
            playing.revise(passed, since=self.into(at))
        return [Tell(at=at, what="plan", text="the rest of the song is as newly planned"), self._keep(at)]

    def view(self, at: float) -> View:
        """Return the show as it stands at ``at``."""
        playing, line, passed = self._playing, self.line, self.passed
        into = self.into(at)
        cue, whom, cue_at = self._last_cue or ("", "", None)
        return View(
            at=at,
            song=self.song,
            number=self.number,
            songs=tuple(song.plan.title for song in self.programme.songs),
            section=passed.index if passed else None,
            line=Line(at=at, quarters=float(into.quarters), rate=line.rate if line else 0.0)
            if playing
            else None,
            playing=line is not None,
            locked=line is not None and (self.led or self._transport.locked),
            source="lead" if self.led else self._transport.source,
            bpm=float(passed.axis.bpm(into)) * line.rate if passed and line else None,
            held=passed is not None and passed.held,
            leaves=passed.leaves if passed else None,
            follows=passed.then.section if passed and passed.then else None,
            ladder=ladder_from(passed, into) if passed and passed.held else (),
            waits=self.waits,
            cue=cue,
            cue_for=whom,
            cue_at=cue_at,
            offer=self._offer.in_words(self.song) if self._offer else "",
            dropped=self.dropped,
            late=self.late,
        )

    def cannot_hold(self) -> list[str]:
        """Say, before the show, why the host's timeline would run on in a hold; each reason once."""
        if self.led:
            return []
        passes = (
            Pass.of(song, index, number=0, leads=self._leads)
            for song in self.programme.songs
            for index in range(len(song.sections))
        )
        found = (self._hosting.cannot_hold(passed) for passed in passes if not passed.is_free)
        return list(dict.fromkeys(why for why in found if why is not None))

    def kept(self, at: float) -> Keep:
        """Return what has to be known to go on from ``at``: a shell writes it down now and then."""
        return self._keep(at)

    def close(self, at: float) -> list[Effect]:
        """Return what the host has to be told at the end: nothing of ours goes on in it.

        A show that is led stops, and is remembered as one that was: the next begins anew.
        """
        effects: list[Effect] = [*self._hosting.end_loop(at)]
        playing = self._playing
        if self.led and playing is not None and playing.line is not None:
            effects += self._stop_host(at)
            self._stood, playing.line = playing.line.into_at(at), None
            effects.append(self._keep(at))
        return effects

    def _next_due(self) -> float | None:
        return self._playing.next_due if self._playing is not None else None

    def _next(self, due: float, at: float) -> list[Effect]:
        playing = self._playing
        assert playing is not None  # noqa: S101  something is due only in a pass
        if playing.is_over:
            return self._leave(due)
        item = playing.take()
        if item is not None:
            return self._perform(playing, item, due, at)
        if playing.in_last_bar and self._following is None and playing.passed.then is not None:
            self._following = self._coming(playing.passed.then)
        return []

    def _perform(self, playing: Playing, item: Item, due: float, at: float) -> list[Effect]:
        if item.deed:
            return self._wrap(playing.passed, item, due)
        assert playing.line is not None  # noqa: S101  something is due only while it moves
        beat = self._beat_seconds(playing)
        is_stale = at - due > beat
        if item.cue is None:
            return [] if is_stale else [SendOsc(due=due, message=message) for message in item.messages]
        playing.sent.add(item.cue.key)
        if is_stale:
            self.dropped += 1
            text = f"too late to say, by {at - due:.1f} s: {item.cue.text or item.cue.key}"
            return [Tell(at=at, what="dropped", text=text, data={"key": item.cue.key, "late": at - due})]
        self.late += at - due > beat / 24
        return [self._keep(at), *self._say(item.cue, due)]

    def _say(self, cue: DueCue, due: float) -> Iterator[Effect]:
        """Make what a cue sends; a host of its own ear takes it as it is due."""
        if cue.text:
            self._last_cue = (cue.text, cue.player, due)
            yield SendOsc(due=due, message=said_of(cue))
            data = {"player": cue.player, "bars_until": cue.bars_until, "key": cue.key, "due": due}
            yield Tell(at=due, what="cue", text=cue.text, data=data)
        yield from (SendOsc(due=due, message=message) for message in cue.osc)
        yield from (SendMidi(due=due, data=data) for data in cue.midi)

    def _wrap(self, passed: Pass, item: Item, due: float) -> list[Effect]:
        if item.deed == "end loop":
            return [*self._hosting.end_loop(due)]
        return [*self._hosting.wrap(passed, item.into, due)]

    def _leave(self, due: float) -> list[Effect]:
        playing = self._playing
        assert playing is not None and playing.line is not None  # noqa: PT018, S101  it is over
        passed, rate = playing.passed, playing.line.rate
        self._count_played(passed)
        asks = self._hosting.go(passed, passed.next_place, due)
        if passed.then is None:
            return [*asks, *self._end(due)]
        coming = self._following or self._coming(passed.then)
        return [*asks, *self._enter(coming, due, passed.then.into, rate)]

    def _enter(self, playing: Playing, at: float, into: Length, rate: float) -> list[Effect]:
        """Begin a pass at ``at``, ``into`` its section."""
        passed = playing.passed
        self._playing, self._following = playing, None
        self._passes += 1
        effects: list[Effect] = [told_section(passed, at)]
        if passed.is_free and (self.led or self._hosting.can_stop_and_go):
            self.waits, self._stood, self._own_until = True, _NOTHING, at + _SETTLES
            return [*effects, self._keep(at), AskHost(due=at, deed="stop", place=passed.start)]
        playing.line = TempoLine(axis=passed.axis, at=at, into=into, rate=rate)
        if passed.held:
            effects += self._hosting.begin_hold(passed, at)
            effects += self._warn_of_hold(passed, at)
        return [*effects, self._keep(at)]

    def _end(self, at: float) -> list[Effect]:
        title, self._over = self.song.plan.title, self.number
        self._playing = self._following = None
        self._stood = _NOTHING
        if self.led and self.number + 1 < len(self.programme.songs):
            self.number += 1
            self._played.clear()
            self.waits = True
            text = f"{title} is over; {self.song.plan.title} begins when it is released"
        else:
            text = f"{title} is over"
        return [*self._stop_host(at), Tell(at=at, what="end", text=text), self._keep(at)]

    def _stop_host(self, at: float) -> list[AskHost]:
        """Stop a host that goes by a show that is led."""
        if not self.led or not self._hosting.can_stop_and_go:
            return []
        return [AskHost(due=at, deed="stop", place=self.song.sections[0].start)]

    def _go(self, at: float, then: Then) -> list[Effect]:
        """Begin a pass from standing, with the host where the bridge can send it there."""
        self.waits = False
        self._hosting.forget()
        coming = self._coming(then)
        effects = self._enter(coming, at, then.into, 1.0)
        line = self.line
        if line is None:
            return effects
        start = max(_NOTHING, then.into)
        place = coming.passed.start + start
        if not self._hosting.can_stop_and_go:
            return effects
        plays = line.due(start)
        self._own_until = plays + _SETTLES
        asks = [AskHost(due=at, deed="locate", place=place), AskHost(due=plays, deed="play", place=place)]
        return [*effects, *asks]

    def _start(self, at: float, host: float) -> list[Effect]:
        """Go on where the host stopped, where a memory says, or where it is now: it plays."""
        playing = self._playing
        if playing is not None:
            stood = float((playing.passed.start + self._stood).quarters)
            if self._explains(playing, host, stood):
                self._place(playing, at, host)
                return [Tell(at=at, what="playing", text=f"the host plays on in {playing.passed.name}")]
        return self._resume(at, host) or self._seat(at, host, "the host plays")

    def _track(self, at: float, host: float) -> list[Effect]:
        playing, line = self._playing, self.line
        assert playing is not None and line is not None  # noqa: PT018, S101  looked at by the caller
        expected = float(playing.passed.start.quarters) + line.quarters_at(at)
        if not self._explains(playing, host, expected):
            return self._seat(at, host, "the host was moved")
        self._place(playing, at, host)
        return []

    def _place(self, playing: Playing, at: float, host: float) -> None:
        """Let the pass stand where the host shows it."""
        passed = playing.passed
        quarters = self.programme.plan_quarters(self.number, host) - float(passed.start.quarters)
        into = of_quarters(quarters) + self._hosting.shift
        bpm = self._transport.bpm
        rate = 1.0 if bpm is None else bpm / float(passed.axis.bpm(into))
        rate = min(max(rate, _SLOWEST), _FASTEST)
        playing.line = TempoLine(axis=passed.axis, at=at, into=into, rate=rate)

    def _seat(self, at: float, host: float, why: str) -> list[Effect]:
        """Take the host where it is: a new pass, whatever was before."""
        effects: list[Effect] = [*self._hosting.end_loop(at)]
        self._hosting.forget()
        spot = self.programme.spot(host)
        if spot is None or self._has_just_ended(spot):
            self._playing = self._following = None
            return effects
        self._over = None
        if spot.song != self.number:
            self.number, self._offer = spot.song, None
            self._played.clear()
        coming = self._coming(
            Then(section=spot.section, into=spot.into), since=spot.into - self._just_begun()
        )
        effects.append(Tell(at=at, what="moved", text=f"{why}, at {where(coming.passed, spot.into)}"))
        effects += self._enter(coming, at, spot.into, 1.0)
        if coming.line is not None:
            self._place(coming, at, host)
        return effects

    def _has_just_ended(self, spot: Spot) -> bool:
        """Whether a song is over that the host, by its estimate, has still to finish."""
        if self._over is None or self._over != spot.song:
            return False
        placed = self.programme.songs[spot.song].sections[spot.section]
        return placed.start + spot.into > self.song.end - _AFTERGLOW

    def _stand(self, at: float) -> list[Effect]:
        """Stand still with the transport."""
        playing = self._playing
        if playing is None or playing.line is None:
            return []
        self._stood, playing.line = playing.line.into_at(at), None
        text = f"stopped at {where(playing.passed, self._stood)}"
        return [Tell(at=at, what="stopped", text=text), self._keep(at)]

    def _is_here(self, at: float, transport: Transport) -> bool:
        """Whether the host plays where the show is, which it was asked to join."""
        playing, line = self._playing, self.line
        if playing is None or line is None or not transport.playing or transport.quarters is None:
            return False
        expected = float(playing.passed.start.quarters) + line.quarters_at(at)
        return self._explains(playing, transport.quarters, expected)

    def _explains(self, playing: Playing, host: float, expected: float) -> bool:
        """Whether the host stands where the show is expected, by the shift or a jump that was asked for."""
        bpm = self._transport.bpm or float(playing.passed.axis.bpm(playing.next_into))
        return self._hosting.explain(self.programme.plan_quarters(self.number, host), expected, bpm=bpm)

    def _ask_again(self, at: float) -> list[Effect]:
        playing = self._playing
        assert playing is not None  # noqa: S101  the host is asked again only in a pass
        asks, given_up = self._hosting.ask_again(playing.passed.start + self.into(at), at)
        if not given_up:
            return [*asks]
        text = "the host did not go where it was asked to: its timeline is elsewhere than the show"
        return [Tell(at=at, what="host", text=text)]

    def _after_sleep(self, at: float) -> list[Effect]:
        """Let a led show go on where it stood when the machine slept, a followed one where its host is."""
        due, playing = self._next_due(), self._playing
        if due is None or at - due <= _STALL or playing is None or playing.line is None:
            return []
        line = playing.line
        if self.led:
            into = line.into_at(due)
            playing.line = TempoLine(axis=line.axis, at=at, into=into, rate=line.rate)
        else:
            self._stood, playing.line = line.into_at(at), None
        return [
            Tell(at=at, what="slept", text=f"nothing ran for {at - due:.1f} s", data={"seconds": at - due})
        ]

    def _control(self, at: float, control: Control) -> list[Effect]:
        if control.do == "accept":
            return self._accept(at)
        if self.waits and control.do in ("release", "release_now"):
            return self._release_wait(at)
        if control.do == "locate" and self.line is None:
            return self._locate(at, control.name or "")
        playing = self._playing
        if playing is None:
            raise UsageError(f"nothing is played: {control.do!r} has nothing to act on")
        into = self.into(at)
        result = asked(playing.passed, into, control)
        self._following = None
        fresh = [cue for cue in result.cues if cue.key not in playing.sent]
        playing.sent.update(cue.key for cue in fresh)
        playing.revise(result.passed, since=into)
        effects: list[Effect] = [
            Tell(at=at, what=control.do, text=result.text, data=result.data),
            self._keep(at),
        ]
        for cue in fresh:
            effects += self._say(cue, at)
        effects += self._loop_as(result.passed, into, at)
        if control.do == "hold":
            effects += self._warn_of_hold(result.passed, at)
        if result.changes_the_rest and result.passed.leaves is not None:
            effects.append(Replan(at=at, played=self._played_with(result.passed), song=self.number))
        return effects

    def _release_wait(self, at: float) -> list[Effect]:
        passed = self.passed
        if passed is not None and not passed.is_free:  # it was sent to a place, and stands there
            return self._go(at + self._starts_after, self._before(passed.index, self._stood, 1))
        then = Then(section=0) if passed is None else passed.then
        if passed is not None:
            self._count_played(passed)
        if then is None:
            return self._end(at)
        bars = self._counted_in(Spot(song=self.number, section=then.section, into=_NOTHING))
        return self._go(at + self._starts_after, self._before(then.section, _NOTHING, bars))

    def _before(self, section: int, into: Length, bars: int) -> Then:
        """Return the place so many bars before ``into`` a section, in its first meter."""
        return Then(section=section, into=into + self._pass_of(section).axis.bar(1 - bars).start)

    def _locate(self, at: float, name: str) -> list[Effect]:
        """Go to a place while nothing moves: the host is sent there, or the bridge stands there."""
        place = place_named(self.song, name)
        if not self.led:
            if not self._hosting.can_locate:
                raise UsageError("the host cannot be sent to a place", hint="Its host map has no 'locate'.")
            return [
                AskHost(due=at, deed="locate", place=place),
                Tell(at=at, what="locate", text=f"to {name}"),
            ]
        placed = self.song.section_at(place)
        if placed is None:
            raise UsageError(f"nothing is played from {name!r} on")
        self._playing = self._coming(Then(section=placed.section.index, into=place - placed.start))
        self._stood, self.waits = place - placed.start, True
        return [AskHost(due=at, deed="locate", place=place), Tell(at=at, what="locate", text=f"to {name}")]

    def _accept(self, at: float) -> list[Effect]:
        offer, self._offer = self._offer, None
        if offer is None:
            raise UsageError("there is no offer to accept: the rest of the song is as planned")
        passed = self.passed
        begun = -1 if passed is None else passed.index
        return self.replaced(at, offer.taken(self.song, begun))

    def _loop_as(self, passed: Pass, into: Length, at: float) -> list[Effect]:
        """Make the host loop, or stop looping, as the pass now goes."""
        if passed.leaves is None:
            return [*self._hosting.begin_hold(passed, at)]
        if self._hosting.looping is not None and self._hosting.wraps(passed, into) is None:
            return [*self._hosting.end_loop(at)]
        return []

    def _warn_of_hold(self, passed: Pass, at: float) -> list[Effect]:
        why = None if self.led else self._hosting.cannot_hold(passed)
        if why is None:
            return []
        text = f"{why}: its timeline runs on while {passed.name} is held, and the show counts on by itself"
        return [Tell(at=at, what="host", text=text)]

    def _resume(self, at: float, host: float | None) -> list[Effect] | None:
        """Go on from the memory of a bridge that was killed, if the show is still where it would be."""
        memory, self._memory = self._memory, None
        if memory is None or at - self._remembered_at > _RESUMES:
            return None
        found = remembered(self.programme, memory, leads=self._leads)
        if found is None:
            return None
        number, passed = found
        gone = (at - self._remembered_at) * float(passed.axis.bpm(of_quarters(memory.into))) / 60
        into = memory.into + (gone if memory.playing else 0.0)
        shift = memory.shift
        if host is not None:
            stands = self.programme.plan_quarters(number, host) - float(passed.start.quarters)
            near = shift_then(passed, memory, stands=stands, expected=into)
            if near is None:
                return None
            shift, into = near, stands + float(near.quarters)
        self.number, self._played = number, dict(memory.played)
        self._passes = memory.went
        self._hosting.shift, self._hosting.looping = shift, passed if memory.looping else None
        here = of_quarters(into)
        since = max(of_quarters(memory.into), here - passed.axis.bar_at(here).meter.counted[0])
        playing = Playing(passed, since=since, sent=memory.sent, deeds=self._deeds)
        playing.line = TempoLine(axis=passed.axis, at=at, into=here)
        self._playing = playing
        text = f"gone on at {where(passed, here)}, after {at - self._remembered_at:.1f} s"
        asks = self._hosting.rejoin(passed, here, at)
        return [Tell(at=at, what="resumed", text=text), *asks, self._keep(at)]

    def _keep(self, at: float) -> Keep:
        """Return what has to be known to go on from here."""
        passed, playing = self.passed, self._playing
        memory = Memory(
            at=at,
            song=digest(self.song),
            section=passed.index if passed else 0,
            into=float(self.into(at).quarters),
            playing=self.line is not None,
            shift=self._hosting.shift,
            looping=self._hosting.looping is not None,
            held=passed is not None and passed.held,
            leaves=passed.leaves if passed else None,
            follows=passed.then.section if passed and passed.then else None,
            went=self._passes,
            sent=tuple(sorted(playing.sent)) if playing else (),
            played=tuple(self._played.items()),
        )
        return Keep(memory=memory)

    def into(self, at: float) -> Length:
        """Return how far into its section the pass stands at ``at``."""
        return self.line.into_at(at) if self.line is not None else self._stood

    def _coming(self, then: Then, since: Length | None = None) -> Playing:
        passed = self._pass_of(then.section)
        return Playing(passed, since=then.into - _TICK if since is None else since, deeds=self._deeds)

    def _just_begun(self) -> Length:
        """Return how far back things are still due where a host has begun: word of that takes a while."""
        return min(of_quarters(_WORD_TAKES * (self._transport.bpm or 0.0) / 60), _HALF_A_BEAT) + _TICK

    def _pass_of(self, section: int) -> Pass:
        passed = Pass.of(self.song, section, number=self._passes, leads=self._leads)
        return (
            passed.timed() if passed.is_free and not (self.led or self._hosting.can_stop_and_go) else passed
        )

    def _deeds(self, passed: Pass, since: Length) -> Iterator[Item]:
        at = self._hosting.wraps(passed, since)
        if at is None:
            return
        yield Item(into=at, deed="wrap")
        if self._hosting.looping is not None and passed.leaves is not None:
            beyond = at + _TICK
            if self._hosting.wraps(passed, beyond) is None:
                yield Item(into=beyond, deed="end loop")

    def _counted_in(self, spot: Spot) -> int:
        """Return the bars that are counted in before ``spot``: none within a song that goes on."""
        if spot.into or (spot.section and not self.song.sections[spot.section - 1].section.free):
            return 0
        if spot.section == 0:
            return bars_counted_in(self.song)
        return self.song.sections[spot.section].section.count_in or 1

    def _count_played(self, passed: Pass) -> None:
        self._played = dict(self._played_with(passed))

    def _played_with(self, passed: Pass) -> tuple[tuple[str, int], ...]:
        """Return what will have been played once ``passed`` is left."""
        bars = passed.placed.bars if passed.leaves is None else passed.axis.bar_at(passed.leaves).number - 1
        played = dict(self._played)
        played[passed.name] = played.get(passed.name, 0) + bars
        return tuple(played.items())

    def _beat_seconds(self, playing: Playing) -> float:
        assert playing.line is not None  # noqa: S101  asked only while it moves
        bpm = float(playing.passed.axis.bpm(playing.next_into)) * playing.line.rate
        return 60 / bpm
