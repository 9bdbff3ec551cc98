"""The drawing of layers over bars: every home where it is, at 80 columns."""

from __future__ import annotations

from bridge.cli.drawing import Signs, draw
from bridge.cycles import Layer
from bridge.exact import Length, Meters, Ratio

PLAIN = Signs.of(plain=True)


def layer(name, cycle, start=0, rate=1):
    return Layer(name=name, cycle=Length(cycle), start=Length(start), rate=Ratio(rate))


def test_a_short_period_is_drawn_note_by_note_with_the_landing():
    drawn = draw(Meters.parse("4/4"), [layer("band", 3), layer("drum", "3/16")], bars=3, signs=PLAIN)
    assert drawn == [
        "                1                2                3                4",
        "band           |@   .   .   .   |.   .   .   .   |.   .   .   .   |@",
        "drum           |@  o. o .o  o  o|. o .o  o  o. o |.o  o  o. o .o  |@",
        "",
        "o home   @ home with another   . beat",
    ]


def test_meters_of_a_list_keep_their_own_width():
    drawn = draw(Meters.parse("4/4,7/8"), [layer("a", "1/2"), layer("b", "15/8")], bars=2, signs=PLAIN)
    assert drawn[:3] == [
        "                1        2       3",
        "a              |@ . o . |o...o..|",
        "b              |@ . . . |.......|o",
    ]


def test_homes_between_the_columns_are_told_apart():
    drawn = draw(Meters.parse("4/4"), [layer("sevenths", "2/7"), layer("bar", 1)], bars=1, signs=PLAIN)
    assert drawn[1] == "sevenths       |@   +   .+  .+  |"
    assert drawn[2] == "bar            |@   .   .   .   |o"
    assert "+ home, a little later" in drawn[-1]


def test_a_long_period_is_drawn_with_one_sign_a_bar():
    layers = [layer("figure", "5/8"), layer("phrase", 3)]
    drawn = draw(Meters.parse("4/4"), layers, bars=105, signs=PLAIN)
    assert drawn[1].startswith("figure         @++++o++ ++o++++@")
    assert drawn[2].startswith("phrase         @..o..o. .o..o..@")
    assert drawn[5].endswith("|@")
    assert max(map(len, drawn)) <= 80


def test_what_is_too_long_is_begun_and_says_so():
    drawn = draw(Meters.parse("4/4"), [layer("a", 1000003)], bars=1000003, signs=PLAIN)
    assert drawn[-1] == "These are the first 448 of 1,000,003 bars."
    assert len(drawn) < 40
