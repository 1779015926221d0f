"""What a prime starts from, what it asks of the filling, and what it tells of it."""

from __future__ import annotations

import sys
from types import SimpleNamespace

import numpy as np
import pytest
from simple_filling import ATMOSPHERE, RAIL, SET, VOLUME, WARM, SingleSubstance, filled_with, filling_with, pump_with

import fuelsim as fs
from fuelsim.parts.supply import Supply
from fuelsim.transients.prime import Prime, PrimeShare, _explained, _inside, _rated_flow, _result, arrival
from fuelsim.transients.rail_filling import FILMS, fill
from fuelsim.transients.shut_in_course import idle_before_stop
from fuelsim.transients.start_of_pumps import PRIME_TIME

prime_module = sys.modules["fuelsim.transients.prime"]
COLD = 300.0


def started(lines, gauge=100e3, cooled_by=40.0):
    """What stands in a room of 200 mL with a rail of 50, on a liquid that expands by 1.2e-3 1/K."""
    filling = filling_with(tables=SingleSubstance(200e3, 1.2e-3))
    return filling, _inside(filling, lines, COLD, gauge, cooled_by, WARM)


def test_full_lines_hold_liquid_at_the_pressure_left():
    filling, held = started("full")
    assert filling.pressure(held) - ATMOSPHERE == pytest.approx(np.full(6, 100e3))
    assert held.liquid == pytest.approx(np.full(6, VOLUME + 1e-12 * 100e3))
    assert not np.any(held.air + held.vapour)
    assert held.temperature == pytest.approx(np.full(6, COLD))


def test_empty_lines_hold_air_at_the_atmosphere():
    filling, held = started("empty")
    assert held.liquid == pytest.approx(np.zeros(6), abs=1e-18)
    assert held.air == pytest.approx(np.full(6, ATMOSPHERE * VOLUME))
    assert not np.any(held.vapour)
    assert filling.pressure(held) == pytest.approx(np.full(6, ATMOSPHERE))
    assert held.temperature == pytest.approx(np.full(6, COLD))


def test_a_sealed_line_that_has_cooled_leaves_a_void_of_its_contraction_under_its_own_vapour():
    """rho = 700 (1 - 1.2e-3 (T - 350)): 742 at 300 K, 708.4 at 340 K; 4.53 % of the room is void."""
    filling, held = started("sealed_cold")
    bubble = float(filling.tables.bubble_pressure(COLD))
    void = VOLUME * (1.0 - 708.4 / 742.0)
    assert filling.pressure(held) == pytest.approx(np.full(6, bubble))
    assert held.vapour == pytest.approx(np.full(6, bubble * void))
    assert not np.any(held.air)
    assert held.temperature == pytest.approx(np.full(6, COLD))


def test_rails_full_of_vapour_are_at_its_bubble_pressure_and_hot():
    filling, held = started("vapour")
    assert filling.pressure(held) == pytest.approx(np.full(6, 200e3))
    assert held.vapour == pytest.approx(np.full(6, 200e3 * RAIL))
    assert not np.any(held.air)
    assert held.temperature == pytest.approx(np.full(6, WARM))


def reached_at(*seconds):
    """A run whose points have their pressure at these times, s."""
    time = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
    return filled_with(SET * (time[:, None] >= np.array(seconds) - 1e-9), time)


def test_the_time_to_pressure_is_split_into_flow_volts_and_spin_up_that_add_up_to_it():
    """Whole 0.9 s, slow and fast film, without spin-up 0.7, at bench volts 0.4, at a constant flow 0.5."""
    shares = _explained(reached_at(0.9, 1.0, 0.8, 0.7, 0.4, 0.5), filling_with(), 200.0 / 3.6e6)
    by_name = {share.name: share.seconds for share in shares}
    assert list(by_name.values()) == pytest.approx([0.5, -0.1, 0.3, 0.2])
    assert list(by_name)[1:] == ["more flow below the set pressure", "volts and wire", "spin-up"]
    assert next(iter(by_name)).startswith("a constant 200 L/h")
    assert sum(by_name.values()) == pytest.approx(0.9)


def test_nothing_is_split_where_the_pressure_does_not_come():
    assert _explained(reached_at(0.9, 1.0, 0.8, 0.7, 9.9, 0.5), filling_with(), 1e-5) == ()


