"""What the socket promises, on the loopback."""

from pathlib import Path

import pytest

from bridge.errors import DeviceError, PeerError
from bridge.hostmap import Address, Message
from bridge.osc import Port, holder

LOOPBACK = Address("127.0.0.1", 0)
ONE = Message("/one", "is", (1, "a"))


def test_what_is_sent_arrives_with_its_sender():
    with Port(LOOPBACK) as here, Port(LOOPBACK) as there:
        here.send(ONE, there.place)
        (arrived,) = there.receive(1.0)
        assert arrived.messages == (ONE,)
        assert arrived.sender == here.place


def test_a_burst_of_two_thousand_is_kept_where_the_room_was_granted():
    with Port(LOOPBACK) as here, Port(LOOPBACK) as there:
        count = 2000 if there.buffer >= 4 * 2**20 else 100
        for _ in range(count):
            here.send(ONE, there.place)
        got = 0
        while found := there.receive(0.2):
            got += len(found)
        assert got == count


def test_hostile_packets_are_counted_and_never_fatal():
    with Port(LOOPBACK) as here, Port(LOOPBACK) as there:
        for packet in (b"", b"\x00", b"#bundle\x00\xff\xff", b"/x\x00\x00,Q\x00\x00"):
            here.send_packet(packet, there.place)
        here.send(ONE, there.place)
        found = []
        while len(found) < 1:
            found += there.receive(1.0)
        assert found[0].messages == (ONE,)
        assert there.counts.unreadable == 4
        assert there.counts.received == 5


def test_strangers_are_counted_and_not_believed():
    with Port(LOOPBACK) as here, Port(LOOPBACK, believe="127.0.0.2") as there:
        here.send(ONE, there.place)
        assert there.receive(1.0) == []
        assert there.counts.strangers == 1


def test_a_taken_port_names_its_holder():
    with Port(LOOPBACK) as here, pytest.raises(DeviceError, match="cannot be opened") as caught:
        Port(Address("127.0.0.1", here.place[1]))
    assert caught.value.exit_code == 3
    assert "receive_on" in (caught.value.hint or "")


def test_the_holder_of_a_port_is_found_in_proc(tmp_path: Path, monkeypatch):
    row = "0: 0100007F:2328 00000000:0000 07 00000000:00000000 00:00000000 00000000 0 0 4711 2 0 0"
    (tmp_path / "net").mkdir()
    (tmp_path / "net" / "udp").write_text(f"  sl  local_address ...\n {row}\n")
    (tmp_path / "123" / "fd").mkdir(parents=True)
    (tmp_path / "123" / "fd" / "5").symlink_to("socket:[4711]")
    (tmp_path / "123" / "cmdline").write_bytes(b"rig\x00--port\x009000\x00")
    monkeypatch.setattr(holder, "_PROC", tmp_path)
    assert holder.holder_of_port(9000) == "rig --port 9000 (process 123) has it"
    assert holder.holder_of_port(9001) is None


def test_an_address_that_is_not_ours_is_said():
    with pytest.raises(DeviceError, match="cannot be listened on"):
        Port(Address("192.0.2.1", 9000))


def test_an_unknown_name_is_said():
    with pytest.raises(PeerError, match="is not known"):
        Port(Address("no such host.invalid", 9000))


def test_a_closed_port_of_the_peer_is_survived():
    with Port(LOOPBACK) as gone:
        nobody = gone.place
    with Port(LOOPBACK) as here:
        for _ in range(3):
            here.send(ONE, nobody)
            here.receive(0.01)
        assert here.receive(0.01) == []
