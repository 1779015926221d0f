"""The law of a pump in the network by hand: where it turns steep, and what its table continues."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.link import SHUT_SLOPE
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients, pump_loss

LARGEST = 1e-4
STRAIGHT = PumpCoefficients(LARGEST, np.linspace(4e5, 0.0, 5)[:, None, None], np.full((5, 1, 1), -4e9), np.inf)
"""A straight curve of 400 kPa and 360 L/h on five knots: 100 kPa and 25 mL/s from each to the next."""


def slope_at(flow, coefficients=STRAIGHT):
    return float(pump_loss(np.array([[flow]]), coefficients)[1][0, 0])


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_beyond_its_ends_a_curve_turns_steep_within_the_margin_of_its_kinks(side):
    """By hand: steeper by 400 kPa per knot's width, 1.6e10 Pa s/m3, from 4e9 at the end, linearly over the margin."""
    low, high, margin = PUMP_CURVE.kinks(STRAIGHT)
    end = high if side > 0.0 else low
    assert margin == pytest.approx(LARGEST / 4.0)
    slopes = [slope_at(end + side * part * margin) for part in (0.5, 1.0, 2.0)]
    assert slopes == pytest.approx([1.2e10, 2e10, 2e10], rel=1e-9)


def test_a_pump_with_a_check_valve_holds_one_megapascal_back_at_the_margin_of_its_kinks():
    with_valve = STRAIGHT._replace(check_valve=1.0)
    margin = PUMP_CURVE.kinks(with_valve).margin
    rest, back = pump_loss(np.array([[0.0, -margin]]), with_valve)[0][0]
    assert rest - back == pytest.approx(1e6, rel=2e-3)
    assert slope_at(-margin, with_valve) == pytest.approx(SHUT_SLOPE, rel=1e-4)
