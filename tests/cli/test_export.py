"""``export``: files by their ending, all or none, never overwriting, errors that say what to do."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import mido
import pytest

from bridge.cli.main import main

PLAN = """\
pulsebridge: 1
title: Low Tide Relay
tempo: 115.2
meter: 4/4
origin: {bar: 3}
layers:
  band:       {cycle: 4 bars, player: guitars}
  hand drum:  {cycle: 3/16, player: percussion}
sections:
  - {name: Prelude, layers: [band], bars: 4}
  - {name: Crossing, layers: [band, hand drum], bars: 12}
"""


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "tide.yaml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_several_files_are_written_at_once_and_listed(plan, tmp_path, capsys):
    files = [str(tmp_path / name) for name in ("song.mid", "markers.CSV", "guide.wav")]
    assert main(["export", str(plan), *files, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["file"] for one in told["files"]] == files
    assert [one["format"] for one in told["files"]] == ["mid", "csv", "wav"]
    assert all(one["bytes"] == Path(one["file"]).stat().st_size for one in told["files"])
    assert names(tmp_path) == ["guide.wav", "markers.CSV", "song.mid", "tide.yaml"]
    assert mido.MidiFile(files[0]).length == pytest.approx(16 * 4 * 60 / 115.2, abs=1e-4)


def test_an_unknown_ending_lists_those_there_are_and_writes_nothing(plan, tmp_path, capsys):
    good, bad = str(tmp_path / "song.mid"), str(tmp_path / "song.ogg")
    assert main(["export", str(plan), good, bad]) == 2
    told = capsys.readouterr().err
    assert "'.ogg'" in told
    assert all(ending in told for ending in (".mid", ".csv", ".wav"))
    assert names(tmp_path) == ["tide.yaml"]


def test_a_file_that_exists_is_left_alone_and_so_are_the_others(plan, tmp_path, capsys):
    mine = tmp_path / "song.mid"
    mine.write_bytes(b"mine")
    words = ["export", str(plan), str(tmp_path / "markers.csv"), str(mine)]
    assert main(words) == 2
    assert "--force" in capsys.readouterr().err
    assert mine.read_bytes() == b"mine"
    assert names(tmp_path) == ["song.mid", "tide.yaml"]
    assert main([*words, "--force"]) == 0
    assert mine.read_bytes()[:4] == b"MThd"


def test_the_same_file_named_twice_is_refused(plan, tmp_path, capsys):
    assert main(["export", str(plan), str(tmp_path / "a.mid"), f"{tmp_path}/./a.mid"]) == 2
    assert "named twice" in capsys.readouterr().err


def test_a_folder_that_is_not_there_is_a_device_fault(plan, tmp_path, capsys):
    assert main(["export", str(plan), str(tmp_path / "nowhere" / "a.mid"), "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    assert told["error"]["kind"] == "device"
    assert "No such file" in told["error"]["message"]


def test_a_disk_that_fills_up_leaves_no_half_file(plan, tmp_path):
    """A limit on the size of files stands in for a full disk: the write itself fails."""
    resource = pytest.importorskip("resource")
    done = subprocess.run(
        [
            sys.executable,
            *("-m", "bridge", "export", str(plan), str(tmp_path / "a.mid"), str(tmp_path / "a.wav")),
        ],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000)),
    )
    assert done.returncode == 3, done.stderr
    assert "a.wav' cannot be written: File too large" in done.stderr
    assert "Traceback" not in done.stderr
    assert names(tmp_path) == ["tide.yaml"]


def test_the_hearing_caution_is_printed_with_a_guide(plan, tmp_path, capsys):
    assert main(["export", str(plan), str(tmp_path / "guide.wav")]) == 0
    assert "mind your hearing" in capsys.readouterr().err


def test_all_formats_of_the_table_are_written(plan, tmp_path, capsys):
    files = [str(tmp_path / f"song{ending}") for ending in (".mid", ".csv", ".json", ".wav", ".flac")]
    assert main(["export", str(plan), *files, "--count-in", "--smpte", "29.97df"]) == 0
    assert all(Path(file).stat().st_size for file in files)
    assert "00:00:02;02" in Path(files[1]).read_text(encoding="utf-8")
    assert [track.name for track in mido.MidiFile(files[0]).tracks][-1] == "count-in"


def test_stems_are_written_beside_and_named_for_any_file_system(tmp_path, capsys):
    path = tmp_path / "tide.yaml"
    path.write_text(PLAN.replace("hand drum", "a/b: 潮"), encoding="utf-8")
    path.write_text(path.read_text().replace("a/b: 潮:", '"a/b: 潮":').replace(", a/b: 潮]", ', "a/b: 潮"]'))
    assert main(["export", str(path), "--stems", str(tmp_path / "stems"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["voice"] for one in told["files"]] == ["click", "band", "a/b: 潮", "meetings"]
    assert names(tmp_path / "stems") == ["01 click.wav", "02 band.wav", "03 a_b_ 潮.wav", "04 meetings.wav"]


def test_at_the_origin_the_song_starts_where_the_host_has_it(plan, tmp_path):
    assert main(["export", str(plan), str(tmp_path / "a.csv"), "--at-origin"]) == 0
    first = (tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()[1].split(",")
    assert first[:4] == ["1", "Prelude", "3", "1"]
    assert float(first[4]) == pytest.approx(2 * 4 * 60 / 115.2)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ([], "nothing to write"),
        (["a.wav", "--from", "Landfal"], "no place in the song"),
        (["a.wav", "--speed", "fast"], "a speed cannot be 'fast'"),
        (["a.wav", "--click-out", "8/8"], "--click-out cannot be '8/8'"),
        (["a.wav", "--only", "flute"], "no layer 'flute'"),
        (["a.wav", "--click-for", "flute"], "no player or layer 'flute'"),
        (["a.wav", "--peak", "6"], "--peak is -40 to 0"),
        (["a.wav", "--times", "0"], "'--times'"),
        (["a.mid", "--from", "5"], "concern the guide, and none is to be written"),
        (["a.csv", "--smpte", "26"], "no SMPTE rate '26'"),
        (["a.mid", "--times", "many"], "'--times'"),
    ],
)
def test_what_cannot_be_is_bad_usage_and_writes_nothing(plan, tmp_path, monkeypatch, capsys, words, text):
    monkeypatch.chdir(tmp_path)
    assert main(["export", str(plan), *words]) == 2
    assert text in capsys.readouterr().err
    assert names(tmp_path) == ["tide.yaml"]


def test_a_table_does_not_wait_for_what_writes_sound_or_midi(plan, tmp_path):
    code = (
        "import sys; from bridge.cli.main import main; "
        f"assert main(['export', {str(plan)!r}, {str(tmp_path / 'a.csv')!r}]) == 0; "
        "sys.exit(str({'mido', 'soundfile', 'rich.console'} & set(sys.modules) or ''))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.stderr.strip() == ""
