"""Whole-number programs: the cheapest choice that keeps to its limits, found by HiGHS.

Conventions: there are n unknowns, each from 0 to 1. A row is written as the columns that it holds and
a factor for each, and its sum lies from ``low`` to ``high`` (minus or plus infinity where there is no limit).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenhand.arrays import Bools, Floats


@dataclass(frozen=True, slots=True, eq=False)
class Constraint:
    """A limit: the factors at these columns, times the unknowns there, add up to from low to high."""

    columns: NDArray[np.int32]  # shape (k,)
    factors: Floats  # shape (k,)
    low: float = -np.inf
    high: float = np.inf


@dataclass(frozen=True, slots=True, eq=False)
class Program:
    """What is to be cheapest: ``cost`` times the unknowns, shape (n,); ``whole`` marks the 0 or 1 ones."""

    cost: Floats
    whole: Bools
    rows: Sequence[Constraint]


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """The cheapest values found in the time, shape (n,), or None; no values cost less than ``bound``."""

    values: Floats | None
    bound: float


def solve(program: Program, *, time_limit_s: float, gap: float = 0.0) -> Solved:
    """Solve a program.

    Parameters
    ----------
    program
        What to solve.
    time_limit_s
        After this time the best values so far are given; with no time, none.
    gap
        How much dearer than the cheapest the values may be, as a part of their cost.
    """
    if time_limit_s <= 0:
        return Solved(None, -np.inf)
    import highspy

    solver = _silent(highspy)
    solver.setOptionValue("time_limit", float(time_limit_s))
    solver.setOptionValue("mip_rel_gap", gap)
    solver.passModel(_model(highspy, program))
    solver.run()
    info = solver.getInfo()
    found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    values = np.array(solver.getSolution().col_value) if found else None
    return Solved(values, float(info.mip_dual_bound))


def _silent(highspy: Any) -> Any:  # noqa: ANN401 - the library's types are met here only
    """Make a solver that never writes to the terminal, where a command's own output goes.

    The library's outer class greets as soon as it is made, before it can be told not to; the one under it
    solves the same, and can.
    """
    solver = highspy.Highs.__base__()
    solver.setOptionValue("output_flag", False)  # noqa: FBT003 - the library's own name for it
    return solver


def _model(highspy: Any, program: Program) -> Any:  # noqa: ANN401 - the library's types are met here only
    """Write the program as the library reads it: rows one after the other, each with where it starts."""
    n, rows = len(program.cost), program.rows
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = n, len(rows)
    model.col_cost_ = program.cost
    model.col_lower_, model.col_upper_ = np.zeros(n), np.ones(n)
    model.row_lower_ = np.array([row.low for row in rows])
    model.row_upper_ = np.array([row.high for row in rows])
    kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
    model.integrality_ = [kinds[int(each)] for each in program.whole]
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = np.cumsum([0, *(row.columns.size for row in rows)])
    model.a_matrix_.index_ = np.concatenate([row.columns for row in rows])
    model.a_matrix_.value_ = np.concatenate([row.factors for row in rows])
    return model
