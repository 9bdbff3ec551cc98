"""What counting the system's own losses promises."""

import sys

import pytest

from bridge.hostmap import Address, Message
from bridge.osc import Port
from bridge.osc.overflow import overflowed

ROW = "0: 0100007F:2328 00000000:0000 07 00000000:00000000 00:00000000 00000000 0 0 4711 2 0000 42"


def test_the_last_column_of_the_sockets_row_is_read(tmp_path):
    (tmp_path / "net").mkdir()
    (tmp_path / "net" / "udp").write_text(f"  sl  local_address ...\n {ROW}\n")
    assert overflowed(4711, tmp_path) == 42
    assert overflowed(4712, tmp_path) == 0
    assert overflowed(4711, tmp_path / "nowhere") == 0


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells")
def test_what_finds_no_room_is_counted(monkeypatch):
    monkeypatch.setattr("bridge.osc.port.WANTED_BUFFER", 4096)
    with Port(Address("127.0.0.1", 0)) as here, Port(Address("127.0.0.1", 0)) as there:
        for _ in range(2000):
            here.send(Message("/a", "i", (1,)), there.place)
        assert there.overflowed() + len(there.receive(0.0)) + len(there.receive(0.0)) >= 2000
        assert there.overflowed() > 1000
