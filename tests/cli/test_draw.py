"""What ``draw`` promises: whole files by their ending, or none and a reason."""

from __future__ import annotations

import json

import pytest

from bridge.cli.main import main
from tests.out.drawn import LOW_TIDE

LAYERS = ["--layer", "band=4bars", "--layer", "hand drum=3/16"]
BEGINNINGS = {".svg": b"<?xml", ".png": b"\x89PNG", ".pdf": b"%PDF"}


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "low-tide.yaml"
    path.write_text(LOW_TIDE, encoding="utf-8")
    return path


def test_a_plan_is_drawn_into_every_kind_of_file_at_once(plan, tmp_path, capsys):
    files = [tmp_path / f"form{ending}" for ending in BEGINNINGS]
    assert main(["draw", str(plan), *map(str, files), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert [row["format"] for row in record["files"]] == ["svg", "png", "pdf"]
    for path, row in zip(files, record["files"], strict=True):
        content = path.read_bytes()
        assert content.startswith(BEGINNINGS[path.suffix])
        assert row["bytes"] == len(content)
    assert record["missing_letters"] == ""


def test_a_section_is_drawn_as_a_handout(plan, tmp_path):
    path = tmp_path / "landfall.svg"
    assert main(["draw", str(plan), "--section", "Landfall", str(path)]) == 0
    words = path.read_text(encoding="utf-8")
    assert "Landfall" in words
    assert ">114</text>" in words  # its first bar


def test_a_letter_and_a_note_in_the_plan_reach_picture_score_and_paper(tmp_path):
    path = tmp_path / "plan.yaml"
    noted = LOW_TIDE.replace("bars: 16,", "bars: 16, letter: Q7, note: Wait for the nod,")
    path.write_text(noted, encoding="utf-8")
    files = [tmp_path / "form.svg", tmp_path / "song.musicxml"]
    assert main(["export", str(path), *map(str, files)]) == 0
    picture, score = (file.read_text(encoding="utf-8") for file in files)
    assert "Q7 · Prelude" in picture
    assert "<rehearsal>Q7</rehearsal>" in score
    assert "<words>Wait for the nod</words>" in score


def test_layers_alone_are_drawn_over_one_period_with_syllables(tmp_path):
    path = tmp_path / "handout.svg"
    assert main(["draw", *LAYERS, "--tempo", "115.2", "--count", str(path)]) == 0
    words = path.read_text(encoding="utf-8")
    assert "12 bars of 4/4 · 0:25 · all meet every 12 bars" in words
    assert ">&amp;</text>" in words
    assert ">e</text>" in words


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["plan.yaml"], "a plan and a file"),
        ([*LAYERS, "x.gif"], "ends in '.gif'"),
        ([*LAYERS, "x"], "has no ending"),
        ([*LAYERS, "x.svg", "x.svg"], "named twice"),
        ([*LAYERS, "--section", "Ebb", "x.svg"], "--section needs a plan"),
        (["plan.yaml", "x.svg", "--count"], "--count goes with"),
        (["plan.yaml", "x.svg", "--bars", "4"], "go with --layer"),
        (["--layer", "a=3/16", "--layer", "b=1/4@1/32", "x.svg"], "never meet"),
        (["none.yaml", "x.svg"], "cannot be read"),
    ],
)
def test_what_cannot_be_drawn_is_bad_usage_and_nothing_is_written(
    words, message, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    assert main(["draw", *words]) == 2
    assert message in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_section_names_the_nearest(plan, tmp_path, capsys):
    assert main(["draw", str(plan), "--section", "Landfal", str(tmp_path / "x.svg")]) == 2
    assert "Did you mean 'Landfall'?" in capsys.readouterr().err


def test_a_general_pause_has_no_handout(plan, tmp_path, capsys):
    assert main(["draw", str(plan), "--section", "Held Breath", str(tmp_path / "x.svg")]) == 2
    assert "nobody sounds" in capsys.readouterr().err


def test_an_existing_file_is_left_alone_without_force(tmp_path, capsys):
    path = tmp_path / "handout.svg"
    path.write_text("mine", encoding="utf-8")
    assert main(["draw", *LAYERS, str(path)]) == 2
    assert path.read_text(encoding="utf-8") == "mine"
    assert main(["draw", *LAYERS, str(path), "--force"]) == 0
    assert path.read_bytes().startswith(b"<?xml")
    capsys.readouterr()


def test_a_missing_folder_is_a_clear_error_and_no_half_file(tmp_path, capsys):
    there, nowhere = tmp_path / "a.svg", tmp_path / "none" / "b.svg"
    assert main(["draw", *LAYERS, str(there), str(nowhere)]) == 3
    assert "cannot be written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_letter_without_a_font_is_told(tmp_path, capsys):
    path = tmp_path / "x.png"
    words = ["draw", "--layer", "a\u0378=3/16", "--bars", "1", "--dpi", "40", "--json", str(path)]
    assert main(words) == 0
    shown = capsys.readouterr()
    assert json.loads(shown.out)["missing_letters"] == "\u0378"
    assert "drawn as boxes" in shown.err


def test_export_writes_pictures_scores_and_players_papers_too(plan, tmp_path, capsys):
    files = [tmp_path / "form.svg", tmp_path / "song.musicxml"]
    parts = tmp_path / "parts"
    assert main(["export", str(plan), *map(str, files), "--parts", str(parts), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert [row["format"] for row in record["files"]] == ["svg", "musicxml", "pdf", "pdf", "pdf"]
    assert sorted(path.name for path in parts.iterdir()) == [
        "01 guitars.pdf",
        "02 percussion.pdf",
        "03 keys.pdf",
    ]
