"""The bridge as the clock: ticks, song position, time code and OSC place against independent walks."""

from __future__ import annotations

import io
import math
from fractions import Fraction
from itertools import pairwise

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.exact import Length
from bridge.follow import RATES, Expected, Follower, PlanScale
from bridge.follow.messages import Continue, FullFrame, QuarterFrame, SongPosition, Start, Stop, read
from bridge.follow.timecode import Assembler, Timecode
from bridge.hostmap import Ruler
from bridge.out import midi_file
from bridge.out.request import Request
from bridge.plan.model import Origin
from bridge.plan.released import Free, Vamp
from bridge.show.conductor import Conductor
from bridge.show.control import control
from bridge.show.effect import Keep, SendMidi, SendOsc, Tell
from bridge.show.leading import Leading, Leg, Wanted
from bridge.show.programme import Programme
from bridge.song import Frame, HostCount, Song
from tests.out.songs import layer, section, song

BEGAN = Fraction(1000)
CLOCK = Wanted(position=False)
CODE = Wanted(clock=False, position=False, timecode=RATES[1])
PLACE = Wanted(clock=False)
RAMPS = (
    section("Prelude", 3, ["band"], tempo="97"),
    section("Crossing", 7, ["band"], tempo="97", to="131.7", resolve=()),
    section("Landfall", 5, ["band"], tempo="173", meter="7/8", resolve=()),
    section("Ebb", 4, ["band"], tempo="173", to="61", meter="4/4", resolve=()),
)


def made(*sections, origin=None) -> Song:
    return song([layer("band", 1)], sections, origin=origin)


def leg(of: Song, index: int = 0, **more) -> Leg:
    fields = {
        "began": BEGAN,
        "leaves": of.sections[index].length,
        "follows": index + 1 if index + 1 < len(of.sections) else None,
    }
    return Leg(song=of, index=index, **{**fields, **more})


def led(of: Leg, wanted: Wanted = CLOCK, *, until: float = 2000.0, step: float = 0.37):
    """Everything that is sent by ``until``."""
    leading = Leading(wanted)
    leading.play(of)
    return run(leading, until, step=step)


def run(leading: Leading, until: float, *, step: float = 0.37) -> list:
    found, now = [], 0.0
    while leading.wake_at is not None and leading.wake_at <= until:
        now = max(leading.wake_at, min(now + step, until))
        found += leading.wake(now)
    return found


def messages(effects) -> list[tuple[float, object]]:
    return [(effect.due, read(effect.data)) for effect in effects if isinstance(effect, SendMidi)]


def tick_times(effects) -> list[float]:
    return [one.due for one in effects if isinstance(one, SendMidi) and one.data == b"\xf8"]


def others(effects) -> list[tuple[float, object]]:
    """All MIDI messages but ticks and quarter frames."""
    return [
        (round(due - float(BEGAN), 6), message)
        for due, message in messages(effects)
        if not isinstance(message, QuarterFrame) and message != read(b"\xf8")
    ]


def seconds_by_hand(of: Song, quarters: Fraction) -> float:
    """Seconds at a place, by the closed form of the contract, in doubles."""
    total, passed = 0.0, Fraction(0)
    for placed in of.sections:
        length, tempo = placed.length.quarters, placed.section.tempo
        into = min(quarters - passed, length)
        slope = float(tempo.end - tempo.start) / float(length)
        start = float(tempo.start)
        total += 60 * math.log1p(slope * float(into) / start) / slope if slope else 60 * float(into) / start
        passed += length
        if quarters <= passed:
            return total
    raise ValueError(quarters)


def test_each_tick_is_sent_at_its_own_seconds_of_the_tempo_map() -> None:
    of = made(*RAMPS)
    times = tick_times(led(leg(of)))
    assert len(times) == of.end.quarters * 24
    for number, at in enumerate(times):
        assert at - 1000 == pytest.approx(seconds_by_hand(of, Fraction(number, 24)), abs=2e-9)


