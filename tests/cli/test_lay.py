"""The command ``lay`` with the practice host, over real UDP."""

import json
import socket
from fractions import Fraction as F
from pathlib import Path

import pytest

from bridge.cli.host_maps import load_host_map
from bridge.cli.main import main
from bridge.exact import Meter, Tempo
from bridge.hostmap import Address
from bridge.osc import Port
from bridge.practice import PracticeHost, SteadyTimeline, Weather
from tests.hostmap import RIG
from tests.lay.hosts import HarbourCrane, NameWall, Stage, TallyDesk

PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 120
meter: 4/4
layers: {band: {cycle: 4 bars}, hand drum: {cycle: 3/16}}
sections:
  - {name: Prelude, layers: [band], bars: 4}
  - {name: Crossing, layers: [band, hand drum], bars: 12}
"""
QUIET = """
pulsebridge_host: 1
send_to: 127.0.0.1:9001
says: {place: [{address: /put, args: ["{quarters:f}", "{name:s}"]}]}
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch) -> Path:
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path / "state"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "song.yaml").write_text(PLAN)
    return tmp_path


def free_ports(count: int) -> list[int]:
    sockets = [socket.socket(socket.AF_INET, socket.SOCK_DGRAM) for _ in range(count)]
    for one in sockets:
        one.bind(("127.0.0.1", 0))
    ports = [one.getsockname()[1] for one in sockets]
    for one in sockets:
        one.close()
    return ports


def rig(folder: Path, *, bpm: int = 120, **more) -> PracticeHost:
    (here,) = free_ports(1)
    timeline = SteadyTimeline(Tempo.constant(F(bpm)), Meter.parse("4/4"))
    host = PracticeHost(
        timeline,
        listen_on=Address("127.0.0.1", 0),
        send_to=Address("127.0.0.1", here),
        notes=[(3.5, "mine")],
        **more,
    )
    text = RIG.replace("127.0.0.1:9001", f"127.0.0.1:{host.port.place[1]}").replace(":9000", f":{here}")
    (folder / "rig.yaml").write_text(text)
    return host


def lay(capsys, *words: str) -> tuple[int, dict, str]:
    code = main(["lay", "song.yaml", "--host", "rig.yaml", "--json", *words])
    out = capsys.readouterr()
    (line,) = out.out.splitlines()
    return code, json.loads(line), out.err


def test_it_lays_verifies_and_laying_twice_changes_nothing(folder, capsys):
    with rig(folder) as host:
        code, told, _ = lay(capsys)
        assert code == 0
        packets = told.pop("packets")
        assert packets.pop("received") > 20
        assert set(packets.values()) == {0}
        assert told == {
            "placed": 3, "kept": 0, "moved": 0, "removed": 0, "renamed": 0, "verified": 3, "unverified": 0,
            "failed": [], "messages": None, "timeline": None,
        }  # fmt: skip
        laid = host.notes
        assert [(note.name, note.seconds) for note in laid] == [
            ("mine", 3.5), ("Prelude", 0.0), ("Crossing", 8.0), ("End", 32.0),
        ]  # fmt: skip
        code, told, _ = lay(capsys)
        assert (code, told["kept"], told["verified"]) == (0, 3, 3)
        assert host.notes == laid
    assert (folder / "song.yaml.laid.json").is_file()


def test_people_get_a_line_that_counts(folder, capsys):
    with rig(folder):
        assert main(["lay", "song.yaml", "--host", "rig.yaml"]) == 0
    assert capsys.readouterr().out == "3 of 3 markers verified (3 placed)\n"


def test_another_tempo_is_refused_with_exit_3_and_anyway_lays(folder, capsys):
    with rig(folder, bpm=90) as host:
        code, told, _ = lay(capsys)
        assert (code, told["error"]["kind"]) == (3, "peer")
        assert "90" in told["error"]["message"]
        assert len(host.notes) == 1
        assert not (folder / "song.yaml.laid.json").exists()
        code, told, err = lay(capsys, "--anyway")
        assert (code, told["verified"]) == (0, 3)
        assert "warning" in err


