"""The planner beside CP-SAT (ortools, computed here) on songs of the size that people write.

CP-SAT searches the plain model of tests/shape/cp_model.py; both prove their optimum.
"""

from __future__ import annotations

import pytest

from bridge.shape import Infeasible, Solved, solve
from tests import oracle
from tests.shape.cp_model import CpModel
from tests.shape.enumeration import cost, is_allowed
from tests.shape.songs import song

oracle("ortools")
_MOST = 420


@pytest.mark.parametrize("seed", [100, 102])
@pytest.mark.parametrize(("tempi", "runs"), [(1, False), (2, False), (3, False), (1, True), (2, True)])
def test_cp_sat_finds_no_cheaper_plan_and_proves_ours(seed: int, tempi: int, runs: bool) -> None:
    from ortools.sat.python import cp_model

    plan = song(seed, 9, tempi=tempi, runs=runs)
    found = solve(plan)
    status, best, bound = CpModel(plan, cp_model, _MOST).solve(time_limit=4)
    if isinstance(found, Infeasible):
        assert status in ("INFEASIBLE", "UNKNOWN")
        return
    assert isinstance(found, Solved)
    assert found.proven
    assert is_allowed(plan, found.bars)
    assert found.cost == cost(plan, found.bars)
    assert max(found.bars) < _MOST
    if status == "OPTIMAL":
        assert best == found.cost
    elif best is not None and bound is not None:
        assert bound <= found.cost <= best


def test_two_payoffs_that_share_a_built_section_are_proven_right() -> None:
    from ortools.sat.python import cp_model

    plan = song(5041, 16, tempi=1)  # a bound once claimed for it stood above this cost
    found = solve(plan)
    assert isinstance(found, Solved)
    status, best, _ = CpModel(plan, cp_model, 420).solve(time_limit=20)
    assert (status, best) == ("OPTIMAL", 190)
    assert (found.cost, found.bound) == (190, 190)
