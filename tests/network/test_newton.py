"""Newton's method piece by piece: errors and the stop rule by hand, steps against numpy's dense solution of the
linearised equations."""

from __future__ import annotations

import numpy as np
import pytest
from batches import batch_of
from plumbing import ATMOSPHERE, L_H, PETROL, FixedFactorPipe, looped_net, parabolic_pump
from random_networks import random_plumbing

from fuelsim.network.network import Network
from fuelsim.network.solver import newton as module
from fuelsim.network.solver.newton import (
    FLOW_TOLERANCE,
    LEAST_FLOW,
    Solution,
    evaluate_iterate,
    limited_step,
    newton,
    newton_step,
    take_secants,
    typical_start,
)
from fuelsim.parts.line import Line
from fuelsim.parts.regulator import ReturnRegulator

RNG = np.random.default_rng(17)
PIPE = FixedFactorPipe(length=2.0, bore=0.006, factor=0.03)
RESISTANCE = 0.03 * 2.0 / 0.006 * 740.0 / (2.0 * (np.pi * 0.006**2 / 4.0) ** 2)
"""Of the pipe, Pa s2/m6: dp = f L/d rho v^2/2, to which its law adds 1 Pa for each m3/s."""


def two_pipes(draw=0.0):
    """A pipe from 3e5 Pa to a node and two from there to 1e5 Pa, so that the node stays an unknown."""
    net = Network()
    net.add_reservoir("high", pressure=3e5)
    net.add_reservoir("low", pressure=1e5)
    net.add_node("between", height=1.0)
    net.connect("high", "between", PIPE, name="first")
    net.connect("between", "low", PIPE, name="second")
    net.connect("low", "between", PIPE, name="third")
    return batch_of(net, PETROL, {"between": draw})


def test_an_iterate_holds_residuals_corrections_imbalances_and_their_largest():
    """By hand: E = R q |q| - (p_up - p_down) - rho g (z_up - z_down), F = inflow - outflow - draw."""
    flow = np.array([[4e-5], [1e-5], [-3e-5]])
    pressure = np.array([[-8e4], [0.0], [-2e5], [0.0]])  # over the datum, 3e5 Pa
    found = evaluate_iterate(two_pipes(5e-6), flow, pressure)
    head = 740.0 * 9.80665 * np.array([-1.0, 1.0, -1.0])
    drop = np.array([8e4, 1.2e5, -1.2e5])
    residual = RESISTANCE * flow[:, 0] * np.abs(flow[:, 0]) - drop - head
    slope = 2.0 * RESISTANCE * np.abs(flow[:, 0])
    assert found.evaluation.residual[:, 0] == pytest.approx(residual, abs=1e-3)
    assert found.conductance[:, 0] == pytest.approx(1.0 / slope, rel=1e-6)
    assert found.correction[:, 0] == pytest.approx(residual / slope, rel=1e-6)
    assert found.imbalance[0, 0] == pytest.approx(4e-5 - 1e-5 - 3e-5 - 5e-6)
    assert found.pressure_error[0] == pytest.approx(np.abs(residual).max())
    assert found.flow_error[0] == pytest.approx(np.abs(residual / slope).max() / 4e-5)
    assert found.mass_error[0] == pytest.approx(5e-6 / 4e-5)
    unknown = evaluate_iterate(two_pipes(5e-6), flow, pressure, errors=False)
    for error in (unknown.pressure_error, unknown.flow_error, unknown.mass_error):
        assert error.tolist() == [np.inf]


def test_errors_of_tiny_flows_count_over_a_litre_an_hour():
    litre_an_hour = 1e-3 / 3600.0
    assert pytest.approx(litre_an_hour) == LEAST_FLOW
    found = evaluate_iterate(two_pipes(1e-9), np.full((3, 1), 1e-10), np.array([[0.0], [0.0], [-2e5], [0.0]]))
    assert found.mass_error[0] == pytest.approx(abs(1e-10 - 1e-9) / litre_an_hour)
    assert found.flow_error[0] == pytest.approx(np.abs(found.correction).max() / litre_an_hour)
    found.allow_rounding()
    assert found.flow_error[0] == pytest.approx(np.abs(found.correction).max() / litre_an_hour, rel=1e-3)


