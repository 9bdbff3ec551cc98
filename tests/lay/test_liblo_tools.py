"""oscdump and oscsend (Debian liblo-tools), programs of the C library, as an independent peer."""

import os
import select
import shutil
import subprocess
import time

import pytest

from bridge.hostmap import Address, Message
from bridge.osc import Port
from tests.lay.hosts import free_port

MESSAGE = Message("/crane/try", "ihfdsTFNI", (-7, 2**40, 0.5, 0.1, "low tide", True, False, None, True))


def tool(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        assert "PULSEBRIDGE_CI" not in os.environ, f"{name} is missing: install liblo-tools"
        pytest.skip(f"{name} is not installed")
    return found


def test_oscdump_reads_what_we_send():
    port = free_port()
    command = [tool("oscdump"), "-L", str(port)]
    with (
        subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as dump,
        Port(Address("127.0.0.1", 0)) as ours,
    ):
        try:
            end, line = time.monotonic() + 10, ""
            while not line and time.monotonic() < end:
                ours.send(MESSAGE, ("127.0.0.1", port))
                if select.select([dump.stdout], [], [], 0.1)[0]:
                    line = dump.stdout.readline()
        finally:
            dump.terminate()
    words = line.split(maxsplit=3)
    assert words[1:3] == ["/crane/try", "ihfdsTFNI"]
    assert words[3].split()[:4] == ["-7", str(2**40), "0.500000", "0.100000"]
    assert '"low tide"' in words[3]


def test_we_read_what_oscsend_sends():
    with Port(Address("127.0.0.1", 0)) as ours:
        command = [tool("oscsend"), "127.0.0.1", str(ours.place[1]), "/crane/load"]
        subprocess.run([*command, "ihfdsTFNI", "3", "5", "1.5", "2.25", "my idea"], check=True, timeout=10)
        (arrived,) = ours.receive(5.0)
    assert arrived.messages == (
        Message("/crane/load", "ihfdsTFNI", (3, 5, 1.5, 2.25, "my idea", True, False, None, True)),
    )