def test_ticks_stand_where_a_midi_file_of_the_song_has_them() -> None:
    of = made(section("Prelude", 8, ["band"], tempo="120"), section("Landfall", 8, ["band"], tempo="150"))
    written = io.BytesIO()
    midi_file.write(Frame.of(of), written, Request())
    written.seek(0)
    file = mido.MidiFile(file=written)
    per_tick = file.ticks_per_beat // 24
    tempi, place = [], 0
    for message in file.tracks[0]:
        place += message.time
        if message.type == "set_tempo":
            tempi.append((place, message.tempo))
    at, seconds = 0, 0.0
    expected = []
    for number in range(int(of.end.quarters) * 24):
        while at < number * per_tick:
            tempo = next(tempo for since, tempo in reversed(tempi) if since <= at)
            seconds += mido.tick2second(1, file.ticks_per_beat, tempo)
            at += 1
        expected.append(seconds)
    times = tick_times(led(leg(of)))
    assert [time - 1000 for time in times] == pytest.approx(expected, abs=1e-7)


def test_an_hour_does_not_drift() -> None:
    of = made(
        section("Prelude", 300, ["band"], tempo="37.3"),
        section("Crossing", 100, ["band"], tempo="37.3", to="41", resolve=()),
        section("Landfall", 161, ["band"], tempo="33.7", resolve=()),
    )
    assert of.total_seconds > 3600
    leading = Leading(CLOCK)
    leading.play(leg(of))
    times = tick_times(run(leading, 10_000.0, step=60.0))
    last = of.end.quarters * 24 - 1
    assert len(times) == last + 1
    assert times[-1] - 1000 == pytest.approx(seconds_by_hand(of, Fraction(last, 24)), abs=1e-6)
    assert times[-1] == float(BEGAN + of.seconds(of.end - Length(Fraction(1, 96))))


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(0.001, 3.0), min_size=1, max_size=12), st.sampled_from(RATES))
def test_however_often_it_is_woken_the_same_is_sent(steps, rate) -> None:
    of = made(section("Prelude", 1, ["band"], tempo="97"), section("Ebb", 2, ["band"], tempo="97", to="131"))
    wanted = Wanted(timecode=rate)
    leading, found, now = Leading(wanted), [], 999.0
    leading.play(leg(of))
    for step in steps:
        now += step
        found += leading.wake(now)
    whole = led(leg(of), wanted)
    assert found == [effect for effect in whole if effect.due <= now]
    assert all(one.due <= two.due for one, two in pairwise(whole))


def test_a_song_from_its_start_begins_with_start_and_ends_with_stop() -> None:
    of = made(RAMPS[0])
    ends = float(of.total_seconds)
    assert others(led(leg(of))) == [(0.0, Start()), (round(ends, 6), Stop())]


def test_a_count_in_is_ticked_and_start_comes_half_a_tick_before_the_first_bar() -> None:
    of = made(section("Prelude", 2, ["band"], tempo="120"))
    effects = led(leg(of, sounds_from=Length(-1)))
    assert others(effects)[0] == (round(-0.5 / 48, 6), Start())
    times = tick_times(effects)
    assert times[0] == 998.0
    assert times[96] == 1000.0
    assert len(times) == 3 * 96


def test_a_plan_that_begins_on_the_hosts_third_bar_is_sent_there() -> None:
    of = made(*RAMPS[:1], origin=Origin(bar=3))
    assert others(led(leg(of)))[:2] == [(0.0, SongPosition(sixteenths=32)), (0.0, Continue())]


def test_entering_off_a_sixteenth_receivers_play_from_the_next_one() -> None:
    of = made(section("Prelude", 8, ["band"], tempo="120", meter="5/32", resolve=()), RAMPS[1])
    effects = led(leg(of, enters=Length("5/32"), sounds_from=Length("5/32"), located=True))
    (_, first), (at, second) = others(effects)[:2]
    assert first == SongPosition(sixteenths=3)
    assert second == Continue()
    assert 0.3125 < at < 0.375
    (start,) = [index for index, (_, m) in enumerate(messages(effects)) if m == Continue()]
    assert messages(effects)[start + 1][0] == pytest.approx(1000.375)