def test_the_stop_rule_is_1_pa_and_a_millionth_of_the_largest_flow():
    """Of which a fifth is aimed at for the link equations; all three errors must be within."""
    iterate = evaluate_iterate(two_pipes(), np.zeros((3, 1)), np.zeros((4, 1)))
    cases = [
        ((0.99, 0.19e-6, 0.99e-6), True),
        ((1.01, 0.0, 0.0), False),
        ((0.0, 0.21e-6, 0.0), False),
        ((0.0, 0.0, 1.01e-6), False),
    ]
    for errors, within in cases:
        iterate.pressure_error, iterate.flow_error, iterate.mass_error = (np.array([error]) for error in errors)
        assert iterate.converged().tolist() == [within]
    iterate.pressure_error, iterate.flow_error = np.array([0.0]), np.array([0.9e-6])
    iterate.mass_error = np.array([0.0])
    assert iterate.converged(1.0).tolist() == [True]


def test_rounding_of_the_pressures_is_no_error_of_a_flow_and_nothing_else_is_taken_off():
    iterate = evaluate_iterate(two_pipes(), np.full((3, 1), 1e-5), np.array([[0.0], [0.0], [-2e5], [0.0]]))
    rounding = 4.0 * np.finfo(float).eps * 2e5 * iterate.conductance
    iterate.correction = np.array([[0.9], [-0.5], [0.2]]) * rounding
    iterate.allow_rounding()
    assert iterate.flow_error.tolist() == [0.0]
    iterate.correction = np.array([[0.9], [-5.0], [0.2]]) * rounding
    iterate.allow_rounding()
    assert iterate.flow_error[0] == pytest.approx(4.0 * rounding[1, 0] / 1e-5)


def linear_residuals(batch, iterate, flow_change, change):
    """What a step leaves of E + s dq - a_up dp_up + a_down dp_down + a_ref dp_ref and of F + inflow - outflow, each
    over the largest of its terms. The chains with a loss come first and have slopes of 1 and no reference."""
    plan, value = batch.plan, iterate.evaluation
    rows = np.zeros((len(iterate.pressure), batch.size))
    rows[: len(change)] = change
    balance = iterate.imbalance.copy()
    largest, scale = (
        np.zeros(batch.size),
        np.abs(flow_change).max(axis=0) + np.abs(iterate.imbalance).max(axis=0, initial=0),
    )
    for chain in range(len(plan.up)):
        terms = [value.residual[chain], value.flow_slope[chain] * flow_change[chain]]
        up, down, reference = 1.0, 1.0, 0.0
        if chain >= plan.loss_chains:
            row = chain - plan.loss_chains
            up, down, reference = value.up_slope[row], value.down_slope[row], value.reference_slope[row]
        terms += [-up * rows[plan.up[chain]], down * rows[plan.down[chain]], reference * rows[plan.reference[chain]]]
        largest = np.maximum(largest, np.abs(sum(terms)) / np.max(np.abs(terms), axis=0))
        for row, sign in ((plan.down[chain], 1.0), (plan.up[chain], -1.0)):
            if row < len(balance):
                balance[row] += sign * flow_change[chain]
    return largest, np.abs(balance).max(axis=0, initial=0.0) / scale


def stepped(batch):
    flow, pressure = typical_start(batch)
    flow = flow * RNG.uniform(0.2, 1.5, flow.shape)
    pressure[: len(batch.plan.contraction.kept)] += RNG.uniform(
        0.0, 4e5, (len(batch.plan.contraction.kept), batch.size)
    )
    iterate = evaluate_iterate(batch, flow, pressure)
    return iterate, *newton_step(batch, iterate)


