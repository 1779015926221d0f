"""A Newton step by the loops of a network, against the full linear system solved densely by numpy."""

from itertools import combinations

import numpy as np
import pytest

from fuelsim.network.solver.loops import Loops

POINTS = 7


def random_chains(random: np.random.Generator, size: int, fixed: int, chords: int) -> tuple[list[int], list[int]]:
    """Chains of a tree over nodes of which the last ones are fixed, and some more between any two nodes or one."""
    count = size + fixed
    pairs = [(node, int(random.integers(max(node - 6, 0), node))) for node in range(1, count)]
    pairs += [(int(a), int(b)) for a, b in random.integers(0, count, (chords, 2))]
    # Fixed nodes last.
    number = random.permutation(count)
    swapped = [(number[a], number[b]) if random.random() < 0.5 else (number[b], number[a]) for a, b in pairs]
    return [int(a) for a, _ in swapped], [int(b) for _, b in swapped]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(("size", "fixed", "chords"), [(1, 1, 1), (6, 1, 4), (9, 3, 3), (40, 2, 25)])
def test_a_step_by_loops_solves_the_linearised_equations_and_mass_balances(seed, size, fixed, chords):
    random = np.random.default_rng(seed)
    up, down = random_chains(random, size, fixed, chords)
    chains = len(up)
    slope = np.exp(random.normal(0.0, 2.0, (chains, POINTS)))
    residual = random.normal(size=(chains, POINTS))
    imbalance = random.normal(size=(size, POINTS))
    flow_change, pressure_change = Loops(size, up, down).step(slope, residual, imbalance)
    for point in range(POINTS):
        # E + s dq - (dp_up - dp_down) = 0 for every chain, F + inflow - outflow = 0 for every node.
        system = np.zeros((chains + size, chains + size))
        for chain, ends in enumerate(zip(up, down, strict=True)):
            system[chain, chain] = slope[chain, point]
            for node, sign in zip(ends, (-1.0, 1.0), strict=True):
                if node < size:
                    system[chain, chains + node] += sign
                    system[chains + node, chain] += sign
        right = -np.concatenate([residual[:, point], imbalance[:, point]])
        expected = np.linalg.solve(system, right)
        assert flow_change[:, point] == pytest.approx(expected[:chains], rel=1e-9, abs=1e-9)
        assert pressure_change[:, point] == pytest.approx(expected[chains:], rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_nothing_to_balance_makes_no_difference_to_a_step_by_loops(seed):
    random = np.random.default_rng(seed)
    up, down = random_chains(random, 12, 2, 8)
    slope = np.exp(random.normal(size=(len(up), POINTS)))
    residual, nothing = random.normal(size=(len(up), POINTS)), np.zeros((12, POINTS))
    loops = Loops(12, up, down)
    for one, other in zip(
        loops.step(slope, residual, nothing), loops.step(slope, residual, nothing, balanced=True), strict=True
    ):
        assert one == pytest.approx(other, rel=1e-12, abs=1e-12)


def test_a_ladder_has_loops_of_four_chains():
    # Rails between nodes 2k and 2k + 2, and between 2k + 1 and 2k + 3; a rung at every step; node 20 is fixed.
    up, down = [20], [0]
    for step in range(9):
        a = 2 * step
        up += [a, a + 1, a + 2]
        down += [a + 2, a + 3, a + 3]
    up.append(0)
    down.append(1)
    loops = Loops(20, up, down)
    assert loops.count == 9
    lengths = [len(loop) for loop in loops.independent_loops()]
    assert lengths == [4] * 9
    assert loops.are_short


def test_the_loops_of_a_complete_graph_are_not_short():
    """Of ten nodes, one of them fixed: 45 chains in 36 triangles, so that a chain lies in 2.4 loops on average."""
    up, down = zip(*combinations(range(10), 2), strict=True)
    loops = Loops(9, up, down)
    assert {len(loop) for loop in loops.independent_loops()} == {3}
    assert not loops.are_short
