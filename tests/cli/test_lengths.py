"""``lengths``: the contract's JSON, its exit codes, what people read."""

from __future__ import annotations

import json
import math
from fractions import Fraction

import pytest

from bridge.cli.main import main

KEYS = {"period_bars", "period_whole_notes", "lengths", "nearest", "first", "why", "pairs", "written"}
BAND_AND_DRUM = ["--layer", "band=4bars", "--layer", "drum=3/16"]


def ask(capsys, *words: str) -> tuple[int, dict]:
    code = main(["lengths", *words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def read(capsys, *words: str) -> str:
    assert main(["lengths", *words]) == 0
    return capsys.readouterr().out


def test_band_and_drum_come_home_every_12_bars(capsys):
    code, found = ask(capsys, "--meter", "4/4", "--tempo", "115.2", *BAND_AND_DRUM, "--about", "2:30")
    assert code == 0
    assert set(found) == KEYS
    assert found["period_bars"] == "12"
    assert found["period_whole_notes"] == "12"
    assert found["lengths"] == [{"bars": n, "seconds": n * 25 / 12} for n in range(12, 145, 12)]
    assert found["nearest"] == {"bars": 72, "seconds": 150.0}
    assert found["first"] == {"bars": 12, "seconds": 25.0}
    assert found["why"] is None
    assert found["pairs"] == [
        {"layers": ["band", "drum"], "every_whole_notes": "12", "relation": "polymeter"}
    ]


def test_without_a_tempo_seconds_are_null(capsys):
    _, found = ask(capsys, *BAND_AND_DRUM, "--about", "70bars")
    assert found["lengths"][0] == {"bars": 12, "seconds": None}
    assert found["nearest"] == {"bars": 72, "seconds": None}


@pytest.mark.parametrize(
    ("up_to", "count"), [("96bars", 8), ("96", 8), ("95bars", 7), ("3:20", 8), ("3:19.99", 7)]
)
def test_all_up_to_a_bound_are_listed_bound_included(capsys, up_to, count):
    code, found = ask(capsys, "--tempo", "115.2", *BAND_AND_DRUM, "--up-to", up_to)
    assert code == 0
    assert [it["bars"] for it in found["lengths"]] == [12 * n for n in range(1, count + 1)]


def test_none_up_to_the_bound_is_exit_1_with_the_first(capsys):
    code, found = ask(capsys, *BAND_AND_DRUM, "--up-to", "11bars", "--about", "10bars")
    assert code == 1
    assert set(found) == KEYS
    assert (found["lengths"], found["nearest"]) == ([], None)
    assert found["first"] == {"bars": 12, "seconds": None}
    assert "longer than 11 bars" in found["why"]


def test_none_at_all_is_exit_1_and_says_why(capsys):
    code, found = ask(capsys, "--layer", "a=1/2", "--layer", "b=1/2@1/8", "--layer", "c=1/4")
    assert code == 1
    assert set(found) == KEYS
    assert (found["period_bars"], found["period_whole_notes"], found["first"]) == (None, None, None)
    assert "'a' and 'b' are never home together" in found["why"]
    assert [pair["every_whole_notes"] for pair in found["pairs"]] == [None, "1/2", None]


def test_layers_that_meet_off_the_barline_have_a_period_but_no_lengths(capsys):
    code, found = ask(capsys, "--layer", "a=4bars@1/8", "--layer", "b=1/2@1/8")
    assert code == 1
    assert (found["period_bars"], found["period_whole_notes"]) == (None, "4")
    assert "between beats 1 and 2" in found["why"]


def test_a_repeating_list_of_meters(capsys):
    _, found = ask(capsys, "--meter", "4/4,4/4,7/8", "--layer", "half=1/2", "--tempo", "120")
    assert found["period_bars"] == "12"
    assert [it["bars"] for it in found["lengths"][:6]] == [1, 2, 12, 13, 14, 24]
    assert found["lengths"][2]["seconds"] == 23.0


def test_a_cycle_in_bars_over_a_list_is_a_multiple_of_it(capsys):
    code, found = ask(capsys, "--meter", "4/4,4/4,7/8", "--layer", "band=4bars")
    assert code == 2
    assert "nearest is 3 bars" in found["error"]["message"]
    _, found = ask(capsys, "--meter", "4/4,4/4,7/8", "--layer", "band=6bars")
    assert (found["period_bars"], found["period_whole_notes"]) == ("6", "23/4")


def test_names_may_hold_the_signs_of_the_grammar(capsys):
    _, found = ask(capsys, "--layer", "a=b@1x2=3/16@3/4x3/2", "--layer", " bells =3+3+2/8")
    assert found["pairs"][0]["layers"] == ["a=b@1x2", "bells"]
    assert found["pairs"][0]["relation"] == "drift"
    assert found["lengths"][0]["bars"] == 1


@pytest.mark.parametrize(
    ("other", "called"),
    [
        ("3/4", "same"),
        ("3/4@1/8", "same"),
        ("3/4x73/72", "drift"),
        ("3/2x2", "same"),
        ("3+3+2/8", "polymeter"),
    ],
)
def test_the_relation_of_a_pair(capsys, other, called):
    _, found = ask(capsys, "--layer", "a=12/16", "--layer", f"b={other}")
    assert found["pairs"][0]["relation"] == called


def test_resolve_leaves_out_who_need_not_be_home(capsys):
    _, found = ask(capsys, *BAND_AND_DRUM, "--layer", "bells=7/8", "--resolve", "drum", "--resolve", "band")
    assert (found["period_bars"], found["period_whole_notes"]) == ("12", "12")
    assert len(found["pairs"]) == 3


def test_within_a_tolerance_each_length_says_how_far_off_it_is(capsys):
    words = ["--layer", "a=3/4", "--layer", "b=3/4x73/72", "--tempo", "60"]
    _, found = ask(capsys, *words, "--within", "170ms", "--up-to", "57bars")
    assert [it["bars"] for it in found["lengths"]] == [3, 51, 54, 57]
    off = [it["off_ms"] for it in found["lengths"]]
    # Four turns of b are 216/73 whole notes: 3/73 of a whole note, which lasts 4 s, before the barline.
    assert off[0] == float(Fraction(12000, 73))
    assert off[2] == 0
    assert found["lengths"][1]["off_ms_of"]["a"] == 0
    assert found["lengths"][1]["off_ms_of"]["b"] == -found["lengths"][3]["off_ms_of"]["b"]
    assert found["period_bars"] == "54"


def test_within_finds_lengths_where_exactly_there_are_none(capsys):
    words = ["--layer", "a=1/2", "--layer", "b=1/2@1/100", "--tempo", "120"]
    assert ask(capsys, *words)[0] == 1
    code, found = ask(capsys, *words, "--within", "20ms")
    assert code == 0
    assert found["period_bars"] == "1"
    assert found["period_whole_notes"] is None
    assert found["lengths"][0] == {
        "bars": 1,
        "seconds": 2.0,
        "off_ms": 20.0,
        "off_ms_of": {"a": 0.0, "b": 20.0},
    }
    code, found = ask(capsys, *words, "--within", "19.999ms")
    assert code == 1
    assert "no barline is within 19.999 ms" in found["why"]


def test_the_most_lengths_there_may_be(capsys):
    code, found = ask(capsys, "--layer", "a=1/8", "--up-to", "100000bars")
    assert (code, len(found["lengths"])) == (0, 100_000)
    assert ask(capsys, "--layer", "a=1/8", "--up-to", "100001bars")[0] == 2
    assert (
        ask(capsys, "--layer", "a=1/8", "--up-to", "100001bars", "--tempo", "120", "--within", "1ms")[0] == 2
    )


def test_backwards_the_tempo_at_which_bars_last_a_time(capsys):
    code, found = ask(capsys, "--bars", "72", "--lasts", "2:30")
    assert code == 0
    assert found == {
        "bars": 72,
        "lasts_seconds": 150.0,
        "tempo": "115.2",
        "tempo_bpm": 115.2,
        "resolved": None,
    }
    _, found = ask(capsys, "--bars", "72bars", "--lasts", "150s", *BAND_AND_DRUM)
    assert found["resolved"] is True
    _, found = ask(capsys, "--bars", "70", "--lasts", "2:31", "--meter", "4/4,7/8", "--layer", "b=1/2")
    assert Fraction(found["tempo"]) == Fraction(70 * 15, 16) * 240 / 151
    assert found["tempo_bpm"] == float(Fraction(found["tempo"]))
    assert found["resolved"] is False


@pytest.mark.parametrize(("bars", "lasts"), [("1", "9:00"), ("9999", "1s")])
def test_backwards_a_tempo_that_none_can_play_is_exit_1(capsys, bars, lasts):
    code, found = ask(capsys, "--bars", bars, "--lasts", lasts)
    assert code == 1
    assert "1 to 1000" in found["error"]["message"]


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--layer", "a"],
        ["--layer", "=3/16"],
        ["--layer", "a=3"],
        ["--layer", "a=0/4"],
        ["--layer", "a=0bars"],
        ["--layer", "a=-1/4"],
        ["--layer", "a=nan"],
        ["--layer", "a=inf"],
        ["--layer", "a=1e9"],
        ["--layer", "a=1/0"],
        ["--layer", "a=9999999999999/4"],
        ["--layer", "a=3+0+2/8"],
        ["--layer", "a=3+2/0"],
        ["--layer", "a=1/4@"],
        ["--layer", "a=1/4@-1"],
        ["--layer", "a=1/4x0"],
        ["--layer", "a=1/4x-1"],
        ["--layer", "a=1/4x2@1"],
        ["--layer", "a,b=1/4"],
        ["--layer", "a\x1b=1/4"],
        ["--layer", "é" * 101 + "=1/4"],
        ["--layer", "a=1/4", "--layer", " a =1/2"],
        [word for n in range(65) for word in ("--layer", f"l{n}=1/4")],
        ["--layer", "a=1/4", "--resolve", "b"],
        ["--layer", "a=1/4", "--meter", "4/5"],
        ["--layer", "a=1/4", "--meter", "0/4"],
        ["--layer", "a=1/4", "--meter", "4/4,"],
        ["--layer", "a=1/4", "--tempo", "0"],
        ["--layer", "a=1/4", "--tempo", "nan"],
        ["--layer", "a=1/4", "--tempo", "1001"],
        ["--layer", "a=1/4", "--about", "0"],
        ["--layer", "a=1/4", "--about", "2:30"],
        ["--layer", "a=1/4", "--up-to", "2:30"],
        ["--layer", "a=1/4", "--up-to", "-3"],
        ["--layer", "a=1/4", "--within", "20ms"],
        ["--layer", "a=1/4", "--within", "0ms", "--tempo", "120"],
        ["--layer", "a=1/4", "--within", "20", "--tempo", "120"],
        ["--bars", "72"],
        ["--lasts", "2:30"],
        ["--bars", "0", "--lasts", "2:30"],
        ["--bars", "72", "--lasts", "72bars"],
        ["--bars", "72", "--lasts", "2:30", "--tempo", "120"],
        ["--bars", "72", "--lasts", "2:30", "--resolve", "a"],
        ["--no-such-option"],
        ["--layer"],
    ],
)
def test_bad_usage_is_exit_2_in_words_and_json(capsys, words):
    code, found = ask(capsys, *words)
    assert code == 2
    assert found["error"]["kind"] == "usage"
    assert found["error"]["message"]
    assert main(["lengths", *words]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "Traceback" not in shown.err


@pytest.mark.parametrize(
    "words",
    [
        ["--layer", "a=99999999999/1", "--layer", "b=99999999998/1"],
        ["--layer", "a=1/99999999999", "--meter", "99999999999/64"],
        ["--layer", "a=999999/999983x999979/999961", "--layer", "b=999953/999931", "--tempo", "1000"],
        [w for n in range(64) for w in ("--layer", f"l{n}={10**11 - 1 - 2 * n}/1@{n}/7")],
        [
            "--meter",
            ",".join(["4/4", "7/8"] * 300),
            "--layer",
            "a=1/64",
            "--within",
            "1ms",
            "--tempo",
            "77.7",
        ],
    ],
)
def test_enormous_numbers_do_no_harm(capsys, words):
    for form in ([], ["--json"], ["--why"]):
        assert main(["lengths", *words, *form]) in (0, 1, 2)
        shown = capsys.readouterr()
        assert "fault of ours" not in shown.err


def test_the_sum_is_written_as_a_teacher_would(capsys):
    shown = read(capsys, *BAND_AND_DRUM, "--why")
    assert "drum: 3 bars = 48 sixteenths = 16 turns of 3\n" in shown
    assert "band: 4 bars = 64 sixteenths = 1 turn of 64\n" in shown
    assert "192 is the least number that 16 (the bar), 64 (band) and 3 (drum) all divide" in shown
    _, found = ask(capsys, *BAND_AND_DRUM, "--why")
    assert "12 bars = 192 sixteenths = 3 turns of 64 (band) = 64 turns of 3 (drum)\n" in found["why"]
    _, found = ask(capsys, "--layer", "shaker=5/8@1/4", "--why")
    assert "4 bars = 32 eighths = 2 to the first home + 6 turns of 5" in found["why"]


def test_people_see_times_turns_and_the_meetings_on_the_way(capsys):
    shown = read(capsys, "--tempo", "115.2", *BAND_AND_DRUM, "--about", "2:30")
    assert "    72  2:30                     5    18   384\n" in shown
    assert "Nearest to 2:30: 72 bars, 2:30." in shown
    assert "band and drum (polymeter, every 12 whole notes): 5 times, at 13.1, 25.1, 37.1," in shown


@pytest.mark.parametrize(
    "words",
    [
        BAND_AND_DRUM,
        [*BAND_AND_DRUM, "--layer", "a very long name for a layer=7/8", "--tempo", "115.2", "--why"],
        ["--layer", "a=5/8", "--layer", "b=7/16", "--layer", "c=11/16", "--meter", "2+2+3/8", "--why"],
        ["--layer", "a=3/4", "--layer", "b=3/4x73/72", "--tempo", "115.2", "--within", "20ms", "--why"],
        [w for n in range(12) for w in ("--layer", f"layer {n}={n + 1}/8")],
        ["--meter", "99/64", "--layer", "a=1/64"],
    ],
)
def test_what_people_read_fits_80_columns(capsys, words):
    for line in read(capsys, *words).splitlines():
        assert len(line) <= 80


def test_people_see_when_all_of_three_meet_and_when_pairs_come_near(capsys):
    shown = read(capsys, *BAND_AND_DRUM, "--layer", "bells=5/4", "--about", "60bars")
    assert "all of them (full meetings, every 60 whole notes): not at all" in shown
    drifting = ["--layer", "a=3/4", "--layer", "b=3/4x73/72", "--tempo", "120"]
    shown = read(capsys, *drifting, "--within", "25ms")
    assert "near 2 times, at 0:01.48\n    (20.5 ms apart), 1:46.50 (20.5 ms apart)\n" in shown
    shown = " ".join(read(capsys, *drifting, "--within", "800ms").split())
    assert "always near, since 800 ms is half a turn or more" in shown


def test_a_terminal_that_holds_only_ascii_gets_only_ascii(capsys, monkeypatch):
    monkeypatch.setattr("bridge.cli.lengths.plain_ascii", lambda: True)
    assert read(capsys, *BAND_AND_DRUM).isascii()


def test_seconds_are_the_nearest_doubles(capsys):
    _, found = ask(capsys, "--tempo", "97.3", "--meter", "7/8", "--layer", "a=7/8")
    assert math.isclose(found["lengths"][2]["seconds"], 3 * 3.5 * 60 / 97.3, rel_tol=1e-15)