@pytest.mark.parametrize("count", [1, 3, 8])
def test_a_step_solves_the_linearised_equations_and_mass_balances(count):
    """One point alone, few, and many, over random plumbing with pumps, regulators and controlled pumps."""
    equations = referenced = 0
    for seed in range(8):
        plumbing = random_plumbing(seed, 8)
        batch = batch_of(plumbing.build(), PETROL, plumbing.draws).points(np.arange(count), count)
        equations += len(batch.plan.up) - batch.plan.loss_chains
        referenced += batch.plan.referenced_chains.size
        residual, mass = linear_residuals(batch, *stepped(batch))
        assert residual.max() < 1e-6
        assert mass.max() < 1e-6
    assert equations > 5
    assert referenced > 1


@pytest.mark.parametrize("count", [1, 3, 8])
def test_a_step_of_lines_and_pumps_alone_solves_them_too(count):
    """Networks of which every chain has a loss are solved by dense matrices, by pressures and by loops."""
    net, draws = looped_net()
    draws = {name: value * np.linspace(0.5, 1.0, 8) for name, value in draws.items()}
    batch = batch_of(net, PETROL, draws).points(np.arange(count), count)
    residual, mass = linear_residuals(batch, *stepped(batch))
    assert residual.max() < 1e-9
    assert mass.max() < 1e-9


def test_a_singular_matrix_of_one_point_gives_no_step():
    batch = two_pipes()
    iterate = evaluate_iterate(batch, np.full((3, 1), 1e-5), np.zeros((4, 1)))
    iterate.conductance = np.zeros((3, 1))
    assert np.isnan(newton_step(batch, iterate)[1]).all()


def test_a_secant_is_the_flow_over_the_loss_where_both_have_one_sign():
    """R q^2 has twice its secant's slope, half its conductance; against the loss, and where most of the loss does not
    depend on the flow, the tangent stays."""
    batch = two_pipes()
    iterate = evaluate_iterate(batch, np.array([[4e-5], [1e-5], [-3e-5]]), np.array([[-8e4], [0.0], [-2e5], [0.0]]))
    tangent = iterate.conductance.copy()
    take_secants(batch, iterate)
    assert iterate.conductance == pytest.approx(2.0 * tangent, rel=1e-4)
    assert iterate.correction == pytest.approx(iterate.evaluation.residual * 2.0 * tangent, rel=1e-4)


@pytest.mark.parametrize(("factor", "taken"), [(0.9, True), (2.9, True), (3.1, False), (-1.0, False)])
def test_a_secant_of_more_than_three_tangents_or_of_the_other_sign_is_not_taken(factor, taken):
    batch = two_pipes()
    flow = np.array([[4e-5], [1e-5], [-3e-5]])
    iterate = evaluate_iterate(batch, flow, np.array([[-8e4], [0.0], [-2e5], [0.0]]))
    tangent = 0.5 * (flow / (RESISTANCE * flow * np.abs(flow)))
    secant = factor * tangent
    # A loss that is as large as the secant asks for.
    drop = iterate.evaluation.residual - RESISTANCE * flow * np.abs(flow)
    iterate.evaluation.residual[:] = flow / secant + drop
    take_secants(batch, iterate)
    assert iterate.conductance == pytest.approx(secant if taken else tangent, rel=1e-3)


def test_a_limited_start_is_above_neither_all_draws_nor_the_smallest_valve():
    """A wide line alone would start at hundreds of litres an hour; the pump's own typical flow is less."""
    net = Network()
    net.add_reservoir("tank", pressure=ATMOSPHERE)
    for name in ("outlet", "rail"):
        net.add_node(name)
    net.connect("tank", "outlet", parabolic_pump(), name="pump")
    net.connect("outlet", "rail", Line(length=1.0, bore=0.05), name="wide")
    net.connect("outlet", "rail", Line(length=1.0, bore=0.06), name="wider")
    net.connect("rail", "tank", ReturnRegulator(set_pressure="300 kPa"), name="regulator")
    for draw in (0.0, 0.5 * L_H, 600.0 * L_H):
        batch = batch_of(net, PETROL, {"rail": draw})
        free, limited = typical_start(batch)[0], typical_start(batch, limited=True)[0]
        typical = {
            link: value[0]
            for group, inputs in zip(batch.plan.groups, batch.groups, strict=True)
            if group.law.kinks
            for link, value in zip(group.links, group.law.typical_flow(inputs.coefficients), strict=True)
        }
        smallest = max(min(float(value) for value in typical.values()), LEAST_FLOW)
        assert limited == pytest.approx(np.minimum(free, max(draw, smallest)))
    assert free.max() > 1000.0 * L_H


