"""The regime of a return regulator is that of the equation it is in."""

import numpy as np
import pytest

from fuelsim.constants import L_PER_HOUR
from fuelsim.laws.regulator import (
    ReducingRegulatorCoefficients,
    ReturnRegulatorCoefficients,
    reducing_regulator_regime,
    return_regulator_equation,
    return_regulator_regime,
)

REGULATING, SHUT, WIDE_OPEN = 0, 1, 2
DROOP = 2.88e8
"""0.08 kPa per L/h, Pa s/m3."""


@pytest.mark.parametrize(
    ("back_pressure", "regime"),
    [(3.15e5, REGULATING), (3.25e5, WIDE_OPEN), (2.0e5, REGULATING), (2.95e5, REGULATING)],
)
def test_a_return_regulator_is_wide_open_where_its_seat_needs_more_than_set_pressure_and_droop(back_pressure, regime):
    """By hand, at 1e-4 m3/s: it holds 300 + 28.8 kPa; its seat takes 1e12 q^2 = 10 kPa above the back pressure."""
    c = ReturnRegulatorCoefficients(3e5, DROOP, 0.0, 1e12, 0.0)
    flow, outside = np.array([1e-4]), np.array([1e5])
    downstream = outside + back_pressure
    needed = back_pressure + 10e3
    assert (needed > 328.8e3) == (regime == WIDE_OPEN)
    assert return_regulator_regime(flow, downstream + 5e4, downstream, outside, c).tolist() == [regime]


def test_back_pressure_that_the_spring_side_feels_is_added_to_what_is_held():
    """With half of the back pressure on its spring side it holds 300 + 28.8 + 0.5 x 325 kPa, more than 335 kPa."""
    c = ReturnRegulatorCoefficients(3e5, DROOP, 0.0, 1e12, 0.5)
    outside = np.array([1e5])
    assert return_regulator_regime(np.array([1e-4]), outside + 4e5, outside + 3.25e5, outside, c).tolist() == [
        REGULATING
    ]


def test_without_flow_it_is_shut():
    c = ReturnRegulatorCoefficients(3e5, DROOP, 0.0, 1e12, 0.0)
    outside = np.array([1e5])
    assert return_regulator_regime(np.zeros(1), outside, outside, outside, c).tolist() == [SHUT]


def test_a_shut_return_regulator_leaks_3e_5_litres_per_hour_at_300_kpa():
    """A tenth of a check valve's 1e-3 L/h at 1 MPa, in proportion to the pressure; its set pressure is far above."""
    c = ReturnRegulatorCoefficients(9e5, DROOP, 0.0, 1e12, 0.0)
    leak = 3e-5 * L_PER_HOUR
    assert float(return_regulator_equation(leak, 4e5, 1e5, 1e5, c).residual) == pytest.approx(0.0, abs=1e3)


@pytest.mark.parametrize(("back_pressure", "regime"), [(6.2e5, REGULATING), (6.5e5, WIDE_OPEN)])
def test_back_pressure_on_half_of_the_spring_side_opens_the_seat_wide_at_twice_what_is_held(back_pressure, regime):
    """By hand, at 1e-4 m3/s: 328.8 kPa + half of the back pressure against all of it + 10 kPa, equal at 637.6 kPa."""
    c, outside = ReturnRegulatorCoefficients(3e5, DROOP, 0.0, 1e12, 0.5), np.array([1e5])
    downstream = outside + back_pressure
    assert return_regulator_regime(np.array([1e-4]), downstream + 2e4, downstream, outside, c).tolist() == [regime]


@pytest.mark.parametrize(("supply", "regime"), [(2.9e5, REGULATING), (2.75e5, WIDE_OPEN), (2.0e5, WIDE_OPEN)])
def test_a_reducing_regulator_is_wide_open_where_its_seat_leaves_less_than_set_pressure_and_droop(supply, regime):
    """By hand, at 1e-4 m3/s: it holds 300 - 28.8 kPa; its seat takes 1e12 q^2 = 10 kPa of the supply."""
    c, outside = ReducingRegulatorCoefficients(3e5, DROOP, 0.0, 1e12), np.array([1e5])
    assert reducing_regulator_regime(np.array([1e-4]), outside + supply, outside, outside, c).tolist() == [regime]
    assert reducing_regulator_regime(np.zeros(1), outside + supply, outside, outside, c).tolist() == [SHUT]
