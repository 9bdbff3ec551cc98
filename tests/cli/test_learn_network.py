"""Learning hears loopback alone unless the network is opened: packets from others are counted and dropped."""

import json
import threading

import pytest

from bridge.cli.main import main
from bridge.hostmap import Address, Message
from bridge.osc import Port

STRANGER = "127.0.0.2"
"""An address of this machine that is not the one listened on."""


class Answers:
    """Standard input: lets the host speak before the first answer, and then ends the interview."""

    def __init__(self, ports: list[Port]) -> None:
        self.host = Port(Address(STRANGER, 0))
        self.ports = ports
        self.first = True

    def readline(self) -> str:
        if self.first:
            self.first = False
            for quarters in range(20):
                self.host.send(Message("/h/at", "f", (float(quarters),)), self.ports[0].place)
            tick = threading.Event()
            for _ in range(1000):
                if self.ports[0].counts.received >= 20:
                    break
                tick.wait(0.01)
            return "s\n"
        return "q\n"


@pytest.mark.parametrize("opened", [[], ["127.0.0.3"], [STRANGER], ["127.0.0.0/30"]])
def test_a_host_elsewhere_counts_only_where_the_network_was_opened_to_it(capsys, monkeypatch, opened):
    ports: list[Port] = []

    class Kept(Port):
        def __init__(self, *args, **more) -> None:
            super().__init__(*args, **more)
            ports.append(self)

    answers = Answers(ports)
    monkeypatch.setattr("bridge.live.borrowed.Port", Kept)
    monkeypatch.setattr("sys.stdin", answers)
    words = [word for address in opened for word in ("--open-network", address)]
    code = main(["learn", "--listen", "127.0.0.1:0", "--json", *words])
    answers.host.close()
    captured = capsys.readouterr()
    told = json.loads(captured.out)
    is_open = opened in ([STRANGER], ["127.0.0.0/30"])
    assert code == 3
    assert told["packets"]["received"] == 20
    assert (told["packets"]["strangers"], told["messages"] > 0) == ((0, True) if is_open else (20, False))
    assert (f"--open-network {STRANGER}" in captured.err) != is_open


def test_an_address_that_is_none_is_refused_before_the_interview(capsys):
    assert main(["learn", "--listen", "127.0.0.1:0", "--open-network", "everybody"]) == 2
    assert "192.168.1.20" in capsys.readouterr().err
