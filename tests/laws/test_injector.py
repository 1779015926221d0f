"""Injector law: metering, saturation, slopes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.laws.injector import (
    INJECTOR,
    InjectorCoefficients,
    dead_time_at,
    injector_equation,
    injector_regime,
    static_flow,
)
from fuelsim.laws.link import SHUT_SLOPE


def _flow(demand, conductance, difference):
    """Find the flow at which the equation is zero, by bisection."""
    low, high = np.full(np.shape(difference), -1e-6), np.full(np.shape(difference), 1e-2)
    for _ in range(120):
        middle = 0.5 * (low + high)
        over = injector_equation(middle, difference, 0.0, 0.0, InjectorCoefficients(demand, conductance)).residual > 0.0
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return 0.5 * (low + high)


CONDUCTANCE = 3e-5 / np.sqrt(3e5)


def test_injector_flow_follows_the_root_of_pressure_and_density():
    assert static_flow(1.0, 3e5, 700.0, 12e5, 700.0) == pytest.approx(2.0)
    assert static_flow(1.0, 3e5, 700.0, 3e5, 2800.0) == pytest.approx(0.5)


def test_rated_with_heptane_petrol_gives_1_044_of_the_mass_and_0_958_of_the_volume():
    volume = static_flow(1.0, 3e5, 684.0, 3e5, 745.0)
    assert volume == pytest.approx(0.958, abs=5e-4)
    assert volume * 745.0 / 684.0 == pytest.approx(1.044, abs=5e-4)


@pytest.mark.parametrize("share", [0.0, 0.01, 0.3, 0.9, 0.985])
def test_demand_below_saturation_is_met(share):
    capacity = CONDUCTANCE * np.sqrt(3e5)
    assert _flow(share * capacity, CONDUCTANCE, 3e5) == pytest.approx(share * capacity, abs=2e-7 * capacity)


def test_demand_beyond_saturation_gives_the_static_flow_of_the_local_pressure():
    for difference in (30e3, 100e3, 300e3):
        expected = CONDUCTANCE * np.sqrt(difference)
        assert _flow(10.0, CONDUCTANCE, difference) == pytest.approx(expected, rel=3e-4)


def test_rail_below_manifold_lets_next_to_nothing_back():
    back = _flow(1e-5, CONDUCTANCE, -100e3)
    assert -1e-6 * CONDUCTANCE * np.sqrt(3e5) < back < 0.0


@given(st.floats(0.0, 1e-4), st.floats(1e-9, 1e-6), st.floats(-2e5, 1e6))
@settings(max_examples=200, derandomize=True, deadline=None)
def test_injector_slopes_are_derivatives_within_the_contract(demand, conductance, difference):
    step = 1.0
    here = injector_equation(1e-5, difference, 0.0, 0.0, InjectorCoefficients(demand, conductance))
    above, below = (
        injector_equation(1e-5, difference + side, 0.0, 0.0, InjectorCoefficients(demand, conductance)).residual
        for side in (step, -step)
    )
    numeric = -(above - below) / (2.0 * step)
    assert here.up_slope == pytest.approx(numeric, abs=2e-3)
    assert 0.0 <= here.up_slope <= 1.0
    assert here.flow_slope > 0.0


@given(st.floats(0.0, 1e-4), st.floats(1e-9, 1e-6))
@settings(max_examples=50, derandomize=True, deadline=None)
def test_injector_flow_never_falls_as_the_rail_rises(demand, conductance):
    difference = np.linspace(-5e4, 6e5, 4001)
    assert np.all(np.diff(_flow(demand, conductance, difference)) >= -1e-18)


def test_injector_regime_is_read_off_the_solution():
    difference = np.array([3e5, 3e5, 3e5, -1e4])
    demand = np.array([1e-5, 1e-4, 0.0, 1e-5])
    regime = injector_regime(None, difference, 0.0, 0.0, InjectorCoefficients(demand, CONDUCTANCE))
    assert [INJECTOR.regimes[i] for i in regime] == ["metering", "saturated", "shut", "back-pressured"]


def test_dead_time_goes_on_beyond_its_table_and_stays_positive():
    volts, times = np.array([8.0, 10.0, 14.0]), np.array([2.4e-3, 1.55e-3, 0.83e-3])
    low, high = dead_time_at(np.array([7.0, 40.0]), 3e5, volts, times, 3e5, 0.0)
    assert low == pytest.approx(2.825e-3)
    assert high == pytest.approx(0.415e-3)


@pytest.mark.parametrize(("part_of_capacity", "regime"), [(0.0, 2), (0.98, 0), (1.0, 1), (1.2, 1)])
def test_injectors_that_are_asked_for_all_they_can_pass_are_saturated(part_of_capacity, regime):
    """Their capacity at 150 kPa is that at 300 kPa over the root of two."""
    capacity = CONDUCTANCE * np.sqrt(3e5) / np.sqrt(2.0)
    c = InjectorCoefficients(np.array([part_of_capacity * capacity]), CONDUCTANCE)
    pressures = (np.array([value]) for value in (2.5e5, 1e5, 0.0))
    assert injector_regime(np.zeros(1), *pressures, c).tolist() == [regime]


@pytest.mark.parametrize("demand", [1e-4, 1e-2, 1.0])
def test_one_step_into_the_shut_side_does_not_reach_where_metering_takes_over(demand):
    """At the margin of the kink the equation is still as steep as what is shut; at three times it, it meters."""
    rated = CONDUCTANCE * np.sqrt(3e5)
    c = InjectorCoefficients(demand * rated, CONDUCTANCE)
    margin = INJECTOR.kinks(c).margin
    at_margin, beyond = (injector_equation(-part * margin, 1e5, 1e5, 0.0, c).flow_slope for part in (1.0, 3.0))
    assert at_margin == pytest.approx(SHUT_SLOPE, rel=1e-3)
    assert beyond < 1e-2 * SHUT_SLOPE


@pytest.mark.parametrize("least_conductance", [0.0, 0.5 * CONDUCTANCE])
def test_injectors_leak_a_ten_millionth_of_their_rated_flow_at_300_kpa_in_proportion_to_the_pressure(least_conductance):
    """By hand: with a leak of 1e-7 at 300 kPa the flow beyond the demand is 2e-7 of the rated flow at 600 kPa."""
    rated = CONDUCTANCE * np.sqrt(3e5)
    demand = 0.9 * rated
    c = InjectorCoefficients(demand, CONDUCTANCE, least_conductance)
    slopes = []
    for difference, leak in ((3e5, 1e-7), (6e5, 2e-7)):
        metered = injector_equation(demand + leak * rated, difference, 0.0, 0.0, c)
        assert float(metered.residual) == pytest.approx(0.0, abs=2e-2)
        slopes.append(float(metered.up_slope))
    # R (q - demand - leak) with R = 300 kPa/demand: 1e-7/0.9, and the parts of both other terms, (10 Pa/d)^2 each.
    assert slopes[1] == pytest.approx(1e-7 / 0.9, rel=0.05)


@pytest.mark.parametrize("difference", [2.9e5, 3e5, 5e5])
@pytest.mark.parametrize("demand", [1e-7, 1e-5, 5e-5])
def test_injectors_with_and_without_a_shortest_pulse_are_evaluated_together_as_alone(difference, demand):
    least = np.array([0.0, 0.3 * CONDUCTANCE])
    flow = np.full(2, 0.8e-5)
    together = injector_equation(flow, difference, 0.0, 0.0, InjectorCoefficients(demand, CONDUCTANCE, least))
    for which in range(2):
        own = InjectorCoefficients(demand, CONDUCTANCE, least[which])
        alone = injector_equation(flow[which], difference, 0.0, 0.0, own)
        for whole, single in zip(together, alone, strict=True):
            assert np.broadcast_to(whole, 2)[which] == pytest.approx(float(single), rel=1e-12)


def test_dead_time_goes_on_straight_beyond_its_table_and_stays_above_half_of_its_last_value():
    """By hand: 0.2 ms/V below 10 V, 0.04 ms/V less above 12 V from 0.9 ms at 14.5 V on, and 0.1 ms per 100 kPa."""
    volts, times = np.array([10.0, 12.0, 14.5]), np.array([1.4e-3, 1.0e-3, 0.9e-3])
    at = np.array([9.0, 11.0, 14.5, 16.0, 50.0])
    expected = np.array([1.6e-3, 1.2e-3, 0.9e-3, 0.84e-3, 0.45e-3])
    assert dead_time_at(at, 3e5, volts, times, 3e5, 1e-9) == pytest.approx(expected)
    assert dead_time_at(at, 4e5, volts, times, 3e5, 1e-9) == pytest.approx(expected + 1e-4)
    assert dead_time_at(at, 0.0, volts, times, 3e5, 1e-8).tolist() == [0.0] * 5
