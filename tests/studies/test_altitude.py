"""Boiling of a vented tank against altitude."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.fuel import Fuel
from fuelsim.studies.altitude import boiling_altitude, boiling_temperature


def test_a_tank_boils_at_lower_temperature_the_higher_it_stands() -> None:
    temperatures = boiling_temperature(Fuel.named("summer_e10"), np.linspace(0.0, 4000.0, 9))
    assert (np.diff(temperatures) < 0.0).all()


def test_boiling_altitude_inverts_boiling_temperature() -> None:
    fuel = Fuel.named("winter_e10")
    heights = np.array([0.0, 1500.0, 3000.0])
    assert boiling_altitude(fuel, boiling_temperature(fuel, heights)) == pytest.approx(heights, abs=5.0)


def test_volatile_fuel_boils_lower_down_the_mountain() -> None:
    heights = [boiling_altitude(Fuel.named(name), "40 degC") for name in ("winter_e10", "summer_e10", "race")]
    assert heights[0] < heights[1] < heights[2]
