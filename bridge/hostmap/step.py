"""One step of a deed in the host: a message, the pause after it, the reply that it waits for.

A deed such as placing a marker may take several messages.  A step with a reply is done
when the host has sent it; where none comes, what follows in the deed is not sent, since
it would fall on a host that is not where it should be.  This file knows nothing about
time or sockets.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from bridge.hostmap.message import Message, read_number
from bridge.hostmap.pattern import matches

__all__ = ["Reply", "Step", "messages_of"]

_NO_WAIT = Fraction(0)


@dataclass(frozen=True, slots=True)
class Reply:
    """What the host has to send before the deed goes on; arguments it has beyond these are ignored."""

    address: str
    types: str = ""
    args: tuple[Any, ...] = ()
    within: Fraction = Fraction(1, 4)
    """Seconds to wait for it."""
    tries: int = 1
    """How often the message is sent until it comes: more than once only where that does no harm."""

    def is_given_by(self, message: Message) -> bool:
        """Whether ``message`` is the reply: under its address, its first arguments those awaited."""
        if not matches(message.address, self.address) or set(message.types) & set("[]"):
            return False
        if len(message.args) < len(self.args):
            return False
        pairs = zip(self.args, self.types, message.args, message.types, strict=False)
        return all(_alike(*pair) for pair in pairs)


@dataclass(frozen=True, slots=True)
class Step:
    """One message of a deed."""

    message: Message
    wait: Fraction = _NO_WAIT
    """Seconds in which nothing is sent after it, or after its reply."""
    reply: Reply | None = None

    @property
    def is_slow(self) -> bool:
        """Whether it takes more time than the host's pace."""
        return bool(self.wait) or self.reply is not None

    def as_record(self) -> Any:
        """Return it as plain JSON: a bare message as the recording writes it."""
        if not self.is_slow:
            return self.message.as_record()
        reply = self.reply and {
            "message": Message(self.reply.address, self.reply.types, self.reply.args).as_record(),
            "within": str(self.reply.within),
            "tries": self.reply.tries,
        }
        return {"message": self.message.as_record(), "wait": str(self.wait), "reply": reply}

    @classmethod
    def from_record(cls, record: Any) -> Step:
        """Read what :meth:`as_record` gave; ValueError, TypeError or KeyError for anything else."""
        if isinstance(record, list):
            return cls(_message(record))
        plain = record["reply"]
        return cls(
            _message(record["message"]),
            _seconds(record["wait"]),
            None if plain is None else _reply(plain),
        )


def messages_of(steps: Iterable[Step]) -> tuple[Message, ...]:
    """Return the messages of ``steps`` alone."""
    return tuple(step.message for step in steps)


def _message(record: list[Any]) -> Message:
    """Read a message with its blobs, which stand in hex."""
    bare = Message.from_record(record)
    tags = [tag for tag in bare.types if tag not in "[]"]
    pairs = zip(bare.args, tags, strict=True)
    args = tuple(bytes.fromhex(arg) if tag == "b" else arg for arg, tag in pairs)
    return Message(bare.address, bare.types, args)


def _reply(plain: Any) -> Reply:
    message = _message(plain["message"])
    return Reply(message.address, message.types, message.args, _seconds(plain["within"]), int(plain["tries"]))


def _seconds(text: str) -> Fraction:
    top, _, bottom = text.partition("/")
    return Fraction(int(top), int(bottom or "1"))


def _alike(wanted: Any, tag: str, found: Any, found_tag: str) -> bool:
    """Whether two arguments are the same value, whatever number types carry them."""
    if tag in "ihfd":
        left, right = read_number(wanted, tag), read_number(found, found_tag)
        if left is None or right is None:
            return False
        return abs(left.value - right.value) <= max(_fine(left.step, tag), _fine(right.step, found_tag))
    if tag in "sS":
        return found_tag in "sS" and bool(wanted == found)
    return tag == found_tag and bool(wanted == found)


def _fine(step: Fraction, tag: str) -> Fraction:
    """Return how far off a number of its type may be; a whole number is what it is."""
    return Fraction(0) if tag in "ih" else step
