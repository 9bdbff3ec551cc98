"""``find``: the cycles whose first full meeting with the others is the landing."""

from __future__ import annotations

import json

import pytest

from bridge.cli.main import main

SEVENTEEN = ["--bars", "68", "--layer", "band=4bars", "--for", "drum"]


def ask(capsys, *words: str) -> tuple[int, dict]:
    code = main(["find", *words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_seventeen_sixteenths_meet_four_bar_phrases_first_after_68_bars(capsys):
    code, found = ask(capsys, "--meter", "4/4", *SEVENTEEN)
    assert code == 0
    assert found == {"cycles": ["17/16", "17/8", "17/4", "17/2", "17", "34", "68"], "why": None}


def test_a_coarser_grid_leaves_out_what_is_between(capsys):
    assert ask(capsys, *SEVENTEEN, "--grid", "1/8")[1]["cycles"][0] == "17/8"


def test_others_that_start_late_are_counted_from_their_first_home(capsys):
    _, found = ask(capsys, "--bars", "3", "--layer", "band=2/1@1/1", "--for", "drum", "--grid", "1/2")
    # The band is home at 1 and 3: a cycle that divides 3 but not 1 meets it first at 3.
    assert found["cycles"] == ["3/2", "3"]


def test_a_repeating_list_of_meters_makes_the_span(capsys):
    _, found = ask(capsys, "--meter", "4/4,7/8", "--bars", "2", "--layer", "band=2bars", "--for", "it")
    assert found["cycles"] == ["1/16", "1/8", "3/16", "5/16", "3/8", "5/8", "15/16", "15/8"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--bars", "70", "--layer", "band=4bars", "--for", "drum"], "they meet at 68 and at 72"),
        (
            ["--bars", "68", "--layer", "a=4bars", "--layer", "b=4bars@1/8", "--for", "c"],
            "never home together",
        ),
        (
            ["--bars", "1", "--meter", "7/8", "--layer", "a=1bars", "--for", "c", "--grid", "1/4"],
            "no multiple",
        ),
    ],
)
def test_none_is_exit_1_and_says_why(capsys, words, said):
    code, found = ask(capsys, *words)
    assert (code, found["cycles"]) == (1, [])
    assert said in found["why"]
    assert main(["find", *words]) == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    assert said in shown.err


def test_people_read_the_turns_and_how_often_the_pairs_meet(capsys):
    assert main(["find", *SEVENTEEN, "--layer", "bells=1/1"]) == 0
    shown = capsys.readouterr().out
    assert "  17/16     64           1            4\n" in shown
    assert max(map(len, shown.splitlines())) <= 80


@pytest.mark.parametrize(
    "words",
    [
        ["--bars", "68", "--for", "drum"],
        ["--bars", "68", "--layer", "band=4bars"],
        ["--layer", "band=4bars", "--for", "drum"],
        ["--bars", "0", "--layer", "band=4bars", "--for", "drum"],
        ["--bars", "2:30", "--layer", "band=4bars", "--for", "drum"],
        ["--bars", "nan", "--layer", "band=4bars", "--for", "drum"],
        ["--bars", "68", "--layer", "band=4bars", "--for", "band"],
        ["--bars", "68", "--layer", "band=4bars", "--for", ""],
        ["--bars", "68", "--layer", "band=4bars", "--for", "a,b"],
        ["--bars", "68", "--layer", "band=4bars", "--for", "drum", "--grid", "0"],
        ["--bars", "68", "--layer", "band=4bars", "--for", "drum", "--grid", "-1/16"],
        ["--bars", "4000000", "--layer", "band=4bars", "--for", "drum", "--grid", "1/99999999999"],
    ],
)
def test_bad_usage_is_exit_2_in_words_and_json(capsys, words):
    code, found = ask(capsys, *words)
    assert code == 2
    assert found["error"]["kind"] == "usage"
    assert main(["find", *words]) == 2
    assert capsys.readouterr().out == ""
