"""Meters, tempi, ramps and regions laid beside the markers, in a host that tells its timeline."""

import contextlib
import math
from collections import Counter
from dataclasses import replace

import pytest

from bridge.cli.laying import Job, dry_lay, lay_song
from bridge.hostmap import Message, Ruler, load
from bridge.lay import Kind, part
from bridge.plan import load as load_plan
from bridge.practice import FAIR, Weather
from bridge.song import unroll
from tests.lay.hosts import ChalkBoard, Stage, TideTable

PLAN = """
pulsebridge: 1
tempo: 115.2
meter: 4/4
origin: {bar: 2}
layers: {band: {cycle: 1/8}}
sections:
  - {name: Prelude, layers: [band], bars: 3}
  - {name: Causeway, layers: [band], bars: 4, meter: 7/8}
  - {name: Crossing, layers: [band], bars: 4, tempo: {from: 96, to: 132}}
  - {name: Ebb, layers: [band], bars: 2}
"""
BAD = Weather(lose=0.25, double=0.25, reorder=0.25, delay=0.003, seed=11)
MINE = ("take 1", 100.0, 120.0)


def song(text: str = PLAN):
    plan = load_plan(text)
    return unroll(plan, [section.bars for section in plan.sections])


def lay(stage: Stage, what):
    job = Job(song=what, host=stage.host, record=stage.path.with_suffix(".laid.json"))
    return lay_song(job, tell=lambda _text: None)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path / "state"))
    return tmp_path


def seconds_of(tempi, quarters: float) -> float:
    """The host's own time at a place: it bends from each tempo to its end evenly in time."""
    total, places = 0.0, sorted(tempi)
    for at, following in zip(places, [*places[1:], math.inf], strict=True):
        bpm, end, bpm_end = tempi[at]
        length = min(quarters, following) - at
        if length <= 0:
            break
        ramp = min(length, end - at) if bpm_end != bpm else 0.0
        total += ramp * 120 / (bpm + bpm_end) if ramp else 0.0
        total += (length - ramp) * 60 / bpm_end
    return total


def places_are_right(table: TideTable, what) -> None:
    """In the host's own time every section falls on the plan's second."""
    count = Ruler(what).count
    lead_in = float(count.whole_notes(what.sections[0].start)) * 4
    begins = seconds_of(table.tempi, lead_in)
    for section in what.sections:
        quarters = float(count.whole_notes(section.end)) * 4
        assert seconds_of(table.tempi, quarters) - begins == pytest.approx(
            float(what.seconds(section.end)), abs=5e-4
        )


def laid_in_bad_weather(table: TideTable, folder, what, seed: int):
    """Lay into ``table``; a starved machine answers in bursts, and a double may come after all lists."""
    stage = Stage(table, folder, weather=replace(BAD, seed=seed))
    stage.start()
    return stage, lay(stage, what)


def test_the_whole_timeline_is_laid_and_verified_on_a_bad_network_and_then_changed(folder):
    first = song()
    for seed in (11, 12, 13):
        table = TideTable([("mine", 3.0)])
        table.regions[99] = MINE
        (folder / str(seed)).mkdir()
        stage, laid = laid_in_bad_weather(table, folder / str(seed), first, seed)
        if len(table.regions) == 5:
            break
        stage.stop()
    with contextlib.ExitStack() as stack:
        stack.callback(stage.stop)
        assert (laid.result.verified, laid.result.failed) == (5, ())
        assert all(one.failed == () and one.unverified == 0 for one in laid.timeline.values())
        assert table.meters == {1: (4, 4), 2: (4, 4), 5: (7, 8), 9: (4, 4)}
        assert Counter(table.regions.values()) == Counter(
            [MINE, ("Prelude", 4.0, 16.0), ("Causeway", 16.0, 30.0), ("Crossing", 30.0, 46.0),
             ("Ebb", 46.0, 54.0)]
        )  # fmt: skip
        places_are_right(table, first)
        stage.stop()
        stage.weather = FAIR
        stage.start()
        other = song(PLAN.replace("bars: 3}", "bars: 5}"))
        changed = lay(stage, other)
        assert all(one.failed == () for one in changed.timeline.values())
        assert table.meters == {1: (4, 4), 2: (4, 4), 7: (7, 8), 11: (4, 4)}
        assert MINE in table.regions.values()
        assert len(table.regions) == 5
        places_are_right(table, other)


