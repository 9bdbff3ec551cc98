"""Plan keys ``pickup`` and ``count_in``: read, written back, refused where nobody could follow them."""

from __future__ import annotations

import pytest

from bridge.errors import PlanError
from bridge.exact import Length
from bridge.plan import dump, load, schema

TEXT = """pulsebridge: 1
tempo: 120
meter: [4/4, 3/4]
layers:
  band: {cycle: 2 bars}
  late: {cycle: 1/4, start: 1/8}
sections:
  - {name: Ebb, layers: [band], bars: 4, runs_on: true}
  - {name: Swell, layers: [band, late], bars: 4, resolve: []}
  - {name: Landfall, layers: [band], bars: 4}
"""


def with_key(name: str, key: str) -> str:
    head, sign, rest = TEXT.partition(f"name: {name},")
    return f"{head}{sign} {key},{rest}"


def test_both_are_read_and_written_back():
    plan = load(with_key("Landfall", "pickup: 3/16, count_in: 2 bars"))
    assert plan.sections[2].pickup == Length("3/16")
    assert [section.count_in for section in plan.sections] == [0, 0, 2]
    assert load(dump(plan)) == plan
    assert load(with_key("Ebb", "count_in: 1")).sections[0].count_in == 1


@pytest.mark.parametrize(
    ("name", "key", "message"),
    [
        ("Landfall", "pickup: 13/16", "the bar before it only 3/4"),
        ("Ebb", "pickup: 1", "the bar before it only 3/4"),
        ("Swell", "pickup: 1/4", "nobody can play the pickup of 'Swell'"),
        ("Landfall", "pickup: 1 bar", "in whole notes, not bars"),
        ("Landfall", "pickup: 0", "more than 0"),
        ("Landfall", "count_in: 17", "1 to 16 bars, not 17"),
        ("Landfall", "count_in: 0", "1 or more"),
        ("Landfall", "count_in: 2:30", "cannot be '2:30'"),
    ],
)
def test_what_cannot_be_followed_is_refused_with_its_place(name, key, message):
    with pytest.raises(PlanError, match=message) as refused:
        load(with_key(name, key))
    assert refused.value.where is not None


def test_the_hint_says_who_does_not_begin_there():
    with pytest.raises(PlanError) as refused:
        load(with_key("Swell", "pickup: 1/4"))
    assert "Here late begin later" in str(refused.value.hint)


def test_the_schema_describes_both():
    (section,) = (one for one in schema()["$defs"].values() if "runs_on" in one.get("properties", {}))
    assert section["properties"]["count_in"]["maximum"] == 16
    assert "end of a turn" in section["properties"]["pickup"]["description"]
