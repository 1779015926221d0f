"""A worn pump by hand and against SciPy: q' = q - G r(q)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from fuelsim.laws.pump_curve import PumpCoefficients, PumpTable, pump_loss, uniform_table
from fuelsim.laws.pump_leakage import leaking_table

LARGEST = 1e-4
PART = np.linspace(0.0, 1.0, 9)


def with_points(table):
    return PumpTable(np.atleast_1d(table.largest_flow), table.rise[:, None], table.slope[:, None])


def test_a_straight_curve_that_ends_under_pressure_stays_straight_between_the_leaks_at_its_ends():
    """By hand, kPa and mL/s: 400 - 2 q leaks 0.1 per kPa. Of 100 at 200 kPa 80 remain; 33.3 at 333.3 kPa all leak."""
    sound = PumpTable(np.array([LARGEST]), np.linspace(4e5, 2e5, 9)[:, None], np.full((9, 1), -2e9))
    worn = leaking_table(sound, 1e-10)
    assert worn.largest_flow == pytest.approx(8e-5)
    assert worn.rise[:, 0] == pytest.approx(np.linspace(1e6 / 3.0, 2e5, 9))
    assert worn.slope[:, 0] == pytest.approx(-(1e6 / 3.0 - 2e5) / 8e-5)


@pytest.mark.parametrize("leak", [0.0, 1e-11, 1.5e-10])
def test_a_curve_with_a_steep_end_delivers_what_does_not_leak(leak):
    """Judge: scipy on q - G r(q) = q' at every knot of the worn pump."""
    sound = with_points(uniform_table(LARGEST * PART, 6e5 * (1.0 - PART**8), 9))
    c = PumpCoefficients(LARGEST, sound.rise[:, None], sound.slope[:, None], np.inf)
    worn = leaking_table(sound, leak)
    for flow, rise in zip(np.linspace(0.0, worn.largest_flow[0], 9), worn.rise[:, 0], strict=True):

        def excess(q, flow=flow):
            return q + leak * float(pump_loss(np.array([[q]]), c)[0][0, 0]) - flow

        own = brentq(excess, 0.0, LARGEST, xtol=1e-16) if excess(0.0) < 0.0 else 0.0
        assert rise == pytest.approx(-float(pump_loss(np.array([[own]]), c)[0][0, 0]), rel=1e-6, abs=1.0)


def test_slopes_of_a_worn_pump_stay_within_the_limits_of_a_falling_cubic():
    """A level start keeps a thousandth of the mean, 0.3 of 600 kPa; beside a corner 2.5 times the flatter secant."""
    level = PumpTable(np.array([LARGEST]), 6e5 * (1.0 - 0.3 * PART**2)[:, None], -3.6e9 * PART[:, None])
    assert leaking_table(level, 0.0).slope[0] == pytest.approx(-1e-3 * 0.3 * 6e5 / LARGEST)
    steep = PumpTable(np.array([LARGEST]), 6e5 * (1.0 - PART**8)[:, None], np.full((9, 1), -4e10))
    secant = np.diff(steep.rise[:, 0]) * 8.0 / LARGEST
    flatter = np.maximum(np.append(secant[0], secant), np.append(secant, secant[-1]))
    assert np.max(leaking_table(steep, 0.0).slope[:, 0] / flatter) == pytest.approx(2.5, rel=1e-6)
