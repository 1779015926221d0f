"""Prime and hot restart: filling of lines, spin-up, volts, air and vapour."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import fuelsim as fs
from fuelsim.parts.wire import Wire
from fuelsim.transients import rail_filling
from fuelsim.transients.pump_start import starting_pump

LITRE_PER_HOUR = 1.0 / 3.6e6


@pytest.fixture(scope="module")
def line_of_236():
    """A car whose rail and lines hold 236 mL, as 5 m of 7.75 mm do."""
    car = fs.Car.named("finch")
    volume = fs.prime(car, "return", crank_time="0 s").volume
    length = float(car.feed.length) + (236e-6 - volume) / (np.pi / 4.0 * float(car.feed.bore) ** 2)
    return car.with_values({"feed.length": length})


@pytest.fixture(scope="module")
def empty(line_of_236):
    return fs.prime(line_of_236, "return", lines="empty", constant_flow="200 L/h", duration="6 s", crank_time="0 s")


def test_a_prime_of_a_second_and_a_half_at_120_litres_an_hour_moves_50_millilitres(line_of_236):
    """Question 44: 1.5 s x 120 L/h."""
    result = fs.prime(line_of_236, "return", duration="1.5 s", constant_flow="120 L/h")
    assert result.moved_by_prime == pytest.approx(50e-6, rel=1e-3)


def test_an_empty_line_of_236_millilitres_takes_four_seconds_at_200_litres_an_hour(empty):
    """Question 27: 236 mL over 200 L/h, with a regulator behind the rail that lets the air out: 4.2 s."""
    assert empty.volume == pytest.approx(236e-6, rel=1e-3)
    assert empty.seconds_to_liquid == pytest.approx(4.2, abs=0.1)


def test_trapped_air_brings_the_pressure_before_the_liquid(empty):
    """Boyle: air of 101 kPa fills a quarter of its room at 95 % of 300 kPa gauge; the rest is pumped by then."""
    squeezed = 101.3 / (101.3 + 0.95 * 300.0)
    assert empty.seconds_to_pressure == pytest.approx((1.0 - squeezed) * 236e-6 / (200.0 * LITRE_PER_HOUR), rel=0.01)


def test_air_that_cannot_leave_a_dead_end_stays(line_of_236):
    result = fs.prime(line_of_236, "returnless_tank", lines="empty", constant_flow="200 L/h", duration="8 s",
                      crank_time="0 s")  # fmt: skip
    assert np.isinf(result.seconds_to_liquid)
    share = 101.3 / (101.3 + result.gauge_pressure[result.phase == "prime"][-1] / 1e3)
    assert result.gas_volume[result.phase == "prime"][-1] == pytest.approx(share * 236e-6, rel=0.02)
    bled = fs.prime(line_of_236, "returnless_tank", lines="empty", constant_flow="200 L/h", duration="8 s",
                    crank_time="0 s", bleed_diameter="1 mm")  # fmt: skip
    assert np.isfinite(bled.seconds_to_liquid)


def test_a_sealed_line_that_has_cooled_takes_a_third_of_a_second(line_of_236):
    """Question 27: contraction of 50 K about 14 mL and elasticity 3 mL, at 200 L/h: 0.3 s."""
    sealed = {"lines": "sealed_cold", "cooled_by": "50 K", "temperature": "20 degC"}
    result = fs.prime(line_of_236, "return", constant_flow="200 L/h", **sealed)
    assert result.gas_volume[0] == pytest.approx(14e-6, rel=0.15)
    assert result.seconds_to_pressure == pytest.approx(0.3, abs=0.06)


def test_what_the_pump_model_changes_is_told_part_by_part(line_of_236):
    result = fs.prime(line_of_236, "return", lines="sealed_cold", temperature="20 degC")
    assert sum(share.seconds for share in result.shares) == pytest.approx(result.seconds_to_pressure, abs=0.02)
    by_name = {share.name: share.seconds for share in result.shares}
    assert by_name["spin-up"] > 0.0
    assert by_name["volts and wire"] > 0.0
    assert by_name["more flow below the set pressure"] < 0.0
    assert "spin-up" in result.headline


def test_a_prime_leaves_the_set_pressure_less_the_step_of_the_valves(line_of_236):
    result = fs.prime(line_of_236, "return")
    step = -np.diff(result.gauge_pressure[result.phase == "pause"]).min()
    # In the same step the regulator lets go of what its droop had held.
    assert step == pytest.approx(28e3, abs=2e3)
    assert result.left_by_prime == result.gauge_pressure[result.phase == "pause"][-1]


@pytest.mark.parametrize("lines", ["full", "empty", "sealed_cold", "vapour"])
@pytest.mark.parametrize("layout", ["return", "returnless_tank"])
def test_the_mass_balance_closes(line_of_236, lines, layout):
    assert fs.prime(line_of_236, layout, lines=lines, crank_time="1 s").mass_error < 1e-9


def test_cranking_volts_pump_less(line_of_236):
    """Flow rises faster than voltage: 9 V gives less than 9/12 of the flow at 12 V."""
    slow, fast = (
        fs.prime(line_of_236, "return", voltage=volts, crank_time="0 s").moved_by_prime for volts in ("9 V", "12 V")
    )
    assert slow < 9.0 / 12.0 * fast


def test_a_motor_comes_to_speed_as_its_equation_of_motion_says():
    """J dw/dt = k (I - I0) with I = (V - k w)/R, by scipy: the back-EMF of the stepped motor agrees to 0.1 %."""
    pump = fs.Pump.named("in_tank_220")
    started = starting_pump(
        pump, Wire(), greatest_gauge=4e5, greatest_voltage=14.0, tank_gauge=0.0, loss=0.0, head=0.0, fuel_density=740.0
    )
    circuit = np.array([started.circuit_resistance])
    total = started.winding_resistance + started.circuit_resistance
    load = float(np.interp(3e5, started.gauge, started.current))
    state, gauge = started.at_rest(1), np.array([3e5])
    for _ in range(10):
        state, drive = started.step(state, np.array([12.0]), circuit, gauge, 0.004)
    # de/dt = (k2/J)(I - I0), and the time constant is J R/k2.
    judge = solve_ivp(
        lambda t, e: total / started.time_constant * ((12.0 - e) / total - load), (0.0, 0.04), [0.0], rtol=1e-10
    )
    assert float(state[0]) == pytest.approx(float(judge.y[0, -1]), rel=1e-3)
    for _ in range(200):
        state, drive = started.step(state, np.array([12.0]), circuit, gauge, 0.004)
    steady = pump.at(supply_voltage=12.0, wire=Wire(), fuel_density=740.0)
    assert float(started.delivered(drive, gauge)[0][0]) == pytest.approx(float(steady.flow(3e5)), rel=0.02)


def test_a_restart_takes_pressure_then_liquid_then_idle_and_longer_the_more_has_leaked():
    car = fs.Car.named("finch")
    good, leaky = (
        fs.hot_restart(car, "returnless_tank", soak_time="30 min", leak_flow=leak) for leak in (0.0, "30 mL/h")
    )
    for start in (good, leaky):
        times = start.times
        assert times.pressure <= times.liquid <= times.idle
        assert times.idle >= start.prime_time + 0.5
        assert start.quickest.liquid <= times.liquid <= start.slowest.liquid
        assert start.mass_error < 1e-9
    assert leaky.before_vapour > 10.0 * good.before_vapour
    assert leaky.times.liquid > 2.0 * good.times.liquid


def test_spin_up_and_volts_make_a_restart_longer_than_its_volume_over_the_rated_flow():
    """The least time: vapour's room at the rated flow of the pump."""
    car = fs.Car.named("finch")
    start = fs.hot_restart(car, "returnless_tank", soak_time="30 min", leak_flow="30 mL/h")
    rated = fs.prime(car, "returnless_tank", crank_time="0 s").rated_flow
    assert start.times.liquid > 0.5 * start.before_vapour / rated
    assert start.times.pressure > 0.0


