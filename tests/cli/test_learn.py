"""What ``learn`` promises: a map that loads and is true, from a kept interview or a live one."""

from __future__ import annotations

import io
import json
import random
import threading

import pytest

from bridge.cli.learn_ear import Ear
from bridge.cli.learning import Talk
from bridge.cli.main import main
from bridge.errors import DeviceError
from bridge.exact import Meter, Tempo, exact
from bridge.hostmap import Address, Message, load
from bridge.learn import (
    DEEDS,
    LIST,
    Happening,
    Mark,
    What,
    explain,
    first_course,
    read_mark,
    spoken_of,
    write_mark,
)
from bridge.osc import Port
from bridge.practice import SteadyTimeline
from bridge.practice.state import Rig
from bridge.store import shipped
from bridge.store.recorder import Recorder
from bridge.store.recording import read_recording
from tests.learn.hosts import Host, from_map, interview, random_host

MAPS = ("practice-rig", "tally-desk", "name-wall", "harbour-crane", "chalk-board")


def keep(path, happenings):
    with path.open("w") as file:
        file.write('{"pulsebridge_recording": 1}\n')
        for one in happenings:
            said = write_mark(one.said) if isinstance(one.said, Mark) else one.said
            file.write(json.dumps({"at": one.at, "osc": said.as_record()}) + "\n")
    return path


def learn(capsys, *words):
    code = main(["learn", *map(str, words)])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.mark.parametrize("name", MAPS)
def test_each_example_host_is_found_as_its_own_map_has_it(tmp_path, capsys, name):
    wanted = load(shipped(f"examples/hosts/{name}.yaml").read_text(encoding="utf-8"))
    kept = keep(tmp_path / "kept.jsonl", interview(from_map(wanted), first_course()))
    code, out, _ = learn(capsys, "--replay", kept, "--json")
    findings = {one["key"]: one for one in json.loads(out)["findings"]}
    for key in ("playing", "position", "tempo", "meter"):
        heard = wanted.hears.get(key)
        assert findings[key]["address"] == (heard and heard.address)
        assert findings[key]["args"] == (heard and dict(heard.args))
        assert findings[key]["unit"] == (str(heard.unit) if heard and heard.unit else None)
    assert code == (0 if wanted.hears else 3)


@pytest.mark.parametrize("seed", range(100, 106))
def test_a_map_learnt_from_a_made_up_host_loads_and_says_what_the_host_does(tmp_path, capsys, seed):
    host = random_host(random.Random(seed))
    kept = keep(tmp_path / "kept.jsonl", interview(host, first_course(), seed))
    code, out, _ = learn(capsys, "--replay", kept, "--map", tmp_path / "map.yaml")
    learnt = load((tmp_path / "map.yaml").read_text())
    assert (code, out) == (0, "")
    assert learnt.hears["position"].address == host.position
    assert learnt.hears["position"].unit == host.unit
    assert learnt.hears["playing"].address == host.rolling
    assert learnt.hears["marker"].unit == host.marker_unit


def test_every_line_of_the_map_stands_below_its_evidence(tmp_path, capsys):
    kept = keep(tmp_path / "kept.jsonl", interview(Host(meter=None), first_course()))
    _, out, _ = learn(capsys, "--replay", kept)
    lines = out.splitlines()
    assert "32 at bar 9" in lines[next(i for i, one in enumerate(lines) if "  position:" in one) - 2]
    assert any(line.startswith("  # meter: I can't tell: ") for line in lines)
    assert load(out).hears.keys() >= {"playing", "position", "tempo", "marker"}


def test_a_map_that_is_there_is_not_written_over_without_force(tmp_path, capsys):
    kept = keep(tmp_path / "kept.jsonl", interview(Host(), first_course()))
    target = tmp_path / "map.yaml"
    target.write_text("mine")
    code, _, err = learn(capsys, "--replay", kept, "--map", target)
    assert (code, target.read_text()) == (2, "mine")
    assert "--force" in err
    assert learn(capsys, "--replay", kept, "--map", target, "--force")[0] == 0
    assert "position" in target.read_text()


def test_a_recording_without_an_interview_is_refused(tmp_path, capsys):
    events = [one for one in interview(Host(), first_course()) if isinstance(one.said, Message)]
    code, _, err = learn(capsys, "--replay", keep(tmp_path / "kept.jsonl", events))
    assert code == 2
    assert "--record" in err


