"""The whole-song planner: bars for every section, and the proof."""

from bridge.shape.outcome import Demand, Infeasible, Outcome, Relaxation, Solved, Unknown

__all__ = ["Demand", "Infeasible", "Outcome", "Relaxation", "Solved", "Unknown"]
