"""The public face: complete, sorted, loaded on use, and its example is true."""

from __future__ import annotations

import ast
import doctest
from pathlib import Path

import pytest

import bridge


def test_it_is_sorted_and_every_name_is_there():
    assert list(bridge.__all__) == sorted(bridge.__all__) == dir(bridge)
    for name in bridge.__all__:
        assert getattr(bridge, name).__name__ == name


def test_type_checkers_see_the_same_names():
    tree = ast.parse(Path(bridge.__file__).read_text(encoding="utf-8"))
    (guarded,) = (node for node in tree.body if isinstance(node, ast.If))
    shown = {
        (alias.name, node.module)
        for node in ast.walk(guarded)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert shown == set(bridge._HOME.items())


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        bridge.nothing  # noqa: B018


def test_the_docstrings_example_runs():
    assert doctest.testmod(bridge).failed == 0
    assert doctest.testmod(bridge).attempted == 3
