"""The unrolled song where layers change, come and go, and tighten: homes against walking turn by turn."""

from __future__ import annotations

import csv
import io
import json
from fractions import Fraction

import mido
import pytest

from bridge.cli.plan_table import show_song
from bridge.exact import Length, Place
from bridge.out import csv_table, json_table, midi_file
from bridge.out.guide.click import _rows
from bridge.out.musicxml.bars import staff_of
from bridge.out.paper.words import changes, meeting_words, turn_words
from bridge.out.request import Request
from bridge.plan import load
from bridge.shape import Solved, solve
from bridge.song import (
    Frame,
    Part,
    Song,
    full_meetings,
    place_named,
    solution_record,
    stages_in_words,
    unroll,
)
from tests.plan.texts import song

ROW = "cycles: [5/8, 4/8, 3/8, 2/8]"
TIGHT = (
    "name: Calm, layers: [band, {drum: {cycle: 5/8}}], bars: 3, runs_on: true",
    (
        "name: Narrows, layers: [band, drum, {bells: {enters: bar 2, leaves: bar 4}}], bars: 17,"
        f" tighten: {{layer: drum, {ROW}, over: 14 bars}}"
    ),
    "name: Landfall, layers: [band, drum], bars: 12",
)


def played(*sections: str) -> tuple[Song, Solved]:
    plan = load(song(*sections))
    solved = solve(plan)
    assert isinstance(solved, Solved)
    return unroll(plan, solved.bars), solved


def part(made: Song, section: int, name: str) -> Part:
    (found,) = (one for one in made.sections[section].parts if one.layer.name == name)
    return found


def walked(start: Place, *turns: tuple[int, str]) -> list[Place]:
    """The homes of so many turns of each length in a row."""
    found = []
    for count, turn in turns:
        for _ in range(count):
            found.append(start)
            start += Length(turn)
    return found


def test_a_tightened_part_is_home_at_the_start_of_every_turn_of_every_stage() -> None:
    made, _ = played(*TIGHT)
    drum = part(made, 1, "drum")
    expected = walked(Place(3), (16, "3/16"), (8, "5/8"), (8, "4/8"), (8, "3/8"), (8, "2/8"))
    assert list(drum.homes()) == expected
    assert [onset.place for onset in drum.onsets()] == expected
    assert all(onset.home for onset in drum.onsets())
    assert (drum.own_turns, drum.turns) == (16, 48)
    assert drum.tightens_at == Place(6)
    assert drum.is_home_at_end
    assert all(drum.is_home(place) for place in expected)
    assert not drum.is_home(Place("61/10"))


def test_where_all_its_bars_are_tightened_nothing_comes_before() -> None:
    made, _ = played(f"name: A, layers: [drum], bars: 14, tighten: {{layer: drum, {ROW}, over: 14}}")
    drum = part(made, 0, "drum")
    assert list(drum.homes()) == walked(Place(0), (8, "5/8"), (8, "4/8"), (8, "3/8"), (8, "2/8"))
    assert (drum.own_turns, drum.turns) == (0, 32)


def test_a_changed_part_counts_from_its_section_and_back_again() -> None:
    made, _ = played(*TIGHT)
    assert list(part(made, 0, "drum").homes()) == walked(Place(0), (5, "5/8"))
    assert list(part(made, 2, "drum").homes()) == walked(Place(20), (64, "3/16"))
    assert list(part(made, 1, "band").homes()) == walked(Place(4), (4, "4"))


def test_a_part_that_comes_and_goes_sounds_only_in_between() -> None:
    made, _ = played(*TIGHT)
    bells = part(made, 1, "bells")
    assert (bells.start, bells.end) == (Place(4), Place(6))
    assert list(bells.homes()) == walked(Place(4), (4, "5/8"))
    assert bells.turns == Fraction(16, 5)


def test_who_left_counts_on_in_silence_and_is_heard_where_it_stands() -> None:
    made, _ = played(
        "name: A, layers: [band, {drum: {leaves: bar 2}}], bars: 4, runs_on: true",
        "name: B, layers: [band, drum], bars: 8",
    )
    assert list(part(made, 0, "drum").homes()) == walked(Place(0), (6, "3/16"))
    assert part(made, 1, "drum").home_row.first == Place(0) + Length("3/16") * 22


def test_meetings_are_found_where_all_sound_before_and_while_somebody_tightens() -> None:
    made, _ = played(
        "name: A, layers: [bells, drum], bars: 21, resolve: [drum], tighten:"
        " {layer: drum, cycles: [1/2, 1/4], over: 15}"
    )
    drum = part(made, 0, "drum")
    bells = set(part(made, 0, "bells").homes())
    met = [meeting.place for meeting in full_meetings(made)]
    assert met == [home for home in drum.homes() if home in bells]
    assert any(place >= drum.tightens_at for place in met)
    assert any(place < drum.tightens_at for place in met)


def test_nobody_meets_whom_who_is_not_there() -> None:
    made, _ = played("name: A, layers: [{drum: {enters: bar 3, leaves: bar 10}}, bells], bars: 15")
    met = [meeting.place for meeting in full_meetings(made)]
    drum, bells = (part(made, 0, name) for name in ("drum", "bells"))
    assert met == [home for home in drum.homes() if home in set(bells.homes())]
    assert min(met, key=lambda place: place.whole_notes) == Place("25/8")
    assert all(Place(2) <= place < Place(9) for place in met)


