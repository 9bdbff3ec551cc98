"""What each reading finds: on small plans, each weak in one way, and on good ones."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from bridge.form import RULES, Report, read_form
from bridge.form.look import _LOOKS
from bridge.form.remedy import _IDEAS
from bridge.plan import READINGS, Plan, load
from bridge.shape import Solved, solve
from tests.form.plans import GOOD, WEAK, plan

EXAMPLE = Path(__file__).parents[2] / "examples" / "low-tide-relay.yaml"


def read(given: Plan, *, solves: int = 200) -> Report:
    solved = solve(given)
    assert isinstance(solved, Solved)
    return read_form(given, solved.bars, solves=solves)


def names(report: Report) -> list[str]:
    return [reading.finding.rule.name for reading in report.readings]


def test_the_tables_of_names_rules_looks_and_ideas_have_the_same_readings() -> None:
    assert list(READINGS) == list(RULES) == list(_LOOKS) == list(_IDEAS) == list(WEAK)
    assert all(rule.source and rule.why and rule.rule.endswith(".") for rule in RULES.values())


def test_a_good_plan_has_no_reading_and_nothing_that_could_not_be_judged() -> None:
    report = read(plan(GOOD))
    assert report.readings == report.cannot_tell == report.unneeded == ()


@pytest.mark.parametrize("name", WEAK)
def test_a_plan_that_is_weak_in_one_way_has_that_reading_only(name: str) -> None:
    assert names(read(plan(WEAK[name]), solves=0)) == [name]


@pytest.mark.parametrize("name", WEAK)
def test_each_of_them_has_a_remedy_that_leaves_a_good_plan(name: str) -> None:
    (reading,) = read(plan(WEAK[name])).readings
    assert reading.remedy is not None
    again = read(reading.remedy.plan)
    assert again.readings == ()
    assert tuple(placed.bars for placed in again.score.sections) == reading.remedy.bars


@pytest.mark.parametrize("name", WEAK)
def test_the_remedys_change_typed_into_the_file_is_the_same_plan(name: str) -> None:
    _same_when_typed(WEAK[name])


def test_an_entry_typed_into_the_file_is_the_same_plan() -> None:
    spare = WEAK["no change"].replace("layers:\n", "layers:\n  shaker: {cycle: 3/16}\n", 1)
    assert "let shaker enter at its bar 61" in _same_when_typed(spare)


def _same_when_typed(text: str) -> str:
    """Type the remedy's change into the text, compare the plans, and return the remedy's words."""
    (reading,) = read(plan(text)).readings
    assert reading.remedy is not None
    changed = load(_typed(text, reading.remedy.change))
    assert changed.layers == reading.remedy.plan.layers
    assert changed.sections == reading.remedy.plan.sections
    return reading.remedy.says


def _typed(text: str, change: object) -> str:
    """Edit the text as a person would, line by line, following the change as a program gets it."""
    from tests.form.plans import _but

    lines = text.splitlines()
    for edit in change:
        value = edit["value"]
        written = f"[{', '.join(map(_item, value))}]" if isinstance(value, list) else value
        if "layer" in edit:
            (at,) = [n for n, line in enumerate(lines) if line.startswith(f"  {edit['layer']}: ")]
            head, _, group = lines[at].partition(": ")
            lines[at] = f"{head}: {_but(group.strip(), **{edit['key']: written})}"
            continue
        (at,) = [n for n, line in enumerate(lines) if line.startswith(f"  - {{name: {edit['section']},")]
        lines[at] = f"  - {_but(lines[at][4:], **{edit['key']: written})}"
    return "\n".join(lines) + "\n"


def _item(name: str | dict[str, dict[str, str]]) -> str:
    if isinstance(name, str):
        return name
    ((layer, other),) = name.items()
    return f"{{{layer}: {{enters: {other['enters']}}}}}"


def test_an_entry_or_a_tightening_within_a_low_section_is_a_sign() -> None:
    weak = WEAK["no sign"]
    entering = weak.replace("layers: [bells], bars: 20", "layers: [bells, {band: {enters: bar 9}}], bars: 20")
    tightening = weak.replace(
        "layers: [bells], bars: 20",
        "layers: [bells], bars: 22, tighten: {layer: bells, cycles: [4/8, 3/8], over: 7 bars}",
    )
    assert entering != weak != tightening
    assert names(read(plan(entering), solves=0)) == []
    assert names(read(plan(tightening), solves=0)) == []


def test_something_changes_where_a_layer_enters_or_leaves_within_a_section() -> None:
    weak = WEAK["no change"]
    for other in ("{bells: {enters: bar 61}}", "{bells: {leaves: bar 61}}"):
        changed = weak.replace("[band, drum, bells], bars: 120", f"[band, drum, {other}], bars: 120")
        assert changed != weak
        assert names(read(plan(changed), solves=0)) == []


def test_who_plays_alone_for_part_of_a_section_is_heard_alone() -> None:
    weak = WEAK["nobody alone"]
    changed = weak.replace("Slack, layers: [band, bells]", "Slack, layers: [band, {bells: {enters: bar 6}}]")
    assert changed != weak
    assert names(read(plan(changed), solves=0)) == []


def test_meetings_before_a_landing_are_counted_from_where_the_last_has_entered() -> None:
    weak = WEAK["landing given away"]
    entering = "Crossing, layers: [band, {drum: {enters: bar 25}}]"
    changed = weak.replace("Crossing, layers: [band, drum]", entering)
    assert changed != weak
    assert names(read(plan(changed), solves=0)) == []


def test_a_finding_says_where_with_figures_in_its_unit() -> None:
    (reading,) = read(plan(WEAK["short payoff"])).readings
    assert reading.finding.found == 48 / reading.finding.figures["build_seconds"]
    assert reading.finding.limit == RULES["short payoff"].short
    assert reading.finding.figures == {"payoff_seconds": 48, "build_seconds": 72}
    assert reading.where is not None
    assert reading.where.line == 1 + WEAK["short payoff"].splitlines().index(
        next(line for line in WEAK["short payoff"].splitlines() if "Landfall" in line)
    )


def test_limits_grow_evenly_with_the_song_between_three_minutes_and_twelve() -> None:
    rule = RULES["narrow range"]
    assert [rule.limit(seconds) for seconds in (0, 180, 450, 720, 5000)] == [10, 10, 40, 70, 70]


def test_readings_on_energy_cannot_tell_of_sections_that_give_none_and_count_them() -> None:
    given = plan(GOOD)
    bare = replace(given, sections=tuple(replace(section, energy=()) for section in given.sections))
    report = read(bare)
    assert report.readings == ()
    assert {look.name: look.unjudged for look in report.cannot_tell} == {
        "narrow range": (0, 1, 2, 3, 4),
        "one level": (0, 1, 2, 3, 4),
        "undecided end": (4,),
        "payoff out of reach": (0, 1, 2, 3, 4),
        "no sign": (0, 1, 2, 3, 4),
        "low payoff": (3,),
    }


@pytest.mark.parametrize(
    ("name", "gone"), [(name, index) for name in WEAK for index in range(len(plan(WEAK[name]).sections))]
)
def test_without_one_energy_nothing_else_is_found_than_with_it(name: str, gone: int) -> None:
    given = plan(WEAK[name])
    sections = tuple(
        replace(section, energy=()) if section.index == gone else section for section in given.sections
    )
    report = read(replace(given, sections=sections), solves=0)
    assert names(report) in ([name], [])


def test_the_example_is_what_a_writer_would_accept() -> None:
    report = read(load(EXAMPLE.read_bytes()))
    assert [(reading.finding.rule.name, reading.accepted is not None) for reading in report.readings] == [
        ("low payoff", True)
    ]
    assert report.open == report.cannot_tell == report.unneeded == ()


@pytest.mark.parametrize("name", WEAK)
def test_what_is_accepted_is_told_with_its_reason_and_gets_no_remedy(name: str) -> None:
    accept = f"accept: {{reading: {name}, because: it is meant so}}\n"
    (reading,) = read(plan(WEAK[name].replace("sections:", f"{accept}sections:"))).readings
    assert reading.accepted is not None
    assert reading.accepted.because == "it is meant so"
    assert reading.remedy is None


def _landfall_accepting(name: str, threshold: str) -> Plan:
    accept = f"accept: {{reading: {name}, threshold: {threshold}, because: so}}}}"
    return plan(WEAK[name].replace("pays_off: Crossing}", f"pays_off: Crossing, {accept}"))


@pytest.mark.parametrize(
    ("name", "threshold", "accepted"),
    [
        ("one level", "2:00", True),
        ("one level", "1:59", False),
        ("short payoff", "2/3", True),
        ("short payoff", "0.67", False),
        ("low payoff", "2", True),
        ("low payoff", "3", False),
        ("no change", "4:00", True),
        ("no change", "239s", False),
    ],
)
def test_a_threshold_accepts_as_far_as_it_goes(name: str, threshold: str, accepted: bool) -> None:
    (reading,) = read(_landfall_accepting(name, threshold), solves=0).readings
    assert (reading.accepted is not None) is accepted


def test_a_stricter_threshold_for_the_whole_song_is_the_limit() -> None:
    accept = "accept: {reading: no change, threshold: 1:30, because: it is a restless song}\n"
    report = read(plan(GOOD.replace("sections:", f"{accept}sections:")), solves=0)
    (reading,) = report.readings
    assert reading.finding.limit == 90
    assert reading.accepted is None
    assert report.score.name(reading.finding.section) == "Landfall"


def test_an_acceptance_of_what_is_not_found_is_told() -> None:
    accept = "accept: {reading: no sign, because: it was quiet once}\n"
    report = read(plan(GOOD.replace("sections:", f"{accept}sections:")))
    assert [(one.accept.reading, one.section) for one in report.unneeded] == [("no sign", None)]


def test_a_recorded_section_keeps_its_bars_and_its_players_in_every_remedy() -> None:
    text = WEAK["landing given away"].replace("bars: 60, energy: [30, 80]", "settled: true, energy: [30, 80]")
    bars = '{"name": "%s", "bars": %d}'
    kept = ", ".join(bars % pair for pair in (("Prelude", 20), ("Slack", 16), ("Crossing", 60)))
    given = load(text, solved=f'{{"sections": [{kept}]}}')
    (reading,) = read(given).readings
    if reading.remedy is not None:
        assert reading.remedy.bars[:3] == (20, 16, 60)
        assert [s.layers for s in reading.remedy.plan.sections[:3]] == [s.layers for s in given.sections[:3]]


def test_where_no_remedy_is_found_none_is_told() -> None:
    """One layer only, one section, all of it recorded: nothing can be changed but energy."""
    text = WEAK["no change"].split("sections:")[0] + (
        "sections:\n  - {name: All, layers: [band], settled: true, energy: [10, 30, 10]}\n"
    )
    given = load(text, solved='{"sections": [{"name": "All", "bars": 100}]}')
    (reading,) = read(given).readings
    assert reading.finding.rule.name == "no change"
    assert reading.remedy is None
    assert reading.searched
