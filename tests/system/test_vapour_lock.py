"""Vapour lock: how it sets in, what the outcome says, and that any hot case ends in an outcome."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs


@pytest.fixture(scope="module")
def heron():
    return fs.Car.named("heron")


def rail_over_tank(car, layout, temperatures, rpm=3000.0, load=1.0):
    run = car.system(layout).solve(rpm=rpm, load=load, tank_temperature=temperatures)
    return run, np.asarray(run.gauge_pressure["rail"])


@pytest.mark.parametrize("air", [0.0, 1.0])
@pytest.mark.parametrize("layout", ["return", "returnless_tank"])
def test_rail_pressure_is_continuous_in_tank_temperature(heron, layout, air):
    """Up to the boiling point of the tank, which a vented tank cannot pass: on a grid ten times as fine the largest
    step
    is about a tenth, which it would not be across a jump."""
    car = heron.with_values({"tank.released_air": air})
    boils = float(car.fuel.fuel().bubble_temperature(101325.0))
    coarse = np.linspace(boils - 6.0, boils - 0.05, 600)
    run, rail = rail_over_tank(car, layout, coarse)
    assert np.all(run.outcome.converged)
    steepest = int(np.argmax(np.abs(np.diff(rail))))
    fine = np.linspace(coarse[steepest], coarse[steepest + 1], 11)
    _, zoomed = rail_over_tank(car, layout, fine)
    step, finer = np.abs(np.diff(rail)).max(), np.abs(np.diff(zoomed)).max()
    assert finer < 0.35 * step + 50.0


def test_air_comes_first_then_vapour(heron):
    car = heron.with_values({"tank.released_air": 1.0})
    run, _ = rail_over_tank(car, "return", np.array([300.0, 310.0, 320.0, 323.0]))
    gas = np.asarray(run.vapour_liquid_ratio["pump_inlet"])
    assert np.all(np.diff(gas) > 0.0)
    assert 0.0 < gas[0] < 0.1


def test_a_pump_over_its_vapour_limit_feeds_the_engine_until_it_stops(heron):
    """Over its limit is not locked: the rail keeps its pressure as long as flow is left for the regulator."""
    run, rail = rail_over_tank(heron, "return", np.array([315.0, 324.4, 326.0]))
    assert run.over_vapour_limit["pump"].tolist() == [False, True, True]
    assert run.engine_state.tolist() == ["fed", "fed", "stopped"]
    assert run.vapour_lock.tolist() == [False, False, True]
    assert rail[1] > 0.95 * rail[0]
    assert "the engine stops" in run.outcome.sentence(2)
    assert "vapour takes flow" in run.outcome.sentence(2)


def test_noise_is_another_threshold_than_loss_of_flow(heron):
    """NPSH is spent kelvins before vapour takes flow (common practice, no source); neither is charged twice: with the
    suction margin gone and no vapour the pump still gives its full flow."""
    run, _ = rail_over_tank(heron, "return", np.array([308.0, 320.0]))
    assert np.asarray(run.suction_margin)[1] < 0.0
    assert np.asarray(run.vapour_liquid_ratio["pump_inlet"])[1] == 0.0
    flow = np.asarray(run.flow["pump"])
    assert flow[1] > 0.95 * flow[0]


@pytest.mark.parametrize(("name", "layout"), [("heron", "return"), ("finch", "returnless_tank")])
def test_ten_thousand_random_hot_cases_end_in_an_outcome(name, layout):
    random = np.random.default_rng(20)
    car = fs.Car.named(name).with_values({"tank.released_air": 0.3})
    count = 5000
    run = car.system(layout).solve(
        fs.Conditions(
            rpm=random.uniform(0.5 * car.engine.idle_speed, car.engine.red_line, count),
            load=random.uniform(0.0, 1.0, count),
            tank_temperature=random.uniform(300.0, 345.0, count),
            air_temperature=random.uniform(290.0, 325.0, count),
            altitude=random.uniform(0.0, 4000.0, count),
            supply_voltage=random.uniform(9.0, 15.0, count),
            vehicle_speed=random.uniform(0.0, 40.0, count),
            pump_duty=random.uniform(0.3, 1.0, count),
            vapour_space_pressure=random.uniform(-8e3, 12e3, count),
        )
    )
    states, known = np.asarray(run.engine_state), run.outcome.has_values
    assert np.mean(known) > 0.99
    assert set(states[known]) <= {"fed", "lean", "stopped"}
    assert all(run.outcome.sentence(int(i)) for i in np.flatnonzero(~run.outcome.converged))
    rail, manifold = np.asarray(run.pressure["rail"]), np.asarray(run.pressure["manifold"])
    running = known & (states != "stopped")
    assert np.all(rail[running] > manifold[running])
    stopped = states == "stopped"
    assert np.array_equal(run.outcome.code == fs.OutcomeCode.ENGINE_STOPPED, stopped)
    tank = np.asarray(run.pressure["tank"])
    bubble = np.asarray(
        car.system(layout).fuel.tables().bubble_pressure(np.nan_to_num(run.temperature["rail"], nan=300.0))
    )
    cracking, head = 10e3, 10e3
    assert np.all(rail[stopped] >= np.minimum(tank, bubble)[stopped] - cracking - head)
    assert not np.any(np.asarray(run.pump_power["pump"])[known] < 0.0)
    assert np.all(np.isnan(np.asarray(run.vapour_margin["rail"])[stopped]))
    assert np.all(np.asarray(run.flow["pump"])[stopped] == 0.0)


def test_a_station_where_fuel_boils_has_the_temperature_of_the_isenthalpic_flash():
    """The flash is that of the fuel model itself, not of its table; it is tested against thermo and CoolProp.

    Cooler than as if all liquid, and warmer than the bubble point, which the light ends leave behind as they boil off.
    """
    system = fs.Car.named("heron").with_values({"suction.bore": "5.2 mm", "suction.length": "3 m"}).system("return")
    run = system.solve(rpm=2500.0, load=0.3, tank_temperature=["46 degC", "47 degC", "50 degC"])
    for point in range(3):
        pressure = float(run.pressure["pump_inlet"][point])
        bubble = float(system.fuel.bubble_temperature(pressure))
        as_liquid = bubble - float(run.vapour_margin["pump_inlet"][point])
        flash = float(np.ravel(system.fuel.adiabatic_flash(as_liquid, pressure).temperature)[0])
        assert float(run.temperature["pump_inlet"][point]) == pytest.approx(flash, abs=0.02)
        assert bubble < flash < as_liquid


@pytest.mark.parametrize(("name", "layout"), [("heron", "return"), ("finch", "return"), ("plover", "pot")])
def test_rounds_are_about_three_up_to_46_degrees_and_some_tens_near_a_fold(name, layout):
    """A fixed point whose map hardly depends on the iterate is found in two rounds and seen in a third; a secant finds
    one of slope near 1 in tens, where plain steps take hundreds (theory of fixed-point iteration)."""
    system = fs.Car.named(name).system(layout)
    rounds = []
    for rpm, load in ((800.0, 0.0), (5000.0, 1.0)):
        run = system.solve(rpm=rpm, load=load, tank_temperature=np.linspace(283.0, 333.0, 26)).before_stop
        rounds.append(run.outcome.iterations)
        assert np.all(run.outcome.iterations[:19] <= 4)
        assert np.mean(run.outcome.iterations[:19]) < 3.5
        assert np.all(run.outcome.iterations[19:] <= 60)
    assert np.mean(rounds) < 9.0


@pytest.mark.parametrize("station", ["pump_inlet", "return_inlet"])
def test_fuel_at_rest_stands_in_hydrostatic_balance_with_the_tank(station):
    """Stevin's law with the density of the fuel model: a stopped pump leaves the columns that open ways leave."""
    system = fs.Car.named("finch").system("return")
    run = system.solve(rpm=1000, load=0.2, supply_voltage="0 V", tank_temperature="20 degC")
    assert run.engine_state == "stopped"
    heights = system.plumbing.heights
    density = float(system.fuel.density(float(run.temperature[station])))
    column = density * 9.80665 * (heights["tank"] - heights[station])
    difference = float(run.gauge_pressure[station] - run.gauge_pressure["tank"])
    assert abs(column) > 400.0
    assert difference == pytest.approx(column, rel=2e-3)
