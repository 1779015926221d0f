"""Pots in a drive, and drives, soaks and restarts of plumbings with several rails and pumps."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.constants import L_PER_HOUR
from fuelsim.transients.drive import drive
from fuelsim.transients.pot_flows import PlannedPot, PotFlows, VesselFlows, at_rest, overflow_flows
from fuelsim.transients.schedule import Phase, Schedule, typical_phase
from fuelsim.transients.shut_in_fuel import ShutInFuel
from fuelsim.transients.soak import hot_soak

LAYOUTS = fs.Car.named("plover").layouts()


@pytest.fixture(scope="module")
def plover():
    return fs.Car.named("plover")


@pytest.fixture(scope="module")
def cornering(plover):
    """A pot that no lift pump fills at full load, and the idle after it, when it is filled again."""
    full = {"rpm": 6000.0, "load": 1.0, "vehicle_speed": "150 km/h"}
    phases = [
        Phase(name="straight", duration="2 min", **full),
        Phase(name="corner", duration="90 s", lift_share=0.0, **full),
        Phase(name="idle", duration="3 min"),
    ]
    return drive(plover, "pot", Schedule.of(phases), output_step="5 s")


def test_a_pot_of_a_litre_and_a_half_with_forty_in_and_eighty_out_lasts_135_seconds(plover):
    """1.5 L over 40 L/h (by hand)."""
    pot = plover.pots["pot"]
    planned = (PlannedPot("pot", pot, (("overflow",),), None),)
    density = 740.0
    flows = PotFlows(40.0 * L_PER_HOUR * density, 0.0, -80.0 * L_PER_HOUR * density, 0.0, 0.0)
    (overflow,) = overflow_flows(planned, VesselFlows(*at_rest(0)[:-1], pots=(flows,)), [1.0], 1.0)
    assert pot.volume * density / -overflow.gain == pytest.approx(135.0)
    assert overflow.over == 0.0


def test_a_pot_without_lift_lasts_as_long_as_what_the_engine_burns_takes_to_empty_it(cornering, plover):
    """Returned fuel stays in the loop, so that a pot loses what is burnt: t = V/Q (by hand)."""
    events = {event.name: event for event in cornering.events}
    empty, low = events["pot empty"], events["pot low"]
    assert (empty.part, low.part) == ("pot", "pot")
    burnt = sum(cornering.flow[f"{rail}_injectors"] for rail in ("left_rail", "right_rail"))
    lasts = 1.5e-3 / float(burnt[np.argmin(abs(cornering.time - 110.0))])
    assert empty.time - 120.0 == pytest.approx(lasts, rel=0.01)
    assert low.time - 120.0 == pytest.approx(0.75 * lasts, rel=0.01)


def test_an_empty_pot_stops_the_engine_until_the_phase_is_over_and_nothing_is_invented(cornering):
    failed = cornering.out_of_fuel
    assert np.any(failed)
    assert set(cornering.phase[failed]) == {"corner"}
    assert not np.any(cornering.running[failed])
    assert np.all(np.isnan(cornering.gauge_pressure["left_rail"][failed]))
    assert np.all(np.isfinite(cornering.temperature["left_rail"][failed]))  # it soaks
    assert np.all(np.diff(cornering.fuel_mass[failed]) > -1e-3)


def test_the_lift_pump_fills_the_pot_again_before_it_runs_over(cornering):
    idle = cornering.phase == "idle"
    level, over = cornering.pot_level["pot"][idle], cornering.flow["overflow"][idle]
    assert level[0] < 0.01
    assert level[-1] == pytest.approx(1.0, abs=1e-3)
    filling = level < 0.97
    assert np.all(over[filling] == 0.0)
    assert over[-1] > 100.0 * L_PER_HOUR


def test_heat_and_fuel_balance_with_a_pot_that_empties_and_fills(cornering):
    """Conservation: fuel within 1e-6 of what was there, heat within 0.1 % of all that moved."""
    assert cornering.mass_error < 1e-6
    assert cornering.ledger.error < 1e-3


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_plumbing_of_an_invented_v8_goes_on_a_drive_with_a_stop(plover, layout):
    phases = [typical_phase(kind, "8 min", plover) for kind in ("city", "stop", "jam")]
    result = drive(plover, layout, Schedule.of(phases))
    assert result.mass_error < 1e-6
    assert result.ledger.error < 1e-3
    assert result.interpolation_error < 5e-3
    assert np.all(np.isfinite(result.rail_gauge_pressure[result.running]))
    for rail in ("left_rail", "right_rail"):
        assert np.all(np.isfinite(result.temperature[rail]))
    assert len(result.table()) == len(result.time)
    assert result.plot()


def test_fuel_and_heat_are_kept_where_the_rails_return_to_the_tank_past_the_pot(past_the_pot):
    result = drive(past_the_pot, "past_the_pot", Schedule.of([typical_phase("jam", "6 min", past_the_pot)]))
    assert result.mass_error < 1e-6
    assert result.ledger.error < 1e-3
    burnt = result.fuel_mass[0] - result.fuel_mass[-1]
    assert 0.0 < burnt < 2.0  # kg; the pump moves 10 kg in this time, nearly all of which comes back


def test_a_pot_follows_its_steady_mix_by_the_time_its_fuel_takes_to_be_renewed(plover):
    """A mixed vessel follows a ramp late by its residence time, V/Q of what is lifted (stirred tank)."""
    result = drive(plover, "pot", Schedule.of([typical_phase("jam", "10 min", plover)]))
    run = plover.system("pot").solve(
        fs.Conditions(
            rpm=plover.engine.idle_speed,
            load=0.0,
            vehicle_speed=2.0 / 3.6,
            tank_temperature=float(result.tank_temperature[-1]),
            bay_temperature=float(result.bay_temperature[-1]),
            underfloor_temperature=float(result.underfloor_temperature[-1]),
        )
    )
    rate = (result.tank_temperature[-1] - result.tank_temperature[-3]) / (result.time[-1] - result.time[-3])
    late = rate * 1.5e-3 / result.flow["lift"][-1]
    assert result.pot_temperature["pot"][-1] == pytest.approx(float(run.temperature["pot"]) - late, abs=0.04)
    assert result.supply_temperature[-1] == result.pot_temperature["pot"][-1]


def test_a_stopped_pot_takes_the_temperature_of_its_air_like_an_exponential(plover):
    """Source: lumped capacity, T = Ta + (T0 - Ta) exp(-UA t/C) (Incropera et al., transient conduction)."""
    pots = {"pots.pot.heat_conductance": 3.0}
    car = plover.with_values(
        {**pots, "surroundings.underfloor_rise": 0.0, "surroundings.cruising_underfloor_rise": 0.0}
    )
    result = drive(car, "pot", Schedule.of([typical_phase("stop", "1 h", car)]), tank_temperature="20 degC")
    fuel, air = car.fuel.fuel(), float(car.surroundings.air_temperature)
    capacity = 1.5e-3 * fuel.density(293.15) * fuel.heat_capacity(300.0)
    expected = air + (293.15 - air) * np.exp(-3.0 * result.time / capacity)
    assert result.pot_temperature["pot"] == pytest.approx(expected, abs=0.1)


def test_given_temperatures_of_pots_are_those_of_the_run_and_unknown_pots_are_refused(plover):
    system = plover.system("pot")
    run = system.solve(rpm=[900.0, 3000.0], pot_temperatures={"pot": ["40 degC", "45 degC"]})
    assert run.temperature["pot"].tolist() == pytest.approx([313.15, 318.15])
    with pytest.raises(fs.InputError, match="no such pot"):
        system.solve(rpm=900.0, pot_temperatures={"pott": 310.0})


@pytest.mark.parametrize("layout", LAYOUTS)
def test_several_rails_soak_at_their_own_temperatures_and_share_a_pressure(plover, layout):
    cool = plover.with_values({"rails.left_rail.air_conductance": 0.2, "rails.left_rail.engine_conductance": 0.05})
    soak = hot_soak(cool, layout, duration="30 min", leak_flow="0.05 L/h")
    left, right = soak.by_rail["left_rail"], soak.by_rail["right_rail"]
    assert right.temperature[-1] > left.temperature[-1] + 5.0
    assert soak.rail_temperature == pytest.approx(np.maximum(left.temperature, right.temperature))
    assert left.vapour_volume + right.vapour_volume == pytest.approx(soak.vapour_volume, abs=1e-9)
    assert np.all(right.vapour_volume >= left.vapour_volume - 1e-12)
    assert np.all(soak.restart.seconds_to_pressure >= 0.0)
    assert len(soak.table()) == len(soak.time)


def test_vapour_holds_the_bubble_pressure_of_the_hottest_rail_that_still_has_liquid(plover):
    """Two vessels joined: liquid of the hotter one boils first, and holds the pressure until it is gone."""
    system = plover.system("no_pot")
    shut_in = ShutInFuel.after(system, system.solve(rpm=850, load=0.0), 20.0, inlet_dry=True)
    hot, cool = shut_in.rail_volumes
    lost = np.linspace(0.0, 0.12, 1201)
    state = shut_in.state(0.0, np.repeat([[375.0], [350.0]], lost.size, axis=1), lost)
    for vapour, temperature in ((0.3 * hot, 375.0), (hot + 0.3 * cool, 350.0)):
        pressure = np.interp(vapour, state.vapour_volume, state.pressure)
        assert pressure == pytest.approx(float(system.fuel.bubble_pressure(temperature)), rel=0.02)


def test_two_pumps_restart_a_rail_in_half_the_time_of_one(plover):
    """Equal pumps side by side deliver twice the flow at any pressure. After an hour there is so much to fill that the
    10 to 20 ms in which their motors come to speed hardly count."""
    soak = hot_soak(plover, "no_pot", duration="1 h", leak_flow="0.05 L/h")
    runs = plover.plumbing["no_pot"].runs
    lone = [run for run in runs if "right_pump" not in run]
    one = plover.with_plumbing("one_pump", runs=[list(run) for run in lone], title="one pump")
    single = hot_soak(one, "one_pump", duration="1 h", leak_flow="0.05 L/h")
    both = soak.restart.seconds_to_pressure[-1]
    assert single.restart.seconds_to_pressure[-1] == pytest.approx(2.0 * both, rel=0.1)


def test_a_pot_after_the_stop_tends_to_what_surrounds_it_like_an_exponential(plover):
    """T = T_a + (T_0 - T_a) exp(-UA t/(m c)), exact in a tank of steady temperature T_a; m c of petrol by its density
    and 2.2 kJ/kg/K within 5 %."""
    car = plover.with_values({"pots.pot.zone": "tank", "pots.pot.heat_conductance": "2 W/K"})
    system = car.system("pot")
    run = system.solve(rpm=900.0, load=0.0, tank_temperature="40 degC", air_temperature="15 degC")
    shut_in = ShutInFuel.after(system, run, 60.0)
    time = np.array([0.0, 600.0, 1800.0, 7200.0])
    temperature = shut_in.pot_temperature("pot", time)
    start = float(run.temperature["pot"])
    volume = float(system.plumbing.pots["pot"].volume)
    capacity = volume * float(system.fuel.density(start)) * 2.2e3
    expected = 313.15 + (start - 313.15) * np.exp(-2.0 * time / capacity)
    assert temperature[0] == start
    assert start > 314.0
    assert temperature - 313.15 == pytest.approx(expected - 313.15, rel=0.05, abs=0.05)
    again = shut_in.pot_temperature("pot", np.arange(0.0, 7201.0, 600.0))
    assert again[[1, 3, 12]] == pytest.approx(temperature[1:], rel=1e-9)
