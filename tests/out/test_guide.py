"""Rehearsing with the guide: excerpts, repeats, speed, who is heard, whose pulse is clicked."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from bridge.errors import UsageError
from bridge.exact import Place
from bridge.out.guide.mix import Mix
from bridge.out.guide.options import ClickOut, GuideOptions, parse_click_out, parse_speed
from bridge.out.guide.performance import Performance
from bridge.out.guide.take import Take
from bridge.out.guide.voices import voices_of
from bridge.song import Frame
from tests.out.songs import layer, section, song, tide

RATE = 48000


def pair():
    """Two layers over 24 bars at 120: a beat is 24000 samples, a bar 96000, a meeting every 12 bars."""
    return song(
        [layer("band", 4), layer("drum", "3/16")],
        [
            section("Prelude", 4, ["band"], tempo="120"),
            section("Crossing", 12, ["band", "drum"], tempo="120"),
            section("Landfall", 8, ["band"], tempo="120"),
        ],
    )


def hits(made, options, *, count_in=0) -> dict[str, list[tuple[int, str]]]:
    frame = Frame.of(made, count_in=count_in)
    return {voice.name: voice.hits for voice in voices_of(Take.of(frame, options, RATE), options)}


def at(found) -> list[int]:
    return [sample for sample, _ in found]


def test_an_excerpt_begins_at_sample_0_and_sounds_the_landing_where_it_stops():
    found = hits(pair(), GuideOptions(begin="4 bars before Landfall", stop="Landfall"))
    assert at(found["click"]) == [24000 * beat for beat in range(17)]
    assert at(found["band"]) == [0, 4 * 96000]
    assert at(found["drum"])[-1] == 4 * 96000
    assert found["meetings"] == [(4 * 96000, "last")]


def test_bars_in_an_excerpt_stop_at_the_barline_named():
    found = hits(pair(), GuideOptions(begin="5", stop="7.3"))
    assert at(found["click"]) == [24000 * beat for beat in range(11)]


def test_times_repeats_without_a_gap_and_only_the_last_pass_rings():
    found = hits(pair(), GuideOptions(begin="Crossing", stop="end of Crossing", times=3))
    assert at(found["band"]) == [96000 * bar for bar in range(0, 37, 4)]
    assert found["meetings"] == [
        (0, "meeting"),
        (12 * 96000, "meeting"),
        (24 * 96000, "meeting"),
        (36 * 96000, "last"),
    ]


def test_speed_moves_the_hits_and_not_the_pitches():
    slow, usual = GuideOptions(speed=Fraction(4, 5)), GuideOptions()
    assert at(hits(pair(), slow)["band"]) == [sample * 5 // 4 for sample in at(hits(pair(), usual)["band"])]
    frame = Frame.of(pair())
    one, other = (voices_of(Take.of(frame, options, RATE), options)[1] for options in (slow, usual))
    assert np.array_equal(one.sounds["home"], other.sounds["home"])


def test_passes_of_an_odd_length_do_not_drift():
    made = song([layer("band", 1)], [section("Ebb", 1, ["band"], tempo="97")])
    found = hits(made, GuideOptions(times=1000))
    bar = Fraction(240 * RATE, 97)
    assert at(found["band"]) == [round(bar * number) for number in range(1001)]


def test_a_count_in_before_an_excerpt_is_a_bar_of_its_meter_and_tempo():
    made = song(
        [layer("band", 1)],
        [section("Ebb", 2, ["band"], tempo="120"), section("Drift", 2, ["band"], tempo="60", meter="3/4")],
    )
    found = hits(made, GuideOptions(begin="Drift", times=2), count_in=1)
    assert at(found["click"])[:4] == [0, 48000, 96000, 144000]
    assert at(found["band"]) == [144000 + 144000 * bar for bar in range(5)]
    assert found["click"][0][1] == "downbeat"


def test_only_and_without_choose_layers_and_keep_their_sides():
    everybody = voices_of(Take.of(Frame.of(tide()), GuideOptions(), RATE), GuideOptions())
    for options in (GuideOptions(only=("bells",)), GuideOptions(without=("band", "click", "meetings"))):
        chosen = voices_of(Take.of(Frame.of(tide()), options, RATE), options)
        sides = {voice.name: voice.pan for voice in everybody}
        assert all(voice.pan == sides[voice.name] for voice in chosen)
        names = [voice.name for voice in chosen]
        assert names == (
            ["click", "bells", "meetings"]
            if options.only
            else ["hand drum", "bells", "keys", "slow drum", "shaker"]
        )


def test_a_layer_called_click_is_a_layer():
    made = song([layer("click", 1), layer("meetings", 2)], [section("Ebb", 2, ["click", "meetings"])])
    options = GuideOptions(without=("click",))
    names = [voice.name for voice in voices_of(Take.of(Frame.of(made), options, RATE), options)]
    assert names == ["click", "meetings", "meetings"]  # the click itself, a layer, the bell


@pytest.mark.parametrize("options", [GuideOptions(only=("bels",)), GuideOptions(without=("drums",))])
def test_an_unknown_layer_is_refused_with_the_names_there_are(options):
    with pytest.raises(UsageError, match="it has band, drum"):
        hits(pair(), options)


def test_click_out_silences_the_last_bars_of_every_so_many():
    found = hits(pair(), GuideOptions(click_out=ClickOut(bars=1, every=4)))
    bars = sorted({sample // 96000 for sample in at(found["click"])})
    assert bars == [bar for bar in range(25) if bar % 4 != 3]
    assert at(found["band"]) == at(hits(pair(), GuideOptions())["band"])


def test_click_out_counts_from_where_the_excerpt_begins():
    found = hits(pair(), GuideOptions(begin="6", stop="14", click_out=ClickOut(bars=2, every=4)))
    assert sorted({sample // 96000 for sample in at(found["click"])}) == [0, 1, 4, 5, 8]


def test_the_click_for_a_layer_at_another_rate_goes_at_its_rate():
    made = song(
        [layer("figure", "12/16"), layer("second figure", "12/16", rate="73/72")],
        [section("Drift", 54, ["figure", "second figure"], tempo="120")],
    )
    found = hits(made, GuideOptions(click_for="second figure"))["click"]
    pulse = Fraction(24000 * 72, 73)
    assert at(found)[:100] == [round(pulse * number) for number in range(100)]
    homes = [sample for sample, kind in found[:99] if kind == "downbeat"]
    assert homes == [round(pulse * number) for number in range(0, 99, 3)]


def test_the_click_for_a_player_is_their_pulse_and_the_counted_beat_where_they_are_tacet():
    found = hits(pair(), GuideOptions(click_for="drum"))["click"]
    tacet = [sample for sample in at(found) if sample < 4 * 96000]
    own = [sample - 4 * 96000 for sample in at(found) if 4 * 96000 <= sample < 16 * 96000]
    assert tacet == [24000 * beat for beat in range(16)]
    assert own == [6000 * sixteenth for sixteenth in range(12 * 16)]


@pytest.mark.parametrize(
    ("made", "pulses"),
    [
        (layer("x", "1", groups=[3, 3, 2]), ["0", "3/8", "3/4"]),
        (layer("x", 1, pulses=5), ["0", "1/5", "2/5", "3/5", "4/5"]),
        (layer("x", 1), ["0", "1/4", "1/2", "3/4"]),
        (layer("x", "1/1"), ["0", "1/4", "1/2", "3/4"]),
        (layer("x", "5/8"), ["0", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"]),
        (layer("x", "1/3"), ["0", "1/3", "2/3"]),
    ],
)
def test_a_players_own_pulse_is_what_they_count(made, pulses):
    found = hits(
        song([made], [section("Ebb", 1, ["x"], tempo="120", resolve=[])]), GuideOptions(click_for="x")
    )["click"]
    assert at(found) == [round(Fraction(pulse) * 96000) for pulse in [*pulses, "1"]]


def test_a_cycle_in_bars_of_an_uneven_meter_is_counted_in_its_beats():
    made = song([layer("x", 2)], [section("Ebb", 2, ["x"], tempo="120", meter="2+2+3/8")])
    found = hits(made, GuideOptions(click_for="x"))["click"]
    assert at(found) == [12000 * eighth for eighth in (0, 2, 4, 7, 9, 11, 14)]
    assert [kind for _, kind in found[:6]] == ["downbeat", *["click"] * 5]


def test_an_unknown_player_is_refused_with_those_there_are():
    with pytest.raises(UsageError, match="no player or layer 'flutes'"):
        hits(pair(), GuideOptions(click_for="flutes"))


@pytest.mark.parametrize(
    ("options", "text"),
    [
        (GuideOptions(begin="Landfall", stop="Crossing"), "from bar 17.1 to bar 5.1"),
        (GuideOptions(begin="Landfal"), "no place in the song is called 'Landfal'"),
        (GuideOptions(begin="99"), "outside the song"),
        (GuideOptions(begin="9 bars before Crossing"), "outside the song"),
        (GuideOptions(begin="3.9"), "has no beat 9"),
        (GuideOptions(times=0), "--times is 1 to 1000"),
    ],
)
def test_places_that_cannot_be_are_refused(options, text):
    with pytest.raises(Exception, match=text) as caught:
        hits(pair(), options)
    assert caught.value.exit_code == 2


def test_a_section_that_is_called_like_a_bar_is_meant_first():
    made = song([layer("band", 1)], [section("Ebb", 4, ["band"]), section("2", 4, ["band"])])
    assert Take.of(Frame.of(made), GuideOptions(begin="2"), RATE).begin == Place(4)
    assert Take.of(Frame.of(made), GuideOptions(begin="bar 2"), RATE).begin == Place(1)


@pytest.mark.parametrize(
    ("text", "share"), [("80%", "4/5"), ("0.8", "4/5"), ("66.5 %", "133/200"), ("4", "4")]
)
def test_speeds_are_read(text, share):
    assert parse_speed(text) == Fraction(share)


@pytest.mark.parametrize("text", ["0", "5%", "401%", "fast", "-80%", "1e2", "nan", ""])
def test_speeds_that_cannot_be_are_refused(text):
    with pytest.raises(UsageError):
        parse_speed(text)


@pytest.mark.parametrize("text", ["8/8", "0/4", "2", "a/b", "9/8", "-1/4"])
def test_click_outs_that_cannot_be_are_refused(text):
    with pytest.raises(UsageError, match="2/8"):
        parse_click_out(text)
    assert parse_click_out("2 of 8") == ClickOut(bars=2, every=8)


def test_the_stems_add_up_to_the_guide():
    made = tide()
    performance = Performance(Frame.of(made), GuideOptions())
    whole = np.concatenate([block.copy() for block in performance.blocks()]).astype(int)
    stems = sum(
        np.concatenate([block.copy() for block in performance.stem(number)]).astype(int)
        for number in range(len(performance.voices))
    )
    fade = RATE
    assert np.array_equal(whole[fade:], stems[fade:])
    assert np.abs(whole[:fade] - stems[:fade]).max() <= len(performance.voices)


def test_the_bound_on_the_peak_holds_for_any_loudness_and_is_not_far_off():
    made = tide()
    for peak_dbfs in (-40.0, -12.0, -0.5):
        options = GuideOptions(peak_dbfs=peak_dbfs)
        mix = Mix(
            voices_of(Take.of(Frame.of(made), options, RATE), options), per_second=RATE, peak_dbfs=peak_dbfs
        )
        highest = max(int(np.abs(b.astype(int)).max()) for b in mix.blocks(frames=110 * RATE, block=RATE))
        assert peak_dbfs - 8 < 20 * np.log10(highest / 32768) <= peak_dbfs


@pytest.mark.parametrize("block", [RATE // 4, RATE, 7 * RATE])
def test_no_block_exceeds_its_reach_and_the_stated_peak_is_the_highest_of_all(block):
    made = tide()
    performance = Performance(Frame.of(made), GuideOptions())
    mix = Mix(performance.voices, per_second=RATE, peak_dbfs=-12.0)
    reaches = mix.reaches(frames=performance.frames, block=block)
    heights = [
        int(np.abs(one.astype(int)).max()) for one in mix.blocks(frames=performance.frames, block=block)
    ]
    assert all(height <= reach for height, reach in zip(heights, reaches, strict=True))
    assert sum(reach <= max(heights) for reach in reaches) > len(reaches) / 3
    list(performance.blocks())
    assert performance.facts()["peak_dbfs"] == pytest.approx(20 * np.log10(max(heights) / 32768))


def test_a_sound_longer_than_many_blocks_is_the_same_in_blocks_of_any_size():
    made = song([layer("band", 1), layer("drum", "3/16")], [section("Ebb", 3, ["band", "drum"], tempo="131")])
    mix = Mix(Performance(Frame.of(made), GuideOptions()).voices, per_second=RATE, peak_dbfs=-12.0)

    def heard(block: int) -> np.ndarray:
        return np.concatenate([one.copy() for one in mix.blocks(frames=10 * RATE, block=block)])

    whole = heard(10 * RATE)
    assert np.abs(whole[8 * RATE :]).max() > 0  # the last landing rings on
    assert all(np.array_equal(whole, heard(block)) for block in (RATE // 10, RATE, 4 * RATE))


def test_a_count_in_can_be_counted_from_its_first_beat():
    made = song([layer("band", 1)], [section("Ebb", 4, ["band"], tempo="120")])
    options = GuideOptions(without=("meetings",))
    take = Take.of(Frame.of(made, count_in=1), options, RATE)
    mix = Mix(voices_of(take, options), per_second=RATE, peak_dbfs=-12)
    (heard,) = (b.copy().astype(int) for b in mix.blocks(frames=8 * RATE, block=8 * RATE))
    peaks = [np.abs(heard[24000 * beat : 24000 * (beat + 1)]).max() for beat in range(16)]
    first, others, later = peaks[0], peaks[1:4], peaks[5:8]
    assert first >= 0.6 * max(later)
    assert min(others) >= 0.6 * max(later)


def test_it_fades_in_from_6_db_below():
    made = song([layer("band", "1/4")], [section("Ebb", 4, ["band"], tempo="120")])
    options = GuideOptions(without=("click", "meetings"))
    mix = Mix(voices_of(Take.of(Frame.of(made), options, RATE), options), per_second=RATE, peak_dbfs=-12)
    (heard,) = (b.copy().astype(int) for b in mix.blocks(frames=4 * RATE, block=4 * RATE))
    peaks = [np.abs(heard[24000 * beat : 24000 * (beat + 1)]).max() for beat in range(8)]
    assert peaks[0] / peaks[7] == pytest.approx(1 / 2, abs=0.03)
    assert all(one <= other for one, other in pairwise(peaks))
    assert peaks[2] == peaks[7]


def test_cue_points_of_an_excerpt_name_where_each_pass_begins():
    performance = Performance(
        Frame.of(pair()), GuideOptions(begin="4 bars before Landfall", stop="Landfall", times=2)
    )
    assert performance.cues == [(0, "bar 13.1"), (384000, "bar 13.1"), (768000, "Landfall")]


def test_a_guide_of_too_many_notes_or_hours_is_refused():
    made = song([layer("dust", "1/64")], [section("Ebb", 400, ["dust"], tempo="20")])
    with pytest.raises(UsageError, match="about 27200000 notes and clicks, and holds 2000000"):
        Performance(Frame.of(made), GuideOptions(times=1000))
    slow = song([layer("band", 1)], [section("Ebb", 400, ["band"], tempo="20")])
    with pytest.raises(UsageError, match="longer than 24 hours"):
        Performance(Frame.of(slow), GuideOptions(times=30))