def test_a_host_that_says_nothing_gives_no_map(tmp_path, capsys):
    silent = Host(position=None, rolling=None, tempo=None, meter=None, marker=None, gone=None)
    kept = keep(tmp_path / "kept.jsonl", interview(silent, first_course()))
    code, _, err = learn(capsys, "--replay", kept, "--map", tmp_path / "map.yaml")
    assert code == 3
    assert "said nothing" in err
    assert not (tmp_path / "map.yaml").exists()


@pytest.mark.parametrize(
    ("step", "detail"), [("bar", "nine"), ("tempo", "1e9"), ("meter", "4"), ("bar", "0"), ("bar", "9" * 400)]
)
def test_a_step_that_says_nothing_is_exit_2(tmp_path, capsys, step, detail):
    events = [Happening(1.0, Mark(What.DONE, "stop", "")), Happening(2.0, Mark(What.DONE, step, detail))]
    code, _, err = learn(capsys, "--replay", keep(tmp_path / "kept.jsonl", events))
    assert code == 2
    assert "step of the interview" in err


def test_names_from_the_wire_cannot_break_the_map(tmp_path, capsys):
    host = Host(position="/a'b:c", rolling='/x"y', tempo="/t\x1b[2J", marker="/m&n|o")
    kept = keep(tmp_path / "kept.jsonl", interview(host, first_course()))
    code, out, err = learn(capsys, "--replay", kept)
    learnt = load(out)
    assert code == 0
    assert learnt.hears["position"].address == "/a'b:c"
    assert learnt.hears["playing"].address == '/x"y'
    assert learnt.hears["marker"].address == "/m&n|o"
    assert "tempo" not in learnt.hears
    assert "\x1b" not in out + err


class PaperEar:
    """An ear without a network: the practice rig, a user at it, and a clock that jumps."""

    def __init__(self, recorder=None):
        self.now = 100.0
        self.rig = Rig(timeline("120", "4/4"), notes=[(3.5, "the user's own")])
        self.recorder = recorder
        self.happenings = []
        self.sender = None
        self.refused = set()
        self.ignored = 0
        self.port = self
        self.pending = []
        self.asked = []
        self.sent = []
        self.says = {
            "list": "/rig/note/all",
            "locate": "/rig/goto {quarters:f}",
            "play": "/rig/roll 1",
            "stop": "/rig/roll 0",
            "place": "/rig/note/put {seconds:f} {name:s}",
            "remove": "/rig/note/drop {id:i}",
        }

    def newcomer(self):
        return (("127.0.0.1", 4000), self.pending[0][1].address) if self.pending and not self.sender else None

    def take(self):
        if self.sender:
            for at, message in self.pending:
                self.keep(at, message)
            self.pending.clear()

    def mark(self, mark):
        self.take()
        self.keep(self.now, mark)

    def keep(self, at, said):
        self.happenings.append(Happening(at, said))

    def send(self, message, to):
        self.sent.append(message)
        self.hear(message)

    def hear(self, message):
        self.pending += [(self.now, answer) for answer in self.rig.hear(message, self.now)]

    def wait(self, seconds):
        end = self.now + seconds
        while self.now < end:
            self.now = max(self.now + 1e-4, min(end, self.rig.wake_at))
            self.pending += [(self.now, message) for message in self.rig.wake(self.now)]

    def ask(self, text):
        """Do what is asked, as a user would, and say so."""
        self.asked.append(text)
        self.wait(0.7)
        line = self.act(text)
        self.wait(0.4)
        return line + "\n"

    def act(self, text):
        words = text.split()
        if "About to send" in text:
            return "y"
        if "Which message" in text or "The host itself" in text:
            deed = next(one for one in (LIST, *DEEDS) if f" {one.about}" in " ".join(words))
            return self.says.get(deed.key, "")
        if "press play" in text or "stop" in words[3:5]:
            self.hear(Message("/rig/roll", "i", (int("press play" in text),)))
        elif "bar" in words and "move" in text:
            bar = int(words[words.index("bar") + 1].strip(","))
            quarters = (bar - 1) * float(self.rig.timeline.meter(0).length.quarters)
            self.hear(Message("/rig/goto", "f", (quarters,)))
        elif "set the tempo" in text:
            self.rig.timeline = timeline(words[words.index("to") + 1], str(self.rig.timeline.meter(0)))
        elif "set the meter" in text:
            self.rig.timeline = timeline(
                str(self.rig.timeline.bpm(0)), words[words.index("to") + 1].strip(",")
            )
        elif "add a marker" in text:
            where = self.rig.timeline.seconds(self.rig.quarters(self.now))
            self.hear(Message("/rig/note/put", "fs", (float(where), words[words.index("named") + 1])))
        elif "remove the marker" in text:
            (mine,) = [one for one in self.rig.notes if one.name == "tide"]
            self.hear(Message("/rig/note/drop", "i", (mine.id,)))
        return ""


