"""A tank with another fuel in a drive whose heat is known: closed forms and balances over a given course."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.other_fuel import with_other_fuel
from fuelsim.transients.tank_fuel import tank_fuel

TIME = np.linspace(0.0, 7200.0, 41)
SEALED = {"tank.vent.bore": "0.1 mm", "tank.vent.pressure_opening": "50 kPa", "tank.vent.vacuum_opening": "50 kPa"}


@pytest.fixture(scope="module")
def fuel():
    return tank_fuel(fs.Car.named("finch").fuel.fuel())


def tank_of(**values):
    return fs.Car.named("finch").with_values({"tank.heat_conductance": "10 W/K", **values}).tank


def driven(temperature, *, mass=None, vapour=0.0, altitude=0.0, time=TIME):
    nothing = np.zeros(time.shape)
    return SimpleNamespace(
        time=time,
        altitude=nothing + altitude,
        tank_temperature=nothing + temperature,
        fuel_mass=nothing + 16.0 if mass is None else mass,
        vapour_lost=nothing + vapour,
    )


def test_a_sealed_cool_tank_warms_as_in_the_drive(fuel):
    """Little evaporates in a sealed tank: its temperature is that of the drive, within what the vapour's heat takes."""
    warm = 280.0 + 10.0 * TIME / 7200.0
    other = with_other_fuel(driven(warm), tank_of(**SEALED), fuel)
    assert other.temperature == pytest.approx(warm, abs=0.15)
    assert other.evaporated[0] == 0.0
    assert np.all(np.diff(other.evaporated) > 0.0)
    # Charles and Dalton: air warms at constant volume, but for the fuel's own widening, beside the saturated vapour.
    air = 101325.0 - fuel.bubble_pressure(280.0, 0.0).pressure
    space = 1.0 - 22.0 * fuel.density(280.0).value / fuel.density(290.0).value / 45.0
    expected = air * 290.0 / 280.0 * (23.0 / 45.0) / space + fuel.bubble_pressure(290.0, 0.0).pressure
    assert other.pressure[-1] == pytest.approx(expected, rel=2e-3)


def test_fuel_that_is_burnt_leaves_room_for_the_air_of_a_sealed_tank(fuel):
    """Boyle's law at a steady temperature: p_a V is constant; what evaporates in the drive is not burnt."""
    mass = 16.0 - 4.0 * TIME / 7200.0
    lost = 1.0 * TIME / 7200.0
    result = driven(280.0, mass=mass)
    result.vapour_lost = lost
    tank = tank_of(**SEALED)
    other = with_other_fuel(result, tank, fuel)
    vapour = fuel.bubble_pressure(280.0, 0.0).pressure
    burnt = 4.0 - 1.0  # of the 4 kg that are gone 1 kg left as vapour
    space = 23e-3 + burnt / fuel.density(280.0).value
    expected = (101325.0 - vapour) * 23e-3 / space + vapour
    assert other.pressure[-1] == pytest.approx(expected, rel=5e-3)


def test_an_open_tank_in_the_mountains_stands_at_the_pressure_there(fuel):
    """US Standard Atmosphere 1976: 79.5 kPa at 2000 m; the start is at the pressure outside, and so is the end."""
    climb = 2000.0 * TIME / 7200.0
    other = with_other_fuel(driven(285.0, altitude=climb), tank_of(), fuel)
    assert other.pressure[0] == pytest.approx(101325.0, rel=1e-4)
    assert other.pressure[-1] == pytest.approx(79495.0, rel=2e-3)


def test_all_further_heat_of_a_tank_that_boils_goes_into_vapour(fuel):
    """Balance at boiling: L E = m c dT0/dt + U (T0 - T) less what still warms the fuel whose light ends are gone."""
    boils = fuel.boiling_temperature(101325.0, 0.0)
    warm = boils - 3.0 + 45.0 * TIME / 7200.0
    other = with_other_fuel(driven(warm), tank_of(), fuel)
    limit = np.array([fuel.boiling_temperature(p, w) for p, w in zip(other.pressure, other.evaporated, strict=True)])
    assert np.all(other.temperature < limit + 0.02)
    assert other.temperature[-1] < warm[-1] - 10.0
    # Nothing is burnt: what is left of the fuel is what has not evaporated.
    mass = 22e-3 * fuel.density(float(warm[0])).value * (1.0 - other.evaporated)
    assert other.evaporated[-1] > 0.12
    capacity = mass * [fuel.heat_capacity(t) for t in other.temperature]
    heat = capacity * (np.gradient(warm, TIME) - np.gradient(other.temperature, TIME))
    heat += 10.0 * (warm - other.temperature)
    pairs = zip(other.temperature, other.evaporated, strict=True)
    latent = np.array([fuel.vapour(t, w).latent_heat for t, w in pairs])
    boiling = slice(10, None)
    gone = np.trapezoid((heat / latent)[boiling], TIME[boiling])
    assert mass[10] - mass[-1] == pytest.approx(gone, rel=0.01)


def test_a_fuel_that_would_boil_before_the_start_begins_at_its_boiling_pressure(fuel):
    hot = fuel.boiling_temperature(101325.0, 0.0) + 3.0
    other = with_other_fuel(driven(hot, time=np.linspace(0.0, 60.0, 3)), tank_of(**SEALED), fuel)
    assert other.pressure[0] == pytest.approx(fuel.bubble_pressure(hot, 0.0).pressure, rel=1e-3)
    assert other.temperature[0] == hot


def test_times_at_which_one_phase_ends_and_the_next_begins_count_once(fuel):
    """A drive shows such a time twice; the answer is given at all times shown, the same at both."""
    doubled = np.sort(np.append(TIME, TIME[20]))
    warm = 280.0 + 10.0 * doubled / 7200.0
    plain = with_other_fuel(driven(280.0 + 10.0 * TIME / 7200.0), tank_of(**SEALED), fuel)
    other = with_other_fuel(driven(warm, time=doubled), tank_of(**SEALED), fuel)
    assert len(other.temperature) == len(doubled)
    assert other.temperature[20] == other.temperature[21]
    assert other.temperature[[20, -1]] == pytest.approx(plain.temperature[[20, -1]], abs=1e-3)
    assert other.evaporated[-1] == pytest.approx(plain.evaporated[-1], rel=1e-3)
    assert other.pressure[-1] == pytest.approx(plain.pressure[-1], rel=1e-4)
