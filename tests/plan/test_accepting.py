"""``accept``: which readings on the form the writer means so, and why."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bridge.plan import READINGS, Accept, dump, load
from tests.plan.texts import loaded, pointed_at, refused, song

A = "name: A, layers: [band], bars: 4"


def test_one_acceptance_or_a_list_for_a_section_or_the_whole_song() -> None:
    plan = loaded(
        f"{A}, accept: {{reading: no sign, because: it is a lullaby}}",
        accept='[{reading: one level, threshold: "3:30", because: a drone},'
        " {reading: too busy, because: it is}]",
    )
    assert plan.accept == (
        Accept(reading="one level", because="a drone", threshold=Fraction(210)),
        Accept(reading="too busy", because="it is"),
    )
    assert plan.sections[0].accept == (Accept(reading="no sign", because="it is a lullaby"),)
    assert load(dump(plan)) == plan


@pytest.mark.parametrize("name", READINGS)
def test_every_reading_can_be_accepted_with_a_limit_in_its_own_unit(name: str) -> None:
    limit = "0:30" if READINGS[name].value == "seconds" else "1"
    plan = loaded(f"{A}, accept: {{reading: {name}, threshold: {limit}, because: so}}")
    assert plan.sections[0].accept[0].threshold in (30, 1)
    assert load(dump(plan)) == plan


@pytest.mark.parametrize(
    ("accept", "at", "says"),
    [
        ("{reading: low payof, because: x}", "low payof", "Did you mean 'low payoff'?"),
        ("{reading: boredom, because: x}", "boredom", "Readings on the form"),
        ("{reading: low payoff}", "{reading", "lacks the key 'because'"),
        ("{because: x}", "{because", "lacks the key 'reading'"),
        ("{reading: low payoff, because: }", " }", "has no value"),
        ("{reading: low payoff, because: x, limit: 3}", "limit", "has no key 'limit'"),
        ("[]", "[]", "empty"),
        ("low payoff", "low payoff", "Write 'accept: {reading:"),
        ("{reading: one level, because: x, threshold: 90}", "90", "a time, as in 2:30"),
        ("{reading: low payoff, because: x, threshold: 1:30}", "1:30", "a number (points)"),
        ("{reading: low payoff, because: x, threshold: 101}", "101", "at most 100"),
        ("{reading: always tutti, because: x, threshold: 60}", "60", "at most 1"),
        ("[{reading: no sign, because: a}, {reading: no sign, because: b}]", "no sign, because: b", "twice"),
    ],
)
def test_what_is_no_acceptance_is_refused_where_it_stands(accept: str, at: str, says: str) -> None:
    error = refused(song(f"{A}, accept: {accept}"))
    assert pointed_at(error).startswith(at)
    assert says in f"{error.message}\n{error.hint}"