@pytest.mark.long
def test_remedies_are_told_each_alone_with_the_car_as_it_is():
    start = fs.hot_restart(
        fs.Car.named("finch"), "returnless_tank", soak_time="30 min", leak_flow="30 mL/h", remedies=True
    )
    by_name = {rung.name: rung.times for rung in start.remedies}
    assert by_name["as it is"].liquid == pytest.approx(start.times.liquid)
    assert by_name["check valve that does not leak"].liquid < start.times.liquid
    assert by_name["shield over the rail"].liquid < start.times.liquid
    assert by_name["prime of 5 s"].cranked <= by_name["as it is"].cranked
    assert len(start.remedy_table()) == 6


@pytest.mark.parametrize("lines", ["empty", "vapour"])
def test_half_the_step_moves_no_time_by_more_than_one_percent(line_of_236, lines, monkeypatch):
    given = {"lines": lines, "duration": "8 s", "crank_time": "0 s"}
    whole = fs.prime(line_of_236, "return", **given)
    halved = tuple((until, 0.5 * step) for until, step in rail_filling._STEPS)
    monkeypatch.setattr(rail_filling, "_STEPS", halved)
    half = fs.prime(line_of_236, "return", **given)
    assert whole.seconds_to_pressure == pytest.approx(half.seconds_to_pressure, rel=0.01)
    assert whole.seconds_to_liquid == pytest.approx(half.seconds_to_liquid, rel=0.01)
