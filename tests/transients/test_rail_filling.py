"""Rails and lines while they fill: one pressure, what moves in a step, and what it comes to, each by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from simple_filling import (
    ATMOSPHERE,
    DENSITY,
    HEAT,
    HEAT_CAPACITY,
    RAIL,
    SET,
    VOLATILE,
    VOLUME,
    WARM,
    filling_with,
    inside,
    off,
    on,
    pump_with,
)

from fuelsim.constants import GAS_CONSTANT
from fuelsim.transients import rail_filling
from fuelsim.transients.rail_filling import FilledRail, Inside, Phase, fill


def stepped(filling, start, seconds, *, pumps=(), demand=0.0):
    zero = np.zeros(1)
    moved = rail_filling._Moved(zero, zero, zero, zero)
    states = [pump.start.at_rest(1) for pump in pumps]
    phase = Phase(seconds, np.array([12.0]), demand, cranking=True)
    after, moved, _, flow = rail_filling._step(filling, pumps, start, moved, states, phase, seconds)
    return after, moved, flow


def relieved(filling, start, seconds=0.1):
    return rail_filling._relieved(filling, start, rail_filling._Moved(*[np.zeros(1)] * 4), seconds)


# What is inside


def test_gas_without_give_is_that_of_boyle():
    """10 J in 100 mL is 100 kPa."""
    filling = filling_with(elastic_volume=0.0)
    held = Inside(np.array([100e-6]), np.array([6.0]), np.array([4.0]), np.array([WARM]))
    assert filling.pressure(held) == pytest.approx(100e3)
    assert filling.gas_volume(held, filling.pressure(held)) == pytest.approx(100e-6)


def test_liquid_alone_presses_by_what_is_too_much_over_the_give():
    """1 uL too much over 2 mm3/bar, 2e-14 m3/Pa, is 50 kPa; by as much too little 50 kPa below the atmosphere."""
    filling = filling_with(elastic_volume=2e-14)
    for surplus, gauge in ((1e-9, 50e3), (-1e-9, -50e3)):
        held = Inside(*(np.array([value]) for value in (VOLUME + surplus, 0.0, 0.0, WARM)))
        assert filling.pressure(held) - ATMOSPHERE == pytest.approx(gauge)
        assert filling.gas_volume(held, filling.pressure(held)) == 0.0


@pytest.mark.parametrize("gauge", [-50e3, 0.0, 250e3, 900e3])
@pytest.mark.parametrize(("air", "vapour"), [(0.0, 10e-6), (20e-6, 0.0), (30e-6, 60e-6)])
def test_gas_at_its_own_pressure_and_liquid_fill_the_room_as_it_gives_way(gauge, air, vapour):
    filling = filling_with(elastic_volume=3e-12)
    held = inside(filling, gauge, air, vapour)
    pressure = filling.pressure(held)
    assert pressure == pytest.approx(ATMOSPHERE + gauge, rel=1e-9)
    assert held.air == pytest.approx(pressure * air)
    assert held.vapour == pytest.approx(pressure * vapour)
    room = VOLUME + 3e-12 * gauge
    assert held.liquid + air + vapour == pytest.approx(room)
    assert filling.gas_volume(held, pressure) == pytest.approx(air + vapour)


# What comes of it


def course(gauge, gas_share, time):
    """A run of two points, of which the second never gets there."""
    columns = np.array([gauge, np.zeros(len(gauge))]).T
    shares = np.array([gas_share, np.ones(len(gauge))]).T
    zero = np.zeros(columns.shape)
    return FilledRail(
        np.array(time), columns, zero, shares, zero, zero, zero, zero, zero, zero, np.zeros(len(gauge), int), 0.0
    )


def test_pressure_counts_from_95_percent_and_liquid_from_5_percent_of_gas():
    filled = course([0.0, 284e3, 286e3, 290e3, 300e3], [0.5, 0.01, 0.06, 0.04, 0.0], [0.0, 0.1, 0.2, 0.3, 0.4])
    assert filled.seconds_to_pressure(SET) == pytest.approx([0.2, np.inf])
    assert filled.seconds_to_liquid(SET) == pytest.approx([0.3, np.inf])


def test_a_constant_flow_raises_the_pressure_by_itself_over_the_give_up_to_the_regulator():
    """C dp/dt = Q: 300 kPa times 2e-12 m3/Pa at 1e-6 m3/s is 0.6 s; what comes then is spilled."""
    filling = filling_with(elastic_volume=2e-12)
    filled = fill(filling, [pump_with(constant=1e-6)], inside(filling), [on(1.0)])
    assert np.interp(0.3, filled.time, filled.gauge[:, 0]) == pytest.approx(150e3, rel=1e-6)
    assert filled.seconds_to_pressure(SET)[0] == pytest.approx(0.95 * 0.6, abs=0.006)
    assert filled.gauge[-1, 0] == pytest.approx(SET)
    assert filled.pumped[-1, 0] == pytest.approx(1e-6)
    assert filled.spilled[-1, 0] == pytest.approx(0.4e-6)
    assert filled.flow[0, 0] == 0.0
    assert filled.flow[1:, 0] == pytest.approx(1e-6)
    assert filled.time[-1] == pytest.approx(1.0)
    assert filled.mass_error < 1e-12


def test_flows_of_two_pumps_add_up_and_a_phase_ends_at_its_time():
    """1.5 mm3/ms for 20.5 ms over 2 mm3/MPa."""
    filling = filling_with(elastic_volume=2e-12)
    pumps = [pump_with(constant=1e-6), pump_with(constant=0.5e-6)]
    filled = fill(filling, pumps, inside(filling), [on(0.0105), on(0.01)])
    assert filled.gauge[-1, 0] == pytest.approx(1.5e-6 * 0.0205 / 2e-12)
    assert filled.time[filled.phase == 0][-1] == pytest.approx(0.0105)
    assert filled.time[-1] == pytest.approx(0.0205)


def test_a_pump_of_a_straight_curve_approaches_its_zero_flow_pressure_exponentially():
    """C dp/dt = q0 (1 - p/p0), so that p = p0 (1 - exp(-q0 t/(C p0))); a time constant of 0.1 s."""
    filling = filling_with(elastic_volume=1e-12, set_pressure=1e6)
    filled = fill(filling, [pump_with(flow=2e-6, zero_flow_pressure=200e3)], inside(filling), [on(0.5)])
    for time in (0.05, 0.1, 0.3):
        exact = 200e3 * (1.0 - np.exp(-time / 0.1))
        assert np.interp(time, filled.time, filled.gauge[:, 0]) == pytest.approx(exact, rel=0.02)
    assert filled.flow[-1, 0] == pytest.approx(2e-6 * np.exp(-5.0), rel=0.2)


@pytest.mark.parametrize("droop", [0.0, 1e8, 1e9])
@pytest.mark.parametrize("give", [1e-13, 1e-11])
@pytest.mark.parametrize("seconds", [0.001, 0.1])
def test_at_the_regulator_a_pump_delivers_what_its_curve_says_however_stiff_lines_are_and_long_steps(
    give, droop, seconds
):
    """q = 2e-5 m3/s (1 - p/1 MPa), and p = 300 kPa + droop q."""
    filling = filling_with(elastic_volume=give, droop=droop)
    held = inside(filling, SET)
    for _ in range(150):
        held, moved, flow = stepped(filling, held, seconds, pumps=[pump_with(flow=2e-5)])
    gauge = (SET + droop * 2e-5) / (1.0 + droop * 2e-11)
    assert filling.pressure(held) - ATMOSPHERE == pytest.approx(gauge, rel=1e-6)
    assert flow == pytest.approx(2e-5 * (1.0 - gauge / 1e6), rel=1e-6)
    assert moved.spilled == pytest.approx(flow * seconds, rel=1e-6)


def test_where_nothing_gives_way_a_pump_stands_at_its_regulator_at_once():
    """p = 300 kPa + 1e9 Pa s/m3 q, with q = 2e-5 m3/s (1 - p/1 MPa), within one step."""
    filling = filling_with(elastic_volume=1e-18, droop=1e9)
    _, _, flow = stepped(filling, inside(filling, SET), 0.01, pumps=[pump_with(flow=2e-5)])
    assert flow == pytest.approx(2e-5 * (1.0 - 320e3 / 1.02 / 1e6), rel=1e-6)


def test_a_regulator_with_droop_lets_the_excess_decay_with_its_droop_times_the_give():
    """C dp/dt = -(p - p_set)/D: 1e9 Pa s/m3 and 1e-11 m3/Pa, 10 ms; 1/e is left after it, by 200 implicit steps."""
    filling = filling_with(elastic_volume=1e-11, droop=1e9)
    held = inside(filling, SET + 20e3)
    for _ in range(200):
        held, _, _ = stepped(filling, held, 5e-5)
    assert filling.pressure(held) - ATMOSPHERE - SET == pytest.approx(20e3 * np.exp(-1.0), rel=0.01)


def test_gas_in_a_dead_end_gives_way_too_as_a_regulator_lets_liquid_go():
    """10 mL of air at 421 kPa gives way by 2.37e-11 m3/Pa as 1 uL/Pa does by itself: 23.7 ms with 1e9 Pa s/m3."""
    filling = filling_with(elastic_volume=1e-16, droop=1e9, vents_rail=False)
    held = inside(filling, SET + 20e3, air=10e-6)
    after, moved, _ = relieved(filling, held, 0.01)
    time_constant = 1e9 * 10e-6 / (ATMOSPHERE + SET + 20e3)
    left = 20e3 * time_constant / (time_constant + 0.01)
    assert filling.pressure(after) - ATMOSPHERE - SET == pytest.approx(left, rel=1e-5)
    assert moved.spilled == pytest.approx(held.liquid - after.liquid)


def test_a_pump_draws_hot_fuel_until_its_suction_line_is_empty():
    pump = pump_with(flow=1e-5, zero_flow_pressure=1e9, first_share=np.array([0.25]), later_share=np.array([0.75]),
                     suction_volume=np.array([0.5e-6]))  # fmt: skip
    filling = filling_with(elastic_volume=1e-10)
    filled = fill(filling, [pump], inside(filling), [on(0.3)])
    first = filled.pumped[:, 0] < 0.5e-6
    assert filled.flow[1:][first[:-1], 0] == pytest.approx(0.25e-5, rel=1e-3)
    assert filled.flow[1:][~first[:-1], 0] == pytest.approx(0.75e-5, rel=1e-3)
    assert np.interp(0.2, filled.time, filled.pumped[:, 0]) == pytest.approx(0.5e-6, rel=0.02)


def test_a_motor_that_spins_up_delivers_less_at_first():
    """Its back-EMF comes to the voltage with its time constant, 50 ms; flow in proportion to the voltage."""
    filling = filling_with(elastic_volume=1e-9)
    pump = pump_with(flow=1e-5, zero_flow_pressure=1e9, spins_up=np.array([True]))
    filled = fill(filling, [pump], inside(filling), [on(0.2)])
    assert np.interp(0.05, filled.time, filled.flow[:, 0]) == pytest.approx(1e-5 * (1.0 - np.exp(-1.0)), rel=0.01)


def test_valves_shut_once_after_the_pump_has_run_and_never_before():
    """28 kPa once, in the first step after the pump; a car that was off at first keeps its pressure."""
    filling = filling_with()
    run = fill(filling, [pump_with(constant=1e-5)], inside(filling, 100e3), [off(0.1), on(0.2), off(0.1), on(0.1)])
    assert run.gauge[run.phase == 0, 0] == pytest.approx(100e3)
    assert run.gauge[run.phase == 1, 0][-1] == pytest.approx(300e3)
    assert run.gauge[run.phase == 2, 0] == pytest.approx(272e3)
    assert run.gauge[run.phase == 3, 0][-1] == pytest.approx(300e3)
    assert [np.sum(run.phase == number) for number in (1, 3)] == [120, 20]
    assert run.time[-1] == pytest.approx(0.5)
    assert run.mass_error < 1e-12


def test_valves_that_shut_take_no_more_than_the_pressure_there_is():
    filling = filling_with()
    run = fill(filling, [pump_with(constant=1e-8)], inside(filling, 10e3), [on(0.01), off(0.01)])
    assert run.gauge[-1, 0] == 0.0
    assert run.spilled[-1, 0] == pytest.approx(10.1e3 * 1e-12)


def test_it_ends_when_pressure_or_liquid_is_there_where_that_is_asked_for():
    """30 mL of air under 95 % of 300 kPa are 7.87 mL; liquid counts from 2.5 mL on, no gas from 0.25; at 100 mL/s."""
    filling, pumps = filling_with(elastic_volume=1e-13), [pump_with(constant=100e-6)]
    start, phases = inside(filling, air=30e-6), [on(0.5), off(0.1)]

    def end(**given):
        return fill(filling, pumps, start, phases, **given).time[-1]

    assert end() == pytest.approx(0.6)
    assert end(until_pressure=True) == pytest.approx(0.2213, abs=0.006)
    assert end(until_liquid=True) == pytest.approx(0.275, abs=0.006)
    assert end(until_liquid=True, not_before=0.1) == pytest.approx(0.2975, abs=0.006)
    assert end(until_pressure=True, not_before=0.4) == pytest.approx(0.4, abs=0.006)
    whole = fill(filling, pumps, start, phases)
    assert whole.seconds_to_pressure(SET)[0] == pytest.approx(0.2213, abs=0.006)
    assert whole.seconds_to_liquid(SET)[0] == pytest.approx(0.275, abs=0.006)


def test_what_vanishes_is_an_error_of_the_balance(monkeypatch):
    """1 % of the room lost in one step, or gained as vapour, is told as 1 %."""
    filling = filling_with(elastic_volume=1e-9)
    per_energy = rail_filling._PER_ENERGY / DENSITY
    cases = (("liquid", -2e-6, 0.01), ("vapour", 2e-6 / per_energy, 0.01))
    for account, amount, error in cases:

        def lossy(filling, held, seconds, account=account, amount=amount):
            return held._replace(**{account: getattr(held, account) + amount})

        with monkeypatch.context() as patch:
            patch.setattr(rail_filling, "_condensed", lossy)
            filled = fill(filling_with(elastic_volume=1e-9, set_pressure=1e12), [], inside(filling), [off(0.001)])
        assert filled.mass_error == pytest.approx(error, rel=1e-6)


def test_where_nothing_gives_way_a_pump_delivers_what_leaves():
    """At 250 of 300 kPa injectors take 0.9129 mL/s, a bleed of 0.05 mm2 1.3363 mL/s."""
    filling = filling_with(elastic_volume=1e-18, bleed_area=0.05e-6)
    _, moved, flow = stepped(filling, inside(filling, 250e3), 0.01, pumps=[pump_with(flow=3.1e-6)], demand=1e-6)
    assert flow == pytest.approx(2.2492e-6, rel=1e-3)
    assert moved.pumped == pytest.approx(2.2492e-8, rel=1e-3)
    assert moved.injected == pytest.approx(0.9129e-8, rel=1e-3)
    assert moved.spilled == pytest.approx(1.3363e-8, rel=1e-3)


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_a_pump_that_compresses_gas_feels_its_pressure_rise_within_the_step(share):
    """q = q0 + dq/dp dp with dp = q t p/V: 14 mL/s less 2e-11 m3/s/Pa at 401 kPa, 8.026 mL and 0.1 s: a tenth less.
    Of a pump twice as large that draws half vapour the same."""
    filling = filling_with(elastic_volume=1e-18, set_pressure=1e9, volume=1e-3)
    start = inside(filling, SET, air=2e-11 * 0.1 * (ATMOSPHERE + SET) / 0.1)
    pump = pump_with(flow=2e-5 / share, first_share=np.array([share]), later_share=np.array([share]))
    _, _, flow = stepped(filling, start, 0.1, pumps=[pump])
    assert flow == pytest.approx(14e-6 / 1.1)


def test_a_pressure_that_falls_by_more_than_an_atmosphere_in_a_step_gives_the_pump_no_more_than_its_curve_there():
    filling = filling_with(elastic_volume=1e-13, bleed_area=1e-4)
    _, _, flow = stepped(filling, inside(filling, 250e3), 0.01, pumps=[pump_with(flow=2e-5)])
    assert flow == pytest.approx(2e-5 * (1.0 - 0.15))


def test_where_gas_fills_the_rail_no_liquid_is_injected():
    filling = filling_with()
    start = inside(filling, SET, air=2.0 * RAIL)
    after, moved, _ = stepped(filling, start, 1e-3, demand=1e-6)
    assert moved.injected == 0.0
    assert after.liquid == pytest.approx(start.liquid)


@pytest.mark.parametrize("vents", [True, False])
def test_the_balance_closes_while_vapour_condenses_and_leaves_by_every_way(vents):
    filling = filling_with(tables=VOLATILE, vents_rail=vents, bleed_area=0.02e-6, elastic_volume=1e-11)
    start = inside(filling, 110e3, air=5e-6, vapour=30e-6)
    filled = fill(filling, [pump_with(constant=50e-6)], start, [on(0.2, demand=5e-6)])
    assert 0.1 < filled.gas_share[-1, 0] < 0.6
    assert filled.vented[-1, 0] > 1e-9
    assert filled.injected[-1, 0] > 1e-7
    assert filled.mass_error < 1e-12


# What leaves


def test_injectors_let_the_pressure_fall_with_its_root():
    """C dp/dt = -q sqrt(p/p_set), so that sqrt(p) = sqrt(p_set) - q t/(2 C sqrt(p_set)): a quarter at q t = C p_set."""
    filling = filling_with(elastic_volume=1e-12)
    filled = fill(filling, [], inside(filling, SET), [off(0.3, demand=1e-6)])
    assert filled.gauge[-1, 0] == pytest.approx(0.25 * SET, rel=0.02)
    assert filled.injected[-1, 0] == pytest.approx(0.75 * SET * 1e-12, rel=0.02)


def test_gas_passes_an_injector_faster_by_the_root_of_the_densities_ratio():
    """Vapour of 66 g/mol at 401 kPa and 350 K weighs 9.10 kg/m3; liquid of 700 kg/m3 passes sqrt(76.9) = 8.77 times
    slower. A rail half full of gas passes half of each."""
    filling = filling_with(volume=1e-3)
    start = inside(filling, SET, air=25e-6)
    after, moved, _ = stepped(filling, start, 1e-3, demand=1e-6)
    assert after.air / start.air == pytest.approx(1.0 - 8.77 * 0.5e-9 / 25e-6, abs=1e-7)
    assert moved.injected == pytest.approx(0.5e-9)
    assert start.liquid - after.liquid == pytest.approx(0.5e-9)


def test_vapour_that_leaves_counts_as_the_liquid_it_was():
    """25 mL of vapour at 401 kPa and 350 K, 66 g/mol, are 10.03 J, 3.45 mmol or 0.227 g, 0.325 mL of 700 kg/m3."""
    filling = filling_with(volume=1e-3, film=np.array([0.0]))
    start = inside(filling, SET, vapour=25e-6)
    assert rail_filling._as_liquid(filling, start.vapour) == pytest.approx(0.325e-6, rel=2e-3)
    after, moved, _ = stepped(filling, start, 0.1, demand=10e-6)
    gone = 1.0 - after.vapour / start.vapour
    assert 0.1 < gone < 0.3
    assert moved.vented == pytest.approx(gone * 0.325e-6, rel=2e-3)


def test_liquid_leaves_a_bleed_as_through_an_orifice():
    """C A sqrt(2 dp/rho): 0.65 of 0.5 mm at 300 kPa and 700 kg/m3, 29.28 m/s times 0.1276 mm2, 3.736 mL/s."""
    filling = filling_with(bleed_area=0.1276e-6)
    pressure = np.array([ATMOSPHERE + SET])
    liquid, gas = rail_filling._bled(filling, inside(filling, SET), pressure, np.zeros(1), 0.5)
    assert liquid == pytest.approx(0.5 * 3.736e-6, rel=1e-3)
    assert gas == 0.0


def test_air_leaves_a_bleed_at_the_choked_flow_of_the_handbook():
    """Choked air passes 0.04042 A p0/sqrt(T) kg/s (isentropic flow of a gas of 1.4 and 287 J/kg/K)."""
    filling = filling_with(bleed_area=0.1e-6)
    held, pressure = inside(filling, SET, air=RAIL, temperature=300.0), np.array([ATMOSPHERE + SET])
    liquid, gas = rail_filling._bled(filling, held, pressure, np.array([RAIL]), 0.5)
    mass_flow = 0.04042 * 0.1e-6 * pressure / np.sqrt(300.0)
    assert gas == pytest.approx(0.5 * mass_flow * 287.0 * 300.0 / pressure, rel=1e-3)
    assert liquid == 0.0


def test_air_below_the_critical_ratio_leaves_a_bleed_at_the_mach_number_of_its_pressure():
    """p0/p = (1 + M2/5)**3.5: at a ratio of 1.25 M is 0.574, with rho/rho0 = 0.853 and T/T0 = 0.938."""
    filling = filling_with(bleed_area=0.1e-6)
    pressure = np.array([1.25 * ATMOSPHERE])
    mach = np.sqrt(5.0 * (1.25 ** (1.0 / 3.5) - 1.0))
    assert mach == pytest.approx(0.574, abs=1e-3)
    temperature = 300.0 / (1.0 + mach**2 / 5.0)
    speed = mach * np.sqrt(1.4 * 287.0 * temperature)
    held = inside(filling, 0.25 * ATMOSPHERE, air=RAIL, temperature=300.0)
    _, gas = rail_filling._bled(filling, held, pressure, np.array([RAIL]), 0.5)
    assert gas == pytest.approx(0.5 * 0.1e-6 * speed * 0.8 ** (1.0 / 1.4), rel=1e-3)


def test_a_bleed_lets_go_of_no_more_gas_than_there_is_and_nothing_below_the_atmosphere():
    filling = filling_with(bleed_area=1e-6)
    little, high = np.array([2e-9]), np.array([ATMOSPHERE + SET])
    assert rail_filling._bled(filling, inside(filling, SET, air=2e-9), high, little, 100.0)[1] == little
    low = np.array([0.5 * ATMOSPHERE])
    for gas in (np.zeros(1), np.array([RAIL])):
        liquid, air = rail_filling._bled(filling, inside(filling, -50e3), low, gas, 0.1)
        assert liquid == 0.0
        assert air == pytest.approx(0.0, abs=1e-15)


def test_a_bleed_passes_liquid_and_gas_by_how_much_gas_there_is():
    """1 % of gas, half of the share from which it passes gas alone: half of each flow."""
    filling = filling_with(bleed_area=1e-9)
    high = np.array([ATMOSPHERE + SET])

    def bled(share):
        gas = np.array([share * RAIL])
        return rail_filling._bled(filling, inside(filling, SET, air=share * RAIL), high, gas, 1e-3)

    assert bled(0.5 * rail_filling.BLEED_SHARE)[0] == pytest.approx(0.5 * bled(0.0)[0])
    assert bled(0.5 * rail_filling.BLEED_SHARE)[1] == pytest.approx(0.5 * bled(1.0)[1])


def test_a_bleed_takes_liquid_and_air_from_what_is_inside():
    filling = filling_with(bleed_area=1e-8, elastic_volume=1e-10)
    start = inside(filling, SET, air=0.5 * rail_filling.BLEED_SHARE * RAIL)
    pressure = filling.pressure(start)
    liquid, gas = rail_filling._bled(filling, start, pressure, filling.gas_volume(start, pressure), 1e-3)
    after, moved, _ = stepped(filling, start, 1e-3)
    assert start.liquid - after.liquid == pytest.approx(liquid)
    assert moved.spilled == pytest.approx(liquid)
    assert start.air - after.air == pytest.approx(start.air * gas / filling.gas_volume(start, pressure))


@pytest.mark.parametrize("vents", [True, False])
def test_a_regulator_keeps_its_pressure_and_behind_the_rail_lets_gas_go_first(vents):
    filling = filling_with(vents_rail=vents, elastic_volume=5e-12)
    start = inside(filling, 2.0 * SET, air=10e-6, vapour=30e-6)
    after, moved, held_back = relieved(filling, start)
    assert filling.pressure(after) == pytest.approx(ATMOSPHERE + SET)
    assert held_back == 0.0
    left = after.vapour / start.vapour
    assert after.air / start.air == pytest.approx(left)
    assert moved.vented == pytest.approx((1.0 - left) * rail_filling._as_liquid(filling, start.vapour))
    assert moved.spilled == pytest.approx(start.liquid - after.liquid)
    if vents:
        # Liquid stays; gas leaves until what is left fills the room at the limit.
        assert moved.spilled == pytest.approx(0.0, abs=1e-15)
        gas = VOLUME + 5e-12 * SET - start.liquid
        assert left == pytest.approx(gas * (ATMOSPHERE + SET) / (start.air + start.vapour))
    else:
        assert left == 1.0
        assert moved.spilled > 1e-6


def test_where_all_gas_has_gone_liquid_is_spilled_too():
    filling = filling_with()
    start = inside(filling, 2.0 * SET, air=10e-9)
    start = start._replace(liquid=start.liquid + 1e-6)
    after, moved, _ = relieved(filling, start)
    assert after.air == 0.0
    assert moved.spilled == pytest.approx(start.liquid - VOLUME - 1e-12 * SET)
    assert after.liquid == pytest.approx(VOLUME + 1e-12 * SET)


def test_a_controlled_pump_holds_back_what_a_regulator_would_spill():
    """It delivers what the injectors take."""
    filling = filling_with(spills=False)
    filled = fill(filling, [pump_with(constant=10e-6)], inside(filling, SET), [on(0.1, demand=2e-6)])
    assert filled.flow[-1, 0] == pytest.approx(2e-6)
    assert filled.pumped[-1, 0] == pytest.approx(0.2e-6)
    assert filled.spilled[-1, 0] == 0.0
    assert filled.mass_error < 1e-12


# Heat and vapour


@pytest.mark.parametrize(("share", "surface"), [(1.0, 1.0), (0.125, 0.5)])
def test_vapour_condenses_as_fast_as_its_film_carries_the_heat(share, surface):
    """h A (T_sat - T)/H moles each second; vapour of 4 kPa more than 200 kPa at 350 K is saturated 0.67 K higher.
    The surface that is dry is taken as the cube root of the share of gas."""
    room = share * RAIL
    filling = filling_with(tables=VOLATILE, elastic_volume=0.0, film=np.array([100.0]))
    start = inside(filling, 204e3 - ATMOSPHERE, vapour=room)
    after = rail_filling._condensed(filling, start, 1e-4)
    moles = (start.vapour - after.vapour) / (GAS_CONSTANT * WARM)
    warmer = 1.0 / (1.0 / WARM - GAS_CONSTANT / HEAT * np.log(204.0 / 200.0)) - WARM
    assert moles == pytest.approx(100.0 * 0.01 * surface * warmer / HEAT * 1e-4, rel=0.02)
    # Mass: moles of 66 g are that much liquid; heat: what condenses warms the liquid that is left.
    assert after.liquid - start.liquid == pytest.approx(moles * 0.066 / DENSITY, rel=1e-6)
    wet = max(1.0 - share, 0.1) * RAIL * DENSITY * HEAT_CAPACITY
    assert after.temperature - WARM == pytest.approx(moles * HEAT / wet, rel=0.01)


def test_fuel_below_its_bubble_pressure_boils_and_cools():
    filling = filling_with(tables=VOLATILE, elastic_volume=1e-11)
    start = inside(filling, 0.0)
    after = rail_filling._condensed(filling, start, 0.01)
    assert after.vapour > 0.0
    assert after.liquid < start.liquid
    assert after.temperature < WARM
    assert filling.pressure(after) > ATMOSPHERE


def test_vapour_at_its_bubble_pressure_stays_whatever_air_is_beside_it():
    """Dalton: the vapour's own pressure counts."""
    filling = filling_with(tables=VOLATILE, elastic_volume=0.0)
    start = inside(filling, 400e3 - ATMOSPHERE, air=20e-6, vapour=20e-6)
    after = rail_filling._condensed(filling, start, 10.0)
    assert after.vapour == pytest.approx(start.vapour)
    assert after.temperature == pytest.approx(WARM)


