"""One deed said to a host: its messages in order, its waits kept, its replies awaited."""

from fractions import Fraction as F

import pytest

from bridge.errors import PlanError
from bridge.exact import Place
from bridge.hostmap import Message, load
from bridge.lay import Send, Speaking, steps_of
from tests.lay.simulate import song_ruler

RULER = song_ruler((4, 8), names=("Prelude", "Crossing"))
HOST = load("""
pulsebridge_host: 1
send_to: 127.0.0.1:9001
says:
  locate:
    - address: /go
      args: ["{quarters:d}"]
      reply: {address: /at, args: ["{quarters:d}"], within: 100ms, tries: 2}
    - {wait: 40ms}
    - {address: /look}
  loop: [{address: /round, args: ["{quarters:d}", "{end_quarters:d}"]}]
  loop_off: [{address: /round/off}]
pace: 5ms
""")
BAR_5 = Place(F(4))


def locating() -> Speaking:
    return Speaking(RULER, HOST, steps_of(RULER, HOST, "locate", BAR_5))


def sent(effects) -> list[str]:
    return [str(effect.message) for effect in effects if isinstance(effect, Send)]


def test_nothing_goes_on_before_the_reply_and_the_wait():
    saying = locating()
    assert sent(saying.start(0.0)) == ["/go 16.0"]
    assert sent(saying.wake(0.05)) == []
    assert sent(saying.reply(Message("/at", "f", (12.0,)), 0.06)) == []
    assert sent(saying.reply(Message("/at", "f", (16.0,)), 0.07)) == []
    assert sent(saying.wake(0.10)) == []
    assert sent(saying.wake(0.111)) == ["/look"]
    saying.wake(saying.wake_at)
    assert (saying.result is not None, saying.was_given_up) == (True, False)


def test_without_the_reply_it_is_asked_again_as_often_as_the_map_says_and_the_rest_is_left_unsaid():
    saying = locating()
    words = sent(saying.start(0.0))
    while saying.result is None:
        words += sent(saying.wake(saying.wake_at))
    assert (words, saying.was_given_up) == (["/go 16.0", "/go 16.0"], True)


def test_a_loop_goes_from_a_place_to_an_end_and_is_switched_off_by_a_word_of_its_own():
    (step,) = steps_of(RULER, HOST, "loop", BAR_5, end=Place(F(8)))
    assert step.message == Message("/round", "dd", (16.0, 32.0))
    (step,) = steps_of(RULER, HOST, "loop_off", BAR_5)
    assert step.message == Message("/round/off")


def test_a_word_that_the_map_lacks_is_named():
    with pytest.raises(PlanError, match=r"'says\.play'"):
        steps_of(RULER, HOST, "play", BAR_5)