@pytest.mark.parametrize("by_speed", [False, True])
def test_the_rated_flow_is_that_at_bench_voltage_or_greatest_speed(by_speed):
    """1e-5 m3/s at 12 V, three quarters of it at 9 V; half of that at half its greatest pressure."""
    start = pump_with(flow=1e-5, zero_flow_pressure=600e3).start
    pump = SimpleNamespace(
        start=start.__class__(**(vars(start) | {"by_speed": by_speed})),
        link=SimpleNamespace(part=SimpleNamespace(bench_voltage=9.0)),
    )
    assert _rated_flow(pump, SET) == pytest.approx(0.5e-5 if by_speed else 0.375e-5)


def test_a_prime_tells_what_it_moved_left_and_when_liquid_came():
    time = [0.0, 1.0, 2.0, 3.0, 4.0]
    gauge = np.array([[0.0, 0.5, 0.96, 0.9, 1.0]]).T * SET * np.ones(6)
    share = np.ones((5, 6))
    share[2, 2], share[3, :1], share[4, :3] = 0.0, 0.0, 0.0
    gauge[3] = 0.96 * SET
    pumped = 1e-6 * np.arange(30.0).reshape(5, 6)
    gas = 2.0 * pumped
    filled = filled_with(gauge, time, [0, 0, 0, 1, 2], gas_share=share, pumped=pumped, gas=gas, flow=3.0 * pumped)
    result = _result("return", "full", filling_with(), filled, 2.0, 1e-5, (PrimeShare("spin-up", 0.1),))
    assert result.seconds_to_pressure == 2.0
    assert result.seconds_to_liquid == 3.0
    assert result.liquid_band == (2.0, 4.0)
    assert result.moved_by_prime == pytest.approx(12e-6)
    assert result.left_by_prime == pytest.approx(0.96 * SET)
    assert list(result.phase) == ["prime", "prime", "prime", "pause", "crank"]
    assert result.pumped == pytest.approx(pumped[:, 0])
    assert result.gas_volume == pytest.approx(gas[:, 0])
    assert result.pump_flow == pytest.approx(3.0 * pumped[:, 0])
    assert (result.set_pressure, result.volume, result.rated_flow) == (SET, VOLUME, 1e-5)
    headline = result.headline
    assert "set pressure after 2.00 s" in headline
    assert "moves 12 mL" in headline
    assert "with the pump left on: spin-up +0.10 s" in headline


def test_a_prime_of_nothing_to_explain_says_no_more():
    filled = filled_with(np.zeros((3, 6)), [0.0, 1.0, 2.0], [0, 1, 2])
    result = _result("return", "sealed_cold", filling_with(), filled, 1.0, 1e-5, ())
    assert isinstance(result, Prime)
    assert result.headline.startswith("'return', lines sealed cold: set pressure not within 2 s, liquid at")
    assert "left on" not in result.headline


def test_what_arrives_is_told_with_its_time():
    assert arrival("liquid", 1.234, np.array([0.0, 6.0])) == "liquid after 1.23 s"
    assert arrival("liquid", np.nan, np.array([0.0, 6.0])) == "liquid not within 6 s"


@pytest.fixture
def asked(monkeypatch):
    """What is asked of the filling, call by call."""
    calls = []

    def noted(*given, **settings):
        calls.append((given, settings))
        filling, pumps, held, phases = given
        brief = [phase._replace(duration=min(phase.duration, 0.02)) for phase in phases]
        return fill(filling, pumps, held, brief, **settings)

    monkeypatch.setattr(prime_module, "fill", noted)
    return calls


