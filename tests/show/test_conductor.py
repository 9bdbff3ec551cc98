"""The conductor by its promises, on hosts of three kinds and where it leads."""

from fractions import Fraction

import pytest

from bridge.exact import Length
from bridge.show import AskHost, Conductor, Offer, Programme, SendOsc, Tell, control
from tests.show.songs import SLACK, song_of
from tests.show.stand_in import Stage

LOCATES = ("locate", "play", "stop")
LOOPS = ("locate", "loop", "loop_off", "play", "stop")
KINDS = [LOCATES, LOOPS, ()]
TICK = 1 / 24
"""A MIDI clock's tick, in quarters."""
ORIGIN = 8
"""Quarters before the plan's bar 1 in the host: it has begun with two bars."""


@pytest.fixture(scope="module")
def slack():
    return song_of(SLACK)


def started(song, *, at=1.0, quarters=ORIGIN, **told):
    stage = Stage(song, **told)
    stage.run(at)
    stage.play(quarters)
    return stage


def lead(song, *, until, presses=()):
    """Lead ``song`` without a count-in; return what went out, with its due time, and what was told."""
    conductor = Conductor(Programme((song,)), led=True)
    presses = sorted(presses)
    effects = list(conductor.begin(0.0, count_in=0))
    while (wake := conductor.wake_at) is not None and wake <= until:
        while presses and presses[0][0] <= wake:
            at, *words = presses.pop(0)
            effects += conductor.control(at, control(*words))
            wake = conductor.wake_at
        effects += conductor.wake(wake)
    return effects


def of(effects, address):
    """The messages to one address, each with its due time."""
    return [
        (effect.due, effect.message.args)
        for effect in effects
        if isinstance(effect, SendOsc) and effect.message.address == f"/pulsebridge/{address}"
    ]


def tells(effects, what):
    return [effect for effect in effects if isinstance(effect, Tell) and effect.what == what]


def test_each_beat_says_where_the_show_is_and_what_is_left(slack):
    said = of(lead(slack, until=99), "now")
    # half a second a beat; Prelude has 8 bars, Crossing 24
    assert said[0] == (0.0, ("Prelude", 1, 8, 1.0))
    assert said[5] == (2.5, ("Prelude", 2, 7, 2.0))
    assert said[31] == (15.5, ("Prelude", 8, 1, 4.0))
    assert said[32] == (16.0, ("Crossing", 1, 24, 1.0))
    assert len(said) == 50 * 4 - 1 or len(said) == 50 * 4


def test_each_barline_says_what_comes_next(slack):
    said = of(lead(slack, until=101), "next")
    assert said[0] == (0.0, ("Crossing", 8))
    assert said[-1] == (98.0, ("End", 1))
    assert len(said) == 50


def test_every_home_of_a_layer_is_told_with_its_turn(slack):
    said = of(lead(slack, until=101), "turn")
    homes = [
        (due, number)
        for due, (layer, number, _, phase) in said
        if layer == "drum" and phase == 0 and due < 64
    ]
    # Crossing begins at 16 s; 3/16 at 120 is 0.375 s, 128 turns in 24 bars (hand arithmetic)
    assert homes == [(pytest.approx(16 + 0.375 * turn), turn + 1) for turn in range(128)]
    left = {number: left for due, (layer, number, left, _) in said if layer == "drum" and due < 64}
    assert left == {turn: 129 - turn for turn in range(1, 129)}


def test_meetings_are_told_in_beats(slack):
    said = dict(of(lead(slack, until=101), "meeting"))
    # band every 4 bars, drum every 3/16: both every 12 bars
    assert said[16.0] == ("band, drum", 48.0)
    assert said[40.0] == ("band, drum", 48.0)
    assert said[39.5] == ("band, drum", 1.0)


@pytest.mark.parametrize("ability", KINDS)
def test_a_held_section_goes_on_past_its_end_until_it_is_released(slack, ability):
    stage = started(slack, ability=ability)
    stage.run(30.0)
    stage.press("hold")
    stage.run(80.0)  # Crossing's planned end is at 65 s: 15 s past it, bar 32 of 24
    bar = [args for at, args in stage_of(stage, "now")][-1]
    assert bar[:3] == ("Crossing", 32, -1)
    stage.press("release")
    (told,) = [one for one in stage.told if one.what == "release"]
    # everybody comes round after 12 more bars than planned: bar 36 is the last
    assert told.data == {"bars": 5, "home": ["band", "drum"], "not_home": [], "by": "release"}
    stage.run(95.0)
    (leave,) = [one.at for one in stage.told if one.what == "section" and one.data["section"] == "Shallows"]
    assert leave == pytest.approx(1 + 16 + 36 * 2, abs=0.05)
    stage.host.run(95.0)
    shallows = (8 + 24) * 4 + ORIGIN
    # a host that can be sent somewhere stands in Shallows as planned; one that cannot has run on by 12 bars
    late = 0 if ability else 12 * 4
    assert stage.host.quarters == pytest.approx(shallows + (95 - leave) * 2 + late, abs=0.05)