def test_what_was_moved_in_the_host_is_exit_3_and_put_back_on_request(folder, capsys):
    with rig(folder) as host:
        lay(capsys)
        crossing = next(note for note in host.notes if note.name == "Crossing")
        moved = type(crossing)(crossing.id, 9.0, "Crossing")
        host._rig._notes[crossing.id] = moved
        code, told, _ = lay(capsys)
        assert (code, told["failed"]) == (3, [{"name": "Crossing", "why": "moved in the host"}])
        code, told, _ = lay(capsys, "--put-back")
        assert (code, told["moved"], told["verified"], told["failed"]) == (0, 1, 3, [])
        assert sorted(note.seconds for note in host.notes) == [0.0, 3.5, 8.0, 32.0]


def test_a_dry_run_sends_nothing_and_needs_no_host(folder, capsys):
    rig(folder).port.close()
    code, told, _ = lay(capsys, "--dry-run")
    assert code == 0
    assert told["messages"] == [
        ["/rig/note/put", "fs", 0.0, "Prelude"],
        ["/rig/note/put", "fs", 8.0, "Crossing"],
        ["/rig/note/put", "fs", 32.0, "End"],
    ]
    assert not (folder / "song.yaml.laid.json").exists()


def test_a_host_that_does_not_answer_is_exit_3_with_all_that_failed(folder, capsys):
    rig(folder).port.close()
    code, told, err = lay(capsys)
    assert code == 3
    assert len(told["failed"]) == 3
    assert "nothing answers at 127.0.0.1" in told["error"]["message"]
    assert "nothing answers" in err


def test_a_taken_port_is_exit_3_and_named(folder, capsys):
    rig(folder).port.close()
    text = (folder / "rig.yaml").read_text()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
        here = next(line for line in text.splitlines() if line.startswith("receive_on"))
        (folder / "rig.yaml").write_text(text.replace(here, f"receive_on: 127.0.0.1:{port}"))
        code, told, _ = lay(capsys)
    assert (code, told["error"]["kind"]) == (3, "device")
    assert str(port) in told["error"]["message"]


def test_only_one_lay_at_a_time(folder, capsys):
    from bridge.store import Lock, state_folder

    host = rig(folder)
    host.port.close()
    name = f"lay-127.0.0.1_{host_port(folder)}.lock"
    with Lock(state_folder() / name, who="pulsebridge lay"):
        code, told, _ = lay(capsys)
    assert (code, told["error"]["kind"]) == (3, "peer")
    assert "pulsebridge lay" in told["error"]["message"]


def host_port(folder: Path) -> int:
    line = next(x for x in (folder / "rig.yaml").read_text().splitlines() if x.startswith("send_to"))
    return int(line.split()[1].rpartition(":")[2])


def test_a_blind_host_is_laid_once_and_unverified(folder, capsys):
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as host:
        host.bind(("127.0.0.1", 0))
        host.settimeout(2)
        (folder / "rig.yaml").write_text(QUIET.replace("9001", str(host.getsockname()[1])))
        code, told, _ = lay(capsys)
        assert (code, told["placed"], told["verified"], told["unverified"]) == (0, 3, 0, 3)
        assert b"Prelude" in host.recv(100)
        code, told, _ = lay(capsys)
        assert (code, told["kept"], told["placed"], told["unverified"]) == (0, 3, 0, 3)


