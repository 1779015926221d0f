"""A pump with gas at its inlet, by hand: it displaces liquid and gas together, the gas as of its inlet's pressure."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.pump_with_gas import (
    PUMP_WITH_GAS,
    PumpWithGasCoefficients,
    displaced,
    pump_with_gas_equation,
    pump_with_gas_regime,
)

RISE, SLOPE = np.array([4e5, 0.0])[:, None, None], np.full((2, 1, 1), -4e9)
"""A straight curve of 400 kPa and 360 L/h."""
DOUBLED = PumpWithGasCoefficients(1e-4, RISE, SLOPE, np.inf, 0.0, 2.0, -1e-4, 9e4)
"""It displaces twice the liquid at an inlet of 90 kPa, and 1e-4 of it less for each pascal above."""


def test_flow_forwards_counts_with_its_gas_and_flow_backwards_without():
    """Past run-out above half of the run-out flow, as two volumes pass for one of liquid."""
    flow = np.array([[0.99 * 0.5e-4, 1.01 * 0.5e-4, -1e-6, 0.0]])
    inlet, outlet = np.full((1, 4), 9e4), np.array([[2e5, 9e4, 5e5, 4e5]])
    assert pump_with_gas_regime(flow, inlet, outlet, inlet, DOUBLED).tolist() == [[0, 3, 4, 1]]


@pytest.mark.parametrize("flow", [2e-5, 4e-5])
@pytest.mark.parametrize("inlet", [9e4, 8.9e4])
def test_the_pump_stands_on_its_curve_at_the_volume_it_displaces(flow, inlet):
    """dp = 400 kPa (1 - V q / 360 L/h), with V = 2 - 1e-4 (p - 90 kPa)."""
    volume = 2.0 - 1e-4 * (inlet - 9e4)
    ratio, slope = displaced(np.array([[inlet]]), DOUBLED.displaced, DOUBLED.displaced_slope, DOUBLED.inlet_pressure)
    assert float(ratio[0, 0]) == pytest.approx(volume, rel=1e-12)
    assert float(slope[0, 0]) == pytest.approx(-1e-4, rel=1e-12)
    outlet = inlet + 4e5 * (1.0 - volume * flow / 1e-4)
    at = (np.array([[flow]]), np.array([[inlet]]), np.array([[outlet]]), np.array([[0.0]]))
    assert float(pump_with_gas_equation(*at, DOUBLED).residual[0, 0]) == pytest.approx(0.0, abs=1e-4)


def test_with_as_much_gas_as_liquid_half_of_the_run_out_flow_is_the_end_of_the_curve():
    kinks = PUMP_WITH_GAS.kinks(DOUBLED)
    assert (kinks.low, kinks.high) == (0.0, 0.5e-4)
