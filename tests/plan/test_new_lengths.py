"""New lengths in a plan's text: only the numbers change."""

import pytest

from bridge.errors import PlanError
from bridge.plan import load
from bridge.plan.new_lengths import with_lengths

PLAN = """# the tide
pulsebridge: 1
title: Low Tide Relay
tempo: 120
meter: 4/4
layers: {band: {cycle: 1/4}}
sections:
  - {name: Prelude, layers: [band], bars: 16}   # sixteen
  - name: Crossing
    layers: [band]
    length:                # a wish
      about: "0:30"        # half a minute
      at_most: 96 bars
  - {name: Landfall, layers: [band], length: {at_least: 4 bars, at_most: 40 bars}, energy: 100}
  - name: Undertow
    layers: [band]
    length:
      at_least: '8 bars'
  - {name: Ebb, layers: [band], same_length_as: Prelude}
"""


def test_a_fixed_number_a_wish_and_a_bound_change_in_place_and_nothing_else_does():
    text = with_lengths(PLAN, {0: 12, 1: 20, 2: 10, 3: 9})
    assert text == PLAN.replace("bars: 16}   # six", "bars: 12}   # six").replace(
        'about: "0:30"        #', "about: 20 bars        #"
    ).replace("{at_least: 4 bars,", "{about: 10 bars, at_least: 4 bars,").replace(
        "      at_least: '8 bars'", "      about: 9 bars\n      at_least: '8 bars'"
    )
    wishes = [section.about for section in load(text).sections]
    assert [str(wish) for wish in wishes[1:4]] == ["20 bars", "10 bars", "9 bars"]


def test_bounds_are_changed_too_where_the_wish_alone_would_not_do():
    text = with_lengths(PLAN, {1: 20, 2: 10}, bound=True)
    sections = load(text).sections
    for section, bars in ((sections[1], 20), (sections[2], 10)):
        assert str(section.about) == str(section.at_least) == str(section.at_most) == f"{bars} bars"
    assert "# half a minute" in text


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_line_ends_and_a_byte_order_mark_stay(ending):
    plan = "\ufeff" + PLAN.replace("\n", ending)
    text = with_lengths(plan, {0: 12, 3: 9})
    assert text[0] == "\ufeff"
    assert text.count("\n") == text.count(ending) == PLAN.count("\n") + 1
    assert load(text.encode()).sections[0].bars == 12


def test_a_length_that_is_another_sections_is_refused_where_it_stands():
    with pytest.raises(PlanError, match="no length of its own") as caught:
        with_lengths(PLAN, {4: 12})
    assert caught.value.where.line == PLAN.count("\n")


@pytest.mark.parametrize("bound", [False, True])
@pytest.mark.parametrize(
    "written",
    [
        "{name: Still, layers: [band], vamp: {at_least: 4 bars}}",
        "name: Still\n    layers: [band]\n    vamp: {at_least: 4 bars}",
    ],
)
def test_a_vamp_that_has_no_other_length_gets_one(written, bound):
    plan = PLAN + f"  - {written}\n"
    section = load(with_lengths(plan, {5: 12}, bound=bound)).sections[5]
    assert str(section.about) == "12 bars"
    assert section.vamp == load(plan).sections[5].vamp
    assert [str(section.at_least), str(section.at_most)] == (["12 bars"] * 2 if bound else ["None"] * 2)


def test_a_free_passage_has_no_bars_to_be_changed():
    with pytest.raises(PlanError, match="free passage") as caught:
        with_lengths(PLAN + '  - {name: Fog, free: {about: "0:45"}}\n', {5: 2})
    assert caught.value.where is not None
