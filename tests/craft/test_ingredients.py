"""Layers as recipes are given them."""

from __future__ import annotations

import pytest

from bridge.craft.ingredients import as_layers, named_cycles
from bridge.errors import PlanError
from bridge.exact import Length, Meters


def test_names_and_cycles_are_kept_as_written_and_in_order():
    found = named_cycles("band = 4 bars, hand drum=3/16")
    assert list(found.items()) == [("band", "4 bars"), ("hand drum", "3/16")]
    layers = as_layers(found, Meters.parse("7/8"))
    assert [layer.cycle for layer in layers] == [Length("7/2"), Length("3/16")]


@pytest.mark.parametrize("text", ["", "band", "band=", "=4 bars", "a=1/4, a=1/8", "a=1/4,,b=1/8"])
def test_what_is_no_list_of_layers_is_refused(text):
    with pytest.raises(PlanError):
        named_cycles(text)


@pytest.mark.parametrize("cycle", ["0 bars", "soon", "3 bars of rest"])
def test_what_is_no_cycle_is_refused(cycle):
    with pytest.raises(PlanError):
        as_layers({"band": cycle}, Meters.parse("4/4"))
