"""Where two explanations fit, or none does, only 'I can't tell' is right."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.hostmap import Measure, Unit
from bridge.learn import Confidence, Happening, Mark, Missing, What, explain, first_course, further
from bridge.learn.spell import spells_of
from tests.learn.hosts import QUARTERS, SECONDS, Host, Session, interview

COURSE = first_course()


def at_tempo(*bpm, meter=None):
    """The course with other tempi, and one meter, in place of its own."""
    tempi = iter(bpm)
    changed = {"tempo": lambda _: next(tempi), "meter": lambda step: meter or step.detail}
    return tuple(
        replace(step, detail=changed[step.step](step)) if step.step in changed else step for step in COURSE
    )


@pytest.mark.parametrize("unit", [QUARTERS, SECONDS])
def test_at_sixty_quarters_and_seconds_are_the_same_until_another_tempo_tells(unit):
    sixty = at_tempo("60", "60")
    host = Host(unit=unit, marker_unit=unit)
    explained = explain(interview(host, sixty))
    position = explained["position"]
    assert position.heard is None
    assert position.missing is Missing.TEMPO
    assert "quarters and seconds" in position.evidence
    assert explained["marker"].heard is None
    more = further(explained.missing, 0)
    assert [step.step for step in more] == ["tempo", "meter", "bar", "marker", "play", "stop"]
    again = explain(interview(Host(unit=unit, marker_unit=unit), (*sixty, *more)))
    assert again["position"].heard.unit == unit
    assert again["marker"].heard.unit == unit


@settings(max_examples=10, deadline=None)
@given(st.sampled_from([24, 96, 480, 960, 15360]), st.sampled_from(["60", "90", "97", "120", "240"]))
def test_ticks_and_samples_of_an_odd_rate_are_not_told_apart_by_one_tempo(rate, bpm):
    explained = explain(interview(Host(unit=Unit(Measure.TICKS, rate)), at_tempo(bpm, bpm)))
    position = explained["position"]
    samples = rate * int(bpm) / 60
    if samples.is_integer():
        assert position.heard is None
        assert position.missing is Missing.TEMPO
    else:
        assert position.heard.unit == Unit(Measure.TICKS, rate)


@pytest.mark.parametrize(
    ("why", "counts"),
    [
        ("an hour is added to its seconds", lambda host, q, now: 3600 + host.value(q, SECONDS)),
        ("it counts bars from 0", lambda host, q, now: q / float(host.sig.length.quarters)),
        ("it counts the meter's lower number", lambda host, q, now: q * host.sig.unit / 4),
        ("it counts from 0 to 1 across ten minutes", lambda host, q, now: host.value(q, SECONDS) / 600),
        ("it counts down", lambda host, q, now: 400 - q),
        ("it turns over every bar", lambda host, q, now: q % 4),
        ("it is a clock that never stops", lambda host, q, now: now),
        ("it is a cursor that does not run", lambda host, q, now: round(q / 16) * 16.0),
    ],
)
def test_a_count_that_no_host_map_can_say_is_not_written(why, counts):
    assert explain(interview(Host(counts=counts), COURSE))["position"].heard is None, why


def test_a_counter_of_the_time_since_the_start_is_no_position():
    explained = explain(interview(_Since(), COURSE))
    assert explained["position"].heard is None


class _Since(Host):
    """Counts the seconds since play was pressed, wherever it stands."""

    def __init__(self):
        super().__init__(counts=self.count, stands_often=False)
        self.last = 0.0
        self.start = 0.0

    def count(self, host, quarters, now):
        if now - self.last > 0.4:
            self.start = now
        self.last = now
        return now - self.start


def test_a_position_told_only_while_it_plays_is_found_by_where_it_starts_but_only_fair():
    position = explain(interview(Host(only_playing=True), COURSE))["position"]
    assert position.heard.unit == QUARTERS
    assert position.confidence is Confidence.FAIR


def test_what_starts_from_0_wherever_it_plays_is_no_position_though_it_runs_as_fast():
    host = _Since()
    host.only_playing = True
    assert explain(interview(host, COURSE))["position"].heard is None


def test_what_stands_right_but_runs_at_another_speed_is_no_position():
    class Slow(Session):
        def report(self):
            if self.playing:
                self.base = getattr(self, "base", self.quarters)
                kept, self.quarters = self.quarters, self.base + 0.93 * (self.quarters - self.base)
                super().report()
                self.quarters = kept
            else:
                self.__dict__.pop("base", None)
                super().report()

    assert explain(interview(Host(), COURSE, 1, Slow))["position"].heard is None


def test_what_runs_on_after_the_stop_is_no_position():
    class RunsOn(Session):
        moved = True

        def do(self, step):
            self.moved = step.step == "bar" or (self.moved and step.step not in ("play", "stop"))
            super().do(step)

        def report(self):
            kept = self.quarters
            self.quarters += 0 if self.moved or self.playing else self.now
            super().report()
            self.quarters = kept

    assert explain(interview(Host(), COURSE, 1, RunsOn))["position"].heard is None


def test_bars_told_as_whole_numbers_are_too_coarse_to_follow():
    position = explain(interview(Host(unit=Unit(Measure.BARS), position_type="i"), COURSE))["position"]
    assert position.heard is None


@pytest.mark.parametrize(("values", "why"), [((1, 0), "opposite"), ((1, 2), "no number is 0")])
def test_a_transport_that_is_not_0_when_it_stands_is_not_written(values, why):
    playing = explain(interview(Host(rolling_values=values), COURSE))["playing"]
    assert playing.heard is None
    assert why in playing.evidence


def test_two_lamps_that_changed_with_the_one_start_are_not_told_apart():
    once = [step for step in COURSE if step.step != "play"]
    first_play = next(index for index, step in enumerate(COURSE) if step.step == "play")
    once.insert(first_play, COURSE[first_play])
    explained = explain(interview(Host(twin="/h/lamp"), once))
    assert explained["playing"].heard is None
    assert explained["playing"].missing is Missing.PLAY


def test_a_tempo_that_was_typed_in_wrong_gives_no_unit_of_time():
    host = Host(unit=SECONDS)
    events = interview(host, COURSE)
    wrong = [
        replace(one, said=replace(one.said, detail="100")) if getattr(one.said, "detail", "") == "97" else one
        for one in events
    ]
    explained = explain(wrong)
    assert explained["position"].heard is None
    assert explained["tempo"].heard is None


def test_a_meter_that_was_not_changed_is_not_told_from_other_fours():
    meter = explain(interview(Host(), at_tempo("97", "141", meter="4/4")))["meter"]
    assert meter.heard is None
    assert meter.missing is Missing.METER


def test_a_count_of_quarters_or_of_beats_is_only_fair_where_every_beat_was_a_quarter():
    def counts(host, quarters, now):
        return quarters * host.sig.unit / 4

    for host in (Host(), Host(counts=counts)):
        position = explain(interview(host, at_tempo("97", "141", meter="3/4")))["position"]
        assert position.confidence is Confidence.FAIR
        assert "only where a beat is a quarter" in position.evidence
    assert explain(interview(Host(), COURSE))["position"].confidence is Confidence.SURE


def test_a_host_that_says_nothing_is_said_to_say_nothing():
    silent = Host(position=None, rolling=None, tempo=None, meter=None, marker=None, gone=None)
    explained = explain(interview(silent, COURSE))
    assert explained.messages == 0
    assert all(one.heard is None for one in explained.findings)


def test_without_marks_nothing_can_be_told():
    events = [one for one in interview(Host(), COURSE) if not hasattr(one.said, "what")]
    assert all(one.heard is None for one in explain(events).findings)


def test_names_without_places_make_no_marker():
    marker = explain(interview(Host(marker_order=("name",)), COURSE))["marker"]
    assert marker.heard is None
    assert "no place" in marker.evidence


def test_one_marker_alone_is_not_enough():
    steps = [step for step in COURSE if step.detail != "ebb"]
    marker = explain(interview(Host(), steps))["marker"]
    assert marker.heard is None
    assert marker.missing is Missing.MARKER


def test_a_tempo_that_was_told_once_only_is_not_enough():
    class Once(Session):
        def set(self, step):
            super().set(step)
            if step.step == "tempo":
                self.host.tempo = None

    assert explain(interview(Host(), COURSE, 1, Once))["tempo"].heard is None


def test_what_we_sent_ourselves_ends_what_is_known_of_the_transport():
    marks = [
        Mark(What.DONE, "stop"),
        Mark(What.SENT, "list"),
        Mark(What.DONE, "bar", "9"),
        Mark(What.SENT, "play"),
        Mark(What.DONE, "bar", "5"),
        Mark(What.DONE, "stop"),
    ]
    spells = spells_of([Happening(float(at), mark) for at, mark in enumerate(marks)])
    assert [(spell.step, spell.detail) for spell in spells] == [("stop", ""), ("bar", "9"), ("stop", "")]


def test_two_numbers_that_could_be_the_id_leave_it_out():
    explained = explain(interview(Host(marker_order=("id", "at", "name", "id")), COURSE))
    assert set(explained["marker"].heard.args) == {"at", "name"}
    assert explained["marker_gone"].heard is None
