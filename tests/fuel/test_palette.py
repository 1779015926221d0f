"""The check mixture with the default vapour: slope against temperature, dissolved air, DVPE."""

from __future__ import annotations

import pytest

from fuelsim.fuel.fuel import Fuel

REID = 310.928


@pytest.mark.parametrize(
    ("celsius", "ratio"), [(0, 0.253), (20, 0.550), (60, 1.93), (80, 3.22), (100, 5.09), (120, 7.67)]
)
def test_vapour_pressure_against_temperature_follows_peng_robinson(palette: Fuel, celsius: float, ratio: float) -> None:
    """P/P(37.8 degC) of a summer petrol by Peng-Robinson with kij = 0, computed elsewhere for a like mixture."""
    ours = palette.bubble_pressure(celsius + 273.15) / palette.bubble_pressure(REID)
    assert ours == pytest.approx(ratio, rel=0.015)


def test_dissolved_air_lowers_the_vapour_liquid_temperature_by_about_a_third_of_a_kelvin(palette: Fuel) -> None:
    drop = palette.vapour_liquid_temperature(20.0) - palette.vapour_liquid_temperature(20.0, with_air=True)
    assert 0.2 < drop < 0.5


def test_dvpe_lies_a_little_below_the_air_free_pressure_at_ratio_four(palette: Fuel, summer_e10: Fuel) -> None:
    """0.8 to 2 kPa for a 58 kPa summer petrol; own analysis."""
    for fuel in (palette, summer_e10):
        assert 0.5e3 < fuel.vapour_pressure_at_ratio(REID, 4.0) - fuel.dvpe() < 2.2e3


def test_bubble_pressure_lies_about_one_and_a_half_kilopascal_above_the_pressure_at_ratio_four(palette: Fuel) -> None:
    assert 1.0e3 < palette.bubble_pressure(REID) - palette.vapour_pressure_at_ratio(REID, 4.0) < 2.0e3