class Desk(Rig):
    """Tells its markers in lists alone, and numbers them along the timeline."""

    def along(self):
        return sorted(self.notes, key=lambda note: note.seconds)

    def hear(self, message, now):
        if message.address == "/rig/note/drop":
            note = self.along()[message.args[0] - 1]
            message = Message(message.address, "i", (note.id,))
        answers = super().hear(message, now)
        if message.address == "/rig/note/all":
            told = enumerate(self.along(), start=1)
            rows = [Message("/rig/note", "ifs", (number, note.seconds, note.name)) for number, note in told]
            return [Message("/rig/speed", "f", (float(self.timeline.bpm(0)),)), *rows, answers[-1]]
        return [] if message.address.startswith("/rig/note") else answers


class DeskEar(PaperEar):
    def __init__(self):
        super().__init__()
        self.rig = Desk(timeline("120", "4/4"), notes=[(3.5, "the user's own"), (900.0, "another")])

    def act(self, text):
        if "remove the marker" in text:
            names = [note.name for note in self.rig.along()]
            self.hear(Message("/rig/note/drop", "i", (names.index("tide") + 1,)))
            return ""
        return super().act(text)


def timeline(bpm, meter):
    return SteadyTimeline(Tempo.constant(exact(bpm)), Meter.parse(meter))


def rig_map():
    return load(shipped("examples/hosts/practice-rig.yaml").read_text(encoding="utf-8"))


def test_an_interview_with_the_practice_rig_gives_all_that_its_own_map_says():
    ear = PaperEar()
    explained = Talk(ear, to=Address("127.0.0.1", 9), ask=ear.ask, wait=ear.wait).hold()
    wanted = rig_map()
    assert {one.key: one.heard for one in explained.findings} == dict(wanted.hears)
    assert {one.key for one in spoken_of(ear.happenings)} == set(wanted.says)
    assert [note.name for note in ear.rig.notes] == ["the user's own", "ebb"]


def test_a_host_that_tells_its_markers_in_lists_alone_and_renumbers_them_is_understood():
    ear = DeskEar()
    explained = Talk(ear, to=Address("127.0.0.1", 9), ask=ear.ask, wait=ear.wait).hold()
    found = {one.key: one.heard for one in explained.findings}
    wanted = rig_map().hears
    assert {key for key, heard in found.items() if heard is None} == {"marker_gone"}
    assert all(heard == wanted[key] for key, heard in found.items() if heard is not None)
    assert "anew in each list" in explained["marker"].evidence
    assert {one.key for one in spoken_of(ear.happenings)} == set(rig_map().says)
    assert sorted(note.name for note in ear.rig.notes) == ["another", "ebb", "the user's own"]


class SixtyEar(PaperEar):
    """The user keeps to 60 quarters a minute in 4/4 for the first ``stubborn`` questions."""

    def __init__(self, stubborn):
        super().__init__()
        self.stubborn = stubborn

    def act(self, text):
        if "set the " in text and len(self.asked) < self.stubborn:
            self.rig.timeline = timeline("60", "4/4")
            return "60" if "tempo" in text else "4/4"
        return super().act(text)


def test_where_two_explanations_fit_more_is_asked():
    ear = SixtyEar(stubborn=14)
    explained = Talk(ear, ask=ear.ask, wait=ear.wait).hold()
    assert any("set the tempo of the whole song to 83" in text for text in ear.asked)
    assert explained["position"].heard == rig_map().hears["position"]
    assert explained["marker"].heard == rig_map().hears["marker"]


def test_more_is_not_asked_for_ever():
    ear = SixtyEar(stubborn=1000)
    explained = Talk(ear, ask=ear.ask, wait=ear.wait).hold()
    assert len(ear.asked) < 40
    assert explained["position"].heard is None
    assert explained["marker"].heard is None


def test_nothing_is_sent_that_was_not_typed_shown_and_agreed_to():
    ear = PaperEar()
    ear.says = {}
    Talk(ear, to=Address("127.0.0.1", 9), ask=ear.ask, wait=ear.wait).hold()
    assert ear.sent == []
    ear = PaperEar()
    ear.act = lambda text: "" if "About to send" in text else PaperEar.act(ear, text)
    Talk(ear, to=Address("127.0.0.1", 9), ask=ear.ask, wait=ear.wait).hold()
    assert ear.sent == []