def test_the_last_bubble_collapses_under_pressure_only():
    filling = filling_with(tables=VOLATILE)
    for gauge, left in ((SET, False), (50e3, True)):
        bubble = inside(filling, gauge, vapour=5e-13)
        assert (rail_filling._condensed(filling, bubble, 1e-3).vapour > 0.0) == left


def test_fuel_below_pressure_without_vapour_changes_nothing():
    filling = filling_with(tables=VOLATILE)
    start = inside(filling, SET)
    assert rail_filling._condensed(filling, start, 1.0) is start


@pytest.mark.parametrize(
    ("vents", "gas", "through"),
    [(True, 0.0, 5e-6), (False, 0.0, 2e-6), (False, 10e-6, 5e-6)],
)
def test_cool_fuel_mixes_with_what_is_in_the_rail_as_in_a_stirred_tank(vents, gas, through):
    """T = T_in + (T0 - T_in) exp(-V/V_wet); a rail at the end of its line is flushed by the injectors' flow only,
    unless gas in it makes room."""
    filling = filling_with(vents_rail=vents, elastic_volume=1e-9, feed_temperature=np.array([300.0]), volume=1e-3)
    start = inside(filling, SET, air=gas)
    wet = RAIL - gas
    demand = 2e-6 if not gas else 0.0
    after, _, _ = stepped(filling, start, 1.0, pumps=[pump_with(constant=5e-6)], demand=demand)
    assert after.temperature == pytest.approx(300.0 + 50.0 * np.exp(-through / wet), rel=1e-6)


