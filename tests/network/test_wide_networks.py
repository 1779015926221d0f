"""Wide random plumbing; `tests/benchmarks/long_run_wide_networks.py` does 20,000 points, with scipy as judge."""

from __future__ import annotations

from wide_runs import run_wide


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
