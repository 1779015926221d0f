"""A controlled pump by hand: what it can hold with gas at its inlet, and where its curve ends."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.controlled_pump import (
    CONTROLLED_PUMP,
    ControlledPumpCoefficients,
    controlled_pump_equation,
    controlled_pump_regime,
)
from fuelsim.laws.pump_curve import standing_table

REGULATING, FULL_SPEED = 0, 1
RISE, SLOPE = np.array([6e5, 0.0])[:, None, None], np.full((2, 1, 1), -6e9)
"""A straight curve of 600 kPa and 100 mL/s."""
STANDING = standing_table(1e-4, 1e10, 2)
DOUBLED = ControlledPumpCoefficients(
    *(1e-4, RISE, SLOPE, np.inf, 0.0),
    *(1e-4, STANDING.rise[:, None, None], STANDING.slope[:, None, None]),
    set_pressure=3.5e5,
    droop=0.0,
    displaced=2.0,
    displaced_slope=0.0,
    inlet_pressure=1e5,
)
"""It stops if it gives too much, and takes in as much gas as liquid."""


@pytest.mark.parametrize(("set_pressure", "regime"), [(3.55e5, REGULATING), (3.65e5, FULL_SPEED)])
def test_with_as_much_gas_as_liquid_a_pump_holds_what_its_curve_gives_at_twice_the_flow(set_pressure, regime):
    """By hand: 20 mL/s of liquid are 40 mL/s, at which it gives 600 kPa (1 - 0.4) = 360 kPa."""
    c = DOUBLED._replace(set_pressure=set_pressure)
    inlet = np.full((1, 1), 1e5)
    outlet = inlet + min(set_pressure, 3.6e5)
    assert controlled_pump_regime(np.full((1, 1), 2e-5), inlet, outlet, outlet, c).tolist() == [[regime]]


def test_with_as_much_gas_as_liquid_half_of_the_run_out_flow_is_the_end_of_the_curve():
    kinks = CONTROLLED_PUMP.kinks(DOUBLED)
    assert (kinks.low, kinks.high) == (0.0, 5e-5)


def test_unless_told_otherwise_a_pump_takes_in_no_gas_and_holds_its_pressure_above_its_inlet():
    """By hand: 350 kPa above an inlet of 150 kPa, at 20 mL/s; its curve ends at its run-out flow of 100 mL/s."""
    told = DOUBLED._asdict()
    for name in ("base_pressure", "above_inlet", "displaced", "displaced_slope", "inlet_pressure"):
        del told[name]
    c = ControlledPumpCoefficients(**told)
    inlet, outlet = np.full((1, 1), 1.5e5), np.full((1, 1), 5e5)
    equation = controlled_pump_equation(np.full((1, 1), 2e-5), inlet, outlet, outlet, c)
    assert float(equation.residual[0, 0]) == pytest.approx(0.0, abs=0.1)
    assert CONTROLLED_PUMP.kinks(c).high == 1e-4
