"""Tests of a laboratory, with dissolved air."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient, released_gas_ratio


def test_the_flash_with_air_agrees_with_the_ideal_balance_and_frees_gas_long_before_boiling() -> None:
    fuel = Fuel.petrol("58 kPa")
    p = np.array([90e3, 80e3, 70e3])
    ideal = released_gas_ratio(
        float(ostwald_coefficient(np.array([293.15]), fuel.density_at_15)[0]), 101325.0, p, fuel.bubble_pressure(293.15)
    )
    assert fuel.gas_liquid_ratio(293.15, p) == pytest.approx(ideal, rel=0.08)
    assert (fuel.vapour_liquid_ratio(293.15, p) == 0.0).all()


def test_air_smooths_the_onset_of_boiling(summer_e10: Fuel) -> None:
    p = 0.995 * summer_e10.bubble_pressure(319.15)
    without, with_air = (
        summer_e10.vapour_liquid_ratio_after_drop(319.15, p),
        summer_e10.gas_liquid_ratio_after_drop(319.15, p),
    )
    assert 0.0 < without < with_air


def test_the_accuracy_band_widens_away_from_the_reid_temperature(summer_e0: Fuel) -> None:
    assert summer_e0.pressure_band(311.0) == pytest.approx(0.02)
    assert summer_e0.pressure_band(353.15) == pytest.approx(0.05)
    assert summer_e0.pressure_band([373.15, 393.15]) == pytest.approx([0.08, 0.08])


def test_pressures_at_rail_temperatures_by_the_hot_method_include_air(summer_e0: Fuel) -> None:
    """EN 13016-2, 40 to 100 degC at V/L 3:2: air adds a few kilopascal to the fuel's own pressure."""
    t = np.array([313.15, 353.15, 373.15])
    found = summer_e0.vapour_pressure_at(t)
    assert ((found > summer_e0.bubble_pressure(t)) & (found < summer_e0.bubble_pressure(t) + 15e3)).all()
