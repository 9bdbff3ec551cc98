"""``cues`` in a plan file: what each comes to, and where each refusal points."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.exact import Bars, Length
from bridge.plan import dump, load
from bridge.plan.cue import Anchor, Beats, CueAt, PlanCue, SendController, SendOsc, SendProgram
from tests.plan.texts import loaded, pointed_at, refused, song


def cued(cue: str) -> PlanCue:
    plan = loaded(
        f"name: A, layers: [band], bars: 8, cues: [{cue}]", layers="gong: {cycle: 1/4, player: sky}"
    )
    assert load(dump(plan)) == plan
    (found,) = plan.sections[0].cues
    return found


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("start", CueAt(anchor=Anchor.START)),
        ("end", CueAt(anchor=Anchor.END)),
        ("end - 8 bars", CueAt(anchor=Anchor.END, away=Bars(8), before=True)),
        ("end-1bar", CueAt(anchor=Anchor.END, away=Bars(1), before=True)),
        ("start - 2 beats", CueAt(anchor=Anchor.START, away=Beats(2), before=True)),
        ("start + 3/16", CueAt(anchor=Anchor.START, away=Length("3/16"))),
        ("start + 0.25", CueAt(anchor=Anchor.START, away=Length("1/4"))),
        ("bar 5", CueAt(anchor=Anchor.BAR, number=5)),
        ("bar 5.3", CueAt(anchor=Anchor.BAR, number=5, beat=3)),
        ("bar 5.3+1/16", CueAt(anchor=Anchor.BAR, number=5, beat=3, away=Length("1/16"))),
        ("meeting 2 - 1 beat", CueAt(anchor=Anchor.MEETING, number=2, away=Beats(1), before=True)),
    ],
)
def test_a_place_is_told_from_the_section(text: str, place: CueAt) -> None:
    assert cued(f"{{at: {text}, say: now}}").at == place
    assert CueAt.parse(str(place)) == place


PLACES = st.builds(
    lambda anchor, number, beat, away, before: CueAt(
        anchor=anchor,
        number=number if anchor in (Anchor.BAR, Anchor.MEETING) else 0,
        beat=beat if anchor is Anchor.BAR else 1,
        away=away,
        before=away is not None and (before or anchor is Anchor.END),
    ),
    st.sampled_from(Anchor),
    st.integers(1, 999),
    st.integers(1, 9),
    st.none()
    | st.integers(1, 99).map(Bars)
    | st.integers(1, 99).map(Beats)
    | st.fractions(min_value=Fraction(1, 64), max_value=9, max_denominator=999).map(Length),
    st.booleans(),
)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(PLACES)
def test_every_place_is_read_as_it_is_written(place: CueAt) -> None:
    assert CueAt.parse(str(place)) == place


def test_all_that_a_cue_can_do() -> None:
    cue = cued(
        "{at: end - 8 bars, for: sky, say: brushes down, sound: calls/landfall.wav,"
        " send: [{program: 12, channel: 3}, {controller: 0, value: 127, channel: 16},"
        " {osc: [/lamp/level, .5, -2, 1.0, name, '7', '']}, {osc: /go}]}"
    )
    assert cue.player == "sky"
    assert cue.say == "brushes down"
    assert cue.sound == "calls/landfall.wav"
    assert cue.send == (
        SendProgram(program=12, channel=3),
        SendController(controller=0, value=127, channel=16),
        SendOsc(address="/lamp/level", args=(Fraction(1, 2), -2, Fraction(1), "name", "7", "")),
        SendOsc(address="/go"),
    )
    assert cue.send[2].types == "fifsss"  # type: ignore[union-attr]


def test_a_layer_without_a_player_is_a_player_of_its_own_name() -> None:
    assert cued("{at: start, for: band, say: in}").player == "band"


@pytest.mark.parametrize(
    ("cue", "says", "at", "hint"),
    [
        ("{at: start}", "does nothing", "{at", "say:"),
        ("{say: now}", "lacks the key 'at'", "{say", "at"),
        ("{at: start, for: gong, say: x}", "no player 'gong'", "gong", "layers"),
        ("{at: start, for: Band, say: x}", "no player 'Band'", "Band", "'band'"),
        ("{at: start, say: ''}", "empty", "''", None),
        (f"{{at: start, say: {'x' * 201}}}", "201 bytes", "xxx", None),
        ("{at: middle, say: x}", "cannot stand at", "middle", "start, end"),
        ("{at: 5, say: x}", "cannot stand at", "5", "bar 5"),
        ("{at: bar, say: x}", "which bar", "bar", "bar 2"),
        ("{at: meeting, say: x}", "which meeting", "meeting", "meeting 2"),
        ("{at: meeting 2.3, say: x}", "no beats", "meeting", "meeting 2"),
        ("{at: bar 0, say: x}", "1 or more", "bar 0", None),
        ("{at: end 3, say: x}", "no number", "end 3", None),
        ("{at: start - 8, say: x}", "cannot be '8'", "start", "8 bars"),
        ("{at: start - 0 bars, say: x}", "1 or more", "start", None),
        ("{at: start + 0/4, say: x}", "more than 0", "start", None),
        ("{at: start + 2:30, say: x}", "cannot be '2:30'", "start", "2 beats"),
        ("{at: end + 1 bar, say: x}", "after the section", "end", "follows"),
        ("{at: start, send: {program: 129, channel: 1}}", "at most 128", "129", None),
        ("{at: start, send: {program: 0, channel: 1}}", "1 or more", "0,", None),
        ("{at: start, send: {program: 1}}", "lacks the key 'channel'", "{program", None),
        ("{at: start, send: {program: 1, channel: 17}}", "at most 16", "17", None),
        ("{at: start, send: {controller: 128, value: 0, channel: 1}}", "at most 127", "128", None),
        ("{at: start, send: {note: 60, channel: 1}}", "program, a controller or osc", "{note", "osc:"),
        ("{at: start, send: 3}", "not '3'", "3", "program: 12"),
        ("{at: start, send: []}", "1 to 16 messages", "[]", None),
        ("{at: start, send: {osc: []}}", "begins with its address", "[]", "/lamp"),
        ("{at: start, send: {osc: [lamp]}}", "begins with '/'", "lamp", "/lamp"),
        ("{at: start, send: {osc: ['/a b']}}", "cannot hold ' '", "'/a b'", None),
        ("{at: start, send: {osc: [/a, 99999999999]}}", "32 bits", "99999999999", "quotes"),
        ("{at: start, send: {osc: [/a, 4294967296]}}", "32 bits", "4294967296", "quotes"),
        ("{at: start, send: {osc: [/a, [1]]}}", "a number or a text", "[1]", None),
        ("{at: start, program: 3}", "no key 'program'", "program", "inside 'send'"),
        ("{at: start, sound: /etc/x.wav}", "leads on from", "/etc", "beside the plan"),
        ("{at: start, sound: 'C:x.wav'}", "leads on from", "'C:x", None),
    ],
)
def test_what_is_no_cue_is_refused_where_it_stands(cue: str, says: str, at: str, hint: str | None) -> None:
    text = song(f"name: A, layers: [band], bars: 8, cues: [{cue}]", layers="gong: {cycle: 1/4, player: sky}")
    error = refused(text)
    assert says in error.message
    assert pointed_at(error).startswith(at)
    assert hint is None or hint in (error.hint or "")


def test_cues_that_are_no_list_are_refused() -> None:
    error = refused(song("name: A, layers: [band], bars: 8, cues: {at: start, say: x}"))
    assert "a list" in error.message
    assert "brackets" in (error.hint or "")
