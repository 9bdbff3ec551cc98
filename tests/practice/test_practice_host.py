"""The practice host over real UDP, in a thread and as the command."""

import json
import subprocess
import sys
from fractions import Fraction as F

import pytest

from bridge.errors import DeviceError
from bridge.exact import Meter, Tempo
from bridge.hostmap import Address, Message
from bridge.osc import Port
from bridge.practice import PracticeHost, SteadyTimeline, Weather

TIMELINE = SteadyTimeline(Tempo.constant(F(120)), Meter.parse("4/4"))
ANY = Address("127.0.0.1", 0)


def heard_until(port: Port, address: str, tries: int = 40) -> list[Message]:
    found: list[Message] = []
    for _ in range(tries):
        for arrived in port.receive(0.1):
            found.extend(arrived.messages)
        if any(message.address == address for message in found):
            return found
    raise AssertionError(f"no {address} in {found}")


def test_a_host_in_a_thread_answers_and_ends():
    with Port(ANY) as us:
        host = PracticeHost(TIMELINE, listen_on=ANY, send_to=Address(*us.place), notes=[(1.0, "mine")])
        with host:
            us.send(Message("/rig/note/put", "fs", (2.5, "Ebb")), host.port.place)
            us.send(Message("/rig/note/all"), host.port.place)
            heard = heard_until(us, "/rig/notes/end")
            assert Message("/rig/note", "ifs", (2, 2.5, "Ebb")) in heard
            us.send(Message("/rig/roll", "i", (1,)), host.port.place)
            heard_until(us, "/rig/rolling")
        assert [note.name for note in host.notes] == ["mine", "Ebb"]


def test_the_weather_takes_its_share_both_ways():
    with Port(ANY) as us:
        weather = Weather(lose=1.0)
        with PracticeHost(TIMELINE, listen_on=ANY, send_to=Address(*us.place), weather=weather) as host:
            us.send(Message("/rig/note/put", "fs", (2.5, "Ebb")), host.port.place)
            assert us.receive(0.2) == []
        assert host.notes == ()
        assert host.dropped >= 1


def test_a_taken_port_is_said():
    with Port(ANY) as us, pytest.raises(DeviceError, match="cannot be opened"):
        PracticeHost(TIMELINE, listen_on=Address(*us.place), send_to=ANY)


def test_the_command_says_when_it_is_ready_and_what_it_held_at_the_end():
    words = ["practice-host", "--port", "0", "--for", "30s", "--marker", "12.5=My idea", "--json"]
    with Port(ANY) as us:
        words += ["--to", f"127.0.0.1:{us.place[1]}"]
        command = [sys.executable, "-m", "bridge", *words]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
            ready = json.loads(process.stdout.readline())
            host, _, port = ready["listens_on"].rpartition(":")
            us.send(Message("/rig/note/put", "fs", (2.5, "Ebb")), (host, int(port)))
            assert json.loads(process.stdout.readline()) == {"markers": 2, "playing": False}
            process.terminate()
            last = json.loads(process.stdout.read())
            process.wait(10)
        assert process.returncode == 0
        assert [(m["seconds"], m["name"]) for m in last["markers"]] == [(2.5, "Ebb"), (12.5, "My idea")]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--lose", "a lot"], "--lose is a share"),
        (["--lose", "101%"], "--lose is a share"),
        (["--marker", "12.5"], "SECONDS=NAME"),
        (["--marker", "soon=Ebb"], "--marker cannot be"),
        (["--to", "127.0.0.1"], "HOST:PORT"),
        (["--tempo", "0"], "a tempo is 1 to 1000"),
        (["--plan", "x.yaml", "--tempo", "90"], "brings its own"),
    ],
)
def test_bad_usage_is_exit_2(words, message, capsys):
    from bridge.cli.main import main

    assert main(["practice-host", "--port", "0", *words]) == 2
    assert message in capsys.readouterr().err
