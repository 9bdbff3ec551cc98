"""What the relation of two layers is called."""

from __future__ import annotations

import pytest

from bridge.cycles import Kind, Layer, Relation, relation
from bridge.exact import Length, Ratio

from .material import layer

PULSES = Layer(name="keys", cycle=Length(1), kind=Kind.PULSES)


@pytest.mark.parametrize(
    ("one", "other", "called"),
    [
        (layer("band", 4), layer("hand drum", "3/16"), Relation.POLYMETER),
        (layer("band", 4), layer("drum", 1), Relation.POLYMETER),
        (layer("figure", "3/4"), layer("second", "3/4", 0, "73/72"), Relation.DRIFT),
        (layer("figure", "3/4"), layer("second", "3/4"), Relation.SAME),
        (layer("figure", "3/4"), layer("second", "3/4", "1/8"), Relation.SAME),
        (layer("figure", "3/4"), layer("second", "3/2", 0, 2), Relation.SAME),
        (PULSES, layer("band", 4), Relation.POLYRHYTHM),
        (PULSES, layer("bar", 1), Relation.SAME),
        (PULSES, layer("second", 1, 0, "1.01"), Relation.DRIFT),
    ],
)
def test_the_first_of_same_drift_polyrhythm_polymeter_that_applies(one, other, called):
    assert relation(one, other) is called
    assert relation(other, one) is called


def test_the_same_turn_as_played_is_the_same_whatever_is_written():
    one = Layer(name="a", cycle=Length("73/96"), rate=Ratio("73/72"))
    assert relation(one, layer("b", "3/4")) is Relation.SAME
