"""The plan's own cues go out of a running show: once, at their places, at the very end as well."""

from bridge.show import Conductor, Programme, SendMidi, control
from tests.show.songs import SLACK, song_of

CUES = (
    "bars: 24, cues: [{at: end - 8 bars, say: eight, send: {program: 1, channel: 1}},"
    " {at: end, send: {program: 2, channel: 1}}, {at: bar 3, send: {controller: 64, value: 127, channel: 2}}]"
)
LAST = (
    "bars: 12, cues: [{at: start - 2 bars, send: {program: 3, channel: 1}},"
    " {at: end, send: {program: 4, channel: 1}}]"
)
BAR = 2.0


def led(*presses, until=400.0):
    text = SLACK.replace("bars: 24", CUES).replace("bars: 12", LAST)
    conductor = Conductor(Programme((song_of(text),)), led=True)
    presses, effects = sorted(presses), list(conductor.begin(0.0, count_in=0))
    while (wake := conductor.wake_at) is not None and wake <= until:
        while presses and presses[0][0] <= wake:
            at, *words = presses.pop(0)
            effects += conductor.control(at, control(*words))
            wake = conductor.wake_at
        effects += conductor.wake(wake)
    return effects


def sent(effects):
    """What went out as MIDI: the bar at whose barline it was due, from 0, and the message."""
    return [(round(one.due / BAR, 6), one.data.hex()) for one in effects if isinstance(one, SendMidi)]


def test_what_the_plan_sends_goes_out_at_its_places_and_once():
    assert sent(led()) == [(10, "b1407f"), (24, "c000"), (32, "c001"), (36, "c002"), (50, "c003")]


def test_in_a_hold_what_is_told_from_the_end_waits_for_the_release():
    effects = led((9 * BAR, "hold"), (33 * BAR, "release"))
    assert sent(effects) == [(10, "b1407f"), (36, "c000"), (44, "c001"), (48, "c002"), (62, "c003")]


def test_a_release_at_the_next_barline_still_sends_what_lay_before_the_end():
    effects = led((9 * BAR, "hold"), (20.5 * BAR, "release_now"))
    first, program, end = sent(effects)[:3]
    assert (first, end) == ((10, "b1407f"), (21, "c001"))
    assert program == (20.5, "c000")
