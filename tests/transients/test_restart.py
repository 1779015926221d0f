"""How a start after a soak is made: its volts, its phases, and what it starts from."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.parts.supply import Supply
from fuelsim.transients import restart
from fuelsim.transients.restart import LONGEST_CRANK, Starting, restart_times, restarted
from fuelsim.transients.shut_in_course import RESEAT
from fuelsim.transients.shut_in_fuel import ShutInFuel

TIME = np.array([0.0, 600.0, 1800.0])


@pytest.fixture(scope="module")
def stopped():
    system = fs.Car.named("plover").system("no_pot")
    return ShutInFuel.after(system, system.solve(rpm=850.0, load=0.0), 60.0)


@pytest.fixture(scope="module")
def state(stopped):
    temperatures = np.array([[330.0, 345.0, 350.0], [331.0, 340.0, 352.0]])
    return temperatures, stopped.state(TIME, temperatures, np.array([0.0, 0.01, 0.03]))


@pytest.fixture
def filled(monkeypatch):
    """What `fill` is asked for, and an answer that holds it."""
    asked = SimpleNamespace()

    def fill(filling, pumps, inside, phases, **keys):
        asked.filling, asked.pumps, asked.inside, asked.phases, asked.keys = filling, pumps, inside, phases, keys
        return SimpleNamespace(
            seconds_to_pressure=lambda held: np.full(3, held), seconds_to_liquid=lambda held: np.full(3, held + 1.0)
        )

    monkeypatch.setattr(restart, "fill", fill)
    return asked


def test_a_car_starts_at_the_volts_of_its_own_supply_or_of_those_given():
    plain = Starting.of(fs.Car.named("finch"))
    typical = Supply()
    assert plain.voltage == float(typical.key_on_voltage)
    assert plain.crank_voltage == float(typical.cranking_voltage)
    assert plain.idle_voltage == float(typical.idle_voltage)
    assert plain.bleed_area == 0.0
    given = Starting.of(fs.Car.named("finch"), prime_time=2.0, voltage=11.5, crank_voltage=8.5, bleed_area=1e-7)
    assert given == Starting(2.0, 11.5, 8.5, float(typical.idle_voltage), 1e-7)


def test_a_start_primes_then_cranks_then_runs_and_counts_as_failed_after_a_minute(stopped, state, filled):
    temperatures, shut_in = state
    starting = Starting(2.0, 12.0, 9.5, 13.5, bleed_area=2e-7)
    restarted(stopped, TIME, temperatures, shut_in, starting, films=(100.0, 200.0), not_before=4.0)
    prime, crank, idle = filled.phases
    assert (prime.duration, prime.cranking) == (2.0, False)
    assert prime.voltage.tolist() == [12.0] * 6
    assert prime.demand == 0.0
    assert crank.voltage.tolist() == [9.5] * 6
    assert idle.voltage.tolist() == [13.5] * 6
    assert crank.cranking
    assert crank.duration + idle.duration == LONGEST_CRANK
    assert 1.0 < crank.duration < 10.0
    assert crank.demand == idle.demand == pytest.approx(float(stopped.run_before.burnt_flow))
    assert filled.keys == {"until_liquid": True, "not_before": 4.0}


def test_points_are_every_film_with_every_time_in_that_order(stopped, state, filled):
    """Vapour and pressure repeat for each film; films stay for all times."""
    temperatures, shut_in = state
    start = restarted(stopped, TIME, temperatures, shut_in, Starting.of(stopped.car), films=(100.0, 200.0))
    inside = filled.inside
    for values in inside:
        assert values.shape == (6,)
        assert np.array_equal(values[:3], values[3:])
    # What stands there as the key is turned: vapour at its pressure, no air, and the hottest rail's temperature.
    assert inside.vapour[:3] == pytest.approx(shut_in.pressure * shut_in.vapour_volume)
    assert inside.air.tolist() == [0.0] * 6
    assert inside.temperature[:3].tolist() == [331.0, 345.0, 352.0]
    assert filled.filling.film.tolist() == [100.0] * 3 + [200.0] * 3
    feed = np.asarray(stopped.feed_temperature(TIME))
    assert filled.filling.feed_temperature == pytest.approx(np.tile(feed, 2))
    assert filled.filling.reseat_step == RESEAT
    assert start.pump_vapour.shape == (3,)
    assert np.all(start.pump_vapour >= 0.0)


def test_times_of_a_restart_are_those_to_the_set_pressure(stopped, state, filled):
    temperatures, shut_in = state
    times = restart_times(stopped, TIME, temperatures, shut_in)
    held = float(np.ravel(filled.filling.set_pressure)[0])
    assert times.seconds_to_pressure.tolist() == [held] * 3
    assert times.seconds_to_liquid.tolist() == [held + 1.0] * 3
    assert times.headline == "3 times of a soak"
