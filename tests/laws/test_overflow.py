"""The overflow of a pot: what its states are."""

from __future__ import annotations

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.overflow import overflow_regime

RUNS_OVER, EMPTIES = 0, 1


def test_a_pot_empties_where_more_leaves_than_the_corner_between_both_states_rounds():
    """That corner is 0.05 L/h wide on each side of no flow."""
    flow = np.array([1.0, 0.04, 0.0, -0.04, -0.06, -1.0]) * L_PER_HOUR
    expected = [RUNS_OVER, RUNS_OVER, RUNS_OVER, RUNS_OVER, EMPTIES, EMPTIES]
    assert overflow_regime(flow, flow, flow, flow, None).tolist() == expected
