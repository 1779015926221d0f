"""A measured table of the flow with vapour, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.vapour_flow import measured_tolerance, measured_vapour_flow_factor


def test_a_pump_that_displaces_its_volume_up_to_the_last_row_tolerates_the_vapour_of_that_row():
    ratios = np.array([0.5, 1.0, 3.0])
    assert measured_tolerance(ratios, 1.0 / (1.0 + ratios)) == pytest.approx(3.0)


def test_a_flow_that_collapses_between_two_rows_does_so_where_nine_tenths_of_the_displaced_volume_remain():
    """By hand: 1/(1 + x) up to x = 1, half of that at 3; on logarithmic scales 0.9 is at ln(0.9)/ln(0.5) of the way."""
    ratios, factors = np.array([0.5, 1.0, 3.0]), np.array([1.0 / 1.5, 0.5, 0.125])
    tolerance = measured_tolerance(ratios, factors)
    assert tolerance == pytest.approx(2.0 ** (1.0 + np.log(0.9) / np.log(0.5)) - 1.0)
    assert measured_vapour_flow_factor(tolerance, ratios, factors) == pytest.approx(0.9 / (1.0 + tolerance))
