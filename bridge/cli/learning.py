"""The interview in the terminal: asks, listens, and sends what was agreed to.

What it all means is decided in :mod:`bridge.learn`; this file knows neither options nor
how a map is written.
"""

from __future__ import annotations

import json
import sys
import textwrap
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from bridge.cli.output import note
from bridge.errors import PlanError, UsageError
from bridge.learn import (
    DEEDS,
    LASTING,
    LIST,
    Deed,
    Explained,
    Mark,
    Step,
    What,
    announced,
    explain,
    facts_of,
    first_course,
    further,
    reacted,
    read_typed,
    said_of,
)
from bridge.learn.spell import Round

if TYPE_CHECKING:
    from bridge.cli.learn_ear import Ear
    from bridge.hostmap import Address, Message

__all__ = ["Ended", "Talk"]

_BETWEEN_LISTS = 0.8
_REACTION = 1.2
_PACE = 0.005
_WIDTH = 78


_Messages = Sequence[tuple["Message", float]]
"""What is to be sent, and the seconds to wait after each."""


class Ended(Exception):  # noqa: N818  no error: the user has had enough
    """The user ended the interview, or the answers ran out."""


class Talk:
    """Asks in the terminal; ``ask`` shows a text and returns the line typed, empty at their end."""

    def __init__(
        self,
        ear: Ear,
        *,
        to: Address | None = None,
        ask: Callable[[str], str] | None = None,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        from bridge.osc.port import resolve

        self._ear = ear
        self._to = resolve(to)[1] if to is not None else None
        self._ask = ask or _ask_in_terminal
        self._wait = wait
        self._is_renamed = False
        self._list: tuple[str, _Messages] | None = None

    def hold(self) -> Explained:
        """Hold the interview to its end, or to where the user ends it; return what it adds up to."""
        try:
            self._ask_for_list()
            self._course(first_course())
            again = 0
            while steps := further(explain(self._ear.happenings).missing, again):
                note("Two explanations fit, or one is half seen: once more, a little differently.")
                self._course(steps)
                again += 1
            self._try_deeds()
        except Ended:
            note("The interview ends here.")
        self._ear.take()
        return explain(self._ear.happenings)

    def _course(self, steps: Sequence[Step]) -> None:
        for step in steps:
            self._ear.mark(Mark(What.ASKED, step.step, step.detail))
            answer = self._answer(step)
            if answer is None:
                self._ear.mark(Mark(What.SKIPPED, step.step, step.detail))
                continue
            self._ear.mark(Mark(What.DONE if step.answer is None else What.TOLD, step.step, answer))
            self._listen(step.dwell)
            if step.step in ("marker", "remove"):
                self._send_list(twice=True)

    def _answer(self, step: Step) -> str | None:
        """Ask for one step; None: skipped."""
        if step.answer is None:
            word = self._prompt(f"In the host: {step.words}.\nEnter: done, s: skip, q: end")
            return None if word.lower() == "s" else step.detail
        prompt = (
            f"In the host: {step.words}, or to another.\n"
            f"Type what it is now; Enter: {step.answer}, s: skip, q: end"
        )
        while True:
            word = self._prompt(prompt)
            if word.lower() == "s":
                return None
            try:
                return _checked(step.step, word or step.answer)
            except PlanError as error:
                note(str(error))

    def _prompt(self, text: str) -> str:
        """Ask one question and return the answer, trimmed; Ended at q or where answers run out."""
        self._meet()
        line = self._ask(text)
        if not line or line.strip().lower() == "q":
            raise Ended
        self._meet()
        return line.strip()

    def _meet(self) -> None:
        """Show who sends and have it confirmed: the first one confirmed is the host."""
        while self._ear.sender is None and (newcomer := self._ear.newcomer()) is not None:
            sender, address = newcomer
            line = self._ask(
                f"{sender[0]}:{sender[1]} sends, {address} first.  Is this the host?\nEnter: yes, n: no"
            )
            if not line:
                raise Ended
            if line.strip().lower().startswith("n"):
                self._ear.refused.add(sender)
            else:
                self._ear.sender = sender
        self._ear.take()

    def _listen(self, seconds: float) -> None:
        self._wait(seconds)
        self._meet()

    def _ask_for_list(self) -> None:
        if self._to is None:
            note("Nothing will be sent to the host: --to HOST:PORT, where it listens, allows that.")
            return
        note("A message is typed as /address {field:type} ..., as in /desk/add {seconds:f} {name:s}.")
        yaml = self._typed(LIST, None)
        if yaml is None or (messages := self._filled(LIST, yaml, None)) is None:
            return
        if self._agreed(f"{_shown(messages)} after every step with a marker"):
            self._list = (yaml, messages)

    def _typed(self, deed: Deed, proposal: str | None) -> str | None:
        """Ask for the message of a deed; None: none is to be tried."""
        if proposal is not None:
            text = f"The host itself says {proposal} then.  Try just that as what {deed.about}?"
            text += "\ny: yes, or type another message, Enter: none"
        else:
            text = f"Which message {deed.about}?\nType it, or Enter: none"
        while True:
            word = self._prompt(text)
            if not word:
                return None
            if proposal and word.lower() in ("y", "yes"):
                return proposal
            try:
                return read_typed(word)
            except PlanError as error:
                note(str(error))

    def _try_deeds(self) -> None:
        if self._to is None:
            return
        if self._list is not None:
            self._check(LIST, self._list[0])
        for one in DEEDS:
            deed = self._now(one)
            explained = explain(self._ear.happenings)
            yaml = self._typed(deed, announced(deed.key, explained, self._ear.happenings))
            if yaml is not None:
                self._check(deed, yaml)

    def _now(self, deed: Deed) -> Deed:
        """Return the deed about the marker as it is called by now."""
        if deed.key == "remove" and self._is_renamed:
            new = next(one for one in DEEDS if one.key == "rename")
            return replace(deed, name=new.name, about=deed.about.replace(str(deed.name), str(new.name)))
        return deed

    def _check(self, deed: Deed, yaml: str) -> None:
        """Show what is about to be sent, ask, send it, and see whether the host reacted."""
        if deed.key in ("remove", "rename"):
            self._send_list(twice=False)  # a host may have dealt its ids out anew
        explained = explain(self._ear.happenings)
        messages = self._filled(deed, yaml, explained)
        if messages is None or not self._agreed(_shown(messages)):
            return
        self._send(deed, messages, _REACTION)
        if deed.key not in ("locate", "play", "stop", "list"):
            self._send_list(twice=False)
        self._judge(deed, yaml, explained)

    def _filled(self, deed: Deed, yaml: str, explained: Explained | None) -> _Messages | None:
        """Return the messages of a deed with their waits; None, said aloud, where a field has no value."""
        round_ = explained.round if explained is not None else Round()
        handle = self._handle(explained, deed) if explained is not None else None
        try:
            return [
                (said.fill(facts_of(deed, round_, handle))[0], float(said.wait))
                for said in said_of(deed.key, yaml)
            ]
        except PlanError as error:
            note(f"Not sent: {error.message}.")
            return None

    def _agreed(self, shown: str) -> bool:
        return self._prompt(f"About to send {shown}.\ny: send, Enter: do not").lower() in ("y", "yes")

    def _judge(self, deed: Deed, yaml: str, before: Explained) -> None:
        hears = {one.key: one.heard for one in before.findings if one.heard is not None}
        seen = reacted(deed, hears, self._ear.happenings, before.round)
        if deed.key in LASTING:
            note(f"What {deed.about} stays in the host: take it back there.")
        if seen is not None:
            note(f"It reacted: {seen}.")
            self._keep(deed, yaml, f"tried: {seen}")
        elif (
            self._prompt(
                "No reaction was heard.  Did you see it happen in the host?\ny: yes, Enter: no"
            ).lower()
            == "y"
        ):
            self._keep(deed, yaml, "tried: seen by the user, not heard")
        else:
            note("Then it is not written.")

    def _keep(self, deed: Deed, yaml: str, evidence: str) -> None:
        self._is_renamed |= deed.key == "rename"
        self._ear.mark(Mark(What.SPOKEN, deed.key, json.dumps([yaml, evidence])))

    def _handle(self, explained: Explained, deed: Deed) -> int | str | float | None:
        """Return the id of the marker that the deed is about, as the host told it last."""
        heard = explained["marker"].heard
        if heard is None or "id" not in heard.args:
            return None
        wanted = deed.old_name or deed.name
        for one in reversed(self._ear.happenings):
            if not isinstance(one.said, Mark) and one.said.address == heard.address:
                args = one.said.args
                if len(args) > max(heard.args.values()) and args[heard.args["name"]] == wanted:
                    handle = args[heard.args["id"]]
                    return handle if isinstance(handle, int | str) else None
        return None

    def _send(self, deed: Deed, messages: _Messages, listen: float) -> None:
        if self._to is None:
            raise UsageError("there is nowhere to send to", hint="Give --to HOST:PORT.")
        for message, wait in messages:
            self._ear.mark(Mark(What.SENT, deed.key, str(message)))
            self._ear.port.send(message, self._to)
            self._wait(wait + _PACE)
        self._listen(listen)

    def _send_list(self, *, twice: bool) -> None:
        if self._list is not None:
            for _ in range(2 if twice else 1):
                self._send(LIST, self._list[1], _BETWEEN_LISTS)


def _shown(messages: _Messages) -> str:
    return "; ".join(f"{message} (types {message.types or 'none'})" for message, _ in messages)


def _ask_in_terminal(text: str) -> str:
    """Show a question, what may be answered on a line of its own, and read one line."""
    for line in text.split("\n"):
        note(textwrap.fill(line.strip(), _WIDTH, break_long_words=False, break_on_hyphens=False))
    return sys.stdin.readline()


def _checked(step: str, text: str) -> str:
    """Return a tempo or meter as typed if it is one; PlanError otherwise."""
    from bridge.exact import Meter, parse_number

    if step == "meter":
        Meter.parse(text)
    elif parse_number(text, what="the tempo") <= 0:
        raise PlanError("a tempo is more than 0")
    return text
