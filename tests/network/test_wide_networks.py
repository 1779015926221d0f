"""Wide random plumbing; `tests/benchmarks/long_run_wide_networks.py` does 20,000 points, with scipy as judge."""

from __future__ import annotations

import pytest
from plumbing import ATMOSPHERE, L_H, PETROL
from wide_runs import run_wide

from fuelsim.network.network import Network
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line import Line


def test_wide_networks_solve_or_say_why():
    """40 networks of up to 200 links at seven draws each, far outside what a car has.

    Trees, chains and grids of lines 0.5-100 mm and 1 mm-100 m, valves and regulators at random, liquids of 0.2-500
    mm2/s, draws to nine times what the pump gives. What is solved meets every equation, what is cut off on purpose is
    said to be, the largest draw that is said to work does within 2 %.
    """
    tally = run_wide(range(40), bisect_every=7)
    assert tally.wrong == []
    assert tally.not_converged == []
    assert tally.cut_off > 0
    assert tally.solved > 100
    assert tally.limits_checked > 3
    assert tally.limits_wrong == []


def test_points_whose_pressures_depend_on_leaks_solve_beside_overdrawn_ones():
    """Seeds that once ended in cycles: regulators all shut (932), injectors no fuel can reach (1752, 1884, 2217).

    The search for some limits of 932 and 2217 is given up for its cost, which is said; the others are bisected.
    """
    for seed, solved in ((932, 4), (1752, 1), (1884, 5), (2217, 1)):
        tally = run_wide(range(seed, seed + 1), bisect_every=1 if seed in (1752, 1884) else 0)
        assert tally.wrong == []
        assert tally.not_converged == []
        assert tally.solved == solved
        assert tally.limits_wrong == []


def test_injectors_that_no_fuel_can_reach_shut_within_a_few_steps():
    """A rail below the atmosphere: nothing flows, so that all of it stands at the pressure of its supply."""
    for demand in (1e-5, 1e-3, 0.014, 0.1):
        net = Network()
        net.add_reservoir("supply", pressure=ATMOSPHERE - 25e3)
        net.add_reservoir("manifold", pressure=ATMOSPHERE)
        net.add_node("rail")
        net.connect("supply", "rail", Line(length=1.0, bore=0.008), name="line")
        net.connect("rail", "manifold", Injectors(count=4, static_flow=3e-6, mass_demand=demand), name="bank")
        state = net.solve(PETROL)
        assert state.outcome.converged
        assert state.outcome.iterations <= 20
        assert state.pressure["rail"] == pytest.approx(ATMOSPHERE - 25e3, abs=1.0)
        assert -1e-3 * L_H < state.flow["bank"] <= 0.0
