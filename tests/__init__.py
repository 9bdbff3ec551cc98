"""The tests; they mirror ``bridge/``."""

from __future__ import annotations

import importlib
import os
from types import ModuleType

import pytest

__all__ = ["oracle"]


def oracle(name: str) -> ModuleType:
    """Import a second opinion from the extra ``oracles``; skip without it, but fail in CI."""
    try:
        return importlib.import_module(name)
    except ImportError:
        if os.environ.get("PULSEBRIDGE_CI"):
            raise
        pytest.skip(f"{name} is not installed (extra 'oracles')", allow_module_level=True)