def test_a_prime_runs_the_pump_pauses_and_cranks_at_the_volts_of_the_supply(asked):
    """Points: the middle film, slow and fast, no spin-up, bench volts without a circuit, a constant flow."""
    car = fs.Car.named("finch")
    fs.prime(car, "return")
    (filling, (pump,), held, phases), _ = asked[0]
    assert [phase.duration for phase in phases] == [PRIME_TIME, 1.0, 3.0]
    supply, bench = Supply(), car.pump.bench_voltage
    for phase, volts, point_of_bench in (
        (phases[0], float(supply.key_on_voltage), bench),
        (phases[1], 0.0, 0.0),
        (phases[2], float(supply.cranking_voltage), bench),
    ):
        assert list(phase.voltage) == [volts] * 4 + [point_of_bench, volts]
    assert [phase.demand for phase in phases[:2]] == [0.0, 0.0]
    air = float(car.surroundings.air_temperature)
    assert phases[2].demand == pytest.approx(float(idle_before_stop(car.system("return"), air, None, air).burnt_flow))
    assert [phase.cranking for phase in phases] == [False, False, True]
    middle, low, high = FILMS[1], FILMS[0], FILMS[2]
    assert list(filling.film) == [middle, low, high, middle, middle, middle]
    assert list(pump.circuit / pump.start.circuit_resistance) == [1.0, 1.0, 1.0, 1.0, 0.0, 1.0]
    assert list(pump.spins_up) == [True] * 3 + [False] * 3
    assert np.isnan(pump.constant_flow[:5]).all()
    # A rated 152 L/h at 300 kPa, less what head and lines take.
    assert pump.constant_flow[5] == pytest.approx(152.0 / 3.6e6, rel=0.05)
    assert list(held.temperature) == [float(car.surroundings.air_temperature)] * 6
    (_, _, _, (left_on,)), settings = asked[1]
    assert settings == {"until_pressure": True}
    assert list(left_on.voltage) == list(phases[0].voltage)
    assert (left_on.demand, left_on.cranking) == (0.0, False)


def test_what_is_given_is_asked_of_the_filling(asked):
    car = fs.Car.named("finch")
    result = fs.prime(
        car, "return", lines="empty", duration="0.1 s", pause="0.05 s", crank_time="0.06 s", voltage="11 V",
        crank_voltage="9 V", temperature="10 degC", altitude="1500 m", bleed_diameter="0.5 mm", reseat_step="10 kPa",
        constant_flow="120 L/h",
    )  # fmt: skip
    assert len(asked) == 1
    (filling, (pump,), held, phases), _ = asked[0]
    assert [phase.duration for phase in phases] == pytest.approx([0.1, 0.05, 0.06])
    assert (phases[0].voltage[0], phases[2].voltage[0]) == (11.0, 9.0)
    assert pump.constant_flow == pytest.approx(np.full(6, 120.0 / 3.6e6))
    assert filling.bleed_area == pytest.approx(0.1276e-6, rel=1e-3)
    assert filling.reseat_step == 10e3
    # The standard atmosphere at 1500 m (ISO 2533).
    assert filling.atmospheric_pressure == pytest.approx(84_556.0, rel=1e-3)
    assert held.temperature == pytest.approx(np.full(6, 283.15))
    assert filling.feed_temperature == pytest.approx(np.full(6, 283.15))
    assert filling.density == pytest.approx(float(filling.tables.density(283.15)))
    assert result.shares == ()
    assert result.rated_flow == pytest.approx(120.0 / 3.6e6)


def test_left_to_itself_lines_are_full_at_no_pressure_and_vapour_is_of_ninety_degrees(asked):
    car = fs.Car.named("finch")
    given = {"constant_flow": "120 L/h", "duration": "0.01 s", "pause": "0 s", "crank_time": "0 s"}
    fs.prime(car, "return", **given)
    fs.prime(car, "return", lines="vapour", **given)
    fs.prime(car, "return", lines="sealed_cold", **given)
    full, vapour, sealed = (call[0] for call in asked)
    assert full[0].pressure(full[2]) == pytest.approx(np.full(6, full[0].atmospheric_pressure))
    assert vapour[2].temperature == pytest.approx(np.full(6, 363.15))
    rho, cold = sealed[0].tables.density, float(car.surroundings.air_temperature)
    void = sealed[0].volume * (1.0 - float(rho(cold + 50.0)) / float(rho(cold)))
    gas = sealed[0].gas_volume(sealed[2], sealed[0].pressure(sealed[2]))
    assert gas == pytest.approx(np.full(6, void), rel=1e-6)


def test_pumps_side_by_side_are_rated_together():
    car = fs.Car.named("plover")
    result = fs.prime(car, "pot", duration="0.05 s", pause="0 s", crank_time="0 s")
    one = car.part("left_pump").at().flow(300e3)
    assert result.rated_flow == pytest.approx(2.0 * float(one), rel=0.1)