def test_a_start_s_pressures_are_the_mean_of_the_reservoirs_and_their_own():
    flow, pressure = typical_start(two_pipes())
    assert pressure[:, 0].tolist() == pytest.approx([-1e5, 0.0, -2e5, ATMOSPHERE - 3e5])
    assert np.all((flow > L_H) & (flow < 1e3 * L_H)), "a law without a flow of its own starts at some a car may have"


def test_a_step_is_cut_for_all_flows_and_pressures_of_its_point_alike(monkeypatch):
    batch = two_pipes()
    flow_change, change = np.array([[2.0], [4.0], [6.0]]), np.array([[10.0]])
    monkeypatch.setattr(type(batch), "step_length", lambda *_: np.array([0.25]))
    cut = limited_step(batch, np.zeros((3, 1)), flow_change.copy(), change.copy())
    assert cut[0].tolist() == [[0.5], [1.0], [1.5]]
    assert cut[1].tolist() == [[2.5]]
    monkeypatch.setattr(type(batch), "step_length", lambda *_: None)
    assert limited_step(batch, np.zeros((3, 1)), flow_change, change)[1].tolist() == [[10.0]]


def solved_points(count, **named):
    """The looped pump net by Newton's method from typical flows, into positions counted backwards."""
    net, draws = looped_net()
    batch = batch_of(net, PETROL, {name: value * np.linspace(0.2, 1.0, count) for name, value in draws.items()})
    solution, at = Solution.empty(batch), np.arange(count)[::-1].copy()
    failed = newton(batch, *typical_start(batch), solution, at, **named)
    return batch, solution, at, failed


@pytest.mark.parametrize("count", [1, 6, 700])
def test_what_is_stored_meets_the_equations_where_it_belongs(count):
    """Whether points are taken out early, late or all together: each position holds its own point's solution."""
    batch, solution, at, failed = solved_points(count, secant_start=count > 6)
    assert failed.size == 0
    assert solution.converged.all()
    pressure = batch.all_pressures(solution.pressure[:, at])
    iterate = evaluate_iterate(batch, solution.flow[:, at], pressure)
    iterate.allow_rounding()
    assert iterate.converged(1.0).all()
    assert solution.pressure_error[at] == pytest.approx(iterate.pressure_error, abs=1e-6)
    assert solution.mass_error[at] == pytest.approx(iterate.mass_error, abs=1e-12)
    assert np.all(solution.flow_error < FLOW_TOLERANCE)
    assert np.all((solution.iterations >= 1) & (solution.iterations < 12))
    for group, losses in zip(batch.plan.groups, solution.losses, strict=True):
        if losses is not None:
            number = batch.plan.groups.index(group)
            own = iterate.evaluation.losses[number]
            assert losses.loss[:, at] == pytest.approx(own.loss[group.inner], rel=1e-9)
            assert losses.slope[:, at] == pytest.approx(own.slope[group.inner], rel=1e-9)


def test_what_is_not_solved_in_time_is_returned_with_its_last_iterate():
    """Two steps solve none of six points: all are returned, with errors of the iterate that is kept."""
    batch, solution, at, failed = solved_points(6, steps=2)
    assert sorted(failed) == list(range(6))
    assert not solution.converged.any()
    assert solution.iterations.tolist() == [2] * 6
    iterate = evaluate_iterate(batch, solution.flow[:, at], batch.all_pressures(solution.pressure[:, at]))
    assert solution.flow_error[at] == pytest.approx(iterate.flow_error, rel=1e-6)
    assert solution.worst[at].tolist() == np.abs(iterate.correction).argmax(axis=0).tolist()


