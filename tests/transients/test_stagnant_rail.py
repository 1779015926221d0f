"""A rail without flow and the metal of a stopped engine, against the integration of the same balance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import fuelsim as fs
from fuelsim.transients.stagnant_rail import (
    engine_metal_temperature,
    rail_heat_capacity,
    rail_warming_rate,
    rails_of,
    stagnant_rail_temperature,
)


@pytest.fixture(scope="module")
def rail():
    return fs.Car.named("finch").rail


@pytest.mark.parametrize("duration", [0.0, 60.0, 900.0, 1e6])
def test_a_rail_in_constant_surroundings_follows_its_balance(rail, duration):
    """Judge: scipy's integration of C dT/dt = UA_air (T_bay - T) + UA_metal (T_metal - T)."""
    capacity = 280.0
    ours = stagnant_rail_temperature(rail, 320.0, duration, 345.0, 366.0, capacity)
    answer = solve_ivp(
        lambda time, y: [rail_warming_rate(rail, float(y[0]), 345.0, 366.0, capacity)],
        (0.0, max(duration, 1e-9)),
        [320.0],
        method="LSODA",
        rtol=1e-9,
        atol=1e-9,
    )
    assert ours == pytest.approx(float(answer.y[0, -1]), abs=1e-4)


def test_it_ends_between_air_and_metal_by_their_conductances(rail):
    """0.75 W/K to the air, 0.45 W/K to the metal: 345 + 21 x 0.45/1.2 K, by hand."""
    assert stagnant_rail_temperature(rail, 320.0, 1e7, 345.0, 366.0, 280.0) == pytest.approx(352.875)
    one_sided = replace(rail, air_conductance=0.0)
    assert stagnant_rail_temperature(one_sided, 320.0, 1e7, 345.0, 366.0, 280.0) == pytest.approx(366.0)


def test_a_rail_that_exchanges_nothing_keeps_its_temperature(rail):
    alone = replace(rail, air_conductance=0.0, engine_conductance=0.0)
    assert stagnant_rail_temperature(alone, 320.0, 1e6, 345.0, 366.0, 280.0) == 320.0


def test_the_engine_s_metal_cools_to_the_air_like_an_exponential():
    """Equal times take equal shares of what is left; two hours are one time constant [assumed]."""
    car = fs.Car.named("finch")
    start, later, twice, last = (engine_metal_temperature(car, 305.0, t) for t in (0.0, 3600.0, 7200.0, 1e7))
    assert start == pytest.approx(368.15)
    assert last == pytest.approx(305.0)
    assert (twice - 305.0) / (later - 305.0) == pytest.approx((later - 305.0) / (start - 305.0))
    assert later < start


def test_rail_and_fuel_hold_heat_together(rail):
    """40 mL of petrol, 0.70 kg/L and 2.3 kJ/kg/K within 5 %, beside the metal's own, by hand."""
    capacity = rail_heat_capacity(rail, fs.Car.named("finch").fuel.fuel())
    volume = np.pi / 4.0 * 0.012**2 * 0.35
    assert volume == pytest.approx(39.6e-6, rel=1e-3)
    assert capacity - float(rail.heat_capacity) == pytest.approx(volume * 700.0 * 2.3e3, rel=0.05)


def test_every_rail_of_a_plumbing_has_its_own_ratings():
    plover = fs.Car.named("plover").with_values({"rails.left_rail.air_conductance": 0.2})
    rails = rails_of(plover.system("pot"))
    assert {name: float(rail.air_conductance) for name, rail in rails.items()} == {"left_rail": 0.2, "right_rail": 0.8}
    assert list(rails_of(fs.Car.named("finch").system("return"))) == ["rail"]