def test_a_marker_is_laid_at_every_stage() -> None:
    made, _ = played(*TIGHT)
    assert [(marker.name, marker.place, marker.section) for marker in made.markers] == [
        ("Calm", Place(0), 0),
        ("Narrows", Place(3), 1),
        ("Narrows: drum 5/8", Place(6), None),
        ("Narrows: drum 4/8", Place(11), None),
        ("Narrows: drum 3/8", Place(15), None),
        ("Narrows: drum 2/8", Place(18), None),
        ("Landfall", Place(20), 2),
        ("End", Place(32), None),
    ]
    assert [marker.index for marker in made.markers] == list(range(8))
    assert place_named(made, "Narrows: drum 3/8") == Place(15)


def test_the_solution_counts_all_turns_and_lists_the_stages() -> None:
    calm, narrows, _ = solution_record(*played(*TIGHT))["sections"]
    assert calm["tighten"] is None
    assert narrows["turns"] == {"band": "4.25", "drum": "48", "bells": "3.2"}
    assert narrows["tighten"] == {
        "layer": "drum",
        "bars": 14,
        "stages": [{"cycle": f"{eighths}/8", "turns": 8} for eighths in (5, 4, 3, 2)],
    }


def test_the_table_of_plan_shows_stages_and_stays(capsys: pytest.CaptureFixture[str]) -> None:
    show_song(*played(*TIGHT))
    shown = " ".join(capsys.readouterr().out.split())
    assert "drum 16, then 8 turns" in shown
    assert "each of 5/8" in shown
    assert "from 5.1, until 7.1" in shown


def test_files_have_the_stages() -> None:
    made, _ = played(*TIGHT)
    frame = Frame.of(made)
    files = {}
    for module in (midi_file, csv_table, json_table):
        files[module] = io.BytesIO()
        module.write(frame, files[module], Request())
    midi = mido.MidiFile(file=io.BytesIO(files[midi_file].getvalue()))
    names = [message.text for message in midi.tracks[0] if message.type == "marker"]
    rows = list(csv.DictReader(io.StringIO(files[csv_table].getvalue().decode())))
    assert names == [row["name"] for row in rows] == [marker.name for marker in made.markers]
    assert [row["bars"] for row in rows] == ["3", "17", "", "", "", "", "12", ""]
    told = json.loads(files[json_table].getvalue())["sections"][1]
    assert told["tighten"]["stages"][0] == {"cycle": "5/8", "turns": 8}
    ticks, at = [], 0
    (track,) = (one for one in midi.tracks if one.name == "drum")
    for message in track:
        at += message.time
        if message.type == "note_on" and message.velocity:
            ticks.append(at)
    homes = [home for section in range(3) for home in part(made, section, "drum").homes()]
    assert ticks[: len(homes)] == [home.quarters * midi.ticks_per_beat for home in homes]


def test_players_read_when_they_tighten_enter_and_leave() -> None:
    made, _ = played(*TIGHT)
    narrows = made.sections[1]
    drum = turn_words(made, narrows, part(made, 1, "drum"))
    assert drum[:2] == ["turn of 3/16", "16 turns = 3 bars"]
    assert "tightens from bar 7 on, 14 bars: 8 turns each of 5/8, 4/8, 3/8, 2/8" in drum
    bells = turn_words(made, narrows, part(made, 1, "bells"))
    assert {"comes in at bar 5", "leaves at bar 7"} <= set(bells)
    assert changes(made, narrows, ["drum"]) == ["in at bar 5: bells", "out at bar 7: bells"]
    assert meeting_words(made, narrows)[-1] == "landing together on bar 21"
    calm = turn_words(made, made.sections[0], part(made, 0, "drum"))
    assert calm[0] == "turn of 5/8"


def test_unequal_stages_are_told_one_by_one() -> None:
    made, _ = played(
        f"name: A, layers: [drum], bars: 15, tighten: {{layer: drum, {ROW}, over: 15, share: near-turns}}"
    )
    drum = part(made, 0, "drum")
    assert drum.tightened is not None
    each = [
        f"{stage.turns} of {cycle}/8"
        for cycle, stage in zip((5, 4, 3, 2), drum.tightened.stages, strict=True)
    ]
    assert stages_in_words(drum) == f"turns: {', '.join(each)}"
    assert stages_in_words(part(played(*TIGHT)[0], 0, "drum")) == ""


def test_a_score_and_a_players_click_follow_the_stages() -> None:
    made, _ = played(*TIGHT)
    staff = staff_of(made, "drum", first_bar=7, bars=14)
    assert not staff.moved
    begins = [
        bar.start.whole_notes + sum((before.length for before in bar.pieces[:number]), start=0)
        for bar in staff.bars
        for number, piece in enumerate(bar.pieces)
        if piece.sounds and not piece.tied_from
    ]
    homes = [home.whole_notes for home in part(made, 1, "drum").homes() if home >= Place(6)]
    assert begins == homes
    pulse = {place for row in _rows(made, made.sections[1], ("drum",)) for place in row.places()}
    assert set(part(made, 1, "drum").homes()) <= pulse
    assert Place(6) + Length("1/8") in pulse


def test_bars_too_few_for_a_tightening_unroll_without_it_and_do_not_resolve() -> None:
    plan = load(song(f"name: A, layers: [drum], bars: 3, tighten: {{layer: drum, {ROW}, over: 14}}"))
    made = unroll(plan, [3])
    assert not made.sections[0].resolved
    assert list(part(made, 0, "drum").homes()) == walked(Place(0), (16, "3/16"))


def test_nobody_meets_after_all_have_left() -> None:
    gone = "{drum: {cycle: 1/4, leaves: bar 3}}, {bells: {cycle: 1/2, leaves: bar 3}}"
    made, _ = played(f"name: A, layers: [{gone}], bars: 4")
    assert [meeting.place for meeting in full_meetings(made)] == walked(Place(0), (4, "1/2"))
