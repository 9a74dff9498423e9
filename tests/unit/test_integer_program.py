"""Whole-number programs against what can be counted by hand, and against scipy's solver."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from evenhand.integer_program import Constraint, Program, solve


def row(factors: list[float], low: float = -np.inf, high: float = np.inf) -> Constraint:
    columns = np.flatnonzero(factors).astype(np.int32)
    return Constraint(columns, np.array(factors)[columns], low, high)


def program(cost: list[float], *rows: Constraint, whole: bool = True) -> Program:
    return Program(np.array(cost), np.full(len(cost), whole), rows)


def test_a_bag_is_filled_as_by_hand() -> None:
    """Weights 5, 4, 3, worths 10, 6, 5, room for 8: of eight choices the first and last are worth most."""
    solved = solve(program([-10, -6, -5], row([5, 4, 3], high=8)), time_limit_s=5)
    assert solved.values is not None
    assert solved.values.round().tolist() == [1, 0, 1]
    assert solved.bound == pytest.approx(-15)


def test_without_whole_numbers_a_part_is_taken() -> None:
    """By hand, with room for 9: all of the first and of the last, then a quarter of the middle."""
    solved = solve(program([-10, -6, -5], row([5, 4, 3], high=9), whole=False), time_limit_s=5)
    assert solved.values == pytest.approx([1, 0.25, 1])


def test_what_no_choice_can_keep_to_has_no_values() -> None:
    assert solve(program([1, 1], row([1, 1], low=3)), time_limit_s=5).values is None


def test_no_time_gives_no_values_and_no_bound() -> None:
    solved = solve(program([1, 1], row([1, 1], low=1)), time_limit_s=0)
    assert (solved.values, solved.bound) == (None, -np.inf)


def test_the_solver_prints_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    solve(program([-10, -6, -5], row([5, 4, 3], high=8)), time_limit_s=5)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("seed", range(20))
def test_scipys_solver_finds_the_same_cost(seed: int) -> None:
    """scipy.optimize.milp on the same random programs: covering rows, some unknowns not whole."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    rng = np.random.default_rng(seed)
    n, m = 30, 20
    cost, factors = rng.uniform(1, 3, n), (rng.random((m, n)) < 0.2) * rng.uniform(0.5, 2, (m, n))
    factors[:, 0] = 1.0
    whole = rng.random(n) < 0.7
    low = rng.uniform(0, 1, m)
    rows = [row(list(each), low=bound) for each, bound in zip(factors, low, strict=True)]
    solved = solve(Program(cost, whole, rows), time_limit_s=20)
    theirs = milp(
        cost,
        integrality=whole.astype(np.int64),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(factors, low, np.inf),
    )
    assert solved.values is not None
    assert np.all(factors @ solved.values >= low - 1e-6)
    assert solved.values[whole] == pytest.approx(solved.values[whole].round(), abs=1e-6)
    assert cost @ solved.values == pytest.approx(theirs.fun, rel=2e-4)


SOLVES = """
import numpy as np
from evenhand.integer_program import Constraint, Program, solve
bag = Constraint(np.arange(2, dtype=np.int32), np.array([5.0, 4.0]), high=8.0)
assert solve(Program(np.array([-10.0, -6.0]), np.full(2, True), (bag,)), time_limit_s=5).values is not None
"""


def test_it_says_nothing_itself() -> None:
    """What a command writes is its own: a plan's JSON must not begin with a greeting.

    In a process of its own, since the library keeps what it writes until the end.
    """
    done = subprocess.run([sys.executable, "-c", SOLVES], capture_output=True, check=True)
    assert (done.stdout, done.stderr) == (b"", b"")
