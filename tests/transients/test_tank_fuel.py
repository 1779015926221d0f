"""Fits of a fuel as the tank sees it, against the fuel's own flashes and tables, and scipy's root finding."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

import fuelsim as fs
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.transients.tank_fuel import WEATHERED, tank_fuel

TEMPERATURES = np.linspace(275.0, 355.0, 9)


@pytest.fixture(scope="module")
def fuel():
    return tank_fuel(fs.Car.named("finch").fuel.fuel())


def test_a_fuel_is_fitted_once_and_keeps_its_weathered_stages(fuel):
    assert tank_fuel(fuel.fuel) is fuel
    assert len(fuel.weathered) == len(WEATHERED)
    assert fuel.weathered[0] is fuel.fuel


def test_density_and_heat_capacity_are_those_of_the_fuel(fuel):
    """Judge: the fuel's own; parabolas over 250 to 360 K."""
    for temperature in TEMPERATURES:
        density, slope = fuel.density(temperature)
        assert density == pytest.approx(float(fuel.fuel.density(temperature)), rel=1e-3)
        assert fuel.heat_capacity(temperature) == pytest.approx(float(fuel.fuel.heat_capacity(temperature)), rel=2e-3)
        difference = (fuel.density(temperature + 0.5).value - fuel.density(temperature - 0.5).value) / 1.0
        assert slope == pytest.approx(difference, rel=1e-9)


def test_vapour_of_each_stage_is_that_of_a_flash_at_the_bubble_point(fuel):
    """Judge: the mole-weighted molar mass and heat of vaporisation of the flash's own vapour."""
    for stage in (0, 3, 5):
        own = fuel.weathered[stage]
        flash = flashes.saturation_pressure(own.mixture, own.composition, np.array([285.0, 315.0, 345.0]))
        species = own.mixture.species
        mass = species.molar_mass @ flash.vapour
        heat = (species.heat_of_vaporisation(np.array([285.0, 315.0, 345.0])) * flash.vapour).sum(axis=0) / mass
        for point, temperature in enumerate((285.0, 315.0, 345.0)):
            vapour = fuel.vapour(temperature, WEATHERED[stage])
            assert vapour.molar_mass == pytest.approx(mass[point], rel=3e-3)
            assert vapour.latent_heat == pytest.approx(heat[point], rel=3e-3)
            bubble = fuel.bubble_pressure(temperature, WEATHERED[stage])
            assert bubble.pressure == pytest.approx(flash.pressure[point], rel=3e-3)


@pytest.mark.parametrize("evaporated", [0.0, 0.03, 0.2])
@pytest.mark.parametrize("pressure", [20e3, 60e3, 101325.0, 250e3])
def test_the_boiling_temperature_is_where_the_bubble_pressure_is_the_pressure(fuel, pressure, evaporated):
    """Judge: scipy's bracketing."""
    root = brentq(lambda t: fuel.bubble_pressure(t, evaporated).pressure - pressure, 250.0, 390.0, xtol=1e-10)
    assert fuel.boiling_temperature(pressure, evaporated) == pytest.approx(root, abs=1e-6)


def test_boiling_temperatures_of_arrays_are_those_of_their_elements(fuel):
    pressures, fractions = np.array([[80e3], [100e3]]), np.array([0.0, 0.05, 0.1])
    found = fuel.boiling_temperatures(pressures, fractions)
    assert found.shape == (2, 3)
    assert found[1, 2] == fuel.boiling_temperature(100e3, 0.1)
    assert found[0, 1] == fuel.boiling_temperature(80e3, 0.05)


def test_nothing_evaporated_less_than_nothing_and_the_last_stage_are_the_ends(fuel):
    assert fuel.bubble_pressure(310.0, -0.01).pressure == fuel.bubble_pressure(310.0, 0.0).pressure
    assert fuel.bubble_pressure(310.0, 0.6).pressure == fuel.bubble_pressure(310.0, WEATHERED[-1]).pressure
    assert fuel.vapour(310.0, 0.6) == fuel.vapour(310.0, WEATHERED[-1])


def test_enthalpy_is_nothing_at_315_kelvin_and_grows_by_the_heat_capacity(fuel):
    assert fuel.enthalpy(315.0) == 0.0
    for temperature in TEMPERATURES:
        slope = (fuel.enthalpy(temperature + 0.1) - fuel.enthalpy(temperature - 0.1)) / 0.2
        assert slope == pytest.approx(fuel.heat_capacity(temperature), rel=1e-6)


def test_weights_of_stages_reproduce_parabolas_and_straight_lines_up_to_the_second(fuel):
    """Lagrange: weights through three knots give back 1, w and w2; through two, 1 and w (any textbook)."""
    evaporated = np.array([0.0, 0.01, 0.02, 0.03, 0.07, 0.13, 0.2, 0.24, 0.3])
    found = fuel.at(evaporated)
    knots = np.array([WEATHERED[fuel.weathered.index(each)] for each in found.fuels])[found.shares.table]
    weight, within = found.shares.weight, np.minimum(evaporated, WEATHERED[-1])
    assert weight.sum(axis=0) == pytest.approx(1.0)
    assert (weight * knots).sum(axis=0) == pytest.approx(within)
    curved = evaporated >= WEATHERED[1]
    assert (weight * knots**2).sum(axis=0)[curved] == pytest.approx(within[curved] ** 2)
    below = knots[:, 1][weight[:, 1] != 0.0]
    assert sorted(below.tolist()) == [0.0, 0.02]
    around = knots[:, 4][weight[:, 4] != 0.0]
    assert sorted(around.tolist()) == [0.02, 0.05, 0.10]


def test_only_stages_that_have_weight_are_made(fuel):
    """A stage takes a tenth of a second of flashes."""
    assert fuel.at(np.zeros(4)) is fuel.fuel
    assert fuel.at(np.array([0.02])).fuels == (fuel.weathered[1],)
    assert fuel.at(np.array([0.0, 0.05])).fuels == (fuel.fuel, fuel.weathered[2])
    assert fuel.at(np.array([0.12])).fuels == tuple(fuel.weathered[2:5])