def test_colours_of_regions_are_told_verified_and_changed_with_the_plan(folder):
    table = TideTable()
    table.regions[99] = MINE
    coloured = PLAN.replace("bars: 3}", 'bars: 3, colour: "#cc7722"}')
    with Stage(table, folder) as stage:
        first = lay(stage, song(coloured)).timeline[Kind.REGION]
        assert (first.verified, first.failed) == (4, ())
        colours = {table.regions[n][0]: colour for n, colour in table.colours.items()}
        assert colours == {"Prelude": 0xCC7722, "Causeway": 0x808080, "Crossing": 0x808080, "Ebb": 0x808080}
        again = lay(stage, song(coloured)).timeline[Kind.REGION]
        assert (again.kept, again.placed, again.removed) == (4, 0, 0)
        other = lay(stage, song(coloured.replace("cc7722", "2277cc"))).timeline[Kind.REGION]
        assert (other.verified, other.kept, other.failed) == (4, 3, ())
        told = [table.colours[n] for n, region in table.regions.items() if region[0] == "Prelude"]
        assert told == [0x2277CC]
        assert MINE in table.regions.values()


def test_a_host_that_keeps_another_colour_than_it_was_told_is_not_verified(folder):
    table = TideTable()
    tell = table.tell
    table.tell = lambda: [
        Message(m.address, m.types, (*m.args[:4], 0x111111)) if m.address == "/tide/reach" else m
        for m in tell()
    ]
    with Stage(table, folder) as stage:
        regions = lay(stage, song()).timeline[Kind.REGION]
    assert (regions.verified, len(regions.failed)) == (0, 4)
    assert all("#111111" in failure.why for failure in regions.failed)


HOST = """
pulsebridge_host: 1
send_to: 127.0.0.1:9
ramps: {ramps}
says: {{place: [{{address: /a, args: ["{{quarters:f}}"]}}], tempo: [{{address: /t, args: [{args}]}}]}}
"""
ENDS = '"{quarters:d}", "{bpm:d}", "{end_quarters:d}", "{bpm_end:d}"'


def tempi(ramps: str, args: str) -> list[tuple[float, ...]]:
    job = Job(
        song=song(), host=load(HOST.format(ramps=ramps, args=args)), record=__import__("pathlib").Path("x")
    )
    return [message.args for message in dry_lay(job)[0] if message.address == "/t"]


def test_a_host_that_bends_by_position_gets_a_ramp_as_one():
    assert tempi("position", ENDS) == [
        (4.0, 115.2, 30.0, 115.2), (30.0, 96.0, 46.0, 132.0), (46.0, 115.2, 54.0, 115.2),
    ]  # fmt: skip


@pytest.mark.parametrize("args", ['"{quarters:d}", "{bpm:d}"', ENDS])
def test_a_host_that_steps_gets_for_each_beat_the_tempo_at_which_it_lasts_as_long_as_planned(args):
    steps = tempi("steps", args)[1:-1]
    assert [step[0] for step in steps] == [30.0 + beat for beat in range(16)]
    total = sum(60 / step[1] for step in steps)
    # 16 quarters from 96 to 132: 60 * 16 / 36 * ln(132 / 96) seconds (design: a ramp linear in place)
    assert total == pytest.approx(60 * 16 / 36 * math.log(132 / 96), abs=1e-9)


def test_words_that_cannot_be_used_are_said_and_a_map_without_words_lays_markers_alone(folder):
    ruler = Ruler(song())
    text = HOST.format(ramps="steps", args='"{bpm:d}"')
    assert "names no place" in part(Kind.TEMPO, ruler, load(text))
    region = text.replace(
        'tempo: [{address: /t, args: ["{bpm:d}"]}]', 'region: [{address: /r, args: ["{bar:i}"]}]'
    )
    assert "says no end" in part(Kind.REGION, ruler, load(region))
    assert part(Kind.METER, ruler, load(text)) is None
    with Stage(ChalkBoard(), folder) as stage:
        assert lay(stage, song()).timeline == {}


def test_a_host_that_tells_no_tempi_gets_them_once_by_the_record(folder):
    table = TideTable()
    with Stage(table, folder) as stage:
        lines = stage.path.read_text(encoding="utf-8").splitlines(keepends=True)
        stage.path.write_text("".join(line for line in lines if "tempo_mark" not in line), encoding="utf-8")
        laid = lay(stage, song()).timeline[Kind.TEMPO]
        assert (laid.verified, laid.placed, laid.unverified) == (0, 18, 18)
        again = lay(stage, song()).timeline
        assert again[Kind.TEMPO].kept == 18
        assert all(one.placed == one.moved == one.removed == 0 for one in again.values())
    assert table.heard["flow/set"] == 18


def test_messages_of_the_timeline_are_sent_before_and_after_the_markers(folder):
    stage = Stage(TideTable(), folder)
    job = Job(song=song(), host=stage.host, record=folder / "none.json")
    words = [message.address for message in dry_lay(job)[0]]
    order = list(dict.fromkeys(words))
    assert order == ["/tide/swell/set", "/tide/flow/set", "/tide/mark/add", "/tide/reach/add"]
    assert dry_lay(job)[0][0] == Message("/tide/swell/set", "iii", (2, 4, 4))
