"""Acceleration: pressure along the line, the tilted surface, and the time a pot covers."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.floor_plan import Plan
from fuelsim.car.heat_parts import SurgePot
from fuelsim.system.manoeuvre import MANOEUVRES, manoeuvre, pot_cover, uncovering_accelerations

G = 9.80665


@pytest.fixture(scope="module")
def car():
    plan = Plan(tank_length="0.8 m", rail_ahead="0.4 m", rail_left="-0.2 m", pick_up_ahead="0.3 m")
    return fs.Car.named("heron").with_values({"surroundings.tank_temperature": "20 degC"}).with_plan(plan)


def test_one_g_over_two_fifths_of_a_metre_is_45_degrees_and_2_9_kilopascal(car):
    # Computed: 740 kg/m3 x 9.80665 m/s2 x 0.4 m = 2.9 kPa.
    launch = manoeuvre(car, "launch", "1 g")
    assert np.degrees(launch.tilt) == pytest.approx(45.0)
    assert launch.line_pressure == pytest.approx(2.9e3, rel=0.03)
    assert manoeuvre(car, "braking", "1 g").line_pressure == pytest.approx(-launch.line_pressure)


def test_a_corner_presses_along_the_line_to_its_side(car):
    left, right = (manoeuvre(car, name, "0.8 g") for name in ("left", "right"))
    assert left.line_pressure < 0.0 < right.line_pressure
    assert left.line_pressure == pytest.approx(-right.line_pressure)


def test_the_pick_up_ahead_of_the_middle_is_bare_on_launch_first(car):
    limits = uncovering_accelerations(car, fuel_volume="15 L")
    assert list(limits) == list(MANOEUVRES)
    assert limits["launch"] == min(limits.values())
    launch = manoeuvre(car, "launch", [0.99 * limits["launch"], 1.01 * limits["launch"]], fuel_volume="15 L")
    assert launch.uncovered.tolist() == [False, True]


def test_at_rest_the_fuel_stands_at_its_level(car):
    for name in MANOEUVRES:
        assert manoeuvre(car, name, 0.0).pick_up_depth == pytest.approx(car.tank.fuel_level)


def test_a_surge_pot_of_1_5_litres_covers_54_seconds_at_100_litres_per_hour(car):
    # Computed: 1.5 L / 100 L/h = 54 s; what returns flows back into the pot, so the engine's own draw counts.
    from dataclasses import replace

    with_pot = replace(car, surge_pot=SurgePot(volume="1.5 L"))
    run = with_pot.system("return").solve(rpm=5400.0)
    litres_per_hour = float(run.flow["injectors"]) * 3.6e6
    assert pot_cover(with_pot, run) * litres_per_hour == pytest.approx(5400.0)
    assert pot_cover(with_pot, run) == pytest.approx(54.0, rel=0.1)


def test_what_is_not_known_is_asked_for(car):
    with pytest.raises(fs.InputError, match=r"\[plan\]"):
        manoeuvre(fs.Car.named("finch"), "launch", "1 g")
    with pytest.raises(fs.InputError, match="did you mean 'launch'"):
        manoeuvre(car, "lanch", "1 g")
    with pytest.raises(fs.InputError, match="negative"):
        manoeuvre(car, "launch", "-1 g")
    with pytest.raises(fs.InputError, match="more fuel than the tank holds"):
        manoeuvre(car, "launch", "1 g", fuel_volume="90 L")
    with pytest.raises(fs.InputError, match="neither surge pot nor baffle"):
        pot_cover(car, car.system("return").solve(rpm=3000.0))


def test_enrichment_multiplies_the_fuel_and_shows_in_lambda():
    engine = fs.Car.named("finch").engine
    cold = engine.with_values({"enrichment": 1.5})
    warm_demand, cold_demand = engine.demand(2000.0, 0.3), cold.demand(2000.0, 0.3)
    assert cold_demand.fuel_mass_flow == pytest.approx(1.5 * warm_demand.fuel_mass_flow)
    assert cold_demand.lambda_demanded == pytest.approx(warm_demand.lambda_demanded / 1.5)
    assert cold_demand.air_mass_flow == warm_demand.air_mass_flow