def test_what_the_host_does_not_react_to_is_not_kept():
    ear = PaperEar()
    ear.says["play"] = "/rig/rol 1"
    Talk(ear, to=Address("127.0.0.1", 9), ask=ear.ask, wait=ear.wait).hold()
    assert "play" not in {one.key for one in spoken_of(ear.happenings)}
    assert any("No reaction was heard" in text for text in ear.asked)


def test_the_sender_is_shown_and_confirmed_first():
    ear = PaperEar()
    Talk(ear, ask=ear.ask, wait=ear.wait).hold()
    assert any("127.0.0.1:4000 sends" in text for text in ear.asked[:3])


def test_the_interview_may_end_at_any_question():
    for questions in range(0, 14, 3):
        ear = PaperEar()
        ear.asks = iter([True] * questions)
        explained = Talk(
            ear, ask=lambda text, ear=ear: ear.ask(text) if next(ear.asks, False) else "", wait=ear.wait
        ).hold()
        assert all(one.heard == rig_map().hears[one.key] for one in explained.findings if one.heard)


def test_the_ear_keeps_one_sender_and_writes_steps_that_others_pass_over(tmp_path, capsys):
    path = tmp_path / "kept.jsonl"
    here = Address("127.0.0.1", 0)
    with (
        Port(here) as port,
        Port(here) as host,
        Port(here) as stranger,
        Recorder(path) as recorder,
        Ear(port, recorder) as ear,
    ):
        host.send(Message("/h/at", "f", (1.5,)), port.place)
        wait_until(lambda: ear.newcomer() is not None)
        ear.sender = ear.newcomer()[0]
        ear.refused.add(stranger.place)
        stranger.send(Message("/s/at", "f", (2.5,)), port.place)
        host.send(Message("/pulsebridge/learn/done", "ss", ("play", "")), port.place)
        host.send(Message("/h/at", "f", (3.5,)), port.place)
        wait_until(lambda: (ear.take(), len(ear.happenings) == 2 and ear.ignored == 2)[1])
        ear.mark(Mark(What.ASKED, "play"))
    kept = [one.osc for one in read_recording(path.read_bytes().splitlines())]
    assert [one.address for one in kept] == ["/h/at", "/h/at", "/pulsebridge/learn/asked"]
    assert read_mark(kept[-1]) == Mark(What.ASKED, "play")
    assert main(["receive", "--replay", str(path), "--json"]) == 0


def test_what_goes_wrong_with_the_port_is_raised_where_the_interview_goes_on():
    class Broken:
        def __init__(self, port):
            self.fileno = port.fileno

        def drain(self, most):
            raise DeviceError("the port is gone")

    here = Address("127.0.0.1", 0)
    with Port(here) as port, Port(here) as host, Ear(Broken(port), None) as ear:
        host.send(Message("/h/at", "f", (1.5,)), port.place)
        with pytest.raises(DeviceError, match="is gone"):
            wait_until(ear.take)


def wait_until(true):
    tick = threading.Event()
    for _ in range(500):
        if true():
            return
        tick.wait(0.01)
    raise AssertionError("it did not come in time")


def test_a_kept_interview_means_what_it_meant_live(tmp_path, capsys):
    ear = PaperEar()
    live = Talk(ear, to=Address("127.0.0.1", 9), ask=ear.ask, wait=ear.wait).hold()
    code, out, _ = learn(capsys, "--replay", keep(tmp_path / "kept.jsonl", ear.happenings), "--json")
    result = json.loads(out)
    assert code == 0
    assert [one["evidence"] for one in result["findings"]] == [one.evidence for one in live.findings]
    assert {one["key"] for one in result["says"]} == set(rig_map().says)
    assert explain(ear.happenings) == live


def test_a_port_that_is_taken_is_exit_3(capsys):
    with Port(Address("127.0.0.1", 0)) as port:
        taken = port.place[1]
        code, _, err = learn(capsys, "--listen", f"127.0.0.1:{taken}")
    assert code == 3
    assert str(taken) in err


def test_where_nobody_answers_the_interview_ends_and_nothing_is_learnt(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    code, out, err = learn(capsys, "--listen", "127.0.0.1:0", "--json")
    assert code == 3
    assert json.loads(out)["steps"] == 0
    assert "ends here" in err


@pytest.mark.parametrize("words", [["--listen", "here"], ["--to", "there"], ["--name", "a\nb"]])
def test_what_a_map_cannot_hold_is_refused_before_the_interview(capsys, words):
    assert learn(capsys, *words)[0] == 2
