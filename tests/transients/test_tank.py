"""The tank alone: heating, boiling, venting, and what leaves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import fuelsim as fs
from fuelsim.constants import GAS_CONSTANT
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.parts.tank_parts import TankVent
from fuelsim.transients.tank import TankState, tank_pressure, tank_rates, vapour_space, vent_outflow
from fuelsim.transients.tank_fuel import WEATHERED, TankFuel

ATMOSPHERE = 101325.0
OPEN = TankVent()
SEALED = TankVent(bore="0.1 mm", pressure_opening="50 kPa", vacuum_opening="50 kPa")


@pytest.fixture(scope="module")
def summer():
    return TankFuel(fs.Fuel.petrol("62 kPa"))


@pytest.fixture(scope="module")
def ethanol_blend():
    return TankFuel(fs.Fuel.petrol("62 kPa", ethanol=0.10))


def filled(fuel, temperature, litres, volume=0.06, pressure=ATMOSPHERE):
    liquid = litres * 1e-3 * fuel.density(temperature).value
    space = vapour_space(fuel, volume, temperature, liquid)
    air = (pressure - fuel.bubble_pressure(temperature, 0.0).pressure) * space / (GAS_CONSTANT * temperature)
    return TankState(temperature, liquid, air, 0.0)


@pytest.mark.parametrize(("litres", "kelvin_per_hour"), [(40.0, 17.0), (20.0, 35.0)])
def test_three_hundred_watts_heat_forty_litres_by_seventeen_kelvin_an_hour(summer, litres, kelvin_per_hour):
    """300 W into 40 L of petrol, 62 kJ/K, before losses (heat balance); hot petrol is lighter, and heat
    capacities are good to 3 %."""
    state = filled(summer, 305.0, litres)
    rates = tank_rates(summer, state, 0.06, SEALED, ATMOSPHERE, 300.0, 0.0)
    assert rates.temperature * 3600.0 == pytest.approx(kelvin_per_hour, rel=0.10)


@pytest.mark.parametrize(("altitude", "celsius"), [(0.0, 52.0), (3236.0, 39.0)])
def test_a_vented_tank_of_62_kilopascal_petrol_boils_at_52_degrees_and_at_39_in_the_mountains(
    summer, ethanol_blend, altitude, celsius
):
    """Source: US EPA AP-42 sec. 7.1 with the US Standard Atmosphere 1976; within 2 K. With 10 % ethanol UNIFAC gives
    50.7 and 38.8 degC, about a kelvin less at sea level."""
    pressure = float(standard_pressure(altitude))
    plain = summer.boiling_temperature(pressure, 0.0) - 273.15
    blended = ethanol_blend.boiling_temperature(pressure, 0.0) - 273.15
    assert plain == pytest.approx(celsius, abs=2.0)
    assert -2.0 < blended - plain <= 0.3


def test_the_fits_follow_the_fuel_s_own_flashes(summer):
    temperature = np.array([280.0, 300.0, 320.0, 340.0])
    for w, fuel in zip(WEATHERED, summer.weathered, strict=True):
        ours = np.array([summer.bubble_pressure(t, w).pressure for t in temperature])
        assert ours == pytest.approx(fuel.bubble_pressure(temperature), rel=2e-3)


def test_slopes_of_the_bubble_pressure_are_those_of_its_values(summer):
    step = 1e-3
    _, by_t, by_w = summer.bubble_pressure(315.0, 0.05)

    def value(temperature, evaporated):
        return summer.bubble_pressure(temperature, evaporated).pressure

    assert by_t == pytest.approx((value(315.0 + step, 0.05) - value(315.0 - step, 0.05)) / 2e-3)
    assert by_w == pytest.approx((value(315.0, 0.05 + 1e-4) - value(315.0, 0.05 - 1e-4)) / 2e-4)


def test_enthalpy_is_the_integral_of_heat_capacity(summer):
    grid = np.linspace(285.0, 330.0, 2001)
    integral = np.trapezoid([summer.heat_capacity(t) for t in grid], grid)
    assert summer.enthalpy(330.0) - summer.enthalpy(285.0) == pytest.approx(integral, rel=1e-7)


def heated(fuel, start, watts, seconds, litres=35.0):
    """Return a vented tank after some time under a steady heat, and how much of the heat went into vapour."""

    def rates(time, y):
        state = TankState(y[0], y[1], y[2], y[3])
        found = tank_rates(fuel, state, 0.06, OPEN, ATMOSPHERE, watts, 0.0)
        return [
            found.temperature,
            -found.evaporation,
            found.air,
            found.evaporated,
            found.evaporation * found.latent_heat,
        ]

    first = filled(fuel, start, litres)
    state = [first.temperature, first.liquid, first.air, 0.0, 0.0]
    answer = solve_ivp(rates, (0.0, seconds), state, method="LSODA", rtol=1e-8, atol=1e-9)
    return answer.y[:, -1], answer.y[4, -1] / (watts * seconds), first.liquid - answer.y[1, -1]


def test_three_hundred_watts_boil_off_about_three_kilograms_an_hour(summer):
    """300 W over the latent heat of the light ends, 0.33 to 0.38 MJ/kg; a part still warms what boils higher."""
    boils = summer.boiling_temperature(ATMOSPHERE, 0.0)
    end, share, gone = heated(summer, boils - 0.5, 300.0, 3600.0)
    assert gone / share == pytest.approx(3.0, abs=0.3)
    assert share > 0.5
    pressure = tank_pressure(summer, TankState(*end[:4]), 0.06)
    assert pressure < ATMOSPHERE + 2e3
    assert end[0] < summer.boiling_temperature(pressure, end[3]) + 0.01


def test_vapour_takes_ever_more_of_the_heat_as_the_tank_nears_boiling(summer):
    boils = summer.boiling_temperature(ATMOSPHERE, 0.0)
    shares = [heated(summer, boils - below, 300.0, 120.0)[1] for below in (20.0, 10.0, 5.0, 2.0, 1.0, 0.4)]
    assert np.all(np.diff(shares) > 0.0)
    assert shares[0] < 0.1
    assert shares[-1] > 0.3


def test_a_sealed_tank_keeps_its_air_and_its_vapour(summer):
    state = filled(summer, 300.0, 30.0)
    rates = tank_rates(summer, state, 0.06, SEALED, ATMOSPHERE, 300.0, 0.0)
    assert rates.air == 0.0
    assert rates.vented == 0.0
    assert tank_pressure(summer, state, 0.06) == pytest.approx(ATMOSPHERE)


def test_an_engine_that_draws_from_a_vented_tank_draws_air_in(summer):
    state = filled(summer, 300.0, 30.0, pressure=ATMOSPHERE - 50.0)
    rates = tank_rates(summer, state, 0.06, OPEN, ATMOSPHERE, 0.0, 0.005)
    assert rates.air > 0.0
    assert rates.vented == 0.0


def test_the_vent_is_an_orifice_beyond_its_valves():
    """Q = C A sqrt(2 dp / rho); a hole of 2 mm lets 100 L/h of air in at -130 Pa."""
    assert vent_outflow(-130.0, 1.2, TankVent(bore="2 mm")) * 3.6e6 == pytest.approx(-100.0, rel=0.02)
    cap = TankVent(bore="4 mm", pressure_opening="7 kPa", vacuum_opening="2 kPa")
    assert vent_outflow(6.9e3, 1.2, cap) == 0.0
    assert vent_outflow(-1.9e3, 1.2, cap) == 0.0
    assert vent_outflow(7.2e3, 1.2, cap) > 0.0


def test_a_vent_at_rest_passes_nothing_and_small_differences_in_proportion():
    """Rounded off over 2 Pa: at that difference the flow is 2^(-1/4) of the orifice's, at 40 Pa it is the orifice's."""
    vent = TankVent(bore="2 mm")
    assert vent_outflow(0.0, 1.2, vent) == 0.0
    small = [vent_outflow(pressure, 1.2, vent) for pressure in (-0.02, 0.01, 0.02)]
    assert small[2] == pytest.approx(2.0 * small[1], rel=1e-3)
    assert small[0] == -small[2]
    for pressure, share in ((2.0, 2.0**-0.25), (40.0, 1.0)):
        orifice = 0.6 * np.pi * 0.001**2 * np.sqrt(2.0 * pressure / 1.2)
        assert vent_outflow(pressure, 1.2, vent) == pytest.approx(share * orifice, rel=2e-3)


def test_gas_from_an_overfilled_tank_leaves_at_the_density_of_air_and_vapour(summer):
    """Ideal gas: rho = (p_v M_v + p_a M_a)/(R T), Q = C A sqrt(2 dp/rho), moles Q p/(R T), each gas by its share.
    Molar mass of dry air 28.9647 g/mol, US Standard Atmosphere 1976; cold, where the gas is mostly air."""
    vent = TankVent(bore="3 mm")
    temperature, pressure = 265.0, ATMOSPHERE + 3e3
    state = filled(summer, temperature, 30.0, pressure=pressure)
    vapour = summer.bubble_pressure(temperature, 0.0).pressure
    molar_mass = summer.vapour(temperature, 0.0).molar_mass
    assert vapour < 0.2 * pressure
    thermal = 8.31446 * temperature
    density = (vapour * molar_mass + (pressure - vapour) * 28.9647e-3) / thermal
    area = np.pi / 4.0 * 0.003**2
    moles = 0.6 * area * np.sqrt(2.0 * 3e3 / density) * pressure / thermal
    rates = tank_rates(summer, state, 0.06, vent, ATMOSPHERE, 0.0, 0.0)
    assert rates.air == pytest.approx(-moles * (1.0 - vapour / pressure), rel=1e-4)
    assert rates.vented == pytest.approx(moles * vapour / pressure * molar_mass, rel=1e-4)


@pytest.mark.parametrize("evaporated", [0.01, 0.06])
@pytest.mark.parametrize(("heat", "consumption"), [(300.0, 0.0), (0.0, 0.004), (-200.0, 0.001)])
@pytest.mark.parametrize("gauge", [-80.0, 0.0, 900.0])
def test_moles_of_vapour_air_and_heat_balance(summer, evaporated, heat, consumption, gauge):
    """Balances, by differences in time: what evaporates less what is vented is the change of n = p_v V/(R T); the heat
    either warms the liquid or evaporates it; air leaves and enters by its share; light ends go first."""
    space = 0.025
    temperature = 311.0
    liquid = (0.06 - space) * summer.density(temperature).value
    vapour = summer.bubble_pressure(temperature, evaporated).pressure
    air = (ATMOSPHERE + gauge - vapour) * space / (GAS_CONSTANT * temperature)
    state = TankState(temperature, liquid, air, evaporated)
    rates = tank_rates(summer, state, 0.06, OPEN, ATMOSPHERE, heat, consumption)
    molar_mass, latent = summer.vapour(temperature, evaporated)

    def moles(seconds):
        t, w = temperature + rates.temperature * seconds, evaporated + rates.evaporated * seconds
        mass = liquid - (rates.evaporation + consumption) * seconds
        return summer.bubble_pressure(t, w).pressure * vapour_space(summer, 0.06, t, mass) / (GAS_CONSTANT * t)

    step = 1.0
    change = (moles(step) - moles(-step)) / (2.0 * step)
    assert change == pytest.approx((rates.evaporation - rates.vented) / molar_mass, rel=1e-4, abs=1e-9)
    warming = liquid * summer.heat_capacity(temperature) * rates.temperature
    assert warming + latent * rates.evaporation == pytest.approx(heat, rel=1e-9, abs=1e-9)
    assert rates.latent_heat == latent
    assert rates.evaporated == pytest.approx((1.0 - evaporated) * rates.evaporation / liquid, rel=1e-12)
    if gauge > 0.0:
        share = vapour / (ATMOSPHERE + gauge)
        assert rates.air == pytest.approx(-rates.vented / molar_mass * (1.0 - share) / share, rel=1e-9)
    else:
        assert rates.vented == 0.0
        inflow = -vent_outflow(gauge, 1.0, OPEN) * ATMOSPHERE / (GAS_CONSTANT * temperature)
        density = ((ATMOSPHERE + gauge - vapour) * 28.9647e-3 + vapour * molar_mass) / (GAS_CONSTANT * temperature)
        assert rates.air == pytest.approx(inflow / np.sqrt(density), rel=1e-4, abs=1e-12)
