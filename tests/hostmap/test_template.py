"""What filling in a template promises."""

import struct
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.hostmap import CannotHoldError, Said, Template
from bridge.hostmap.template import FIELDS, fixed, scan


def fill(text: str, **facts):
    return scan(text).fill(lambda field: facts[field.name])


def test_a_field_alone_is_sent_under_its_own_type():
    assert scan("{seconds:f}").type == "f"
    assert fill("{seconds:f}", seconds=F(1, 3))[0] == struct.unpack(">f", struct.pack(">f", 1 / 3))[0]
    assert fill("{seconds:d}", seconds=F(1, 3))[0] == 1 / 3
    assert fill("{samples@44100:i}", samples=F(441, 2))[0] == 220
    assert fill("{ticks:h}", ticks=F(2**40))[0] == 2**40
    assert fill("{name:s}", name="Ebb")[0] == "Ebb"


def test_fields_amid_text_are_one_text():
    assert fill("{name:s} at {bar:s}.{beat:s}", name="Ebb", bar=13, beat=F(3))[0] == "Ebb at 13.3"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (F(12), "12"),
        (F(5, 2), "2.5"),
        (F(-1, 4), "-0.25"),
        (F(1, 3), "0.333333333"),
        (F(10**7) + F(1, 8), "10000000.125"),
    ],
)
def test_a_number_as_text_is_a_plain_decimal(value, text):
    got = fill("{seconds:s}", seconds=value)[0]
    assert F(got) == F(text)
    assert "e" not in got


def test_what_arrives_is_known_exactly():
    _, (filled,) = fill("{seconds:f}", seconds=F("663.1"))
    assert filled.number.value == F(struct.unpack(">f", struct.pack(">f", 663.1))[0])
    assert filled.number.step == F(1, 2**14)
    assert fill("{seconds:i}", seconds=F("663.1"))[1][0].number.value == 663


@pytest.mark.parametrize(
    ("text", "facts"),
    [
        ("{samples:i}", {"samples": F(2**31)}),
        ("{ticks:h}", {"ticks": F(2**63)}),
        ("{seconds:f}", {"seconds": F(10**39)}),
        ("{id:i}", {"id": "verse"}),
    ],
)
def test_a_value_beyond_its_type_is_refused(text, facts):
    with pytest.raises(CannotHoldError):
        fill(text, **facts)


@pytest.mark.parametrize(
    ("text", "plain", "tag", "value"),
    [
        ("1", True, "i", 1),
        ("-7", True, "i", -7),
        ("0.5", True, "f", 0.5),
        ("1", False, "s", "1"),
        ("2:30", True, "s", "2:30"),
        ("1e3", True, "s", "1e3"),
        ("true", True, "s", "true"),
        ("", False, "s", ""),
    ],
)
def test_fixed_arguments_have_the_type_of_their_look(text, plain, tag, value):
    assert fixed(text, plain=plain) == Template(tag, (value,))


@given(st.text(max_size=30))
def test_no_text_makes_the_scanner_do_anything_but_read_or_refuse(text):
    from bridge.errors import PlanError

    try:
        template = scan(text)
    except PlanError:
        return
    assert all(field.name in FIELDS for field in template.fields)


@given(st.fractions(0, 10**6), st.sampled_from("fd"))
def test_what_is_sent_is_the_nearest_number_of_its_type(value, tag):
    _, (filled,) = fill(f"{{seconds:{tag}}}", seconds=value)
    assert abs(filled.number.value - value) <= filled.number.step / 2


def test_a_message_takes_its_types_from_its_templates():
    said = Said(address="/a", args=(scan("{bar:i}"), fixed("2", plain=True), scan("{name:s}")))
    message, _ = said.fill(lambda field: {"bar": 3, "name": "Ebb"}[field.name])
    assert message.as_record() == ["/a", "iis", 3, 2, "Ebb"]
