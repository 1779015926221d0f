"""Continuation in time: one implicit step against numpy, its length, and where a point is given up."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from batches import batch_of
from plumbing import L_H, PETROL, looped_net

from fuelsim.network.solver import pseudo_transient as module
from fuelsim.network.solver.newton import Solution, evaluate_iterate, typical_start
from fuelsim.network.solver.pseudo_transient import is_sinking, pseudo_transient


def looped(count, most=1.0):
    net, draws = looped_net()
    return batch_of(net, PETROL, {name: value * np.linspace(0.2, most, count) for name, value in draws.items()})


def test_a_pressure_thirty_times_the_atmosphere_below_a_vacuum_is_given_up():
    """Of 101 kPa at the datum: -3.0 MPa absolute is the limit."""
    batch = SimpleNamespace(datum=np.array([101325.0]))
    pressure = np.array([[0.0, -3.0e6, -3.2e6, 0.0], [0.0, 0.0, 0.0, -3.2e6]])
    assert is_sinking(batch, pressure).tolist() == [False, False, True, True]
    assert is_sinking(batch, np.zeros((0, 2))).tolist() == [False, False]


def test_a_grounded_step_solves_the_mass_balances_with_a_conductance_from_every_node():
    """(A + g I) dp = b, written out from the chains' conductances: A is their weighted Laplacian."""
    batch = looped(3)
    iterate = evaluate_iterate(batch, *typical_start(batch))
    ground = np.array([1e-9, 1e-11, 1e-13])
    flow_change, change = module._grounded_step(batch, iterate, ground)
    plan, kept = batch.plan, len(batch.plan.contraction.kept)
    for point in range(3):
        matrix, right = ground[point] * np.eye(kept), iterate.imbalance[:, point].copy()
        for chain in range(len(plan.up)):
            c, residual = iterate.conductance[chain, point], iterate.evaluation.residual[chain, point]
            for row, sign in ((plan.down[chain], 1.0), (plan.up[chain], -1.0)):
                if row < kept:
                    right[row] -= sign * c * residual
                    for other, own in ((plan.down[chain], 1.0), (plan.up[chain], -1.0)):
                        if other < kept:
                            matrix[row, other] += sign * own * c
        assert change[:, point] == pytest.approx(np.linalg.solve(matrix, right), rel=1e-8)
    assert flow_change.shape == iterate.flow.shape


def test_a_step_in_time_is_shortened_until_no_pressure_changes_by_a_megapascal(monkeypatch):
    """A change in inverse proportion to the ground: by powers of 8 from 1e-12 until below 1 MPa; a point that needs
    none keeps its own, and what is no number becomes no step."""
    wanted = np.array([5e5, 3e6, 1e8, np.nan])

    def grounded(batch, iterate, ground):
        change = wanted[iterate] * 1e-12 / ground
        return np.array([change]), np.array([-change])

    monkeypatch.setattr(module, "_grounded_step", grounded)
    batch = SimpleNamespace(size=4, points=lambda active, size: SimpleNamespace(size=size))
    ground = np.full(4, 1e-12)
    points = np.arange(4)

    class Indices(np.ndarray):
        def points(self, active):
            return np.asarray(self)[active]

    flow_change, change = module._limited_step(batch, points.view(Indices), ground)
    assert ground[:3] == pytest.approx([1e-12, 8e-12, 5.12e-10])
    assert change[0] == pytest.approx([-5e5, -3.75e5, -1e8 / 512.0, 0.0])
    assert flow_change[0] == pytest.approx(-change[0])


def test_the_first_step_s_conductance_passes_all_draws_at_an_atmosphere_or_a_hundred_litres_an_hour(monkeypatch):
    """And the step in time grows eightfold from one to the next, down to a conductance below every leak."""
    seen = []

    def no_step(batch, iterate, ground):
        seen.append(ground.tolist())
        return np.zeros_like(iterate.flow), np.zeros((len(batch.plan.contraction.kept), batch.size))

    monkeypatch.setattr(module, "_limited_step", no_step)
    for draw, total in ((-2e-4, 2e-4), (1e-6, 100.0 * L_H)):
        batch = looped(2)
        kept = len(batch.plan.contraction.kept)
        still = replace(batch, draw=np.full((kept, 1), draw / kept))
        solution = Solution.empty(still)
        seen.clear()
        failed = pseudo_transient(still, *typical_start(still), solution, np.arange(2), steps=40)
        assert failed.tolist() == [0, 1]
        first = np.array(seen)[:, 0]
        assert first[0] == pytest.approx(total / 1e5)
        assert first[:4] == pytest.approx(first[0] / 8.0 ** np.arange(4))
        assert len(first) == 40
        assert 0.0 < first[-1] < 1e-16
        assert solution.iterations.tolist() == [40, 40]


def test_points_are_stored_where_they_belong_whether_solved_given_up_or_left():
    """Positions counted backwards; one point is put far below a vacuum by a draw of 50 m3/s behind lines."""
    batch = looped(5)
    kept = len(batch.plan.contraction.kept)
    spoilt = np.array([0.0, 0.0, 1.0, 0.0, 0.0])
    solution, at = Solution.empty(batch), np.arange(5)[::-1].copy()
    flow, pressure = typical_start(batch)
    pressure[:kept] -= 1e7 * spoilt
    failed = pseudo_transient(batch, flow, pressure, solution, at)
    assert failed.tolist() == [2]
    assert solution.converged.tolist() == [True, True, False, True, True]
    assert solution.iterations[2] == 0
    for position, point in ((0, 4), (4, 0)):
        alone = batch.points(np.array([point]), 1)
        iterate = evaluate_iterate(
            alone, solution.flow[:, [position]], alone.all_pressures(solution.pressure[:, [position]])
        )
        iterate.allow_rounding()
        assert iterate.converged(1.0).all()
    left = pseudo_transient(batch, *typical_start(batch), Solution.empty(batch), at, steps=2)
    assert sorted(left) == [0, 1, 2, 3, 4]


def test_the_last_step_in_time_accepts_the_whole_tolerance(monkeypatch):
    """With no error small enough to be aimed at, points are solved at the last step and not before."""
    monkeypatch.setattr(module, "AIMED_TOLERANCE_FRACTION", 0.0)
    batch = looped(3)
    solution = Solution.empty(batch)
    assert pseudo_transient(batch, *typical_start(batch), solution, np.arange(3), steps=30).size == 0
    assert solution.iterations.tolist() == [30] * 3


def test_rounding_is_allowed_for_from_the_fourth_step_in_time(monkeypatch):
    """With no error small enough to be aimed at, but all of it rounding, points are solved once it is allowed for."""
    monkeypatch.setattr(module, "AIMED_TOLERANCE_FRACTION", 1e-13)

    def allow(own):
        own.flow_error = np.zeros(len(own.flow_error))

    monkeypatch.setattr(module.Iterate, "allow_rounding", allow)
    batch = looped(3)
    solution = Solution.empty(batch)
    assert pseudo_transient(batch, *typical_start(batch), solution, np.arange(3), steps=40).size == 0
    assert solution.iterations.max() < 30