def test_beyond_16383_sixteenths_people_are_told_and_no_position_is_sent() -> None:
    of = made(section("Prelude", 1030, ["band"], tempo="1000"), RAMPS[0])
    for bars, sent in ((1023, True), (1024, False)):
        at = Length(bars)
        effects = led(leg(of, sounds_from=at, enters=at, located=True, leaves=at + Length(1)), until=1300)
        told = [one for one in effects if isinstance(one, Tell)]
        positions = [m for _, m in messages(effects) if isinstance(m, SongPosition)]
        assert bool(positions) is sent
        assert bool(told) is not sent
    assert "16384" in told[0].text


def follow(of: Song, effects, at: float):
    follower = Follower(
        scale=PlanScale(ruler=Ruler(of)), expected=Expected.of(of.tempo_map, HostCount(of).lead_in)
    )
    for effect in effects:
        if isinstance(effect, SendMidi) and effect.due <= at:
            assert not [e for e in follower.midi(effect.due, effect.data) if e.what == "unreadable"]
    return follower.transport(at)


@pytest.mark.parametrize("bar", [1, 3])
def test_our_own_follower_finds_place_and_tempo_by_the_clock(bar) -> None:
    of = made(*RAMPS, origin=Origin(bar=bar))
    effects = led(leg(of, sounds_from=Length(-1)))
    for after in (3.0, 9.0, 20.0):
        transport = follow(of, effects, 1000 + after)
        place = of.tempo_map.place(Fraction(after))
        assert transport.playing
        assert transport.locked
        assert transport.quarters == pytest.approx(float(HostCount(of).whole_notes(place) * 4), abs=2e-3)
        assert transport.bpm == pytest.approx(float(of.tempo_map.bpm(place)), rel=2e-3)
        assert transport.error_ms < 0.5


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("bar", [1, 3])
def test_time_code_read_back_is_the_hosts_seconds(rate, bar) -> None:
    of = made(*RAMPS, origin=Origin(bar=bar))
    assembler, readings = Assembler(), 0
    wanted = Wanted(clock=False, position=False, timecode=rate)
    count = HostCount(of)
    for due, message in messages(led(leg(of), wanted)):
        if isinstance(message, FullFrame):
            shown = Timecode.of_message(message).real_seconds
            assert 0 <= float(count.seconds_before) - float(shown) < 1 / float(rate.a_second)
        elif (reading := assembler.take(message)) is not None:
            readings += 1
            assert float(reading.real_seconds - count.seconds_before) == pytest.approx(due - 1000, abs=1e-9)
    assert readings > 4 * float(of.total_seconds * rate.a_second) - 16


def test_drop_frame_names_leave_two_out_after_a_minute() -> None:
    of = made(section("Prelude", 40, ["band"], tempo="120"))
    wanted = Wanted(clock=False, position=False, timecode=RATES[2])
    assembler = Assembler()
    codes = [
        str(reading.code)
        for _, message in messages(led(leg(of), wanted))
        if isinstance(message, QuarterFrame) and (reading := assembler.take(message))
    ]
    # the frame after 00:00:59;29 is 00:01:00;02: frame 1800 (checks.md, computed with `timecode`)
    assert "00:00:59;28" in codes
    assert "00:01:00;02" in codes
    assert "00:01:00;00" not in codes


def test_the_follower_finds_the_place_by_time_code_alone() -> None:
    of = made(*RAMPS)
    transport = follow(of, led(leg(of), CODE), 1012.0)
    assert transport.locked
    assert transport.quarters == pytest.approx(float(of.tempo_map.place(Fraction(12)).quarters), abs=1e-3)


HELD = (
    section("Prelude", 4, ["band"], tempo="120"),
    section("Landfall", 4, ["band"], tempo="120"),
)


def held(of: Song, wanted: Wanted, *, release_to: Length):
    """The first section is held, and released past its planned end to leave at ``release_to``."""
    leading = Leading(wanted)
    leading.play(leg(of, leaves=None))
    effects = run(leading, 1009.0)
    leading.play(leg(of, leaves=release_to))
    return effects + run(leading, 2000.0)


