"""The check mixture: figures computed elsewhere with UNIFAC and an ideal vapour, and by thermo in this test."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.fuel.fuel import Fuel

REID = 310.928


def test_molar_mass_and_density_are_those_computed_elsewhere(ideal_palette: Fuel) -> None:
    assert 1e3 * ideal_palette.molar_mass == pytest.approx(94.39, rel=1e-3)
    assert ideal_palette.density_at_15 == pytest.approx(737.6, rel=1e-3)


def test_vapour_pressures_with_an_ideal_vapour_are_those_computed_elsewhere(ideal_palette: Fuel) -> None:
    assert ideal_palette.bubble_pressure(REID) == pytest.approx(59.6e3, rel=0.01)
    assert ideal_palette.vapour_pressure_at_ratio(REID, 4.0) == pytest.approx(58.1e3, rel=0.01)
    assert ideal_palette.vapour_liquid_temperature(20.0) - 273.15 == pytest.approx(61.9, abs=0.5)


def test_the_blend_with_ten_percent_ethanol_has_the_figures_computed_elsewhere(ideal_palette: Fuel) -> None:
    blend = ideal_palette.splash_blend(ethanol=0.10)
    assert blend.vapour_pressure_at_ratio(REID, 4.0) == pytest.approx(65.4e3, rel=0.01)
    assert blend.vapour_liquid_temperature(20.0) - 273.15 == pytest.approx(54.2, abs=0.5)


def test_bubble_pressure_equals_that_of_thermos_unifac_and_vapour_pressures_to_one_percent(ideal_palette: Fuel) -> None:
    thermo = pytest.importorskip("thermo")
    from thermo.unifac import UNIFAC

    names = [{"isooctane": "2,2,4-trimethylpentane"}.get(name, name) for name in ideal_palette.names]
    correlations = thermo.ChemicalConstantsPackage.correlations_from_IDs(names)
    number = {"CH3": 1, "CH2": 2, "CH": 3, "C": 4, "CH2=CH": 5, "ACH": 9, "ACCH3": 11}
    groups = [
        {number[item.split(":")[0]]: int(item.split(":")[1]) for item in text.split()}
        for text in ideal_palette.mixture.species.groups
    ]
    for temperature in (273.15, REID, 353.15, 393.15):
        gamma = np.array(UNIFAC.from_subgroups(temperature, list(ideal_palette.fractions), groups).gammas())
        pure = np.array([model.T_dependent_property(temperature) for model in correlations.VaporPressures])
        theirs = (np.array(ideal_palette.fractions) * gamma * pure).sum()
        assert ideal_palette.bubble_pressure(temperature) == pytest.approx(theirs, rel=0.01)


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
