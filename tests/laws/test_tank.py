"""Fuel in an accelerating tank, jet pump, vent."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fuelsim.constants import GRAVITY
from fuelsim.laws.jet_pump import entrainment_ratio, vent_pressure
from fuelsim.laws.tank import acceleration_pressure, cover_time, tilted_level, uncovering_acceleration

G = GRAVITY
LENGTH, WIDTH, DEPTH = 0.6, 0.5, 0.25


def test_one_g_over_0_4_m_tilts_by_45_degrees_and_costs_2_9_kpa():
    """Computed: atan(a/g), rho a l with 740 kg/m3."""
    assert acceleration_pressure(740.0, G, 0.4) == pytest.approx(2.9e3, rel=0.01)
    here, there = (tilted_level(0.135, LENGTH, WIDTH, 0.9, x, G) for x in (-0.1, 0.1))
    assert (here - there) / 0.2 == pytest.approx(1.0)


def test_surface_is_level_at_rest():
    volume = np.array([0.0, 0.01, 0.05, LENGTH * WIDTH * DEPTH])
    assert tilted_level(volume, LENGTH, WIDTH, DEPTH, 0.2, 0.0) == pytest.approx(volume / (LENGTH * WIDTH), abs=1e-9)


@given(st.floats(0.02, 0.98), st.floats(-30.0, 30.0))
@settings(max_examples=60, derandomize=True, deadline=None)
def test_tilted_fuel_keeps_its_volume(share, acceleration):
    volume = share * LENGTH * WIDTH * DEPTH
    x = np.linspace(-LENGTH / 2, LENGTH / 2, 20001)
    level = tilted_level(volume, LENGTH, WIDTH, DEPTH, x, acceleration)
    assert np.trapezoid(level, x) * WIDTH == pytest.approx(volume, rel=1e-5)
    assert np.all((level >= 0.0) & (level <= DEPTH))


def test_a_corner_uncovers_the_pick_up_sooner_with_less_fuel():
    volume = np.array([0.005, 0.01, 0.02, 0.04])
    limit = uncovering_acceleration(volume, LENGTH, WIDTH, DEPTH, 0.25, 0.01)
    assert np.all(np.diff(limit) > 0.0)
    at_limit = tilted_level(volume, LENGTH, WIDTH, DEPTH, 0.25, limit)
    assert at_limit == pytest.approx(0.01, abs=1e-6)


def test_a_pick_up_in_the_middle_of_a_full_tank_is_never_uncovered():
    assert uncovering_acceleration(0.07, LENGTH, WIDTH, DEPTH, 0.0, 0.01) == np.inf
    assert uncovering_acceleration(0.001, LENGTH, WIDTH, DEPTH, 0.2, 0.02) == 0.0


def test_one_and_a_half_litres_cover_54_seconds_of_100_litres_per_hour():
    assert cover_time(1.5e-3, 100e-3 / 3600.0) == pytest.approx(54.0)
    assert cover_time(1.5e-3, -1e-6) == np.inf


def test_jet_pump_sucks_less_against_lift_and_nothing_past_stall():
    lift = np.linspace(0.0, 40e3, 41)
    ratio = entrainment_ratio(60e3, lift, 3.0, 0.2)
    assert np.all(np.diff(ratio) <= 0.0)
    assert ratio[0] == 3.0
    assert ratio[lift > 10.001e3] == pytest.approx(0.0)
    assert entrainment_ratio(0.0, 0.0, 3.0, 0.2) == 0.0
    assert entrainment_ratio(60e3, -10e3, 3.0, 0.2) == 3.0  # a tank that pushes helps no further than no lift


def test_vent_lets_in_air_below_and_vapour_above_the_atmosphere():
    flow = np.linspace(-1e-4, 1e-4, 9)
    pressure = vent_pressure(flow, 7e3, 2e3, 1e-6, 1.2)
    assert np.all(np.diff(pressure) > 0.0)
    assert pressure[4] == 0.0
