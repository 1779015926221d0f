"""Air first, then vapour: free gas in the flow against a flash with air as a component."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.fuel.molecules.dissolved_air import ostwald_coefficient, released_gas_ratio
from fuelsim.system.gas import gas_liquid_ratio
from fuelsim.system.judgement import pump_flow_lost

ATMOSPHERE = 101325.0


@pytest.fixture(scope="module")
def fuel():
    return fs.Fuel.named("summer_e10")


def released(fuel, temperature, pressure, share=1.0, tank_temperature=None):
    tank = temperature if tank_temperature is None else tank_temperature
    return gas_liquid_ratio(
        fuel.tables(),
        temperature,
        pressure,
        tank_temperature=tank,
        tank_pressure=ATMOSPHERE,
        released_air=share,
    )


def test_without_air_the_gas_is_the_vapour(fuel):
    temperature, pressure = np.array([300.0, 325.0, 330.0]), np.array([95e3, 95e3, 90e3])
    vapour = fuel.tables().vapour_liquid_ratio_after_drop(temperature, pressure)
    assert released(fuel, temperature, pressure, share=0.0) == pytest.approx(vapour)


@pytest.mark.parametrize("pressure", [80e3, 90e3, 95e3, 100e3])
def test_cold_fuel_frees_what_henrys_law_says(fuel, pressure):
    """Source: ASTM D2779's Ostwald coefficient and a mass balance, G = L (p0 - p)/(p - pv)."""
    temperature = 283.15
    ostwald = ostwald_coefficient(np.array(temperature), fuel.density_at_15)
    judge = released_gas_ratio(ostwald, ATMOSPHERE, pressure, fuel.bubble_pressure(temperature))
    assert float(released(fuel, temperature, pressure)) == pytest.approx(float(judge), rel=0.03)


@pytest.mark.parametrize(
    ("temperature", "pressure"), [(293.15, 90e3), (310.0, 92e3), (318.0, 95e3), (319.15, 92.7e3), (323.0, 97e3)]
)
def test_gas_is_that_of_a_flash_with_air_as_a_component(fuel, temperature, pressure):
    """Source: adiabatic flash with air in Henry's law as one more species; at 46 degC and 92.7 kPa about 0.26 was
    computed for a fuel of this class. The flash has a non-ideal vapour, which the sharing leaves out."""
    judge = fuel.gas_liquid_ratio_after_drop(temperature, pressure)
    assert float(released(fuel, temperature, pressure)) == pytest.approx(float(judge), rel=0.08)


def test_gas_rises_without_a_jump_through_the_bubble_point(fuel):
    temperature = np.linspace(315.0, 326.0, 4401)
    gas = released(fuel, temperature, np.full(temperature.shape, 96e3), tank_temperature=np.minimum(temperature, 324.0))
    assert np.all(np.isfinite(gas))
    assert np.all(np.diff(gas) >= -1e-9)
    assert np.abs(np.diff(gas)).max() < 0.02


def test_gas_is_never_less_than_the_vapour_alone(fuel):
    temperature = np.linspace(300.0, 330.0, 61)
    pressure = np.full(61, 93e3)
    vapour = fuel.tables().vapour_liquid_ratio_after_drop(temperature, pressure)
    tank = np.full(61, 300.0)
    assert np.all(released(fuel, temperature, pressure, tank_temperature=tank) >= vapour - 1e-9)


def test_compressed_fuel_keeps_its_air(fuel):
    assert float(released(fuel, 318.0, 400e3)) == 0.0


def test_air_smooths_the_onset_of_lost_flow():
    """Source: dissolved air leaves first, which smooths the onset (common practice, no source)."""
    car = fs.Car.named("heron")
    with_air = car.with_values({"tank.released_air": 1.0})
    tank = np.linspace(300.0, 323.0, 24)
    dry, wet = (c.system("return").solve(rpm=2000, tank_temperature=tank) for c in (car, with_air))
    assert np.all(wet.outcome.converged)
    assert np.all(np.asarray(wet.vapour_liquid_ratio["pump_inlet"])[:10] > 0.0)
    assert np.all(np.asarray(dry.vapour_liquid_ratio["pump_inlet"])[:10] == 0.0)
    assert np.all(np.asarray(wet.flow["pump"]) < np.asarray(dry.flow["pump"]))
    assert np.asarray(wet.flow["pump"])[0] > 0.95 * np.asarray(dry.flow["pump"])[0]


def test_a_pump_without_gas_loses_none_of_its_flow_and_one_with_gas_what_its_share_says():
    """The share of the pump that loses most, by hand: nothing below boiling; with gas what its vapour tolerance lets
    through, taken from one."""
    system = fs.Car.named("heron").system("return")
    plumbing = system.plumbing
    pump = plumbing.pumps[0]
    ratios = {link.upstream: np.array([0.0, 0.2, 0.5]) for link in plumbing.pumps}
    solution = SimpleNamespace(vapour_liquid_ratio=ratios)
    lost = pump_flow_lost(plumbing, solution)
    assert lost[0] == 0.0
    assert lost == pytest.approx(1.0 - pump.part.vapour_flow_share(np.array([0.0, 0.2, 0.5])))
    assert 0.0 < lost[1] < lost[2] < 1.0
