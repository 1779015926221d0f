"""Heat exchange of lines: films and walls, driving state, exhaust, cooler, still and reverse flow."""

from __future__ import annotations

import dataclasses

import ht
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

import fuelsim as fs
from fuelsim.car.heat_parts import Cooler
from fuelsim.system.coupled_problem import VAPOUR_MOLAR_MASS
from fuelsim.system.exchange import moving_share
from fuelsim.system.heat_exchange import FUEL_CONDUCTIVITY

LINES = ("suction", "feed", "return_line")


@pytest.fixture(scope="module")
def computed():
    """Lines of steel, whose heat conductance follows from films and wall."""
    car = fs.Car.named("heron")
    return car.with_values({f"{name}.heat_conductance": None for name in LINES})


@pytest.fixture(scope="module")
def heron(computed):
    """The same with a conductance per metre given by hand."""
    return computed.with_values({f"{name}.heat_conductance": "0.35 W/m/K" for name in LINES})


def idle(car, layout="return", **conditions):
    given = {"rpm": car.engine.idle_speed, "load": 0.0} | conditions
    return car.system(layout).solve(fs.Conditions(**given), raise_on_failure=True)


def test_a_feed_line_warms_as_an_exchanger_with_constant_surroundings(heron):
    """Source: effectiveness-NTU, capacity ratio 0, ``ht.effectiveness_from_NTU``; throttling adds 0.1 K."""
    run = idle(heron, "returnless_tank")
    feed = heron.feed
    fuel = heron.fuel.fuel()
    capacity = float(run.mass_flow["feed"]) * fuel.heat_capacity(float(run.temperature["filter_outlet"]))
    share = ht.effectiveness_from_NTU(feed.heat_conductance * feed.length / capacity, 0.0, subtype="boiler")
    start = float(run.temperature["filter_outlet"])
    floor = heron.surroundings.air_temperature + heron.surroundings.underfloor_rise
    assert float(run.temperature["rail_inlet"]) == pytest.approx(start + share * (floor - start), abs=0.2)


def test_computed_conductances_are_of_the_size_given_by_hand(heron, computed):
    given, found = (idle(car).temperature["rail"] for car in (heron, computed))
    assert float(found) == pytest.approx(float(given), abs=0.5)


def test_the_airstream_of_a_moving_car_exchanges_more(computed):
    cold = computed.with_values(
        {"surroundings.air_temperature": "0 degC", "surroundings.cruising_underfloor_rise": 15.0}
    )
    still, moving = (
        idle(cold, "returnless_tank", vehicle_speed=speed, tank_temperature="40 degC") for speed in (0.0, "100 km/h")
    )
    assert float(moving.temperature["rail_inlet"]) < float(still.temperature["rail_inlet"]) - 2.0


def test_bay_and_underfloor_cool_from_traffic_to_cruise(computed):
    """Bay air above ambient: traffic 30 to 50 K, cruising 15 to 30 K (typical, from memory)."""
    runs = [idle(computed, "returnless_tank", vehicle_speed=speed) for speed in (0.0, 10.0, 35.0)]
    rail = [float(run.temperature["rail"]) for run in runs]
    assert rail[0] > rail[1] > rail[2]
    assert float(moving_share(35.0)) > 0.95


def test_a_dead_ended_rail_tends_to_its_surroundings_as_flow_vanishes(heron):
    """Between bay air of 83 degC and engine metal of 95 degC, by their conductances."""
    rail, surroundings = heron.rail, heron.surroundings
    bay = surroundings.air_temperature + surroundings.bay_rise
    total = rail.air_conductance + rail.engine_conductance
    expected = (rail.air_conductance * bay + rail.engine_conductance * surroundings.engine_temperature) / total
    slow = heron.with_values({"engine.idle_fuel_flow": "0.02 L/h"})
    run = idle(slow, "returnless_tank", tank_temperature="35 degC")
    temperature = float(run.temperature["rail"] + np.maximum(-run.vapour_margin["rail"], 0.0))
    assert temperature == pytest.approx(expected, abs=1.0)
    # An engine that stands takes no fuel at all.
    at_rest = heron.system("returnless_tank").solve(rpm=0.0, load=0.0, tank_temperature="35 degC")
    assert np.all(at_rest.outcome.converged)


