"""A free passage is one bar (or the fewest) whose tempo makes it last as long; a vamp is a section."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.plan import Plan, load
from bridge.shape import Infeasible, Solved, solve
from bridge.song import solution_record, unroll

_HEAD = """\
pulsebridge: 1
tempo: {tempo}
meter: 4/4
total: {{about: "{total}", within: 0:10}}
layers:
  band: {{cycle: 4 bars}}
  drum: {{cycle: 3/16}}
sections:
  - {{name: Ebb, layers: [drum], length: {{about: 12 bars}}{before}}}
  - {{name: Drift, layers: [], {drift}}}
  - name: Landfall
    layers: [band, drum]
    length: {{about: 0:40}}
    pays_off: {{section: [Ebb, Drift], ratio: {ratio}}}
"""


def _both(seconds: Fraction, meter: str, **given: object) -> tuple[Plan, Plan]:
    free = load(_HEAD.format(drift=f"meter: {meter}, free: {{about: {float(seconds)}s}}", before="", **given))
    section = free.sections[1]
    written = f"meter: {meter}, bars: {section.bars}, tempo: {section.tempo.start}, resolve: []"
    return free, load(_HEAD.format(drift=written, before="", **given))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    seconds=st.integers(2, 400).map(lambda eighths: Fraction(eighths, 8)),
    meter=st.sampled_from(["4/4", "3/4", "7/8", "[4/4, 3/4]", "1/64"]),
    tempo=st.sampled_from(["120", "96", "115.2"]),
    total=st.sampled_from(["1:00", "1:50", "3:00"]),
    ratio=st.sampled_from(["1", "1/2"]),
)
def test_a_plan_with_a_free_passage_agrees_with_the_one_where_it_is_written_as_a_bar(
    seconds: Fraction, meter: str, tempo: str, total: str, ratio: str
) -> None:
    free, written = _both(seconds, meter, tempo=tempo, total=total, ratio=ratio)
    found, expected = solve(free), solve(written)
    assert isinstance(found, Infeasible) == isinstance(expected, Infeasible)
    if isinstance(found, Solved) and isinstance(expected, Solved):
        assert (found.bars, found.cost, found.bound) == (expected.bars, expected.cost, expected.bound)
        records = [solution_record(unroll(plan, found.bars), found) for plan in (free, written)]
        assert [one["free"] for one in records[0]["sections"]] == [False, True, False]
        for one in records[0]["sections"]:
            one["free"] = False
        assert records[0] == records[1]


def test_a_free_passage_is_named_where_nothing_fits_and_its_nearest_length_told() -> None:
    plan = load(
        _HEAD.format(
            drift="free: {about: 0:50}", before=", resolve: []", tempo=120, total="0:30", ratio="1/4"
        )
    )
    found = solve(plan)
    assert isinstance(found, Infeasible)
    assert [demand.text for demand in found.conflict] == [
        "Drift, a free passage, lasts 0:50",
        "the total is 0:20 to 0:40",
    ]
    assert "Drift, a free passage, fits with 0:" in found.relaxations[0].text


def test_a_vamp_is_named_where_nothing_fits() -> None:
    plan = load(
        _HEAD.format(
            drift="vamp: {at_least: 30 bars}, bars: 4", before="", tempo=120, total="1:00", ratio="1/4"
        )
    )
    found = solve(plan)
    assert isinstance(found, Infeasible)
    assert [demand.text for demand in found.conflict] == [
        "Drift has 4 bars",
        "Drift, a vamp, lasts at least 30 bars",
    ]
    assert [one.text.split(";")[0] for one in found.relaxations] == [
        "Drift needs 26 bars more (30)",
        "Drift needs 26 bars fewer (4)",
    ]


def test_a_vamp_is_as_long_as_it_asks_at_least_and_never_shorter() -> None:
    plan = load(
        "pulsebridge: 1\ntempo: 120\nmeter: 4/4\nlayers: {band: {cycle: 5 bars}}\n"
        "sections: [{name: A, layers: [band], vamp: {at_least: 12 bars}}]\n"
    )
    found = solve(plan)
    assert isinstance(found, Solved)
    assert found.bars == (15,)
