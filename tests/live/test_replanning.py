"""The rest of a song planned anew, by the planner in a process of its own."""

import asyncio

import pytest

from bridge.live.replanning import Refused, replan
from tests.show.songs import song_of

PLAN = """
pulsebridge: 1
title: Slack Water
tempo: 120
meter: 4/4
total: {about: "3:28"}
layers:
  band: {cycle: 4 bars}
  drum: {cycle: 3/16}
sections:
  - {name: Prelude, layers: [band], bars: 8}
  - {name: Crossing, layers: [band, drum], length: {about: "0:48"}}
  - {name: Landfall, layers: [band, drum], length: {about: "0:48"}, pays_off: {section: Crossing, ratio: 1}}
  - {name: Ebb, layers: [band], length: {about: "1:36"}}
"""


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "slack.yaml"
    path.write_text(PLAN)
    return path


def test_a_longer_build_makes_its_payoff_grow_and_the_end_shrink(plan):
    before = {placed.name: placed.bars for placed in song_of(PLAN).sections}
    assert before == {"Prelude": 8, "Crossing": 24, "Landfall": 24, "Ebb": 48}
    offer = asyncio.run(replan(plan, played=[("Prelude", 8), ("Crossing", 48)]))
    rest = dict(offer.bars)
    # hand arithmetic: two seconds a bar; Landfall has at least as many as Crossing got, in twelves
    assert rest["Landfall"] == 48
    assert rest["Ebb"] < 48
    assert offer.total_seconds == 2 * (8 + 48 + 48 + rest["Ebb"])
    assert "Landfall grows from 24 to 48 bars" in offer.in_words(song_of(PLAN))


def test_what_cannot_be_kept_any_more_is_named(plan):
    plan.write_text(
        PLAN.replace(
            'length: {about: "0:48"}, pays_off', 'length: {about: "0:48", at_most: 24 bars}, pays_off'
        )
    )
    with pytest.raises(Refused, match="cannot all be kept"):
        asyncio.run(replan(plan, played=[("Prelude", 8), ("Crossing", 48)]))


def test_a_section_that_was_left_out_is_nobodys_demand(plan):
    offer = asyncio.run(replan(plan, played=[("Prelude", 8), ("Crossing", 0)]))
    assert set(dict(offer.bars)) == {"Landfall", "Ebb"}


def test_a_plan_that_cannot_be_read_is_said(tmp_path):
    with pytest.raises(Refused, match="cannot be read"):
        asyncio.run(replan(tmp_path / "none.yaml", played=[("Prelude", 8)]))