def test_exhaust_radiation_warms_the_feed_and_a_shield_takes_most_of_it(heron):
    """1.5 kW/m2 on half of the outside of 3.5 m of 8.3 mm line are some 70 W; one foil takes 70 to 90 %
    (from memory)."""
    bare = heron.with_values({"feed.exhaust_flux": "1.5 kW/m2"})
    shielded = bare.with_values({"feed.exhaust_shields": 1})
    without, hot, shaded = (float(idle(car).temperature["rail_inlet"]) for car in (heron, bare, shielded))
    assert 0.7 < (hot - shaded) / (hot - without) < 0.9
    run = idle(bare)
    capacity = float(run.mass_flow["feed"]) * 2100.0
    assert 40.0 < (hot - without) * capacity < 110.0


def test_a_cooler_in_the_return_takes_what_its_conductance_says(heron):
    cooled = dataclasses.replace(heron, cooler=Cooler(heat_conductance=12.0))
    run = idle(cooled)
    capacity = float(run.mass_flow["cooler"]) * cooled.fuel.fuel().heat_capacity(320.0)
    inlet, air = float(run.temperature["return_inlet"]), cooled.surroundings.air_temperature
    expected = air + (inlet - air) * np.exp(-12.0 / capacity)
    assert float(run.temperature["cooler_outlet"]) == pytest.approx(expected, abs=0.1)
    assert float(run.tank_heat_flow) < float(idle(heron).tank_heat_flow) - 20.0


def test_a_cabin_style_cooler_may_run_below_ambient(heron):
    cold = dataclasses.replace(heron, cooler=Cooler(heat_conductance=20.0, coolant_temperature="10 degC"))
    assert float(idle(cold).temperature["cooler_outlet"]) < cold.surroundings.air_temperature


def test_a_slowed_pump_heats_less(heron):
    full, slow = (idle(heron, "returnless_tank", pump_duty=duty) for duty in (1.0, 0.75))
    assert float(slow.pump_power["pump"]) < 0.85 * float(full.pump_power["pump"])
    assert float(slow.tank_heat_flow) < float(full.tank_heat_flow)


def test_temperatures_stay_between_their_sources_at_any_load(computed):
    conditions = fs.Conditions.grid(
        rpm=[700.0, 2500.0, 5400.0],
        load=[0.0, 0.5, 1.0],
        vehicle_speed=[0.0, 30.0],
        tank_temperature=["0 degC", "40 degC"],
    )
    run = computed.system("return").solve(conditions, raise_on_failure=True)
    hottest = computed.surroundings.engine_temperature
    for station in run.temperature:
        if station != "manifold":
            values = np.asarray(run.temperature[station])
            assert np.all((values > 272.0) & (values < hottest + 5.0)), station


def test_petrol_conducts_heat_as_its_components_do_on_average():
    """Judge: CoolProp at 30 degC, for light and middle paraffins and an aromatic, a quarter each."""
    parts = ("n-Pentane", "Isopentane", "n-Heptane", "Toluene")
    mean = np.mean([PropsSI("L", "T", 303.15, "P", 3e5, name) for name in parts])
    assert pytest.approx(mean, rel=0.04) == FUEL_CONDUCTIVITY


def test_petrol_s_vapour_has_the_molar_mass_that_is_published():
    """US EPA AP-42, section 7.1: 62 to 68 g/mol for motor petrol [ap_42_7_1]."""
    assert 0.062 <= VAPOUR_MOLAR_MASS <= 0.068
