"""Tests of the host map, and the map of design.md for them."""

from pathlib import Path

RIG = (Path(__file__).parents[2] / "examples" / "hosts" / "practice-rig.yaml").read_text(encoding="utf-8")