def stage_of(stage, address):
    return [
        (at, effect.message.args)
        for at, effect in stage.sent
        if effect.message.address == f"/pulsebridge/{address}"
    ]


@pytest.mark.parametrize("ability", KINDS)
@pytest.mark.parametrize(
    ("name", "bars", "home"),
    [
        ("drum", 27, {"drum"}),
        ("guitars", 28, {"band"}),
        ("percussion", 27, {"drum"}),
        (None, 36, {"band", "drum"}),
    ],
)
def test_every_rung_leaves_where_it_said(slack, ability, name, bars, home):
    stage = started(slack, ability=ability)
    stage.run(30.0)
    stage.press("hold")
    stage.run(66.5)
    stage.press("release", *([name] if name else []))
    (told,) = [one for one in stage.told if one.what == "release"]
    assert set(told.data["home"]) == home
    stage.run(100.0)
    (leave,) = [one.at for one in stage.told if one.what == "section" and one.data["section"] == "Shallows"]
    assert leave == pytest.approx(17 + bars * 2, abs=0.06)


def test_a_release_before_the_planned_end_keeps_the_planned_end(slack):
    stage = started(slack, ability=LOOPS)
    stage.run(20.0)
    stage.press("hold")
    stage.run(22.0)
    stage.press("release")
    stage.run(70.0)
    (leave,) = [one.at for one in stage.told if one.what == "section" and one.data["section"] == "Shallows"]
    assert leave == pytest.approx(65.0, abs=0.03)
    assert stage.host.loop is None
    assert not stage.host.jumps
    assert not stage.replans


def test_within_a_beat_of_the_release_each_player_knows_in_own_turns(slack):
    stage = started(slack, ability=LOCATES)
    stage.run(30.0)
    stage.press("hold")
    stage.run(66.0)  # half a bar into bar 25
    before = len(stage.sent)
    stage.press("release")
    said = {args[2]: args[0] for _, args in stage_of(stage, "cue")[-3:]}
    assert len(stage.sent) > before
    # 11.5 bars of 16 sixteenths are 184: 61 turns and a third of one of the drum's 3
    assert said["percussion"].startswith("this turn of drum and 61 more")
    assert said["guitars"].startswith("this turn of band and 2 more")


def test_release_now_leaves_at_the_next_barline_and_says_who_will_not_be_home(slack):
    stage = started(slack, ability=LOCATES)
    stage.run(30.2)
    stage.press("release_now")
    (told,) = [one for one in stage.told if one.what == "release_now"]
    assert told.data["not_home"] == ["band", "drum"]
    stage.run(40.0)
    (leave,) = [one.at for one in stage.told if one.what == "section" and one.data["section"] == "Shallows"]
    assert leave == pytest.approx(31.0, abs=0.03)


def test_release_now_in_the_last_half_beat_never_makes_a_section_longer(slack):
    effects = lead(slack, until=30, presses=[(15.8, "release_now")])
    (told,) = tells(effects, "release_now")
    assert told.data["bars"] == 1
    assert [(one.at, one.data["section"]) for one in tells(effects, "section")] == [
        (pytest.approx(0.0), "Prelude"),
        (pytest.approx(16.0), "Crossing"),
    ]


def test_a_sooner_rung_can_be_taken_while_all_are_waited_for_and_a_later_one_is_refused(slack):
    # Crossing's bars 9-32 are from 16 s on; band 4 bars, drum 3/16: all again 12 bars past the end
    held = [(20.0, "hold"), (64.5, "release")]
    whole = tells(lead(slack, until=90, presses=held), "section")
    assert whole[2].at == pytest.approx(88.0)
    effects = lead(
        slack,
        until=90,
        presses=[*held, (65.0, "release"), (65.1, "release", "drum"), (66.0, "release", "band")],
    )
    assert tells(effects, "section")[2].at == pytest.approx(70.0)
    again, later = (one.text for one in tells(effects, "refused"))
    assert "Crossing is released already" in again
    assert "ends no later than that" in later