def test_a_rail_of_little_liquid_counts_a_tenth_as_wet():
    filling = filling_with()
    assert rail_filling._wet(filling, np.array([0.0, 0.5, 0.99])) == pytest.approx([RAIL, 0.5 * RAIL, 0.1 * RAIL])


def test_pressure_of_rounding_is_shown_as_none_and_the_share_of_gas_never_above_one():
    filling = filling_with()
    moved = rail_filling._Moved(*[np.zeros(1)] * 4)
    row = rail_filling._row(filling, inside(filling, 1e-4, air=2.0 * RAIL), np.zeros(1), moved)
    assert row[0] == 0.0
    assert row[1] == pytest.approx(2.0 * RAIL)
    assert row[2] == 1.0
    row = rail_filling._row(filling, inside(filling, -10.0, air=0.4 * RAIL), np.zeros(1), moved)
    assert row[0] == pytest.approx(-10.0)
    assert row[2] == pytest.approx(0.4)


def test_what_is_inside_is_that_of_each_point():
    """Points are alone: two together give what each gives by itself."""
    together = filling_with(feed_temperature=np.full(2, WARM), film=np.full(2, 1000.0), vents_rail=False)
    two = np.ones(2)
    pump = pump_with(constant=1e-5)
    both = dataclasses.replace(pump, **{
        name: np.repeat(getattr(pump, name), 2)
        for name in ("first_share", "later_share", "suction_volume", "circuit", "spins_up", "constant_flow")
    })  # fmt: skip
    start = together.of_volumes(np.array([0.0, 50e3]), 0.0 * two, np.array([0.0, 20e-6]), WARM * two)
    phase = Phase(0.15, 12.0 * two, 1e-6, cranking=True)
    filled = fill(together, [both], start, [phase])
    for point in range(2):
        own = Inside(*(values[point : point + 1] for values in start))
        alone = fill(filling_with(vents_rail=False), [pump], own, [on(0.15, demand=1e-6)])
        assert filled.gauge[:, point] == pytest.approx(alone.gauge[:, 0], rel=1e-9)
