"""Messages handed over ahead and sent when they are due, by a thread."""

from __future__ import annotations

import time

from bridge.live.punctual import Punctual
from bridge.midi.lateness import Lateness


def test_nothing_leaves_early_and_all_leave_in_the_order_given() -> None:
    sent: list[tuple[float, bytes]] = []

    def send(message: bytes) -> bool:
        sent.append((time.monotonic(), message))
        return True

    with Punctual(send) as punctual:
        start = time.monotonic() + 0.02
        dues = [start + 0.004 * number for number in range(20)]
        dues[7] = dues[6] - 0.003  # earlier than the one before it: it still waits its turn
        for number, due in enumerate(dues):
            punctual.at(due, bytes([number]))
    assert [message for _, message in sent] == [bytes([number]) for number in range(20)]
    assert all(at >= due for (at, _), due in zip(sent, dues, strict=True))
    assert punctual.lateness.count == 20
    assert punctual.lateness.worst >= punctual.lateness.at_share(0.5) >= 0


def test_what_waits_at_the_end_is_sent_when_due_before_the_block_is_left() -> None:
    sent: list[bytes] = []
    with Punctual(lambda message: sent.append(message) is None) as punctual:
        punctual.at(time.monotonic() + 0.03, b"\xfc")
    assert sent == [b"\xfc"]


def test_shares_of_the_lateness_are_of_what_was_noted() -> None:
    lateness = Lateness()
    assert lateness.at_share(0.99) is None
    for late in range(100):
        lateness.note(late / 1000)
    assert lateness.at_share(0.99) == 0.099
    assert lateness.at_share(0.5) == 0.05
    assert lateness.worst == 0.099
