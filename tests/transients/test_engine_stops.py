"""Drives whose engine stops: one state at a time, what starts it again, and events by state."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.drive import drive
from fuelsim.transients.events import EventName
from fuelsim.transients.schedule import Phase, Schedule

SLOW, FULL = (
    Phase(name=name, duration=duration, rpm=rpm, load=load, vehicle_speed="20 km/h")
    for name, duration, rpm, load in (("slow", "1 min", 2500.0, 0.3), ("full load", "40 min", 5500.0, 1.0))
)
START = "51.6 degC"


@pytest.fixture(scope="module")
def car():
    """A pump far from the tank behind a narrow line: hot, it is fed at low load and locks at full load.

    The engine bears no lean mixture; the tank exchanges as much heat on the road as standing.
    """
    heron = fs.Car.named("heron")
    changes = {
        "suction.bore": "5.2 mm",
        "suction.length": "3 m",
        "surroundings.air_temperature": "25 degC",
        "engine.lean_limit": 1.05,
        "tank.moving_heat_conductance": heron.tank.heat_conductance,
    }
    return heron.with_values(changes)


@pytest.fixture(scope="module")
def stopped(car):
    return drive(car, "return", Schedule.of([SLOW, FULL]), tank_temperature=START)


def conditions(result, point, phase, tank=None):
    """The surroundings at one time of a drive."""
    return fs.Conditions(
        rpm=phase.rpm,
        load=phase.load,
        vehicle_speed=phase.vehicle_speed,
        tank_temperature=result.tank_temperature[point] if tank is None else tank,
        air_temperature=result.air_temperature[point],
        bay_temperature=result.bay_temperature[point],
        underfloor_temperature=result.underfloor_temperature[point],
        vapour_space_pressure=result.tank_gauge_pressure[point],
    )


def only(result, name):
    return [event for event in result.events if event.name is name]


def test_an_engine_that_locks_stands_and_is_restarted(stopped):
    (lock,), (restart,) = only(stopped, EventName.VAPOUR_LOCK), only(stopped, EventName.RESTARTS)
    assert lock.time == pytest.approx(60.0)
    assert lock.time + 600.0 < restart.time < stopped.time[-1]
    stands = (stopped.time > lock.time) & (stopped.time < restart.time)
    assert set(stopped.engine_state[stands]) == {"stopped"}
    assert np.all(stopped.vapour_lock[stands])
    assert not np.any(stopped.running[stands])
    assert set(stopped.engine_state[~stands & (stopped.time > restart.time)]) == {"fed"}
    assert not only(stopped, EventName.ENGINE_STOPS)


def test_nothing_is_burnt_and_the_plumbing_says_nothing_while_the_engine_stands(stopped):
    stands = stopped.engine_state == "stopped"
    burnt = stopped.fuel_mass[stands][0] - stopped.fuel_mass[stands][-1]
    vapour = stopped.vapour_lost[stands][-1] - stopped.vapour_lost[stands][0]
    # What else leaves the liquid is vapour in the tank.
    assert abs(burnt - vapour) < 0.02
    assert np.all(np.isnan(stopped.rail_gauge_pressure[stands]))
    assert np.all(np.isnan(stopped.mixture[stands]))
    assert np.all(np.isfinite(stopped.rail_temperature[stands]))


def test_no_value_shown_stands_between_a_running_and_a_stopped_state(car, stopped):
    """Each point shown is that of a direct solve: running with it, or stopped.

    The drive's fuel has lost some of its light ends and has the head of the tank's level, hence the tolerance.
    """
    system = car.system("return")
    for point in np.flatnonzero(stopped.running)[::7]:
        phase = SLOW if stopped.phase[point] == "slow" else FULL
        run = system.solve(conditions(stopped, point, phase))
        assert str(run.engine_state) == stopped.engine_state[point]
        assert stopped.rail_gauge_pressure[point] == pytest.approx(float(run.gauge_pressure["rail"]), rel=0.01)
        assert stopped.flow["pump"][point] == pytest.approx(float(run.flow["pump"]), rel=0.03)


def test_the_engine_is_restarted_after_the_time_worked_out_by_hand(car, stopped):
    """Source: lumped capacity, t = C/UA ln((T1 - Ta)/(T2 - Ta)) (Incropera et al., transient conduction).

    T2 is where the plumbing that stands in vapour is fed again, by bisection of direct solves.
    """
    (lock,), (restart,) = only(stopped, EventName.VAPOUR_LOCK), only(stopped, EventName.RESTARTS)
    point = int(np.searchsorted(stopped.time, restart.time))
    system, low, high = car.system("return"), 310.0, float(stopped.tank_temperature[0])
    while high - low > 0.01:
        tank = 0.5 * (low + high)
        run = system.solve(conditions(stopped, point, FULL, tank), from_locked=True)
        low, high = (tank, high) if str(run.engine_state) == "fed" else (low, tank)
    hot = float(np.interp(lock.time, stopped.time, stopped.tank_temperature))
    fuel = car.fuel.fuel()
    mass = float(np.interp(lock.time, stopped.time, stopped.fuel_mass))
    capacity = mass * fuel.heat_capacity(0.5 * (hot + low))
    stands = (stopped.time > lock.time) & (stopped.time < restart.time)
    air = float(np.mean(stopped.underfloor_temperature[stands]))
    by_hand = capacity / car.tank.heat_conductance * np.log((hot - air) / (low - air))
    # Restarts are judged once a minute.
    assert -30.0 < restart.time - lock.time - by_hand < 0.1 * by_hand + 60.0


def test_an_engine_that_stops_cold_is_no_vapour_lock():
    """A pump that runs a tenth of the time feeds no engine at full load."""
    car = fs.Car.named("finch")
    full = Phase(name="full load", duration="10 min", rpm=6000.0, load=1.0, vehicle_speed="90 km/h", pump_duty=0.1)
    result = drive(car, "return", Schedule.of([full]), tank_temperature="20 degC")
    assert [event.name for event in result.events] == [EventName.ENGINE_STOPS]
    assert set(result.engine_state) == {"stopped"}
    assert not np.any(result.vapour_lock)


def test_an_engine_switched_off_is_not_stopped_of_itself(car):
    parked = Phase(name="parked", duration="10 min", engine="stopped")
    result = drive(car, "return", Schedule.of([SLOW, parked]), tank_temperature="20 degC")
    off = result.phase == "parked"
    assert set(result.engine_state[off]) == {""}
    assert set(result.engine_state[~off]) == {"fed"}


def test_a_stopped_engine_waits_for_the_next_phase_where_its_own_does_not_feed_it(car):
    short = Phase(name="full load", duration="3 min", rpm=5500.0, load=1.0, vehicle_speed="20 km/h")
    result = drive(car, "return", Schedule.of([SLOW, short, SLOW]), tank_temperature=START)
    (lock,), (restart,) = only(result, EventName.VAPOUR_LOCK), only(result, EventName.RESTARTS)
    assert (lock.time, restart.time) == (60.0, 240.0)
