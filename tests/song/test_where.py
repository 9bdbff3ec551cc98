"""Places as people say them."""

from __future__ import annotations

import pytest

from bridge.errors import PlanError, UsageError
from bridge.exact import Place
from bridge.song import place_named
from tests.out.songs import layer, section, song


@pytest.fixture
def made():
    sections = [
        section("Prelude", 4, ["band"]),
        section("End of days", 8, ["band"]),
        section("Landfall", 4, ["band"], meter="3/4"),
    ]
    return song([layer("band", 1)], sections)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("Landfall", "12"),
        (" Landfall ", "12"),
        ("End", "15"),
        ("1", "0"),
        ("13", "12"),
        ("bar 13", "12"),
        ("13.3", "25/2"),
        ("13.3+1/16", "201/16"),
        ("4 bars before Landfall", "8"),
        ("1 bar after Landfall", "51/4"),
        ("2 bars before End", "27/2"),
        ("1 bar before 2 bars after Landfall", "51/4"),
        ("end of Prelude", "4"),
        ("end of Landfall", "15"),
        ("End of days", "4"),
        ("end of End of days", "12"),
        ("3 bars before bar 5", "1"),
    ],
)
def test_a_place_is_understood(made, text, place):
    assert place_named(made, text) == Place(place)


@pytest.mark.parametrize("text", ["", "Landfal", "end of Landfal", "before Landfall", "24 bars", "\x1b[31m"])
def test_what_names_no_place_is_refused_with_the_sections(made, text):
    with pytest.raises((UsageError, PlanError)) as caught:
        place_named(made, text)
    assert caught.value.exit_code == 2


def test_a_near_miss_is_offered(made):
    with pytest.raises(UsageError, match="Did you mean 'Landfall'"):
        place_named(made, "landfall")


@pytest.mark.parametrize("text", ["0", "-3", "99", "13 bars before Landfall", "1 bar after End"])
def test_a_place_outside_the_song_is_refused_with_its_bar(made, text):
    with pytest.raises(UsageError, match="outside the song"):
        place_named(made, text)
