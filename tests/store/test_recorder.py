"""What writing a recording promises."""

import json
import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import DeviceError, PlanError, UsageError
from bridge.hostmap import Message
from bridge.store.recorder import Recorder
from bridge.store.recording import Recorded, read_recording
from bridge.store.recording_file import lines_of

SOME = [
    Recorded(at=0.1 + 0.2, midi=b"\xf2\x08\x00"),
    Recorded(at=1.0, osc=Message("/rig/where", "fhsb", (12.5, 2**40, "潮", b"\x00\xff"))),
    Recorded(at=1.0, osc=Message("/rig/flags", "TFN[i]", (True, False, None, 1))),
    Recorded(at=1e5, raw=b"\x2f\xff"),
]


def write(path, inputs):
    with Recorder(path) as recorder:
        for recorded in inputs:
            recorder.write(recorded)
    return path


def test_what_is_written_is_read_back_to_the_last_digit(tmp_path):
    path = write(tmp_path / "r.jsonl", SOME)
    assert list(read_recording(lines_of(path))) == SOME
    assert path.read_text().startswith('{"pulsebridge_recording": 1}\n')


@given(st.lists(st.binary(min_size=1, max_size=12)), st.data())
def test_any_message_comes_back(tmp_path_factory, messages, data):
    path = tmp_path_factory.mktemp("r") / "r.jsonl"
    inputs = [Recorded(at=float(at), raw=message) for at, message in enumerate(messages)]
    text = data.draw(st.text(st.characters(exclude_categories=["Cs"]), max_size=20))
    inputs.append(Recorded(at=1e6, osc=Message(f"/{text}", "s", (text,))))
    assert list(read_recording(lines_of(write(path, inputs)))) == inputs


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_json_has_no_word_for_is_kept_as_its_packet(tmp_path, value):
    path = tmp_path / "r.jsonl"
    with Recorder(path) as recorder:
        recorder.write(Recorded(at=1.0, osc=Message("/a", "f", (value,))), b"\x2f\x61")
    assert list(read_recording(lines_of(path))) == [Recorded(at=1.0, raw=b"\x2f\x61")]


def test_a_file_that_is_there_is_not_overwritten(tmp_path):
    path = write(tmp_path / "r.jsonl", SOME)
    before = path.read_bytes()
    with pytest.raises(UsageError, match="is there already"):
        write(path, SOME)
    assert path.read_bytes() == before


def test_an_empty_file_may_be_written(tmp_path):
    path = tmp_path / "r.jsonl"
    path.touch()
    assert len(list(read_recording(lines_of(write(path, SOME))))) == len(SOME)


class Full:
    """A file on a disk with room for nine more bytes."""

    def __init__(self, file):
        self._file = file

    def __getattr__(self, name):
        return getattr(self._file, name)

    def write(self, data):
        self._file.write(data[:9])
        raise OSError(28, "No space left on device")


def fill_the_disk(path):
    with Recorder(path) as recorder:
        recorder.write(SOME[0])
        recorder.flush()
        recorder._file = Full(recorder._file)
        recorder.write(SOME[1])
        recorder.flush()


def test_a_full_disk_is_said_and_the_lines_before_stay_whole(tmp_path):
    path = tmp_path / "r.jsonl"
    with pytest.raises(DeviceError, match="cannot be written on"):
        fill_the_disk(path)
    assert list(read_recording(lines_of(path))) == SOME[:1]


KILLED = """
import os, signal, sys
from pathlib import Path
from bridge.store.recorder import Recorder
from bridge.store.recording import Recorded
with Recorder(Path(sys.argv[1])) as recorder:
    for at in range(1000):
        recorder.write(Recorded(at=float(at), midi=b"\\xf8"))
        if at % 7 == 0:
            recorder.flush()
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL on Windows")
def test_a_killed_process_leaves_a_readable_file(tmp_path):
    path = tmp_path / "r.jsonl"
    subprocess.run([sys.executable, "-c", KILLED, str(path)], check=False)
    assert len(list(read_recording(lines_of(path)))) == 995


def test_a_damaged_pack_is_a_bad_file(tmp_path):
    import gzip

    packed = gzip.compress(b"".join(json.dumps({"at": n, "midi": "F8"}).encode() + b"\n" for n in range(500)))
    path = tmp_path / "r.jsonl.gz"
    path.write_bytes(packed)
    assert len(list(read_recording(lines_of(path)))) == 500
    for damaged in (packed[:-20], packed[:40] + b"\xff\xff\xff" + packed[43:], packed[:5]):
        path.write_bytes(damaged)
        with pytest.raises(PlanError, match="damaged"):
            list(read_recording(lines_of(path)))
