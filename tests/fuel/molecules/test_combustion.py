"""Stoichiometric air and heating values."""

from __future__ import annotations

import pytest

from fuelsim.fuel.fuel import Fuel


def test_air_needs_and_heating_values_are_those_of_the_property_tables() -> None:
    """Stoichiometric ratio and lower heating value: petrol 14.7 and 43.4 MJ/kg, ethanol 9.0 and 26.9 (US DOE)."""
    petrol, ethanol = Fuel.petrol("60 kPa"), Fuel.from_components({"ethanol": 1.0})
    assert petrol.stoichiometric_air_fuel_ratio == pytest.approx(14.6, abs=0.15)
    assert ethanol.stoichiometric_air_fuel_ratio == pytest.approx(9.0, abs=0.02)
    assert petrol.lower_heating_value == pytest.approx(43.0e6, rel=0.015)
    assert ethanol.lower_heating_value == pytest.approx(26.9e6, rel=0.01)
