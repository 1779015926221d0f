"""The law of a pump in the network by hand: where it turns steep, and what its table continues."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.laws.link import SHUT_SLOPE
from fuelsim.laws.pump_curve import (
    PUMP_CURVE,
    PumpCoefficients,
    pump_loss,
    pump_regime,
    standing_table,
    uniform_table,
    with_equal_knots,
)

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


PUMPING, DEAD_HEADED, RELIEVING, PAST_RUN_OUT, REVERSE, SHUT, STOPPED = range(7)


@pytest.mark.parametrize("inlet", [0.0, 1e5, 3e5])
def test_the_state_of_a_pump_is_that_of_its_flow_and_pressure_rise_whatever_its_inlet_stands_at(inlet):
    """At its run-out flow itself a pump still pumps; its relief valve opens at 350 kPa."""
    c = STRAIGHT._replace(relief_pressure=3.5e5)
    flow = np.array([[5e-5, LARGEST, 1.001 * LARGEST, 0.0, -1e-6, 1e-6]])
    outlet = inlet + np.array([[2e5, 0.0, -1e3, 2e5, 4.1e5, 3.6e5]])
    expected = [PUMPING, PUMPING, PAST_RUN_OUT, DEAD_HEADED, REVERSE, RELIEVING]
    here = np.full((1, 6), inlet)
    assert pump_regime(flow, here, outlet, here, c).tolist() == [expected]
    with_valve = c._replace(check_valve=1.0)
    assert pump_regime(flow, here, outlet, here, with_valve).tolist() == [[*expected[:4], SHUT, RELIEVING]]
    off = c._replace(rise=0.0 * c.rise)
    assert pump_regime(flow, here, outlet, here, off).tolist() == [[STOPPED] * 6]


ROWS = np.array([0.5, 0.55, 0.65, 0.7])
"""Unevenly spaced rows of the parabola 600 kPa (1 - x^2), over its run-out flow of 100 mL/s."""


def test_a_table_is_a_parabola_through_its_rows_continued_straight_to_no_flow_and_to_no_rise():
    """By hand: slopes -2 x; at x = 0.5 and 0.7 the lines reach 0.75 + 0.5 = 1.25 at 0, and 0 at 0.7 + 0.51/1.4."""
    largest, rise, slope = uniform_table(LARGEST * ROWS, 6e5 * (1.0 - ROWS**2), knots=257)
    end = 0.7 + 0.51 / 1.4
    assert largest == pytest.approx(LARGEST * end, rel=1e-12)
    x = np.linspace(0.0, end, 257)
    inside = np.clip(x, 0.5, 0.7)
    expected = 1.0 - inside**2 - 2.0 * inside * (x - inside)
    # The tilt that keeps a flat curve falling adds a millionth.
    assert rise == pytest.approx(6e5 * expected, abs=2.0)
    assert slope == pytest.approx(-12e5 * inside / LARGEST, rel=1e-5)


def test_a_table_ends_at_twice_its_last_flow_where_its_last_line_reaches_no_rise_later():
    """By hand: 400 kPa less 1 kPa per mL/s would reach 0 at 400 mL/s; 200 kPa remain at 200 mL/s."""
    largest, rise, _ = uniform_table(np.array([0.0, 1e-4]), np.array([4e5, 3e5]))
    assert largest == pytest.approx(2e-4)
    assert rise[-1] == pytest.approx(2e5)


def test_a_curve_that_starts_level_keeps_a_thousandth_of_its_mean_steepness_there():
    """By hand: 1 - x^2 up to 0.2, then straight with -0.4 to twice the last flow: 0.12 lost over 0.4."""
    x = np.array([0.0, 0.1, 0.2])
    _, _, slope = uniform_table(LARGEST * x, 6e5 * (1.0 - x**2))
    assert slope.max() == pytest.approx(-1e-3 * 0.3 * 6e5 / LARGEST, rel=1e-5)


def test_no_slope_at_a_knot_is_more_than_two_and_a_half_times_the_flatter_secant_beside_it():
    """Judge: Fritsch and Carlson's limit for a monotone cubic is 3; some knot of a curve with a corner is at 2.5."""
    flow, pressure = np.array([0.0, 0.9e-4, 1e-4]), np.array([5e5, 4.8e5, 0.0])
    largest, rise, slope = uniform_table(flow, pressure, knots=5)
    secant = np.diff(rise) * 4.0 / largest
    flatter = np.maximum(np.append(secant[0], secant), np.append(secant, secant[-1]))
    assert np.max(slope / flatter) == pytest.approx(2.5, rel=1e-9)


def test_rows_common_to_all_points_and_pressures_of_each_give_the_table_of_each():
    flow, pressure = np.array([0.0, 6e-5, 1e-4]), np.array([[4e5, 6e5], [2e5, 4e5], [0.0, 0.0]])
    both = uniform_table(flow, pressure)
    for column in range(2):
        for one, of_both in zip(uniform_table(flow, pressure[:, column]), both, strict=True):
            assert of_both[..., column] == pytest.approx(one, rel=1e-12)


def test_a_pump_at_rest_loses_in_proportion_to_its_flow_at_each_point():
    """By hand: 1 and 2 kPa per mL/s over 100 and 50 mL/s."""
    largest, rise, slope = standing_table(np.array([1e-4, 5e-5]), np.array([1e9, 2e9]), 3)
    assert largest.tolist() == [1e-4, 5e-5]
    assert rise == pytest.approx(np.array([[0.0, 0.0], [-5e4, -5e4], [-1e5, -1e5]]))
    assert slope == pytest.approx(np.array([[-1e9, -2e9]] * 3))


@pytest.mark.parametrize(
    "slope",
    [-np.array([[0.0], [3e5], [8e5]]) / [1e-4, 2e-4], -np.array([0.0, 2e9, 4e9])],
    ids=["slopes of each", "slopes in common"],
)
def test_a_coarse_curve_keeps_its_shape_beside_a_fine_one(slope):
    """The pump of two run-out flows has its rises in common; between and at the new knots it loses what it lost."""
    flow = np.array([1e-4, 2e-4])
    coarse = PumpCoefficients(flow, np.array([4e5, 3e5, 0.0]), slope, np.inf)
    fine = PumpCoefficients(*uniform_table(np.array([0.0, 1e-4]), np.array([4e5, 0.0]), 9), np.inf)
    refined = with_equal_knots([coarse, fine])[0]
    assert len(refined.rise) == 9

    def loss(pump, point):
        column = [table if table.ndim == 1 else table[:, point] for table in (pump.rise, pump.slope)]
        own = PumpCoefficients(flow[point], *(each[:, None, None] for each in column), np.inf)
        return pump_loss(flow[point] * np.linspace(0.0, 1.0, 33)[None], own)[0]

    for point in range(2):
        assert loss(refined, point) == pytest.approx(loss(coarse, point), abs=1e-6)
