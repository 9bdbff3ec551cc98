"""Readings on plans with free passages and cues: who plays freely is heard, no beat is looked for there."""

from __future__ import annotations

import pytest

from bridge.form import read_form
from bridge.form.edits import Bar, Sounding
from bridge.form.score import Score
from bridge.plan import Plan
from bridge.shape import Solved, solve
from tests.form.plans import CROSSING, EBB, LANDFALL, PRELUDE, SLACK, WEAK, plan, text

FOG = '{name: Fog, free: {about: "0:40"}, layers: [bells], energy: 15}'
QUIET = PRELUDE.replace("[10, 20]", "10")


def names(given: Plan, *, solves: int = 0) -> list[str]:
    solved = solve(given)
    assert isinstance(solved, Solved)
    return [one.finding.rule.name for one in read_form(given, solved.bars, solves=solves).readings]


def test_a_good_plan_that_begins_freely_is_still_a_good_plan() -> None:
    assert names(plan(text(FOG, SLACK, CROSSING, LANDFALL, EBB))) == []


def test_who_plays_freely_alone_is_heard_alone() -> None:
    given = WEAK["nobody alone"]
    assert names(plan(given)) == ["nobody alone"]
    alone = given.replace(
        "sections:\n", 'sections:\n  - {name: Fog, free: {about: "0:40"}, layers: [drum]}\n'
    )
    assert "nobody alone" not in names(plan(alone))


def test_a_free_passage_has_no_tempo_that_could_rise_or_cut_anybody() -> None:
    given = plan(text(QUIET, FOG.replace("15", "10"), SLACK.replace("25", "60"), CROSSING, LANDFALL, EBB))
    assert "no sign" in names(given)
    cut = PRELUDE.replace("bars: 20", "bars: 19, resolve: []")
    assert "change away from home" not in names(plan(text(cut, FOG, SLACK, CROSSING, LANDFALL, EBB)))


def test_a_cue_that_says_something_in_a_low_passage_is_a_sign_of_what_is_coming() -> None:
    given = WEAK["no sign"]
    assert names(plan(given)) == ["no sign"]
    quiet = "energy: 10}"
    assert quiet in given
    for cue, found in (
        ("{at: end - 4 bars, say: the drum is coming}", []),
        ("{at: end - 4 bars, send: {program: 1, channel: 1}}", ["no sign"]),
    ):
        assert names(plan(given.replace(quiet, f"energy: 10, cues: [{cue}]}}", 1))) == found


def test_a_cue_of_the_next_section_that_stands_in_the_passage_counts_there() -> None:
    given = WEAK["no sign"].replace(
        "energy: 60}", "energy: 60, cues: [{at: start - 4 bars, say: band next}]}", 1
    )
    assert names(plan(given)) == []


def test_no_remedy_gives_a_free_passage_bars_or_turns() -> None:
    given = plan(text(FOG, SLACK, CROSSING, LANDFALL, EBB))
    for edit in (Bar(section=0, bars=4, before=1), Sounding(section=0, layers=("band",))):
        with pytest.raises(Exception, match="free passage"):
            edit.apply(given)


@pytest.mark.parametrize("name", WEAK)
def test_every_weak_plan_can_be_read_and_mended_with_a_free_passage_in_it(name: str) -> None:
    freely = WEAK[name].replace("sections:\n", 'sections:\n  - {name: Fog, free: {about: "0:20"}}\n')
    given = plan(freely)
    solved = solve(given)
    assert isinstance(solved, Solved)
    for reading in read_form(given, solved.bars, solves=20).readings:
        if reading.remedy is not None:
            mended = Score.of(reading.remedy.plan, reading.remedy.bars)
            assert mended.plan.sections[0] == given.sections[0]
