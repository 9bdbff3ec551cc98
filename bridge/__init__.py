"""pulsebridge: exact lengths for parts whose cycles differ, and the way out of the head.

The public face: what scripts and recipes import.  Nothing is loaded before it is used
(PEP 562), so that ``import bridge`` is cheap.

>>> from bridge import Layer, Length, Meters, good_lengths
>>> band, drum = Layer(name="band", cycle=Length(4)), Layer(name="drum", cycle=Length("3/16"))
>>> good_lengths(Meters.parse("4/4"), [band, drum]).period_bars
12
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bridge.craft.drift import Drift as Drift
    from bridge.craft.drift import drift as drift
    from bridge.craft.fresh import fresh_order as fresh_order
    from bridge.craft.ingredients import as_layers as as_layers
    from bridge.craft.ingredients import named_cycles as named_cycles
    from bridge.craft.pairing import pairings as pairings
    from bridge.craft.pattern import Pattern as Pattern
    from bridge.craft.stages import Share as Share
    from bridge.craft.stages import Tighten as Tighten
    from bridge.craft.stages import Tightened as Tightened
    from bridge.craft.stages import Unfilled as Unfilled
    from bridge.craft.stages import written as written
    from bridge.craft.tighten import before_tightening as before_tightening
    from bridge.craft.tighten import good_bars as good_bars
    from bridge.craft.tighten import tighten as tighten
    from bridge.cycles import Layer as Layer
    from bridge.cycles import earned_cycles as earned_cycles
    from bridge.cycles import good_lengths as good_lengths
    from bridge.cycles import meetings as meetings
    from bridge.cycles import period as period
    from bridge.errors import DeviceError as DeviceError
    from bridge.errors import MusicError as MusicError
    from bridge.errors import PeerError as PeerError
    from bridge.errors import PlanError as PlanError
    from bridge.errors import PulsebridgeError as PulsebridgeError
    from bridge.exact import Bars as Bars
    from bridge.exact import Length as Length
    from bridge.exact import Meter as Meter
    from bridge.exact import Meters as Meters
    from bridge.exact import Place as Place
    from bridge.exact import Ratio as Ratio
    from bridge.exact import Seconds as Seconds
    from bridge.exact import Tempo as Tempo
    from bridge.exact import TempoMap as TempoMap
    from bridge.exact import parse_bars as parse_bars
    from bridge.exact import parse_seconds as parse_seconds
    from bridge.exact import parse_span as parse_span
    from bridge.exact import seconds_of as seconds_of
    from bridge.plan import Plan as Plan
    from bridge.plan import Section as Section
    from bridge.plan import dump as dump
    from bridge.plan import load as load
    from bridge.plan.fields import plan_text as plan_text
    from bridge.shape import Infeasible as Infeasible
    from bridge.shape import Solved as Solved
    from bridge.shape import Unknown as Unknown
    from bridge.shape import solve as solve
    from bridge.song import BarBeat as BarBeat
    from bridge.song import Song as Song
    from bridge.song import unroll as unroll

_HOME = {
    "BarBeat": "bridge.song",
    "Bars": "bridge.exact",
    "DeviceError": "bridge.errors",
    "Drift": "bridge.craft.drift",
    "Infeasible": "bridge.shape",
    "Layer": "bridge.cycles",
    "Length": "bridge.exact",
    "Meter": "bridge.exact",
    "Meters": "bridge.exact",
    "MusicError": "bridge.errors",
    "Pattern": "bridge.craft.pattern",
    "PeerError": "bridge.errors",
    "Place": "bridge.exact",
    "Plan": "bridge.plan",
    "PlanError": "bridge.errors",
    "PulsebridgeError": "bridge.errors",
    "Ratio": "bridge.exact",
    "Seconds": "bridge.exact",
    "Section": "bridge.plan",
    "Share": "bridge.craft.stages",
    "Solved": "bridge.shape",
    "Song": "bridge.song",
    "Tempo": "bridge.exact",
    "TempoMap": "bridge.exact",
    "Tighten": "bridge.craft.stages",
    "Tightened": "bridge.craft.stages",
    "Unfilled": "bridge.craft.stages",
    "Unknown": "bridge.shape",
    "as_layers": "bridge.craft.ingredients",
    "before_tightening": "bridge.craft.tighten",
    "drift": "bridge.craft.drift",
    "dump": "bridge.plan",
    "earned_cycles": "bridge.cycles",
    "fresh_order": "bridge.craft.fresh",
    "good_bars": "bridge.craft.tighten",
    "good_lengths": "bridge.cycles",
    "load": "bridge.plan",
    "meetings": "bridge.cycles",
    "named_cycles": "bridge.craft.ingredients",
    "pairings": "bridge.craft.pairing",
    "parse_bars": "bridge.exact",
    "parse_seconds": "bridge.exact",
    "parse_span": "bridge.exact",
    "period": "bridge.cycles",
    "plan_text": "bridge.plan.fields",
    "seconds_of": "bridge.exact",
    "solve": "bridge.shape",
    "tighten": "bridge.craft.tighten",
    "unroll": "bridge.song",
    "written": "bridge.craft.stages",
}
"""Where each public name lives."""

__all__ = sorted(_HOME)  # noqa: PLE0605  one table says it all


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'bridge' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(_HOME)
