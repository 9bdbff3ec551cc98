"""The example of what goes on until it is released: it solves, and its cues fall where they should."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.form import read_form
from bridge.plan import Plan, dump, load
from bridge.shape import Solved, solve
from bridge.song import Song, asked_cues, lost_cues, unroll

EXAMPLE = Path(__file__).parents[2] / "examples" / "slack-water.yaml"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return load(EXAMPLE.read_bytes(), source=EXAMPLE.name)


@pytest.fixture(scope="module")
def song(plan: Plan) -> Song:
    outcome = solve(plan)
    assert isinstance(outcome, Solved)
    assert outcome.proven
    return unroll(plan, outcome.bars)


def test_it_solves_with_proof_and_every_free_second_counts(song: Song) -> None:
    assert [(placed.name, placed.bars) for placed in song.sections] == [
        ("Fog", 1),
        ("Still", 12),
        ("Turn", 48),
        ("Gap", 1),
        ("Landfall", 36),
    ]
    assert song.seconds(song.sections[1].start) == 40
    assert song.seconds(song.sections[4].start) - song.seconds(song.sections[3].start) == 20
    assert all(placed.resolved for placed in song.sections)


def test_its_cues_stand_where_they_are_told_from_their_sections(song: Song) -> None:
    found = [(str(song.bars.bar_beat(asked.place)), asked.cue.say) for asked in asked_cues(song)]
    assert [said for said in found if said[1]] == [
        ("12.1", "bells next"),
        ("38.1", "look up"),
        ("54.1", "eight more"),
    ]
    assert len(found) == 6
    assert lost_cues(song) == ()


def test_it_can_be_written_and_read_again_and_its_form_be_read(plan: Plan, song: Song) -> None:
    assert load(dump(plan)) == plan
    report = read_form(plan, tuple(placed.bars for placed in song.sections), solves=5)
    assert {reading.finding.rule.name for reading in report.readings} <= {"always tutti"}
