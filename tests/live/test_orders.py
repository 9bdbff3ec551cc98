"""Controls from the wire: whose count, what they mean, what is refused."""

from __future__ import annotations

import pytest

from bridge.errors import UsageError
from bridge.hostmap import Message
from bridge.live.orders import Orders, is_loopback
from bridge.show import Control

TOKEN = "a-token-of-tonight"
FAR, HERE = "192.168.1.7", "127.0.0.1"


def read(address, types="", *args, sender=HERE):
    return Orders(TOKEN).read(Message(f"/pulsebridge/{address}", types, args), sender)


@pytest.mark.parametrize(
    ("address", "types", "args", "control"),
    [
        ("hold", "", (), Control(do="hold")),
        ("release", "", (), Control(do="release")),
        ("release", "s", ("hand drum",), Control(do="release", name="hand drum")),
        ("release", "s", ("",), Control(do="release")),
        ("release_now", "", (), Control(do="release_now")),
        ("skip", "", (), Control(do="skip")),
        ("again", "", (), Control(do="again")),
        ("locate", "s", ("13.1",), Control(do="locate", name="13.1")),
    ],
)
def test_each_control_with_and_without_the_token(address, types, args, control):
    assert read(address, types, *args) == control
    assert read(address, types + "s", *args, TOKEN) == control
    assert read(address, types + "s", *args, TOKEN, sender=FAR) == control


@pytest.mark.parametrize(("types", "args"), [("", ()), ("s", ("wrong",)), ("i", (1,)), ("ss", (TOKEN, "x"))])
def test_from_another_machine_nothing_counts_without_the_token_at_the_end(types, args):
    orders = Orders(TOKEN)
    with pytest.raises(UsageError, match=f"from {FAR} did not end with the token"):
        orders.read(Message("/pulsebridge/hold", types, args), FAR)
    assert (orders.strangers, orders.stranger, orders.taken, orders.wrong) == (1, FAR, 0, 0)


@pytest.mark.parametrize(
    ("types", "args", "pressed"),
    [
        ("f", (1.0,), True),
        ("f", (0.0,), False),
        ("i", (127,), True),
        ("T", (True,), True),
        ("F", (False,), False),
    ],
)
def test_a_buttons_press_counts_and_letting_go_does_nothing(types, args, pressed):
    assert (read("hold", types, *args) is not None) is pressed


@pytest.mark.parametrize(
    ("address", "types", "args"),
    [
        ("now", "", ()),
        ("hold", "s", ("x",)),
        ("locate", "", ()),
        ("locate", "i", (3,)),
        ("release", "ss", ("a", "b")),
        ("*", "", ()),
        ("release", "s", ("  ",)),
        ("hold", "b", (b"x",)),
    ],
)
def test_what_is_no_control_is_refused_and_counted(address, types, args):
    orders = Orders(TOKEN)
    with pytest.raises(UsageError):
        orders.read(Message(f"/pulsebridge/{address}", types, args), HERE)
    assert (orders.wrong, orders.taken) == (1, 0)


def test_other_addresses_are_no_controls():
    with pytest.raises(UsageError, match="is no control"):
        Orders(TOKEN).read(Message("/rig/hold"), HERE)


def test_which_addresses_are_this_machine():
    assert all(map(is_loopback, ["127.0.0.1", "127.9.0.1", "::1", "::ffff:127.0.0.1"]))
    assert not any(map(is_loopback, ["192.168.1.7", "::ffff:10.0.0.1", "fe80::1%eth0", "", "tide"]))