def test_in_a_hold_ticks_go_on_evenly_through_the_release() -> None:
    of = made(*HELD)
    times = tick_times(held(of, CLOCK, release_to=Length(6)))
    assert len(times) == 10 * 96
    assert times == pytest.approx([1000 + number / 48 for number in range(960)], abs=1e-9)


def test_asked_to_jump_the_clock_moves_receivers_between_two_ticks() -> None:
    of = made(*HELD)
    effects = held(of, Wanted(position=False, jumps=True), release_to=Length(6))
    loops = [
        (8.0 + 2 * turn, message)
        for turn in range(2)
        for message in (Stop(), SongPosition(sixteenths=48), Continue())
    ]
    assert others(effects) == [(0.0, Start()), *loops, (20.0, Stop())]
    assert tick_times(effects) == tick_times(held(of, CLOCK, release_to=Length(6)))
    assert follow(of, effects, 1011.0).quarters == pytest.approx(14.0, abs=1e-3)
    assert follow(of, effects, 1013.0).quarters == pytest.approx(18.0, abs=1e-3)


def test_in_a_hold_time_code_and_place_show_one_loop_earlier() -> None:
    of = made(*HELD)
    effects = held(of, PLACE, release_to=Length(6))
    said = {round(one.due - 1000, 6): one.message.args for one in effects if isinstance(one, SendOsc)}
    assert said[7.75][0] == 15.5
    assert said[8.0] == (12.0, 6.0, 120.0, 1)
    assert said[9.5][:2] == (15.0, 7.5)
    assert said[10.0][:2] == (12.0, 6.0)
    assert said[12.0] == (16.0, 8.0, 120.0, 1)
    codes = held(of, CODE, release_to=Length(6))
    jumps = [(at, Timecode.of_message(m).real_seconds) for at, m in others(codes)]
    assert jumps == [(0.0, 0), (8.0, 6), (10.0, 6)]
    assert follow(of, codes, 1011.5).quarters == pytest.approx(15.0, abs=1e-3)
    assert follow(of, codes, 1013.5).quarters == pytest.approx(19.0, abs=1e-3)


def test_left_off_the_loop_the_code_jumps_to_the_next_section() -> None:
    of = song([layer("band", 2)], HELD)
    codes = held(of, CODE, release_to=Length(5))
    assert [(at, Timecode.of_message(m).real_seconds) for at, m in others(codes)] == [
        (0.0, 0),
        (8.0, 4),
        (10.0, 8),
    ]


def test_a_vamp_that_follows_stays_open_by_itself() -> None:
    of = made(HELD[0], section("Crossing", 2, ["band"], tempo="120", vamp=Vamp()), HELD[1])
    leading = Leading(CLOCK)
    leading.play(leg(of))
    assert len(tick_times(run(leading, 1020.0))) == 20 * 48 + 1
    assert leading.leg.index == 1
    assert leading.leg.leaves is None


def test_being_told_of_what_has_begun_by_itself_changes_nothing() -> None:
    of = made(*HELD)
    leading = Leading(CLOCK)
    leading.play(leg(of))
    effects = run(leading, 1008.5)
    leading.play(leg(of, 1, began=Fraction(1008 + 1e-9)))
    assert tick_times(effects + run(leading, 2000.0)) == tick_times(led(leg(of)))


