"""A valve that holds a flow, by hand: what it leaks."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.control_valve import FlowControlCoefficients, flow_control_equation


def test_a_valve_that_holds_its_flow_leaks_a_ten_millionth_of_its_open_flow_at_300_kpa():
    """By hand: wide open it passes sqrt(300 kPa/b) at 300 kPa; 1e-7 of it at 300 kPa, 2e-7 at 600 kPa."""
    c = FlowControlCoefficients(1e-5, 1e7, 1e14)
    rated = np.sqrt(3e5 / 1e14)
    for difference, leak in ((3e5, 1e-7), (6e5, 2e-7)):
        equation = flow_control_equation(1e-5 + leak * rated, 1e5 + difference, 1e5, 0.0, c)
        # 1e-8 of the open flow off is 16 Pa off at 300 kPa per set flow.
        assert float(equation.residual) == pytest.approx(0.0, abs=1e-2)