def test_skip_leaves_out_the_next_section_and_again_repeats_this_one(slack):
    sections = [
        one.data["section"] for one in tells(lead(slack, until=300, presses=[(20.0, "skip")]), "section")
    ]
    assert sections == ["Prelude", "Crossing", "Landfall"]
    sections = [
        one.data["section"] for one in tells(lead(slack, until=300, presses=[(20.0, "again")]), "section")
    ]
    assert sections == ["Prelude", "Crossing", "Crossing", "Shallows", "Landfall"]


def test_locate_goes_to_a_place_at_the_next_barline(slack):
    effects = lead(slack, until=60, presses=[(20.5, "locate", "4 bars before Landfall")])
    sections = [(one.at, one.data["section"]) for one in tells(effects, "section")]
    assert sections[2] == (pytest.approx(22.0), "Shallows")
    assert (pytest.approx(22.0), ("Shallows", 3, 4, 1.0)) in of(effects, "now")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("release",), "Prelude is not held"),
        (("release", "nobody"), "Prelude is not held"),
        (("locate", "Nowhere"), "no place in the song is called 'Nowhere'"),
        (("accept",), "there is no offer"),
    ],
)
def test_what_cannot_be_done_is_said_with_the_reason(slack, words, says):
    effects = lead(slack, until=3, presses=[(1.0, *words)])
    (refused,) = tells(effects, "refused")
    assert says in refused.text


def test_a_host_moved_by_somebody_else_is_taken_where_it_is(slack):
    stage = started(slack, ability=LOCATES)
    stage.run(30.0)
    stage.press("hold")
    stage.run(40.0)
    stage.host.run(40.0)
    stage.host.quarters = ORIGIN + (8 + 24 + 6) * 4 + 4
    stage.run(41.0)
    view = stage.conductor.view(41.0)
    assert view.song.sections[view.section].name == "Landfall"
    assert not view.held


def test_a_jump_back_cues_anew_and_a_jitter_never_does(slack):
    stage = started(slack, ability=LOCATES)
    stage.run(40.0)
    first = [args for _, args in stage_of(stage, "cue")]
    assert len(first) == len(set(first))
    stage.host.run(40.0)
    stage.host.quarters = ORIGIN
    stage.run(60.0)
    second = [args for _, args in stage_of(stage, "cue")][len(first) :]
    assert ("Crossing in 4 bars", 4, "") in first
    assert ("Crossing in 4 bars", 4, "") in second


def test_a_stop_and_a_start_in_the_same_place_go_on_in_the_same_pass(slack):
    stage = started(slack, ability=LOCATES)
    stage.run(12.0)
    stage.host.run(12.0)
    stage.host.playing = False
    stage.run(20.0)
    silent = len(stage.sent)
    stage.run(30.0)
    assert len(stage.sent) == silent
    stage.play()
    stage.run(60.0)
    keys = [(one.data["key"]) for one in stage.told if one.what == "cue" and one.at > 25]
    assert keys
    assert len(keys) == len(set(keys))
    assert [one.what for one in stage.told].count("section") == 2


@pytest.mark.parametrize("ability", KINDS)
def test_a_bridge_that_was_killed_goes_on_in_the_hold_and_repeats_nothing(slack, ability):
    stage = started(slack, ability=ability)
    stage.run(30.0)
    stage.press("hold")
    stage.run(64.5)
    stage.kill()  # half a second before the planned end, where the host should have gone back
    stage.run(66.0)
    stage.restart(gone=1.5)
    stage.run(70.0)
    view = stage.conductor.view(70.0)
    assert (view.song.sections[view.section].name, view.held) == ("Crossing", True)
    assert [one.what for one in stage.told].count("resumed") == 1
    into = [args for _, args in stage_of(stage, "now")][-1]
    assert into[:3] == ("Crossing", 27, -1)
    keys = [(one.data["key"]) for one in stage.told if one.what == "cue" and one.at > 17]
    assert len(keys) == len(set(keys))
    stage.host.run(70.0)
    # 70 s is 5 s past Crossing's end, two and a half bars: a host that can go back has done so
    past = ORIGIN + (8 + 24) * 4 + 10
    assert stage.host.quarters == pytest.approx(past - 12 * 4 if ability else past, abs=0.1)


def test_a_lost_locate_is_sent_again_to_where_the_show_is_by_then(slack):
    stage = started(slack, ability=LOCATES, loss=0.5, seed=4)
    stage.run(30.0)
    stage.press("hold")
    stage.run(66.9)
    asked = [ask for _, ask in stage.asked]
    assert len(asked) > 1
    assert asked[0].place < asked[1].place
    stage.run(70.0)
    stage.host.run(70.0)
    into = Fraction(4 * 2) + Fraction(70 - 65) * 2  # Crossing is left behind by 12 bars
    expected = ORIGIN + (8 + 24 - 12) * 4 + float(into - 8)
    assert stage.host.quarters == pytest.approx(expected, abs=0.05)