@pytest.mark.parametrize("index", [0, 2])
@pytest.mark.parametrize("told", [True, False])
def test_played_again_or_skipped_receivers_are_moved_between_two_even_ticks(index, told) -> None:
    of = made(*HELD, section("Ebb", 4, ["band"], tempo="120"))
    leading = Leading(Wanted(timecode=RATES[1], position=False))
    leading.play(leg(of))
    effects = run(leading, 1007.0)
    leading.play(leg(of, follows=index))
    effects += run(leading, 1007.999)
    if told:
        leading.play(leg(of, index, began=Fraction(1008 + 1e-9)))
    leading_until = 1008.0 + 8
    effects += run(leading, leading_until - 0.001)
    assert tick_times(effects) == pytest.approx([1000 + n / 48 for n in range(768)], abs=1e-9)
    goes = [SongPosition(sixteenths=64 * index), Continue()] if index else [Start()]
    clock = [(at, m) for at, m in others(effects) if not isinstance(m, FullFrame)]
    assert clock == [(0.0, Start()), *((8.0, message) for message in (Stop(), *goes))]
    full = [Timecode.of_message(m).real_seconds for _, m in others(effects) if isinstance(m, FullFrame)]
    assert full == [0, 8 * index]


def test_a_locate_into_a_section_follows_at_the_barline() -> None:
    of = made(*HELD)
    leading = Leading(CLOCK)
    leading.play(leg(of))
    effects = run(leading, 1001.0)
    leading.play(leg(of, leaves=Length(1), follows=1, follows_at=Length(2)))
    effects += run(leading, 2000.0)
    assert others(effects)[1:] == [
        (2.0, Stop()),
        (2.0, SongPosition(sixteenths=96)),
        (2.0, Continue()),
        (6.0, Stop()),
    ]


@pytest.fixture
def conductor() -> Conductor:
    of = made(*HELD, section("Ebb", 4, ["band"], tempo="120"))
    return Conductor(Programme((of,)), led=True)


def perform(conductor: Conductor, leading: Leading, until: float) -> list:
    """Drive both as a shell does, the conductor first or last as it comes."""
    found = []
    while True:
        times = [at for at in (conductor.wake_at, leading.wake_at) if at is not None]
        if not times or min(times) > until:
            return found
        now = min(times)
        conductor.wake(now)
        if conductor.passed is not None and conductor.line is not None:
            leading.play(Leg.of(conductor.passed, conductor.line))
        else:
            found += leading.stop(now)
        found += leading.wake(now)


def test_the_conductors_passes_are_the_legs(conductor) -> None:
    leading = Leading(CLOCK)
    conductor.begin(1000.0, count_in=1)
    effects = perform(conductor, leading, 1008.3)
    conductor.control(1008.3, control("hold"))
    effects += perform(conductor, leading, 1013.1)
    conductor.control(1013.1, control("release"))
    conductor.control(1013.2, control("skip"))
    effects += perform(conductor, leading, 2000.0)
    assert others(effects) == [
        (round(2 - 0.5 / 48, 6), Start()),
        (14.0, Stop()),
        (14.0, SongPosition(sixteenths=128)),
        (14.0, Continue()),
        (22.0, Stop()),
    ]
    assert tick_times(effects) == pytest.approx([1000 + n / 48 for n in range(22 * 48)], abs=1e-9)


@pytest.mark.parametrize("follows", [1, None, 2])
def test_held_at_the_last_moment_it_returns_although_the_next_leg_was_begun_ahead(follows) -> None:
    of = made(*HELD, section("Ebb", 4, ["band"], tempo="120"))
    leading = Leading(CLOCK)
    first = leg(of, follows=follows)
    leading.play(first)
    effects = run(leading, 1008.03)
    leading.play(first)
    effects += run(leading, 1008.04)
    leading.play(leg(of, leaves=None, follows=follows))
    effects += run(leading, 1012.0)
    assert leading.leg.index == 0
    transport = follow(of, effects, 1011.9)
    assert transport.playing
    assert transport.locked
    times = tick_times(effects)
    assert max(after - before for before, after in pairwise(times)) < 0.15
    if follows == 1:
        assert times == pytest.approx([1000 + n / 48 for n in range(12 * 48 + 1)], abs=1e-9)


