"""What is heard while a show is led, beside the guide that is written to a file."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bridge.errors import UsageError
from bridge.exact import Length
from bridge.out.guide.options import GuideOptions
from bridge.out.guide.take import Take
from bridge.out.guide.voices import voices_of
from bridge.plan import load
from bridge.shape import solve
from bridge.show.leading import Leading, Leg, Wanted
from bridge.show.leading_moment import Strike
from bridge.show.leading_sound import OwnClick, Sounding
from bridge.song import Frame, unroll
from tests.out.songs import layer, section, song, tide
from tests.plan.texts import song as text

RATE = 48_000


def struck(of, *, clicks=(), guide=True, leaves=None, until=5000.0, index=0, **more):
    """All that is struck by ``until``."""
    leading = Leading(Wanted(clock=False, position=False, sound=Sounding(guide=guide, clicks=clicks)))
    last = of.sections[index].length if leaves is None else leaves
    follows = index + 1 if index + 1 < len(of.sections) else None
    leading.play(Leg(song=of, index=index, began=Fraction(0), leaves=last, follows=follows, **more))
    found, now = [], -100.0
    while leading.wake_at is not None and leading.wake_at <= until:
        now = max(leading.wake_at, now + 7.0)
        found += [one for one in leading.wake(now) if isinstance(one, Strike) and one.due <= until]
    return found


def at_samples(strikes, *kinds):
    return sorted({round(one.due * RATE) for one in strikes if one.kind in kinds})


def tightening():
    row = "cycles: [5/8, 4/8, 3/8, 2/8]"
    plan = load(
        text(
            "name: Calm, layers: [band, {drum: {cycle: 5/8}}], bars: 3, runs_on: true",
            f"name: Narrows, layers: [band, drum], bars: 17, tighten: {{layer: drum, {row}, over: 14 bars}}",
            "name: Landfall, layers: [band, drum], bars: 12",
        )
    )
    return unroll(plan, solve(plan).bars)


@pytest.mark.parametrize("of", [tide(), tightening()], ids=["tide", "tightening"])
def test_unheld_it_is_the_guide_as_written(of) -> None:
    strikes = struck(of)
    end = round(of.total_seconds * RATE)
    voices = {
        voice.name: voice for voice in voices_of(Take.of(Frame.of(of), GuideOptions(), RATE), GuideOptions())
    }
    for number, name in enumerate(of.plan.layers):
        if name not in voices:
            continue
        for kind in ("home", "note"):
            written = sorted({at for at, what in voices[name].hits if what == kind and at < end})
            assert at_samples(strikes, f"{kind} {number}") == pytest.approx(written, abs=1), (name, kind)
    clicks = sorted(at for at, _ in voices["click"].hits if at < end)
    assert at_samples(strikes, "downbeat", "click") == pytest.approx(clicks, abs=1)


HELD = song(
    [layer("band", 2), layer("drum", "3/8")],
    [section("Prelude", 6, ["band", "drum"], tempo="120"), section("Landfall", 6, ["band"], tempo="120")],
)


def test_held_every_layer_goes_on_in_its_turns() -> None:
    strikes = struck(HELD, leaves=Length(12), until=23.99)
    assert at_samples(strikes, "home 1") == [18_000 * 2 * n for n in range(32)]
    assert at_samples(strikes, "home 0") == [4 * RATE * n for n in range(6)]
    assert at_samples(strikes, "downbeat") == [2 * RATE * n for n in range(12)]
    assert at_samples(strikes, "meeting", "landing") == [12 * RATE]


def test_a_player_hears_their_own_pulse_on_their_channel_and_is_counted_in() -> None:
    own = (OwnClick(who="drum", channel=5),)
    strikes = struck(HELD, guide=False, clicks=own, until=11.99, sounds_from=Length(-1))
    assert {one.channel for one in strikes} == {5}
    assert at_samples(strikes, "count") == [RATE * n // 2 for n in range(-4, 0)]
    assert at_samples(strikes, "downbeat") == [36_000 * n for n in range(16)]
    assert at_samples(strikes, "downbeat", "click") == [12_000 * n for n in range(48)]


def test_a_player_who_is_tacet_hears_the_counted_beat() -> None:
    own = (OwnClick(who="drum", channel=5),)
    strikes = struck(HELD, guide=False, clicks=own, index=1)
    assert at_samples(strikes, "downbeat", "click") == [RATE * n // 2 for n in range(24)]


def test_nobody_of_that_name_is_refused_by_name_unless_another_song_of_the_set_knows_them() -> None:
    nobody = OwnClick(who="nobody", channel=1)
    with pytest.raises(UsageError, match="no player or layer 'nobody'"):
        nobody.refuse_unknown([HELD])
    other = song([layer("nobody", 1)], [section("Ebb", 1, ["nobody"])])
    nobody.refuse_unknown([HELD, other])
    strikes = struck(HELD, guide=False, clicks=(nobody,), until=1.99)
    assert at_samples(strikes, "downbeat", "click") == [RATE * n // 2 for n in range(4)]
