"""``tighten``, ``drift``, ``groove`` and ``pairings``: JSON, exit codes, what people read."""

from __future__ import annotations

import io
import json
import sys

import pytest

from bridge.cli.main import main

BUILD = ["tighten", "--cycles", "5/8,4/8,3/8,2/8"]
BELL = ["drift", "--pattern", "x.xx.x.xx.x."]
DRUMS = ["groove", "--voice", "low=x..x..x.x..x..x.", "--voice", "high=.xx.xx.x.xx.xx.x"]
FOUR = ["pairings"] + [
    word for layer in ("band=4bars", "drum=3/16", "bells=3+3+2/8", "keys=5/8") for word in ("--layer", layer)
]


def ask(capsys, *words: str) -> tuple[int, dict]:
    code = main([*words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def read(capsys, *words: str) -> str:
    assert main(list(words)) == 0
    return capsys.readouterr().out


# tighten


def test_tighten_fills_fourteen_bars_with_eight_turns_each(capsys):
    code, found = ask(capsys, *BUILD, "--over", "14bars", "--tempo", "120")
    assert code == 0
    assert [stage["turns"] for stage in found["stages"]] == [8, 8, 8, 8]
    assert found["stages"][1] == {
        "cycle": "4/8",
        "turns": 8,
        "from": "6.1",
        "from_whole_notes": "5",
        "whole_notes": "4",
        "ideal_whole_notes": "4",
        "seconds": 8.0,
    }
    assert found["deviation_whole_notes"] == "0"
    assert (found["why"], found["nearest"]) == (None, [])


def test_tighten_says_what_cannot_be_filled_and_the_nearest_that_can(capsys):
    code, found = ask(capsys, *BUILD, "--over", "72")
    assert code == 1
    assert (found["stages"], found["deviation_whole_notes"], found["nearest"]) == ([], None, [70, 77])
    assert main([*BUILD, "--over", "72"]) == 1
    said = capsys.readouterr().err
    assert "70 bars and 77 bars" in said
    assert "41, 41, 41, 42 (--share near-turns)" in said


def test_tighten_without_a_tempo_tells_no_seconds(capsys):
    _, found = ask(capsys, *BUILD, "--over", "14")
    assert found["stages"][0]["seconds"] is None


def test_tighten_quickens_by_a_ratio(capsys):
    words = ["tighten", "--cycles", "4/8,2/8,1/8", "--over", "13", "--share", "quickening", "--ratio", "1/3"]
    _, found = ask(capsys, *words)
    assert [stage["whole_notes"] for stage in found["stages"]] == ["9", "3", "1"]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--over", "14", "--share", "tuns"], "Did you mean 'turns'?"),
        (["--over", "0"], "--over"),
        (["--over", "14", "--ratio", "2"], "less than 1"),
        (["--over", "2:30"], "whole bars"),
    ],
)
def test_tighten_refuses_what_it_cannot_read(capsys, more, said):
    assert main([*BUILD, *more]) == 2
    assert said in capsys.readouterr().err


def test_tighten_refuses_cycles_that_do_not_shrink(capsys):
    assert main(["tighten", "--cycles", "3/8,4/8", "--over", "7"]) == 2
    assert "--cycles: the cycles of a tightening shrink" in capsys.readouterr().err


# drift


def test_drift_finds_the_rate_and_the_bars_of_each_shift(capsys):
    code, found = ask(capsys, *BELL, "--lasts", "54bars", "--tempo", "120")
    assert code == 0
    assert (found["rate"], found["bars"], found["second_turns"], found["seconds"]) == ("73/72", 54, 73, 108.0)
    assert [shift["from"] for shift in found["shifts"]][:4] == ["1.1", "5.3", "10.1", "14.3"]
    assert [shift["shared"] for shift in found["shifts"]] == [7, 2, 5, 4, 3, 6, 2, 6, 3, 4, 5, 2, 7]
    assert found["shifts"][1]["heard"] == {
        "as_one_whole_notes": ["1071/250", "1179/250"],
        "flam_whole_notes": ["27/10", "63/10"],
    }


