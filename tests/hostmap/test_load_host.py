"""What reading a host map promises: everything in it understood, every fault placed."""

from fractions import Fraction as F

import pytest

from bridge.errors import PlanError
from bridge.hostmap import Address, HostMap, Measure, Ramps, Unit, load
from tests.hostmap import RIG


def test_the_map_of_the_contract_is_read():
    rig = load(RIG)
    assert rig.name == "practice rig"
    assert (rig.send_to, rig.receive_on) == (Address("127.0.0.1", 9001), Address("127.0.0.1", 9000))
    assert rig.hears["position"].unit == Unit(Measure.QUARTERS)
    assert rig.hears["meter"].args == {"top": 0, "bottom": 1}
    assert rig.hears["marker"].args == {"id": 0, "at": 1, "name": 2}
    assert [said.address for said in rig.says["place"]] == ["/rig/note/put"]
    assert [template.type for template in rig.says["place"][0].args] == ["f", "s"]
    assert rig.says["stop"][0].args[0].parts == (0,)
    assert (rig.pace, rig.ramps) == (F(1, 200), Ramps.POSITION)


def test_every_key_but_the_version_may_be_left_out():
    assert load("pulsebridge_host: 1\n") == HostMap(name="host")
    assert load("pulsebridge_host: 1\nhears:\nsays:\n") == HostMap(name="host")


def test_a_command_names_what_it_misses():
    with pytest.raises(PlanError, match=r"'lay' needs 'says.place'.*'practice rig'"):
        load("pulsebridge_host: 1\nname: practice rig\n").need("says.place", command="lay")
    with pytest.raises(PlanError, match="'lay' needs 'send_to'"):
        load("pulsebridge_host: 1").need("send_to", command="lay")
    load(RIG).need("hears.marker", command="lay")
    load(RIG).need("receive_on", command="lay")


@pytest.mark.parametrize(
    ("line", "message", "hint", "at"),
    [
        ("hear: {}", "a host map has no key 'hear'", "Did you mean 'hears'?", (2, 1)),
        ("send_to: 127.0.0.1", "an address is HOST:PORT", "127.0.0.1:9001", (2, 10)),
        ("send_to: 127.0.0.1:0", "a port is 1 or more", "", (2, 10)),
        ("send_to: 127.0.0.1:65536", "a port is 1 to 65535", "", (2, 10)),
        ("send_to: ::1:9000", "stands in brackets", "[::1]:9000", (2, 10)),
        ("pace: fast", "the pace cannot be 'fast'", "", (2, 7)),
        ("pace: 11s", "the pace is at most 10s", "", (2, 7)),
        ("ramps: stepped", "'ramps' is one of position, time, steps", "Did you mean 'steps'?", (2, 8)),
        ("hears: {tempo: {arg: 0}}", "lacks the key 'address'", "", (2, 16)),
        ("hears: {tempo: {address: /a}}", "'hears.tempo' lacks the key 'arg'", "", (2, 16)),
        ("hears: {tempo: {address: a, arg: 0}}", "begins with '/'", "Write /a", (2, 26)),
        ("hears: {tempo: {address: '/a b', arg: 0}}", "cannot hold ' '", "", (2, 26)),
        ("hears: {tempo: {address: /a, arg: -1}}", "index from 0", "", (2, 35)),
        ("hears: {tempo: {address: /a, arg: 100}}", "at most 99", "", (2, 35)),
        ("hears: {tempo: {address: /a, arg: 0, unit: hz}}", "is bpm", "", (2, 44)),
        ("hears: {position: {address: /a, arg: 0}}", "lacks the key 'unit'", "", (2, 19)),
        ("hears: {position: {address: /a, arg: 0, unit: beats}}", "a unit cannot be 'beats'", "", (2, 47)),
        ("hears: {position: {address: /a, arg: 0, unit: bars@4}}", "bars have no rate", "", (2, 47)),
        ("hears: {position: {address: /a, arg: 0, unit: samples@0}}", "is 1 or more", "", (2, 47)),
        ("hears: {marker: {address: /a, args: {id: 0}, unit: bars}}", "lacks the key 'at'", "", (2, 37)),
        ("hears: {marker: {address: /a, args: {at: 0, name: 1, nam: 2}}}", "no key 'nam'", "'name'", (2, 54)),
        ("says: {place: {address: /a}}", "is a list of messages, not one", "[{address", (2, 15)),
        ("says: {place: []}", "is a list of messages, not a list", "", (2, 15)),
        ("says: {plase: [{address: /a}]}", "'says' has no key 'plase'", "Did you mean 'place'?", (2, 8)),
        ("says: {place: [{address: /a, args: 1}]}", "are a list", "", (2, 36)),
        ("says: {place: [{address: /a, args: [{seconds:f}]}]}", "is a group of keys", "quotes", (2, 37)),
        ("says: {place: [{address: /a, args: ['{second:f}']}]}", "no field 'second'", "'seconds'", (2, 37)),
        ("says: {place: [{address: /a, args: ['{seconds:x}']}]}", "cannot have the type 'x'", "", (2, 37)),
        ("says: {place: [{address: /a, args: ['{seconds}']}]}", "lacks its type", "", (2, 37)),
        ("says: {place: [{address: /a, args: ['{name:i}']}]}", "a name is text", "", (2, 37)),
        ("says: {place: [{address: /a, args: ['{bar@4:i}']}]}", "has no rate", "", (2, 37)),
        ("says: {place: [{address: /a, args: ['{name:s']}]}", "has no partner", "", (2, 37)),
        ("says: {place: [{address: /a, args: ['{0.__class__:s}']}]}", "no field '0.__class__'", "", (2, 37)),
        ("says: {place: [{address: /a, args: ['at {seconds:f}']}]}", "amid other text", "", (2, 37)),
        ("says: {place: [{address: /a, args: [4294967296]}]}", "does not fit 32 bits", "", (2, 37)),
    ],
)  # fmt: skip
def test_a_fault_is_named_where_it_stands(line, message, hint, at):
    with pytest.raises(PlanError) as caught:
        load(f"pulsebridge_host: 1\n{line}\n", source="map.yaml")
    assert message in caught.value.message
    assert hint in (caught.value.hint or "")
    assert (caught.value.where.line, caught.value.where.column) == at
    assert caught.value.where.file == "map.yaml"
    assert caught.value.where.text == line


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("pulsebridge: 1\ntempo: 120\n", "this is a plan"),
        ("name: rig\n", "lacks the key 'pulsebridge_host'"),
        ("pulsebridge_host: 2\n", "version is 1"),
        ("", "empty"),
        ("[" * 4000, "deep"),
        (b"\x00\xff\x00", "UTF-8"),
    ],
)
def test_what_is_no_host_map_is_refused(text, message):
    with pytest.raises(PlanError, match=message):
        load(text)
