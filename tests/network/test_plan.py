"""The machinery below the solver: contraction, elimination, prediction."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from plumbing import ATMOSPHERE, GRAVITY, L_H, PETROL, looped_net, parabolic_pump

from fuelsim.network.network import Network
from fuelsim.network.solver import plan
from fuelsim.network.solver.contraction import contract
from fuelsim.network.solver.elimination import Elimination, Term
from fuelsim.network.solver.initial_guess import Prediction
from fuelsim.network.solver.signed_sums import SignedSums
from fuelsim.network.state import State
from fuelsim.parts.line import Line
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator


def test_the_looped_pump_net_contracts_to_four_pressures():
    net, _ = looped_net()
    contraction = net.plan.contraction
    names = list(net.nodes)
    assert sorted(names[node] for node in contraction.kept) == ["4", "6", "7", "8"]
    assert len(contraction.chains) == 7


def test_dead_ends_are_cut_off_and_carry_their_draws():
    net = Network()
    net.add_reservoir("tank", pressure=3e5)
    for name in "abcd":
        net.add_node(name)
    for name, (up, down) in {"ta": ("tank", "a"), "ab": ("a", "b"), "cb": ("c", "b"), "ad": ("a", "d")}.items():
        net.connect(up, down, Line(length=1.0, bore=0.006), name=name)
    found = contract(net.plan.topology)
    assert found.kept == ()
    assert len(found.dead_ends) == 4
    state = net.solve(PETROL, {"c": 3e-6, "d": 2e-6})
    flows = {name: state.flow[name] for name in net.links}
    assert flows == pytest.approx({"ta": 5e-6, "ab": 3e-6, "cb": -3e-6, "ad": 2e-6})
    assert state.pressure["c"] < state.pressure["b"] < state.pressure["a"] < 3e5


def test_a_node_that_a_law_looks_at_stays():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("outlet", "sensed", "rail"):
        net.add_node(name)
    net.connect("tank", "outlet", parabolic_pump(), name="pump")
    net.connect("outlet", "sensed", Line(length=1.0, bore=0.006), name="first")
    net.connect("sensed", "rail", Line(length=1.0, bore=0.006), name="second")
    regulator = ReturnRegulator(set_pressure=1e5)
    net.connect("rail", "tank", regulator, name="regulator", reference="sensed")
    kept = contract(net.plan.topology).kept
    assert [list(net.nodes)[node] for node in kept] == ["sensed", "rail"]


@pytest.mark.parametrize("points", [1, 7, 300])
def test_elimination_solves_what_a_dense_solver_solves(points):
    random = np.random.default_rng(2)
    size = 12
    terms, width = [], 0
    for a, b in [(i, i + 1) for i in range(size - 1)] + [(0, 7), (3, 10), (2, 9)]:
        for row, sign in ((a, 1), (b, -1)):
            terms += [(row, a, width, sign), (row, b, width + 1, -sign)]
        width += 2
    terms += [(row, row, width + row, 1) for row in range(size)]
    width += size
    z = random.uniform(0.5, 2.0, (width, points))
    matrix = np.zeros((points, size, size))
    for row, column, index, sign in terms:
        matrix[:, row, column] += sign * z[index]
    right = random.normal(size=(size, points))
    expected = np.linalg.solve(matrix, right.T[:, :, None])[:, :, 0].T
    found = Elimination(size, terms, width).solve(z, right.copy())
    assert np.abs(found - expected).max() < 1e-9 * np.abs(expected).max()


@pytest.mark.parametrize("points", [1, 40, 5000])
def test_signed_sums_are_the_same_for_few_and_many_points(points):
    rows = [[(0, 1), (2, -1)], [(1, -1), (3, -1), (2, -1)], [(3, -1)], [], [(4, 1), (0, 1), (1, 1)]]
    x = np.random.default_rng(4).normal(size=(5, points))
    matrix = np.zeros((5, 5))
    for row, pairs in enumerate(rows):
        for index, sign in pairs:
            matrix[row, index] += sign
    assert np.abs(SignedSums(rows, 5)(x) - matrix @ x).max() < 1e-12


def test_lines_in_series_that_agree_give_the_results_of_each():
    """The same hose whole and cut into three, in a batch large enough to be merged."""
    draw = {"rail": np.linspace(10.0, 200.0, 50) * L_H}

    def built(pieces: list[float]) -> State:
        net = Network()
        net.add_reservoir("tank", pressure=ATMOSPHERE + 3e5)
        here = "tank"
        for number, length in enumerate(pieces):
            name = "rail" if number == len(pieces) - 1 else f"n{number}"
            net.add_node(name, height=0.1 * number)
            line = Line(length=length, bore=0.006, loss_coefficient=length)
            if number % 2:
                net.connect(name, here, line, name=f"l{number}")
            else:
                net.connect(here, name, line, name=f"l{number}")
            here = name
        net.connect("rail", "tank", Line(length=3.0, bore=0.004), name="parallel")
        return net.solve(PETROL, draw)

    cut = built([0.5, 1.0, 2.0])
    for point in (0, 25, 49):
        alone = built([0.5, 1.0, 2.0])
        for name in ("n0", "n1", "rail"):
            assert cut.pressure[name][point] == pytest.approx(alone.pressure[name][point], abs=1e-6)
    flow = cut.flow["l0"]
    assert cut.flow["l1"] == pytest.approx(-flow, rel=1e-12)
    lines = (Line(length=0.5, bore=0.006, loss_coefficient=0.5), Line(length=2.0, bore=0.006, loss_coefficient=2.0))
    for line, up, down, rise in (
        (lines[0], "tank", "n0", 0.0),
        (lines[1], "n1", "rail", -0.1),
    ):
        assert line.law.loss is not None
        loss, _ = line.law.loss(flow, line.coefficients(PETROL))
        drop = cut.pressure[up] - cut.pressure[down] + 740.0 * GRAVITY * rise
        assert drop == pytest.approx(loss, abs=1.0)


def test_regulators_compare_pressures_at_the_height_they_sense_at():
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE, height=0.0)
    net.add_node("rail", height=2.0)
    net.add_node("bowl", height=5.0)
    net.connect("tank", "rail", parabolic_pump(), name="pump")
    net.connect("rail", "tank", ReturnRegulator(set_pressure=3e5, droop=4e5), name="return")
    net.connect("rail", "bowl", ReducingRegulator(set_pressure=5e4, droop=4e5), name="reducing")
    state = net.solve(PETROL, {"bowl": 20.0 * L_H})
    assert state.gauge_pressure["rail"] == pytest.approx(3e5, abs=100.0)
    assert state.gauge_pressure["bowl"] == pytest.approx(5e4, abs=100.0)


def test_what_varies_along_a_curve_is_one_component():
    """The coefficients of a line are not proportional to its bore, but follow it."""
    net, draws = looped_net()
    bores = 0.006 + 0.004 * np.mod(np.arange(2000) * 0.6180339887498949, 1.0)
    sized = net.with_parts({"hose1": Line(length=1.5, bore=bores), "a1": Line(length=0.4, bore=1.1 * bores)})
    state = sized.solve(PETROL, draws)
    assert state.outcome.converged.all()
    assert state.outcome.iterations.mean() < 1.0


def test_a_prediction_goes_through_the_points_it_is_made_from():
    where = np.linspace(-1.0, 1.0, 900)[None]
    samples = np.arange(0, 900, 15)
    values = np.array([np.sin(3.0 * where[0]), where[0] ** 3])
    found = Prediction.of(where, samples, values[:, samples])
    assert found is not None
    assert np.abs(found(slice(0, 900)) - values).max() < 1e-4
    assert np.abs(found(slice(0, 900))[:, samples] - values[:, samples]).max() < 1e-12


def test_a_prediction_over_several_components_is_a_polynomial_or_the_nearest_point():
    random = np.random.default_rng(8)
    where = random.uniform(-1.0, 1.0, (3, 1000))
    samples = np.arange(0, 1000, 5)
    smooth = np.array([1.0 + where[0] * where[1] + where[2] ** 3])
    found = Prediction.of(where, samples, smooth[:, samples])
    assert found is not None
    assert found.fit is not None
    assert np.abs(found(slice(0, 1000)) - smooth).max() < 1e-10
    stepped = np.array([np.sign(np.sin(9.0 * where[0]))])
    nearest = Prediction.of(where, samples, stepped[:, samples])
    assert nearest is not None
    assert nearest.fit is None
    assert set(np.unique(nearest(slice(0, 1000)))) <= {-1.0, 1.0}


@pytest.mark.parametrize("points", [1, 3, 60, 450, 1100])
@pytest.mark.parametrize("symmetric", [True, False])
def test_every_way_of_solving_the_pressures_agrees_with_a_dense_solver(points, symmetric):
    """A grid of 8 x 8 nodes with grounded corners, which fills in: dense, sparse, in rounds, pivot by pivot."""
    random = np.random.default_rng(5)
    side = 8
    edges = [(row * side + column, row * side + column + 1) for row in range(side) for column in range(side - 1)]
    edges += [(row * side + column, (row + 1) * side + column) for row in range(side - 1) for column in range(side)]
    size, terms, width = side * side, [], 0
    for a, b in edges:
        by_a, by_b = width, width if symmetric else width + 1
        for row, sign in ((a, 1), (b, -1)):
            terms += [Term(row, a, by_a, sign), Term(row, b, by_b, -sign)]
        width = by_b + 1
    for corner in (0, side - 1, size - 1):
        terms.append(Term(corner, corner, width, 1))
        width += 1
    z = np.exp(random.uniform(-3.0, 3.0, (width, points)))
    right = random.normal(size=(size, points))
    matrix = np.zeros((points, size, size))
    for row, column, index, sign in terms:
        matrix[:, row, column] += sign * z[index]
    expected = np.linalg.solve(matrix, right.T[:, :, None])[:, :, 0].T
    found = Elimination(size, terms, width, symmetric=symmetric).solve(z, right.copy())
    assert np.abs(found - expected).max() < 1e-9 * np.abs(expected).max()


@pytest.mark.parametrize("side", [4, 14])
def test_a_single_point_of_a_grid_of_lines_is_that_of_many_and_keeps_mass(side):
    """Small and large grids are solved in other ways; Kirchhoff's first law holds at every node."""
    net = Network()
    net.add_reservoir("tank", "400 kPa")
    cells = [(row, column) for row in range(side) for column in range(side)]
    for row, column in cells:
        net.add_node(f"{row},{column}")
    net.connect("tank", "0,0", Line(length=1.0, bore=0.012), name="supply")
    for row, column in cells:
        for end in ((row + 1, column), (row, column + 1)):
            if end in cells:
                name = f"{row},{column} to {end[0]},{end[1]}"
                net.connect(f"{row},{column}", f"{end[0]},{end[1]}", Line(length=0.5, bore=0.008), name=name)
    last = f"{side - 1},{side - 1}"
    single = net.solve(PETROL, draw={last: 2e-5, "1,1": 1e-5})
    many = net.solve(PETROL, draw={last: np.full(3, 2e-5), "1,1": np.full(3, 1e-5)})
    assert float(single.flow["supply"]) == pytest.approx(3e-5, rel=1e-9)
    assert float(single.pressure[last]) == pytest.approx(float(many.pressure[last][0]), rel=1e-9)
    at_corner = [f"{side - 2},{side - 1} to {last}", f"{side - 1},{side - 2} to {last}"]
    assert sum(float(single.flow[name]) for name in at_corner) == pytest.approx(2e-5, rel=1e-8)