def test_far_ahead_several_short_sections_may_have_passed_before_it_is_said() -> None:
    bar = {"tempo": "240", "meter": "1/4", "resolve": ()}
    of = made(*(section(name, 1, ["band"], **bar) for name in ("Prelude", "Crossing", "Landfall", "Ebb")))
    leading = Leading(CLOCK)
    effects = []
    for index, now in ((0, 1000.0), (0, 1000.1), (1, 1000.26), (2, 1000.6), (3, 1000.8)):
        leading.play(leg(of, index, began=BEGAN + Fraction(index, 4)))
        effects += leading.wake(now + 0.7)
    effects += run(leading, 2000.0)
    assert others(effects) == [(0.0, Start()), (1.0, Stop())]
    assert tick_times(effects) == pytest.approx([1000 + n / 96 for n in range(96)], abs=1e-9)


def free_song() -> Song:
    free = Free(about=Fraction(30))
    return made(HELD[0], section("Adrift", 1, [], tempo="8", free=free, resolve=()), HELD[1])


def test_a_passage_without_bars_stops_the_clock_until_it_is_counted_in() -> None:
    of = free_song()
    leading = Leading(Wanted(timecode=RATES[1]))
    leading.play(leg(of))
    effects = run(leading, 1050.0)
    assert leading.wake_at is None
    leading.play(leg(of, 2, began=BEGAN + 62, sounds_from=Length(-1), located=True))
    effects += run(leading, 2000.0)
    clock = [(at, m) for at, m in others(effects) if not isinstance(m, FullFrame)]
    assert clock == [
        (0.0, Start()),
        (8.0, Stop()),
        (60.0, SongPosition(sixteenths=80)),
        (round(62 - 0.5 / 48, 6), Continue()),
        (70.0, Stop()),
    ]
    times = tick_times(effects)
    assert not [at for at in times if 1008 <= at < 1060]
    assert [Timecode.of_message(m).real_seconds for _, m in others(effects) if isinstance(m, FullFrame)] == [
        0,
        8,
        38,
    ]
    frames = [at for at, m in messages(effects) if isinstance(m, QuarterFrame)]
    assert not [at for at in frames if 1008 <= at < 1062]
    assert follow(of, [e for e in effects if e.due > 1059], 1066.0).quarters == pytest.approx(28.0, abs=1e-3)


def test_stopping_says_where_it_stands() -> None:
    of = made(*HELD)
    leading = Leading()
    leading.play(leg(of))
    run(leading, 1003.0)
    effects = leading.stop(1003.25)
    assert effects[-2].data == b"\xfc"
    assert effects[-1].message.args == (6.5, 3.25, 120.0, 0)
    assert leading.wake_at is None
    assert leading.stop(1004.0) == []


def test_a_leg_that_leaves_before_it_enters_is_refused() -> None:
    of = made(*HELD)
    with pytest.raises(ValueError, match="leaves at"):
        leg(of, enters=Length(3), leaves=Length(2))


def test_sent_to_a_place_while_it_waits_it_begins_there_when_released(conductor) -> None:
    leading = Leading(CLOCK)
    conductor.waits = True
    conductor.control(990.0, control("locate", "Landfall"))
    conductor.control(1000.0, control("release"))
    effects = perform(conductor, leading, 1005.0)
    assert others(effects) == [
        (0.0, SongPosition(sixteenths=64)),
        (round(2 - 0.5 / 48, 6), Continue()),
    ]
    assert conductor.passed.name == "Landfall"


@pytest.mark.parametrize("ending", ["close", "end", "kill"])
def test_only_a_show_that_was_cut_off_is_gone_on_with(conductor, ending) -> None:
    kept = [one for one in conductor.begin(1000.0, count_in=0) if isinstance(one, Keep)]
    until = 1100.0 if ending == "end" else 1009.0
    while conductor.wake_at is not None and conductor.wake_at <= until:
        kept += [one for one in conductor.wake(conductor.wake_at) if isinstance(one, Keep)]
    if ending == "close":
        kept += [one for one in conductor.close(1009.0) if isinstance(one, Keep)]
    memory = kept[-1].memory
    again = Conductor(conductor.programme, led=True, memory=memory, remembered_at=memory.at)
    again.begin(memory.at + 2.0, count_in=0)
    assert (again.passed.name == "Landfall") is (ending == "kill")
