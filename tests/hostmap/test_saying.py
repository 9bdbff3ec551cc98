"""What deeds of several messages promise: waits, replies, every type of OSC 1.0, maps that extend maps."""

from fractions import Fraction as F

import pytest

from bridge.errors import PlanError
from bridge.hostmap import Message, Names, Step, extends, load
from bridge.osc import decode, encode

HEAD = "pulsebridge_host: 1\n"


def place(text: str):
    return load(f"{HEAD}says:\n  place: {text}\n").says["place"]


def steps(text: str, **facts) -> tuple[Step, ...]:
    return tuple(said.step(lambda field: facts[field.name])[0] for said in place(text))


def test_waits_belong_to_the_message_before_them():
    said = place("[{address: /a}, {wait: 20ms}, {wait: 5ms}, {address: /b}, {wait: 0.1s}]")
    assert [(one.address, one.wait) for one in said] == [("/a", F(25, 1000)), ("/b", F(1, 10))]


def test_a_reply_is_awaited_with_its_arguments_filled_in():
    text = (
        '[{address: /go, args: ["{quarters:f}"],'
        ' reply: {address: /at, args: ["{quarters:f}", ready], within: 80ms, tries: 3}}]'
    )
    (step,) = steps(text, quarters=F(48))
    assert (step.reply.within, step.reply.tries) == (F(8, 100), 3)
    for given in (Message("/at", "fs", (48.0, "ready")), Message("/at", "isi", (48, "ready", 1))):
        assert step.reply.is_given_by(given)
    for other in (
        Message("/at", "fs", (48.1, "ready")),
        Message("/at", "f", (48.0,)),
        Message("/at", "fs", (48.0, "no")),
        Message("/on", "fs", (48.0, "ready")),
        Message("/at", "ss", ("x", "ready")),
        Message("/at", "[fs]", (48.0, "ready")),
    ):
        assert not step.reply.is_given_by(other)


@pytest.mark.parametrize(
    ("argument", "tag", "value"),
    [
        ("{type: i, value: -7}", "i", -7),
        ("{type: h, value: 9000000000}", "h", 9_000_000_000),
        ("{type: f, value: 1}", "f", 1.0),
        ("{type: d, value: 0.1}", "d", 0.1),
        ("{type: s, value: 12}", "s", "12"),
        ("{type: S, value: tide}", "S", "tide"),
        ("{type: b, value: 00ff 10}", "b", b"\x00\xff\x10"),
        ("{type: b, value: ''}", "b", b""),
        ("{type: c, value: x}", "c", 120),
        ("{type: r, value: '#ff000080'}", "r", -16777088),
        ("{type: m, value: 00 90 3c 7f}", "m", 0x00903C7F),
        ("{type: t, value: immediately}", "t", 1),
        ("{type: t, value: 18446744073709551615}", "t", 2**64 - 1),
        ("{type: T}", "T", True),
        ("{type: F}", "F", False),
        ("{type: N}", "N", None),
        ("{type: I}", "I", True),
    ],
)
def test_every_type_of_osc_1_0_can_be_written_and_arrives_as_it_was_written(argument, tag, value):
    (step,) = steps(f"[{{address: /a, args: [1, {argument}, end]}}]")
    assert step.message == Message("/a", f"i{tag}s", (1, value, "end"))
    packet = encode(step.message)
    assert len(packet) % 4 == 0
    assert decode(packet) == ((step.message,), ())
    assert Step.from_record(step.as_record()) == step


def test_a_list_is_sent_between_its_marks():
    (step,) = steps("[{address: /a, args: [[1, [x]], {type: T}]}]")
    assert step.message == Message("/a", "[i[s]]T", (1, "x", True))
    assert decode(encode(step.message)) == ((step.message,), ())


@pytest.mark.parametrize(
    ("text", "says", "column"),
    [
        ("[{wait: 20ms}, {address: /a}]", "begins with a wait", 11),
        ("[{address: /a}, {wait: 3s}]", "at most 2s", 26),
        ("[{address: /a}, {wait: soon}]", "soon", 33),
        ("[{address: /a, args: [{type: q}]}]", "no type 'q'", 32),
        ("[{address: /a, args: [{type: i}]}]", "needs a value", 32),
        ("[{address: /a, args: [{type: T, value: 1}]}]", "has no value", 49),
        ("[{address: /a, args: [{type: i, value: 2147483648}]}]", "32 bits", 49),
        ("[{address: /a, args: [{type: b, value: 0f0}]}]", "hex", 49),
        ("[{address: /a, args: [{seconds:f}]}]", "in quotes", 32),
        ("[{address: /a, reply: {within: 1s}}]", "lacks the key 'address'", 32),
        ("[{address: /a, reply: {address: /b, tries: 99}}]", "at most 20", 53),
        ("[{address: /a, reply: {address: /b, within: 9s}}]", "at most 2s", 54),
        ('[{address: /a, reply: {address: /b, args: ["{second:f}"]}}]', "no field 'second'", 53),
    ],
)
def test_what_cannot_be_said_is_refused_where_it_stands(text, says, column):
    with pytest.raises(PlanError) as caught:
        place(text)
    assert says in str(caught.value)
    assert (caught.value.where.line, caught.value.where.column) == (3, column)


BASE = """pulsebridge_host: 1
name: quay
send_to: 127.0.0.1:1
pace: 7ms
names: once
hears: {playing: {address: /p, arg: 0}, tempo: {address: /t, arg: 0}}
says: {place: [{address: /a}], rename: [{address: /r}]}
"""


def test_a_map_takes_from_the_one_it_extends_what_it_does_not_say_itself():
    text = f"{HEAD}extends: base.yaml\nname: pier\nhears: {{tempo: }}\nsays: {{place: [{{address: /b}}]}}\n"
    assert extends(text)[0] == "base.yaml"
    assert extends(BASE) is None
    host = load(text, bases=[(BASE, "base.yaml")])
    assert (host.name, str(host.send_to), host.pace, host.names) == (
        "pier",
        "127.0.0.1:1",
        F(7, 1000),
        Names.ONCE,
    )
    assert set(host.hears) == {"playing"}
    assert [host.says[key][0].address for key in ("place", "rename")] == ["/b", "/r"]


def test_an_error_in_a_map_that_is_extended_names_its_own_file_and_line():
    text = f"{HEAD}extends: base.yaml\n"
    with pytest.raises(PlanError) as caught:
        load(text, source="top.yaml", bases=[(BASE.replace("pace: 7ms", "pace: soon"), "base.yaml")])
    assert (caught.value.where.file, caught.value.where.line) == ("base.yaml", 4)
    with pytest.raises(PlanError, match="was not given"):
        load(text)
