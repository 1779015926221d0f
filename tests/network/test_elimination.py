"""Linear systems that are singular, shared by many right-hand sides, or held to a fixed level; judged by numpy."""

from __future__ import annotations

from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest

from fuelsim.network.solver.elimination import Elimination, Term, _order
from fuelsim.network.solver.signed_sums import SignedSums


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


@pytest.mark.parametrize(
    ("size", "points", "method"),
    [
        (4, 1, "_dense"),
        (60, 4, "_dense"),
        (61, 4, "_sparse"),
        (6, 5, "_pivotwise"),
        (7, 5, "_in_rounds"),
        (7, 999, "_in_rounds"),
        (7, 1000, "_pivotwise"),
    ],
)
def test_the_method_goes_by_the_number_of_unknowns_and_points(size, points, method):
    """Up to 4 points LAPACK, above 60 unknowns SuperLU; else pivot by pivot for 6 unknowns or 1000 points, or in rounds
    of 200 points at a time."""
    elimination, asked = Elimination(size, [], 0), []

    def solver(name):
        def solve(z, b):
            asked.append((name, b.shape[1]))
            return b + 1.0

        return SimpleNamespace(solve=solve, shared_solver=lambda z: name)

    for name in ("_dense", "_sparse", "_pivotwise", "_in_rounds"):
        elimination.__dict__[name] = solver(name)
    found = elimination.solve(np.zeros((0, points)), np.zeros((size, points)))
    assert np.all(found == 1.0)
    assert {name for name, _ in asked} == {method}
    assert sum(count for _, count in asked) == points
    if method == "_in_rounds":
        assert max(count for _, count in asked) == min(points, 200)
    assert elimination.shared_solver(np.zeros((0, 1))) == ("_dense" if size <= 60 else "_sparse")


@pytest.mark.parametrize(
    ("rows", "points", "method"), [(20, 70, "_dense"), (20, 80, "_sparse"), (10, 400, "_dense"), (10, 600, "_sparse")]
)
def test_sums_are_dense_up_to_150_000_multiplications_or_500_000_for_few_rows(rows, points, method):
    sums = SignedSums([[] for _ in range(rows)], 100)
    for name in ("_dense", "_sparse"):
        sums.__dict__[name] = np.full((rows, 100), 1.0 if name == method else 2.0)
    assert np.all(sums(np.ones((100, points))) == 100.0)


def test_a_pivot_s_degree_exceeds_the_least_by_four_at_most():
    """A star of stars: the ends first, and the middle, whose degree is ten more than theirs, in a later round."""
    sources = {(node, node): [] for node in range(12)}
    for node in range(1, 12):
        sources[0, node], sources[node, 0] = [], []
    rounds = _order(12, sources)
    assert [pivot for pivot, _ in rounds[0]] == list(range(1, 12))
    assert [pivot for pivot, _ in rounds[1]] == [0]
    # Two rings that share nothing: nodes of degree 2 and of 6, within four of one another, go in one round.
    sources = {(node, node): [] for node in range(10)}
    for one, other in [(0, 1), (1, 2), (2, 0), *combinations(range(3, 10), 2)]:
        sources[one, other], sources[other, one] = [], []
    assert [pivot for pivot, _ in _order(10, sources)[0]] == [0, 3]