def test_the_record_can_stand_elsewhere_and_a_folder_that_refuses_is_said(folder, capsys):
    (folder / "elsewhere").mkdir()
    with rig(folder) as host:
        code, _, _ = lay(capsys, "--record-in", "nowhere")
        assert code == 3
        assert len(host.notes) == 1
        code, _, _ = lay(capsys, "--record-in", "elsewhere")
        assert code == 0
    assert (folder / "elsewhere" / "song.yaml.laid.json").is_file()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("send_to: 127.0.0.1:", "# send_to: "), "'lay' needs 'send_to'"),
        (("receive_on: 127.0.0.1:", "# receive_on: "), "'lay' needs 'receive_on'"),
        (("  place:", "  # place:"), "'lay' needs 'says.place'"),
        (("{seconds:f}", "{secondes:f}"), "Did you mean 'seconds'?"),
    ],
)
def test_a_map_that_cannot_lay_is_exit_2_and_named(folder, capsys, change, message):
    rig(folder).port.close()
    (folder / "rig.yaml").write_text((folder / "rig.yaml").read_text().replace(*change))
    code, told, _ = lay(capsys)
    assert (code, told["error"]["kind"]) == (2, "plan")
    assert message in told["error"]["message"]


def test_a_broken_record_is_exit_2_and_nothing_is_sent(folder, capsys):
    (folder / "song.yaml.laid.json").write_text("{")
    with rig(folder) as host:
        code, told, _ = lay(capsys)
        assert (code, len(host.notes)) == (2, 1)
        assert "--adopt" in told["error"]["message"]


def test_with_a_quarter_lost_each_way_all_is_verified_once(folder, capsys):
    with rig(folder, weather=Weather(lose=0.25, seed=7)) as host:
        code, told, _ = lay(capsys)
        assert (code, told["verified"], told["failed"]) == (0, 3, [])
        assert sorted(note.seconds for note in host.notes) == [0.0, 3.5, 8.0, 32.0]


def test_several_hosts_are_laid_at_once_each_with_its_own_result(folder, capsys):
    with Stage(TallyDesk(), folder) as tally, Stage(HarbourCrane(), folder) as crane:
        silent = Stage(NameWall(), folder)
        hosts = [word for stage in (tally, crane, silent) for word in ("--host", str(stage.path))]
        code = main(["lay", "song.yaml", *hosts, "--json"])
        told = json.loads(capsys.readouterr().out)
        assert code == 3
        assert [one["name"] for one in told["hosts"]] == ["tally desk", "harbour crane", "name wall"]
        assert [one["verified"] for one in told["hosts"]] == [3, 3, 0]
        assert (told["placed"], told["verified"]) == (sum(one["placed"] for one in told["hosts"]), 6)
        assert {one["host"] for one in told["failed"]} == {"name wall"}
        assert tally.program.state() == crane.program.state()
        code = main(["lay", "song.yaml", *hosts[:4], "--json"])
        assert (code, json.loads(capsys.readouterr().out)["kept"]) == (0, 6)


def test_two_hosts_at_one_address_are_refused(folder, capsys):
    path = str(Stage(TallyDesk(), folder).path)
    assert main(["lay", "song.yaml", "--host", path, "--host", path, "--json"]) == 2
    assert "its own send_to" in capsys.readouterr().err


@pytest.mark.parametrize("opened", [[], ["127.0.0.3"], ["127.0.0.2"], ["127.0.0.0/30"]])
def test_packets_from_other_addresses_count_only_where_the_network_was_opened_to_them(folder, capsys, opened):
    """The host answers from another address of its machine than the one at which it listens."""
    with Stage(TallyDesk(), folder) as stage:
        host = load_host_map(stage.path)
        with Port(Address("127.0.0.2", 0)) as elsewhere:
            serving = stage._serving
            serving.port.send = elsewhere.send
            words = [word for address in opened for word in ("--open-network", address)]
            code = main(["lay", "song.yaml", "--host", str(stage.path), "--json", *words])
            told = json.loads(capsys.readouterr().out)
    is_open = opened in (["127.0.0.2"], ["127.0.0.0/30"])
    assert host.send_to.host == "127.0.0.1"
    assert (code, told["verified"]) == ((0, 3) if is_open else (3, 0))
    assert (told["packets"]["strangers"] > 0) != is_open


def test_an_address_that_is_none_is_refused_before_anything_is_sent(folder, capsys):
    stage = Stage(TallyDesk(), folder)
    assert main(["lay", "song.yaml", "--host", str(stage.path), "--open-network", "everybody"]) == 2
    assert "192.168.1.20" in capsys.readouterr().err