def test_drift_without_a_tempo_says_nothing_of_the_ear(capsys):
    _, found = ask(capsys, *BELL, "--lasts", "54")
    assert found["seconds"] is None
    assert {shift["heard"] for shift in found["shifts"]} == {None}


def test_drift_in_steps_has_no_rate(capsys):
    _, found = ask(capsys, *BELL, "--lasts", "72bars", "--as", "steps")
    assert (found["rate"], found["rate_heard"], found["locked_turns"]) == (None, None, "8")


def test_drift_live_locks_and_slides(capsys):
    _, found = ask(capsys, *BELL, "--lasts", "72bars", "--as", "live", "--slide", "2")
    assert (found["rate"], found["locked_turns"], found["sliding_turns"]) == ("25/24", "6", "2")


def test_drift_takes_a_number_of_notes_and_a_wish_in_time(capsys):
    _, found = ask(capsys, "drift", "--pattern", "12", "--lasts", "1:48", "--tempo", "120", "--behind")
    assert (found["pattern"], found["bars"], found["rate"]) == ("x" * 12, 54, "71/72")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--lasts", "1:48"], 2, "needs a tempo"),
        (["--lasts", "4bars", "--as", "live"], 1, "too few to slide"),
        (["--lasts", "54bars", "--as", "gradually"], 2, "Did you mean 'gradual'?"),
        (["--lasts", "54bars", "--slide", "2"], 2, "only a live drift"),
        (["--lasts", "54bars", "--unit", "0"], 2, "longer than 0"),
        (["--lasts", "54bars", "--pattern", "999999999999"], 2, "1 to 1024 steps"),
    ],
)
def test_drift_refuses_with_what_to_do(capsys, words, code, said):
    assert main([*BELL, *words]) == code
    assert said in capsys.readouterr().err


# groove


def test_groove_counts_measures_and_varies_each_voice(capsys):
    code, found = ask(capsys, *DRUMS)
    assert code == 0
    low, high = found["voices"]
    assert (low["name"], low["pattern"]) == ("low", "x..x..x.|x..x..x.")
    assert low["groupings"][0] == {
        "groups": [[3, 3, 2], [3, 3, 2]],
        "misfit": 0,
        "silent_heads": 0,
        "stray_hits": 0,
        "stray_accents": 0,
    }
    assert low["measures"]["note_to_beat"] == "2/3"
    swapped = [one for one in found["variations"] if one["how"] == "low and high swap in bar 2"]
    assert swapped == [
        {
            "name": "invert",
            "how": "low and high swap in bar 2",
            "voices": {"low": "x..x..x.|.xx.xx.x", "high": ".xx.xx.x|x..x..x."},
            "steps_changed": 16,
            "moves": 10,
        }
    ]
    assert high["measures"]["hits"] == 10


@pytest.mark.parametrize("written", ["x..x..x.", "3+3+2", "1,4,7/8"])
def test_groove_reads_signs_groups_and_steps(capsys, written):
    _, found = ask(capsys, "groove", "--voice", f"bells={written}")
    assert found["voices"][0]["pattern"] == "x..x..x."


def test_groove_under_an_enormous_meter_is_still_counted(capsys):
    code, found = ask(capsys, "groove", "--voice", "low=x..x..x.", "--meter", "999999999999/1")
    assert code == 0
    assert found["voices"][0]["groupings"][0]["groups"] == [[3, 3, 2]]


def test_groove_tells_null_where_a_measure_is_not_defined(capsys):
    _, found = ask(capsys, "groove", "--voice", "drum=x.x", "--unit", "1/16")
    measures = found["voices"][0]["measures"]
    assert (measures["note_to_beat"], measures["keith"], measures["syncopation"]) == (None, None, None)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ([], 2, "no voice is given"),
        (["--voice", "x..x"], 2, "NAME=PATTERN"),
        (["--voice", "low=x..o"], 2, "cannot hold 'o'"),
        (["--voice", "low=x.", "--voice", "low=.x"], 2, "two voices named 'low'"),
        (["--voice", "low=x.", "--voice", "high=x"], 2, "equally many steps"),
        (["--voice", "low=x..x.", "--parts", "4"], 1, "cannot fill"),
        (["--voice", "low=x..x.", "--parts", "two"], 2, "--parts"),
        (["--voice", "low=1,9/8"], 2, "8 steps has no step 9"),
        (["--voice", "low=999999+999999"], 2, "1 to 1024 steps"),
        (["--voice", "low=1/999999999999"], 2, "1 to 1024 steps"),
        (["--voice", "low=" + "x" * 2000], 2, "1 to 1024 steps"),
    ],
)
def test_groove_refuses_with_what_to_do(capsys, words, code, said):
    assert main(["groove", *words]) == code
    assert said in capsys.readouterr().err


