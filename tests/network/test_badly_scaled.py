"""Networks whose pressures depend on the leaks of shut seats, beside lines that pass 1e16 times as much."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from wide_runs import run_wide

from fuelsim.network.solver.column_sum_elimination import ColumnSumElimination
from fuelsim.network.solver.elimination import Elimination, Term


def _ladder(conductances: list[float]) -> list[Term]:
    """Terms of nodes in a row; the last conductance leads from the last node to a fixed pressure."""
    terms = []
    for number in range(len(conductances)):
        ends = [number] if number == len(conductances) - 1 else [number, number + 1]
        terms += [Term(row, column, number, 1 if row == column else -1) for row in ends for column in ends]
    return terms


def test_a_level_held_by_a_leak_is_solved_exactly_where_the_dense_solver_loses_it():
    """Ten nodes joined by 1 m3/(s Pa), held by a leak of 1e-17: by hand, 1e-12 m3/s into the first is 1e5 Pa there."""
    conductances = [1.0] * 9 + [1e-17]
    terms = _ladder(conductances)
    inflow = np.zeros((10, 1))
    inflow[0] = 1e-12
    z = np.array(conductances)[:, None]
    elimination = Elimination(10, terms, 10)
    pressure = elimination.solve_grounded(z, inflow.copy(), np.zeros(1))
    exact = [float(Fraction(1e-12) * sum(1 / Fraction(value) for value in conductances[first:])) for first in range(10)]
    assert pressure[:, 0] == pytest.approx(exact, rel=1e-12)
    dense = elimination.solve(z, inflow.copy())
    assert not np.allclose(dense[:, 0], exact, rtol=1e-3)


def test_a_ground_adds_to_the_diagonal():
    """Two unsymmetric systems of four unknowns at once, judged by LAPACK on the matrix written out."""
    order = [(0, [1]), (1, [2]), (2, [3]), (3, [])]
    sources = {(k, k): [(k, 1)] for k in range(4)}
    for number, (i, j) in enumerate(pairwise(range(4))):
        sources[i, j], sources[j, i] = [(4 + number, -1)], [(7 + number, -1)]
    random = np.random.default_rng(1)
    z = np.concatenate([random.uniform(5.0, 6.0, (4, 2)), random.uniform(0.1, 1.0, (6, 2))])
    ground, b = np.array([0.5, 2.0]), random.normal(size=(4, 2))
    solved = ColumnSumElimination(order, sources, 10).solve(z, b.copy(), ground)
    for point in range(2):
        matrix = np.diag(z[:4, point] + ground[point])
        for (i, j), pairs in sources.items():
            if i != j:
                matrix[i, j] = -z[pairs[0][0], point]
        assert solved[:, point] == pytest.approx(np.linalg.solve(matrix, b[:, point]), rel=1e-12)


@pytest.mark.parametrize("seed", [354, 589, 1101, 1373, 2402, 2598])
def test_trees_of_many_regulators_solve_without_any_draw(seed):
    """Trees of 70 to 160 links with 11 to 28 regulators: every point solves or knows its class, checked by its laws."""
    tally = run_wide(range(seed, seed + 1))
    assert tally.not_converged == []
    assert tally.wrong == []
    assert tally.solved > 0