def test_the_last_step_accepts_the_whole_tolerance(monkeypatch):
    """With no error small enough to be aimed at, points are solved at the last step and not before."""
    monkeypatch.setattr(module, "AIMED_TOLERANCE_FRACTION", 0.0)
    _, solution, _, failed = solved_points(6, steps=12)
    assert failed.size == 0
    assert solution.iterations.tolist() == [12] * 6


def test_rounding_is_allowed_for_from_the_fourth_step_until_the_end(monkeypatch):
    """With no error small enough to be aimed at, but all of it rounding, points are solved once it is allowed for."""
    monkeypatch.setattr(module, "AIMED_TOLERANCE_FRACTION", 1e-13)
    monkeypatch.setattr(
        module.Iterate, "allow_rounding", lambda own: setattr(own, "flow_error", np.zeros(6)[: len(own.flow_error)])
    )
    _, solution, _, failed = solved_points(6, steps=12)
    assert failed.size == 0
    assert solution.iterations.min() >= 4
    assert solution.iterations.max() < 9


def test_points_that_run_off_are_given_up_after_three_steps():
    """Pressures of the pump net exceed 100 kPa: with that as the most, no point is iterated on, none is solved."""
    _, solution, _, failed = solved_points(6, most_pressure=1e5)
    assert sorted(failed) == list(range(6))
    assert solution.iterations.tolist() == [3] * 6
    _, whole, _, failed = solved_points(6, most_pressure=1e9)
    assert failed.size == 0
    # Of pressures up to some limit only the points beyond it are given up, and the others solved.
    peak = np.abs(whole.pressure).max(axis=0)
    limit = float(np.median(peak))
    _, solution, _, failed = solved_points(6, most_pressure=limit)
    assert sorted(failed) == np.flatnonzero(peak > limit).tolist()
    assert solution.converged.tolist() == (peak < limit).tolist()
    assert solution.flow[:, peak < limit] == pytest.approx(whole.flow[:, peak < limit], rel=1e-9)


def test_few_points_of_a_large_chunk_are_set_aside():
    """Points that start at their solution are done at once; the others, fewer than an eighth, are left."""
    batch, whole, at, _ = solved_points(50)
    flow, pressure = typical_start(batch)
    flow[:, 5:], pressure[: len(whole.pressure), 5:] = whole.flow[:, at[5:]], whole.pressure[:, at[5:]]
    solution = Solution.empty(batch)
    failed = newton(batch, flow, pressure, solution, at, set_aside=True)
    assert sorted(failed) == sorted(at[:5].tolist())
    assert solution.converged.sum() == 45
    solution = Solution.empty(batch)
    assert newton(batch, flow, pressure, solution, at).size == 0


def test_a_network_whose_flows_are_all_known_needs_no_iteration():
    net = Network()
    net.add_reservoir("tank", pressure=2e5)
    net.add_node("end")
    net.connect("tank", "end", PIPE, name="dead end")
    batch = batch_of(net, PETROL, {"end": np.array([1e-5, 2e-5])})
    solution = Solution.empty(batch)
    assert newton(batch, *typical_start(batch), solution, slice(0, 2)).size == 0
    assert solution.converged.all()
    assert solution.mass_error.tolist() == [0.0, 0.0]


def test_points_of_one_solution_are_put_into_another():
    """All of them with their iterations added, or some of them without."""
    batch, whole, at, _ = solved_points(6)
    other = Solution.empty(batch)
    other.iterations[:] = 100
    other.put(at, whole)
    assert other.flow[:, at].tolist() == whole.flow.tolist()
    assert other.pressure[:, at].tolist() == whole.pressure.tolist()
    assert other.iterations[at].tolist() == (100 + whole.iterations).tolist()
    assert other.converged.all()
    some = Solution.empty(batch)
    some.put(np.array([4, 0]), whole, np.array([1, 2]))
    assert some.flow[:, 4].tolist() == whole.flow[:, 1].tolist()
    assert some.residual[:, 0].tolist() == whole.residual[:, 2].tolist()
    assert some.losses[0].loss[:, 0].tolist() == whole.losses[0].loss[:, 2].tolist()
    assert some.converged.tolist() == [True, False, False, False, True, False]
    assert some.iterations.tolist() == [0] * 6
