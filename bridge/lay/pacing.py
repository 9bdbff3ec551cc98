"""What every laying shares: messages one after another at the host's pace, and the tempo compared first.

Where a message waits for a reply, nothing is sent until it has come; where none comes,
the rest of its deed is left out: it would fall on a host that is not where it should be.
This file knows nothing about which markers are laid.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from bridge.errors import PeerError
from bridge.hostmap import Event, HostMap, Message, MeterHeard, PositionHeard, Reply, Ruler, TempoHeard
from bridge.lay.compare import Transport, difference, of_time
from bridge.lay.effect import Effect, Say, Send
from bridge.lay.options import Options
from bridge.lay.result import Result

__all__ = ["Pacing"]

_NEVER = float("inf")


@dataclass(slots=True)
class _Awaiting:
    """A message that was sent and whose reply has not come."""

    send: Send
    reply: Reply
    until: float
    tries: int = 1


class Pacing:
    """A laying as its shell sees it.

    Call :meth:`start`, then :meth:`reply` for each message that comes in (it matters only
    where the map awaits replies), :meth:`hear` for each event in it and :meth:`wake` at
    :attr:`wake_at`, doing what they return in that order, until :attr:`result` is there.
    PeerError when the host's tempo or meter differs and that was not allowed.
    """

    def __init__(self, ruler: Ruler, host: HostMap, options: Options) -> None:
        self.options = options
        self.result: Result | None = None
        self.wake_at = _NEVER
        self._ruler = ruler
        self._host = host
        self._outbox: deque[Effect] = deque()
        self._next_send = 0.0
        self._until = 0.0
        """When the laying has to think again, once all is sent."""
        self._started_at = 0.0
        self._awaiting: _Awaiting | None = None
        self._comparing = True
        self._warned = False
        self._transport = Transport()

    def start(self, now: float) -> list[Effect]:
        """Begin: listen to the host's tempo first where that matters."""
        self._started_at = self._next_send = self._until = now
        if of_time(self._host):
            if {"tempo", "meter"} & self._host.hears.keys():
                self._until = now + self.options.listen
            else:
                self._outbox.append(_untold())
        return self.wake(now)

    def hear(self, event: Event, now: float) -> list[Effect]:
        """Take one event from the host."""
        if isinstance(event, TempoHeard | MeterHeard | PositionHeard):
            self._transport = self._transport.heard(event)
        if not self._comparing:
            self._take(event, now)
        elif self._transport.complete(self._host):
            self._until = min(self._until, now)
        return self.wake(now)

    def reply(self, message: Message, now: float) -> list[Effect]:
        """Take a message as it came: it may be the reply that is waited for."""
        waiting = self._awaiting
        if waiting is None or not waiting.reply.is_given_by(message):
            return []
        self._awaiting = None
        self._next_send = max(self._next_send, now + float(waiting.send.wait))
        self._is_posted(now)
        return self.wake(now)

    def wake(self, now: float) -> list[Effect]:
        """Do what is due at ``now``."""
        effects: list[Effect] = []
        while self._outbox or self._awaiting is not None or self.result is None:
            if self._awaiting is not None:
                if now < self._awaiting.until:
                    break
                self._ask_again(self._awaiting, effects, now)
            elif self._outbox:
                if not self._post(effects, now):
                    break
            elif now < self._until:
                break
            elif self._comparing:
                self._comparing = False
                self._compare(first=True)
                self._begin()
            else:
                self._due(now)
            self._say_if_untold()
        self.wake_at = self._wakes_at()
        return effects

    def _wakes_at(self) -> float:
        if self._awaiting is not None:
            return self._awaiting.until
        if self._outbox:
            return self._next_send
        return self._until if self.result is None else _NEVER

    def _ask_again(self, waiting: _Awaiting, effects: list[Effect], now: float) -> None:
        """Send the message again whose reply did not come, or give its deed up."""
        if waiting.tries < waiting.reply.tries and not self._is_late(now):
            waiting.tries += 1
            waiting.until = now + float(waiting.reply.within)
            effects.append(waiting.send)
            return
        self._awaiting = None
        self._next_send = max(self._next_send, now + float(waiting.send.wait))
        self._give_up()
        self._is_posted(now)

    def _give_up(self) -> None:
        """Leave out the rest of the deed that was begun."""
        while self._outbox and isinstance(self._outbox[0], Send) and self._outbox[0].follows:
            self._outbox.popleft()
        self._given_up()

    def _given_up(self) -> None:
        """Hear that a deed was given up: no reply came, or there was no time for it."""

    def _is_late(self, now: float) -> bool:
        return now - self._started_at >= self.options.lasts

    def _begin(self) -> None:
        """Start laying: the tempo has been compared."""
        raise NotImplementedError

    def _take(self, event: Event, now: float) -> None:
        """Take what the host says of its markers."""
        raise NotImplementedError

    def _posted(self, now: float) -> None:
        """All has been sent: see what comes of it."""
        raise NotImplementedError

    def _due(self, now: float) -> None:
        """Think again: the time waited for has come."""
        raise NotImplementedError

    def _post(self, effects: list[Effect], now: float) -> bool:
        """Move the next of the outbox to ``effects``; False when its time has not come."""
        following = self._outbox[0]
        if not isinstance(following, Send):
            effects.append(self._outbox.popleft())
        elif now < self._next_send:
            return False
        elif following.slow and not following.follows and self._is_late(now):
            self._outbox.popleft()
            self._give_up()
        else:
            self._send(following, effects, now)
        self._is_posted(now)
        return True

    def _send(self, following: Send, effects: list[Effect], now: float) -> None:
        effects.append(self._outbox.popleft())
        pace = float(self._host.pace)
        if following.reply is None:
            self._next_send = now + max(pace, float(following.wait))
        else:
            self._next_send = now + pace
            self._awaiting = _Awaiting(following, following.reply, now + float(following.reply.within))

    def _is_posted(self, now: float) -> None:
        """Tell the laying, once, that its outbox has been done."""
        if self._outbox or self._awaiting is not None or self._comparing or self.result is not None:
            return
        self._posted(now)

    @property
    def _is_untold(self) -> bool:
        return self._transport.tempo is None and self._transport.meter is None

    def _say_if_untold(self) -> None:
        """Warn, once all is done, when the host had every chance to tell its tempo and did not."""
        can_hear = {"tempo", "meter"} & self._host.hears.keys()
        is_over = self.result is not None and not self._warned
        if is_over and can_hear and of_time(self._host) and self._is_untold:
            self._warned = True
            self._outbox.append(_untold())

    def _compare(self, *, first: bool = False) -> None:
        """Refuse when the host's tempo or meter, as told so far, differs; PeerError."""
        if not of_time(self._host):
            return
        if self._is_untold:
            return
        found = difference(self._ruler, self._host, self._transport)
        if found is None:
            return
        if not self.options.anyway:
            raise PeerError(
                f"{found}: markers kept in seconds would not fall on their bars; nothing was sent",
                hint="Give the host the plan's tempo and meter, or lay with --anyway.",
            )
        if first:
            self._outbox.append(
                Say(f"{found}: markers kept in seconds will not fall on their bars", warning=True)
            )


def _untold() -> Say:
    return Say(
        "the host keeps markers in time and did not tell its tempo or meter: see that they are the plan's",
        warning=True,
    )
