"""Controls that come in faster than anybody presses."""

from __future__ import annotations

from bridge.hostmap import Message
from bridge.live.controls import Controls
from bridge.live.feet import Feet, Press
from bridge.osc.listener import Heard


class Show:
    """A bridge on a clock of its own, that writes down what it is asked."""

    def __init__(self):
        self.at = 100.0
        self.done = []

    def now(self):
        return self.at

    def control(self, control):
        self.done.append(control.do)

    def tell(self, what, text, **data):
        raise AssertionError(text)


def test_a_flood_from_the_wire_is_cut_off_counted_and_said_once_and_people_can_still_press():
    show, warned = Show(), []
    controls = Controls(show, token="of tonight", feet=Feet.of(["hold=key h"]), warn=warned.append)

    def order(do):
        controls.ordered(
            Heard(at=show.at, sender=("127.0.0.1", 5), raw=b"", message=Message(f"/pulsebridge/{do}"))
        )

    for _ in range(10_000):
        order("again")
        show.at += 0.0001
    assert show.done == ["again"] * 23  # 16 at once, then 8 in the second that it took
    assert controls.too_many == 10_000 - 23
    assert len(warned) == 1
    controls.pressed(Press(kind="key", key="h"))
    assert show.done[-1] == "hold"
    show.at += 0.2
    order("release")
    assert show.done[-1] == "release"


def test_what_people_press_in_a_hurry_is_all_done():
    show = Show()
    controls = Controls(show, token="of tonight", feet=Feet.of([]), warn=lambda _: None)
    for _ in range(10):
        for do in ("hold", "release_now"):
            controls.ordered(
                Heard(at=show.at, sender=("127.0.0.1", 5), raw=b"", message=Message(f"/pulsebridge/{do}"))
            )
        show.at += 0.3
    assert (len(show.done), controls.too_many) == (20, 0)
