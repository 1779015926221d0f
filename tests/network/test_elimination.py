"""Linear systems that are singular, shared by many right-hand sides, or held to a fixed level; judged by numpy."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.network.solver.elimination import Elimination, Term, _order


def ring(size, random):
    """Terms and matrix values of a ring of nodes of which the first is joined to a fixed pressure."""
    terms, width = [], 0
    for a, b in [(node, (node + 1) % size) for node in range(size)]:
        terms += [Term(a, a, width, 1), Term(b, b, width, 1), Term(a, b, width, -1), Term(b, a, width, -1)]
        width += 1
    terms.append(Term(0, 0, width, 1))
    return terms, width + 1, np.exp(random.uniform(-2.0, 2.0, width + 1))


def dense(size, terms, values):
    matrix = np.zeros((size, size))
    for row, column, source, sign in terms:
        matrix[row, column] += sign * values[source]
    return matrix


@pytest.mark.parametrize("size", [5, 60, 61, 90])
def test_one_matrix_solves_many_right_hand_sides(size):
    random = np.random.default_rng(3)
    terms, width, values = ring(size, random)
    right = random.normal(size=(size, 4))
    solve = Elimination(size, terms, width, symmetric=True).shared_solver(values[:, None])
    assert solve(right) == pytest.approx(np.linalg.solve(dense(size, terms, values), right), rel=1e-8, abs=1e-10)


@pytest.mark.parametrize("size", [4, 80])
def test_a_singular_matrix_gives_no_numbers(size):
    random = np.random.default_rng(3)
    terms, width, values = ring(size, random)
    values[:] = 0.0
    elimination = Elimination(size, terms, width)
    assert np.isnan(elimination.solve(values[:, None], np.ones((size, 1)))).all()
    assert np.isnan(elimination.shared_solver(values[:, None])(np.ones((size, 2)))).all()


def test_nothing_unknown_is_solved_by_nothing():
    assert Elimination(0, [], 0).solve(np.zeros((0, 3)), np.zeros((0, 3))).shape == (0, 3)


@pytest.mark.parametrize("points", [1, 6])
def test_a_ground_holds_each_unknown_to_where_it_is(points):
    random = np.random.default_rng(4)
    terms, width, _ = ring(9, random)
    z = np.exp(random.uniform(-2.0, 2.0, (width, points)))
    right, ground = random.normal(size=(9, points)), random.uniform(0.1, 1.0, points)
    found = Elimination(9, terms, width).solve_grounded(z, right.copy(), ground)
    for point in range(points):
        matrix = dense(9, terms, z[:, point]) + ground[point] * np.eye(9)
        assert found[:, point] == pytest.approx(np.linalg.solve(matrix, right[:, point]), rel=1e-9)


def test_rounds_take_every_unknown_once_and_no_two_neighbours_together():
    """Neighbours are those of the pattern and those that earlier pivots made so; few round trips, little fill-in."""
    side = 12
    pairs = [(row * side + column, row * side + column + 1) for row in range(side) for column in range(side - 1)]
    pairs += [(row * side + column, (row + 1) * side + column) for row in range(side - 1) for column in range(side)]
    sources = {(node, node): [] for node in range(side**2)}
    for a, b in pairs:
        sources[a, b], sources[b, a] = [], []
    rounds = _order(side**2, sources)
    assert sorted(pivot for pivots in rounds for pivot, _ in pivots) == list(range(side**2))
    around = {node: {b for a, b in sources if a == node and b != node} for node in range(side**2)}
    filled = 0
    for pivots in rounds:
        own = {pivot for pivot, _ in pivots}
        for pivot, later in pivots:
            assert set(later) == around[pivot]
            assert not own & set(later)
        for pivot, later in pivots:
            for node in later:
                around[node] = (around[node] | set(later)) - {node, pivot}
            filled += len(later) ** 2
    assert len(rounds) < 48, "a third of 144"
    # A banded order would cost 144 x 12^2; minimum degree costs a fraction of it (George and Liu 1981).
    assert filled < 0.5 * side**4