def test_a_host_that_never_goes_is_given_up_aloud_and_the_show_counts_on(slack):
    stage = started(slack, ability=LOCATES, loss=1.0)
    stage.run(30.0)
    stage.press("hold")
    stage.run(80.0)
    assert any("did not go where it was asked to" in one.text for one in stage.told)
    assert stage_of(stage, "now")[-1][1][:3] == ("Crossing", 32, -1)


def test_a_machine_that_slept_says_so_and_a_led_show_goes_on_where_it_stood(slack):
    conductor = Conductor(Programme((slack,)), led=True)
    effects = conductor.begin(0.0, count_in=0)
    while conductor.wake_at < 10.0:
        effects += conductor.wake(conductor.wake_at)
    late = conductor.wake(3610.0)
    (slept,) = tells(late, "slept")
    assert slept.data["seconds"] == pytest.approx(3600, abs=1)
    assert conductor.dropped == 0
    assert conductor.view(3610.0).line.quarters == pytest.approx(
        conductor.passed.axis.length.quarters * 20 / 32, abs=0.3
    )


def test_songs_of_a_set_follow_one_another_in_the_hosts_timeline():
    first, second = (
        song_of(SLACK),
        song_of(SLACK.replace("{bar: 3}", "{bar: 60}").replace("Slack Water", "Ebb")),
    )
    stage = Stage(first, conductor=Conductor(Programme.in_timeline((second, first)), ability=()))
    stage.run(1.0)
    stage.play(ORIGIN)
    stage.run(103.0)
    assert [one.text for one in stage.told if one.what == "end"] == ["Slack Water is over"]
    stage.run(130.0)
    view = stage.conductor.view(130.0)
    assert view.song.plan.title == "Ebb"
    # the host's bar 60 is at 59 bars of 2 s, and it began a bar 3 at 1 s
    starts = [one.at for one in stage.told if one.what == "section"]
    assert starts[4] < 119.0


def test_an_offer_waits_until_it_is_accepted(slack):
    stage = started(slack, ability=LOCATES)
    stage.run(30.0)
    stage.press("hold")
    stage.run(66.0)
    stage.press("release")
    (replan,) = stage.replans
    assert dict(replan.played) == {"Prelude": 8, "Crossing": 36}
    stage.do(
        stage.conductor.offered(
            stage.now, Offer(bars=(("Shallows", 3), ("Landfall", 24)), total_seconds=Fraction(142))
        )
    )
    assert "Landfall grows from 12 to 24 bars" in stage.told[-1].text
    assert stage.conductor.song.sections[3].bars == 12
    stage.press("accept")
    assert [placed.bars for placed in stage.conductor.song.sections] == [8, 24, 3, 24]
    stage.run(100.0)
    starts = {one.data["section"]: one.at for one in stage.told if one.what == "section"}
    assert starts["Landfall"] - starts["Shallows"] == pytest.approx(6.0, abs=0.05)


def test_effects_at_a_place_are_due_there_exactly_where_the_bridge_leads(slack):
    effects = lead(slack, until=101)
    times = [effect.due for effect in effects if isinstance(effect, SendOsc)]
    assert times == sorted(times)
    assert not [effect for effect in effects if isinstance(effect, AskHost)]
    assert Length("1/4") == Length(Fraction(1, 4))


def test_the_first_beat_is_said_although_word_of_the_start_takes_a_while(slack):
    stage = Stage(slack)
    stage.run(1.0)
    stage.host.quarters, stage.host.playing = ORIGIN, True
    stage.run(1.05)
    stage.play()  # a twentieth of a second after it began
    stage.run(1.2)
    assert stage_of(stage, "now")[0][1] == ("Prelude", 1, 8, 1.0)
    assert ("Crossing in 8 bars", 8, "") in [args for _, args in stage_of(stage, "cue")]


def test_where_a_host_cannot_hold_is_said_before_the_show(slack):
    def said(song, ability):
        return Conductor(Programme((song,)), ability=ability).cannot_hold()

    assert said(slack, LOCATES) == said(slack, LOOPS) == []
    assert said(slack, ("play", "stop")) == ["the host can neither loop nor be moved"]
    # band and drum come round every 12 bars: a section of 8 has no such stretch
    short = song_of(
        SLACK.replace("layers: [band, drum], bars: 12", "layers: [band, drum], bars: 8, resolve: []")
    )
    assert said(short, LOCATES) == ["the parts of Landfall come round only in more bars than it has"]
