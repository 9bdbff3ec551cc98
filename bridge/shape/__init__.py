"""The whole-song planner: bars for every section, and the proof."""

from bridge.shape.effort import DEFAULT_EFFORT
from bridge.shape.outcome import Demand, Infeasible, Outcome, Relaxation, Solved, Unknown
from bridge.shape.solver import best, solve

__all__ = [
    "DEFAULT_EFFORT",
    "Demand",
    "Infeasible",
    "Outcome",
    "Relaxation",
    "Solved",
    "Unknown",
    "best",
    "solve",
]
