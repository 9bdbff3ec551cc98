"""Players' paper: what to play and count, when tacet, whom to listen for; large, whole, nothing collides."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import pytest

from bridge.out.paper import engraving, player_paper, players
from bridge.out.paper.blocks import blocks_for
from bridge.out.paper.engraving import engraved
from bridge.out.paper.wrap import wrapped
from bridge.out.parts import part_paths, write_part
from bridge.out.pdf import pdf
from bridge.out.request import Request
from bridge.out.scene import BLACK, Path
from bridge.out.typeface import Typeface
from tests import oracle
from tests.out.drawn import LOW_TIDE, NAMES, ONE, many_sections, outside, overlapping, song_of
from tests.out.test_picture_writers import read_pdf

FACES = Typeface.installed()
LOW = song_of(LOW_TIDE)


def text_of(block) -> str:
    """All that a block says, in reading order."""
    said = [f"{line.head} {line.text}" for line in block.lines]
    played = [f"{mine.name} {mine.words}" for mine in block.mine]
    return " | ".join([f"{block.letter} {block.name} {block.bars} {block.facts}", *played, *said])


@pytest.fixture(scope="module")
def drummer():
    return [text_of(block) for block in blocks_for(LOW, players(LOW)["percussion"])]


def test_players_own_their_layers_and_an_unowned_layer_is_its_own_player():
    assert players(LOW) == {"guitars": ("band",), "percussion": ("hand drum", "bells"), "keys": ("keys",)}
    assert players(song_of(ONE)) == {"whale": ("whale",)}


def test_own_turns_stand_beside_the_bars(drummer):
    slack = next(words for words in drummer if " Slack Water bars" in words)
    assert "64 turns = 12 bars · 16 turns = 3 bars" in slack


def test_tacet_stretches_say_how_long_what_goes_by_and_where_to_come_in(drummer):
    assert drummer[0].startswith(" tacet bars 1–16 16 bars · 0:33")
    assert "Prelude guitars (band), 16 bars" in drummer[0]
    assert "you come in at bar 17, First Crossing" in drummer[0]


def test_neighbouring_tacet_sections_are_one_stretch():
    blocks = blocks_for(LOW, ("keys",))
    stretch = text_of(blocks[0])
    assert "tacet bars 1–52" in stretch
    assert "Prelude" in stretch
    assert "First Crossing" in stretch


def test_a_general_pause_is_named(drummer):
    assert any("tacet bar 113" in words and "general pause, 1 bar" in words for words in drummer)


def test_phases_carried_over_are_told(drummer):
    second = next(words for words in drummer if "Second Crossing" in words and "hand drum" in words)
    assert "turns go on: turn 193 is the first to begin here" in second
    first = next(words for words in drummer if " First Crossing bars" in words)
    assert "runs on no restart" in first


def test_meetings_landings_and_whom_to_listen_for_are_told(drummer):
    landfall = next(words for words in drummer if " Landfall bars" in words)
    assert "all meet at bars 114, 126, 138, 150, 162, 174, 186, 198; landing together on bar 210" in landfall
    assert "with guitars (band)" in landfall
    assert "listen for in: band" in landfall


def test_the_end_stands_last(drummer):
    assert drummer[-1] == " End bar 336 12:12"


def test_a_note_and_a_letter_are_on_the_paper():
    first = LOW.sections[0]
    noted = replace(first, section=replace(first.section, letter="A", note="Wait for the nod."))
    song = replace(LOW, sections=(noted, *LOW.sections[1:]))
    words = text_of(blocks_for(song, ("band",))[0])
    assert words.startswith("A Prelude")
    assert "note Wait for the nod." in words


@pytest.mark.parametrize("text", [LOW_TIDE, ONE, many_sections(60)], ids=["low tide", "one", "60 sections"])
def test_nothing_collides_leaves_the_page_or_is_too_small_for_a_stand(text):
    song = song_of(text)
    for player in players(song):
        for page in player_paper(song, player, FACES).pages:
            assert overlapping(page) == []
            assert outside(page) == []
            assert min(shape.size for shape in page.texts) >= 11
            for shape in page.shapes:
                if isinstance(shape, Path):
                    xs = [x for _, values in shape.segments for x in values[::2]]
                    ys = [y for _, values in shape.segments for y in values[1::2]]
                    assert not xs or (min(xs) >= 30 and max(xs) <= page.width - 30)
                    assert not ys or (min(ys) >= 30 and max(ys) <= page.height - 30)


def test_every_section_is_on_the_pdf_in_order():
    shown = read_pdf(pdf(player_paper(LOW, "percussion", FACES).pages, FACES), "pdftotext")
    places = [shown.index(placed.name) for placed in LOW.sections]
    assert places == sorted(places)
    assert "64 turns = 12 bars" in " ".join(shown.split())


def test_the_music_engraved_has_a_notehead_a_note():
    oracle("verovio")
    blocks = blocks_for(LOW, ("hand drum",))
    music = next(block for block in blocks if block.name == "First Crossing").mine[0].music
    stems = [
        shape
        for shape in music.shapes
        if shape.paint.stroke == BLACK
        and len(shape.segments) == 2
        and shape.segments[0][1][0] == shape.segments[1][1][0]
    ]
    assert len(stems) >= 22  # four bars of 4/4 hold 22 homes of 3/16, some of them written as two tied notes
    assert music.height < 80


def test_path_data_is_read_whatever_commands_it_uses():
    read = engraving._path("M1 1h2v3l-2 0zm10 10c1 0 2 1 2 2s-1 2-2 2S9 13 9 12z")
    assert read == [
        ("M", (1, 1)),
        ("L", (3, 1)),
        ("L", (3, 4)),
        ("L", (1, 4)),
        ("Z", ()),
        ("M", (11, 11)),
        ("C", (12, 11, 13, 12, 13, 13)),
        ("C", (13, 14, 12, 15, 11, 15)),
        ("C", (10, 15, 9, 13, 9, 12)),
        ("Z", ()),
    ]


def test_without_the_engraver_the_paper_says_so_and_is_still_whole(monkeypatch):
    monkeypatch.setattr("bridge.out.paper.notation.can_engrave", lambda: False)
    monkeypatch.setattr("bridge.out.paper.pages.can_engrave", lambda: False)
    words = [text.text for page in player_paper(LOW, "keys", FACES).pages for text in page.texts]
    assert any("install the extra 'score'" in word for word in words)
    assert any("48 turns = 60 bars" in word for word in words)


def test_an_unreadable_score_is_our_fault():
    oracle("verovio")
    from bridge.errors import InternalError

    with pytest.raises(InternalError):
        engraved(b"no score", space=7)


@pytest.mark.parametrize("room", [60, 100, 400])
def test_wrapped_words_fit_and_none_is_lost(room):
    text = "Wait for the nod, then come in together " + "x" * 80
    lines = wrapped(text, FACES, 13, room, first=room / 2)
    assert all(
        FACES.width(line, 13) <= (room / 2 if number == 0 else room) for number, line in enumerate(lines)
    )
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_files_are_named_after_players_whatever_their_script(tmp_path):
    text = LOW_TIDE.replace("player: guitars", f'player: "{NAMES[0]} / {NAMES[2]}"')
    song = song_of(text)
    paths = part_paths(song, tmp_path / "parts")
    assert [path.name for path in paths] == [
        "01 潮のリレー _ _ swell _.pdf",
        "02 percussion.pdf",
        "03 keys.pdf",
    ]
    file = BytesIO()
    written = write_part(song, "keys", file, Request())
    assert file.getvalue().startswith(b"%PDF")
    assert written.facts["player"] == "keys"
    assert Fraction(written.facts["pages"]) >= 1


def test_a_sliding_layer_is_engraved_in_its_player_s_own_pulse():
    oracle("verovio")
    text = LOW_TIDE.replace("keys:       {cycle: 5/4,", "keys:       {cycle: 3/4, rate: 73/72,")
    text = text.replace("bars: 60, energy: [55, 60, 90]}", "bars: 60, resolve: [band]}")
    song = song_of(text.replace("[band, keys], bars: 40", "[band, keys], bars: 40, resolve: [band]"))
    mine = next(block for block in blocks_for(song, ("keys",)) if block.mine).mine[0]
    assert "below in your own pulse, from a home" in mine.words
    assert "nearest" not in mine.words


def test_a_cycle_too_short_to_be_written_takes_no_time_and_is_told():
    song = song_of(LOW_TIDE.replace("cycle: 3/16", "cycle: 1/999999999"))
    words = " ".join(
        text.text for page in player_paper(song, "percussion", FACES).pages for text in page.texts
    )
    assert "too fast to be written out" in words or not engraving.can_engrave()


def test_as_many_bars_are_written_out_as_fit_on_a_line_and_a_bar_too_long_is_told():
    oracle("verovio")
    drum = ONE.replace("bars: 3", "bars: 8").replace("cycle: 1000/1", "cycle: 3/16")
    for meter, told in (("4/4", False), ("13/8", False), ("31/8", True)):
        song = song_of(drum.replace("31/8", meter))
        (mine,) = (one for block in blocks_for(song, list(song.plan.layers)) for one in block.mine)
        assert (mine.music is None) is told
        assert ("too long to be written out" in mine.words) is told
        assert mine.scale >= 0.72