# pairings


def test_pairings_lists_all_and_orders_them(capsys):
    code, found = ask(capsys, *FOUR, "--sections", "6")
    assert code == 0
    assert found["pairings"][0] == {
        "layers": ["band", "drum"],
        "period_whole_notes": "12",
        "period_bars": 12,
        "first_meeting_whole_notes": "0",
        "meetings": 1,
        "onsets": 66,
        "shared": 1,
        "onsets_per_whole_note": "11/2",
    }
    assert len({tuple(pair) for pair in found["order"]}) == 6
    assert (found["longest_stay"], found["proven"], found["why"]) == (3, True, None)


def test_pairings_without_sections_orders_nothing(capsys):
    _, found = ask(capsys, *FOUR)
    assert (found["order"], found["longest_stay"], found["proven"]) == (None, None, None)


def test_pairings_says_when_no_order_can_be(capsys):
    words = [*FOUR, "--sections", "2"]
    for pair in ("band+bells", "band+keys", "drum+bells", "drum+keys"):
        words += ["--without", pair]
    code, found = ask(capsys, *words)
    assert code == 1
    assert (found["order"], found["proven"]) == (None, True)
    assert "never bells + keys" in found["why"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "no layer is given"),
        ([*FOUR[1:], "--sizes", "5"], "cannot be made of 4 layers"),
        ([*FOUR[1:], "--sections", "3", "--first", "band+bell"], "Did you mean 'bells'?"),
        ([*FOUR[1:], "--sections", "none"], "--sections"),
    ],
)
def test_pairings_refuses_with_what_to_do(capsys, words, said):
    assert main(["pairings", *words]) == 2
    assert said in capsys.readouterr().err


# what people read

ALL = [
    [*BUILD, "--over", "14bars", "--tempo", "115.2"],
    [*BUILD, "--over", "72bars", "--share", "time", "--meter", "4/4,7/8"],
    [*BELL, "--lasts", "54bars", "--tempo", "115.2"],
    [*BELL, "--lasts", "72bars", "--as", "live"],
    ["drift", "--pattern", "60", "--unit", "1/64", "--lasts", "2:00", "--tempo", "200"],
    DRUMS,
    ["groove", "--voice", "a very long name for a voice=" + "x..x..x." * 12, "--unit", "1/8"],
    [*FOUR, "--sections", "25"],
    [*FOUR, "--sizes", "2,3"],
]


@pytest.mark.parametrize("words", ALL, ids=lambda words: " ".join(words)[:40])
def test_it_fits_eighty_columns(capsys, words):
    assert max(map(len, read(capsys, *words).splitlines())) <= 80


@pytest.mark.parametrize("words", ALL, ids=lambda words: " ".join(words)[:40])
def test_a_plain_terminal_gets_plain_ascii(monkeypatch, words):
    plain = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", plain)
    assert main(words) == 0
    plain.flush()
    text = plain.buffer.getvalue().decode("ascii")
    assert text
    assert "\\u" not in text


def test_the_drawings_show_turns_shifts_strokes_and_sections(capsys):
    assert "●····●····" in read(capsys, *BUILD, "--over", "14")
    assert "5.3" in (shown := read(capsys, *BELL, "--lasts", "54bars", "--tempo", "115.2"))
    assert "By ear" in shown
    assert "○··○··○·│○··○··○·" in read(capsys, *DRUMS)
    assert "no order does with fewer" in read(capsys, *FOUR, "--sections", "6")
