"""Random plumbing of every kind; `tests/benchmarks/long_run_random_networks.py` does the same for 100,000."""

from __future__ import annotations

import pytest
from random_runs import run

from fuelsim.network.solver.newton import FLOW_TOLERANCE, PRESSURE_TOLERANCE


@pytest.mark.parametrize(
    "seeds", [range(250), pytest.param(range(250, 2000), marks=pytest.mark.long)], ids=["250", "to 2000"]
)
def test_random_networks_converge_or_say_why_from_any_start_and_in_any_order(seeds):
    """2,000 networks: solved by the stop rule or outside ratings with a reason, and no third way.

    Trees and loops, one to three unequal pumps, check valves, return and reducing regulators with 0.5-20 kPa of droop,
    bleeds, dead ends, bores 3-16 mm, draws from none to 1.5 times the pumps as injectors and as fixed draws.
    """
    tally = run(seeds, points=3, repeat_every=8)
    assert tally.wrong == []
    assert tally.not_converged == []
    assert tally.solved + tally.outside_ratings == tally.points == 3 * len(seeds)
    assert tally.pressure_residual < PRESSURE_TOLERANCE
    assert tally.flow_residual < FLOW_TOLERANCE
    assert tally.mass_residual < FLOW_TOLERANCE
    assert tally.between_starts < 1e-6
    assert tally.between_orders < 1e-6


def test_injectors_pushed_back_by_a_boosted_manifold_solve():
    """Networks of the long run that once did not: some injectors below the manifold's pressure, others starved."""
    for seed in (49703, 65585):
        tally = run(range(seed, seed + 1), points=5)
        assert tally.wrong == []
        assert tally.solved == 5