def test_the_incidence_is_1_where_a_chain_ends_and_minus_1_where_it_begins_and_kept_for_small_networks():
    assert plan._incidence([2, 0], [0, 1], 3).tolist() == [[1.0, 0.0, -1.0], [-1.0, 1.0, 0.0]]
    assert plan._incidence([0] * 40, [1] * 40, 100) is not None
    assert plan._incidence([0] * 40, [1] * 40, 101) is None


def test_loops_are_taken_where_they_are_fewer_than_nine_tenths_of_the_pressures():
    """A row of ten nodes to a fixed one, with chords: 8 loops are, 9 are not; nor in a network of over 1000 chains."""
    up, down = list(range(10)), list(range(1, 11))
    assert plan._loops(10, up + [0] * 8, down + [5] * 8) is not None
    assert plan._loops(10, up + [0] * 9, down + [5] * 9) is None
    assert plan._loops(1000, list(range(1000)), list(range(1, 1001))) is not None
    assert plan._loops(1001, list(range(1001)), list(range(1, 1002))) is None


def row_of(count):
    """A network of two rows of lines between reservoirs."""
    net = Network()
    net.add_reservoir("tank", pressure=3e5)
    net.add_reservoir("low", pressure=1e5)
    for row in "ab":
        names = ["tank", *(f"{row}{number}" for number in range(count - 1)), "low"]
        for name in names[1:-1]:
            net.add_node(name)
        for number, (up, down) in enumerate(pairwise(names)):
            net.connect(up, down, Line(length=1.0, bore=0.006), name=f"{row} {number}")
    return net.plan.inner


def test_nodes_inside_chains_are_listed_with_the_links_before_them():
    """Two chains of three links; none without such a chain, or with more than a hundred links in them."""
    inner = row_of(3)
    assert inner.path_sums.tolist() == [
        [1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [1.0, 1.0, 0.0, 0.0, 0.0, 0.0],
        [0.0, 0.0, 0.0, 1.0, 0.0, 0.0],
        [0.0, 0.0, 0.0, 1.0, 1.0, 0.0],
    ]
    assert inner.chain_sums.tolist() == [[1.0] * 3 + [0.0] * 3, [0.0] * 3 + [1.0] * 3]
    assert inner.chain_of_node.tolist() == [0, 0, 1, 1]
    assert row_of(1) is None
    assert row_of(50) is not None
    assert row_of(51) is None
