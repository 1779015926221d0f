"""Where heat enters and leaves, part by part: weighted means, resistances in series, enthalpy, by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.heat_parts import Cooler
from fuelsim.fuel.tables import HIGHEST_TEMPERATURE
from fuelsim.laws.film import outside_coefficient
from fuelsim.system.conditions import Conditions
from fuelsim.system.exchange import Exchange, between, moving_share
from fuelsim.system.heat_exchange import (
    Boiling,
    _conductance,
    _through_the_wall,
    air_around,
    as_liquid_at,
    boiling_at,
    fuel_temperatures,
    heating_per_pressure_lost,
    standing_temperatures,
    surroundings_of_links,
)
from fuelsim.system.operating_points import OperatingPoints

TANK = 310.0


def built(name, layout, car=None, **conditions):
    """Return plumbing, points, property tables and surroundings of a car at some conditions."""
    system = (car or fs.Car.named(name)).system(layout)
    given = {"rpm": [900.0, 3000.0], "tank_temperature": TANK, "air_temperature": 300.0} | conditions
    points = OperatingPoints.of(system.car, system.fuel, system.filled(Conditions(**given)))
    tables = system.fuel.tables()
    return system.plumbing, points, tables, surroundings_of_links(system.car, system.plumbing, tables, points)


@pytest.fixture(scope="module")
def finch():
    return built("finch", "return")


@pytest.fixture(scope="module")
def tables():
    return fs.Fuel.named("summer_e10").tables()


def row(plumbing, name):
    return [link.name for link in plumbing.links].index(name)


def test_air_warms_as_the_car_file_says_and_less_when_the_car_moves():
    """Rises of 40 and 10 K standing; far above 10 m/s those of a cruising car, 18 and 4 K; what is given wins."""
    car = fs.Car.named("finch").with_values(
        {"surroundings.cruising_bay_rise": 18.0, "surroundings.cruising_underfloor_rise": 4.0}
    )
    air, tank, speed = np.array([300.0, 300.0]), np.array([305.0, 306.0]), np.array([0.0, 200.0])
    zones = air_around(car, air, tank, speed)
    assert {name: values.tolist() for name, values in zones.items()} == {
        "tank": [305.0, 306.0],
        "ambient": [300.0, 300.0],
        "underfloor": [310.0, pytest.approx(304.0, abs=1e-6)],
        "bay": [340.0, pytest.approx(318.0, abs=1e-6)],
        "coolant": [300.0, 300.0],
    }
    given = air_around(car, air, tank, speed, bay_temperature=air + 1.0, underfloor_temperature=air + 2.0)
    assert (given["bay"].tolist(), given["underfloor"].tolist()) == ([301.0, 301.0], [302.0, 302.0])
    cooled = dataclasses.replace(car, cooler=Cooler(coolant_temperature="8 degC"))
    assert air_around(cooled, air, tank, speed)["coolant"] == pytest.approx([281.15, 281.15])


def test_a_value_lies_between_standing_and_moving_by_its_share():
    assert between(10.0, None, 0.7) == 10.0
    assert between(10.0, 30.0, 0.25) == 15.0
    # One scale of speed on, 1 - 1/e of the way is gone.
    assert moving_share(10.0) == pytest.approx(0.6321, abs=1e-4)


def test_air_and_engine_metal_act_by_their_conductances(finch):
    """0.75 W/K to 340 K and 0.45 W/K to 368.15 K (95 degC): 1.2 W/K to (0.75 x 340 + 0.45 x 368.15)/1.2."""
    _, points, _, _ = finch
    mean, total = _through_the_wall(Exchange("bay", 0.75, engine_conductance=0.45), np.full(2, 340.0), points)
    assert total == pytest.approx(1.2)
    assert mean == pytest.approx([350.55625, 350.55625])
    air, alone = _through_the_wall(Exchange("bay", 0.75), np.full(2, 340.0), points)
    assert (air.tolist(), alone) == ([340.0, 340.0], 0.75)


def test_a_cooler_exchanges_more_in_the_airstream():
    """12 W/K standing, 30 W/K cruising, 63.2 % of the way at 10 m/s."""
    _, points, _, _ = built("finch", "return", vehicle_speed=[0.0, 10.0])
    _, conductance = _through_the_wall(Exchange("ambient", 12.0, moving_conductance=30.0), np.full(2, 300.0), points)
    assert conductance == pytest.approx([12.0, 12.0 + 0.63212 * 18.0], abs=1e-3)


def test_outside_film_and_wall_of_a_line_are_in_series():
    """A hose of 1.5 m with 6 mm bore and 3 mm of wall (0.24 W/m/K): ln 2/(2 pi k) of wall and 1/(pi D h) of film, in
    an airstream of 30 % of the car's speed under the floor, which the fuel in the tank and the air warm and cool."""
    car = fs.Car.named("finch").with_values({"feed.material": "rubber", "feed.length": "1.5 m"})
    plumbing, points, _, around = built("", "return", car, vehicle_speed=[0.0, 20.0])
    film = outside_coefficient(0.012, np.array([0.0, 6.0]), TANK, around.temperature[row(plumbing, "feed")], 0.9)
    wall = np.log(2.0) / (2.0 * np.pi * 0.24)
    by_hand = 1.5 / (wall + 1.0 / (np.pi * 0.012 * film))
    assert around.conductance[row(plumbing, "feed")] == pytest.approx(by_hand, rel=1e-6)
    assert around.temperature[row(plumbing, "feed")][0] == pytest.approx(310.0)
    assert points.atmospheric_pressure == pytest.approx(101325.0)


def test_lines_with_walls_are_lined_and_others_are_not():
    """The finch has its feed and its return of steel tube, 6 mm bore and 3 m long."""
    car = fs.Car.named("finch").with_values({"return_line.heat_conductance": "0.4 W/m/K", "feed.exhaust_flux": 1000.0})
    plumbing, _, _, around = built("", "return", car)
    assert around.lined.tolist() == [row(plumbing, "feed")]
    assert around.bore.tolist() == [[6e-3, 6e-3]]
    assert around.wetted_area == pytest.approx(np.full((1, 2), 0.0565487), rel=1e-5)
    assert around.conductance[row(plumbing, "return_line")] == pytest.approx([1.2, 1.2])
    # Half the outside of 3 m of 7.8 mm faces 1 kW/m2.
    assert around.radiation[row(plumbing, "feed")] == pytest.approx(36.757, abs=1e-3)
    assert np.count_nonzero(around.radiation) == 2
    rail = row(plumbing, "rail_bore")
    assert around.temperature[rail] == pytest.approx((0.75 * 340.0 + 0.45 * 368.15) / 1.2)


def test_a_pot_exchanges_heat_with_the_air_around_it_and_no_other_station_does():
    car = fs.Car.named("plover").with_values({"pots.pot.heat_conductance": "1.7 W/K"})
    plumbing, _, _, around = built("", "pot", car)
    heat, pot = around.stations, plumbing.stations.index("pot")
    assert heat.conductance[pot].tolist() == [1.7, 1.7]
    assert heat.surroundings_temperature[pot].tolist() == [312.0, 312.0]
    assert np.count_nonzero(heat.conductance) == 2
    assert not np.any(heat.power)
    assert built("finch", "return")[3].stations is None


def test_the_film_inside_stands_in_series_with_what_is_outside(finch):
    """At rest a round tube has the Nusselt number 3.66 of laminar flow (uniform wall) up to 4.36 (uniform flux): with
    nothing else in the way 3 m let 3.66 pi k L pass, k = 0.115 W/m/K, and with as much again outside half of that."""
    plumbing, _, _, around = finch
    lines = [row(plumbing, "feed"), row(plumbing, "return_line")]
    still = np.zeros((len(plumbing.links), 2))
    bare = dataclasses.replace(around, conductance=np.full_like(around.conductance, 1e12))
    film = _conductance(bare, still)[lines]
    low, high = (nusselt * np.pi * 0.115 * 3.0 for nusselt in (3.66, 4.36))
    assert np.all((film >= low * (1 - 1e-6)) & (film <= high * (1 + 1e-6)))
    half = dataclasses.replace(around, conductance=np.full_like(around.conductance, film[0, 0]))
    assert _conductance(half, still)[lines] == pytest.approx(0.5 * film)
    others = np.setdiff1d(np.arange(len(still)), lines)
    assert np.all(_conductance(half, still)[others] == film[0, 0])
    assert np.all(half.conductance == film[0, 0])
    # Turbulent flow lets more pass, either way through the line.
    flow = np.full_like(still, 0.02)
    assert np.all(_conductance(bare, flow)[lines] > 3.0 * film)
    assert _conductance(bare, -flow) == pytest.approx(_conductance(bare, flow))


class OneFuel:
    """Property tables of a made-up fuel of constant heat capacity whose density falls with a power of temperature."""

    def __init__(self, power):
        self.power = power

    def density(self, temperature):
        return 750.0 * (np.asarray(temperature) / 300.0) ** -self.power

    def heat_capacity(self, temperature):
        return np.full(np.shape(temperature), 2000.0)


def test_throttling_warms_what_does_not_expand_and_leaves_what_expands_like_a_gas():
    """(1 - alpha T)/(rho c): 1/(750 x 2000) K/Pa without expansion, nothing where alpha is 1/T, as in an ideal gas, and
    cooling beyond."""
    temperature = np.array([300.0])
    assert heating_per_pressure_lost(OneFuel(0.0), temperature) == pytest.approx([1.0 / 1.5e6])
    assert heating_per_pressure_lost(OneFuel(0.3), temperature) == pytest.approx([0.7 / 1.5e6], rel=1e-4)
    assert heating_per_pressure_lost(OneFuel(1.0), temperature) == pytest.approx([0.0], abs=1e-4 / 1.5e6)
    assert heating_per_pressure_lost(OneFuel(1.5), temperature) == pytest.approx([-0.5 / 1.5e6], rel=1e-3)


def test_fuel_that_goes_round_takes_up_what_the_pump_spends_and_what_the_lines_give(finch):
    """First law round the circle, adiabatic: all the pump's power is in what comes back to the tank's pressure, and
    between the two the fuel warms by throttling alone."""
    plumbing, points, _, around = finch
    links = [link.name for link in plumbing.links]
    bare = dataclasses.replace(around, conductance=np.zeros_like(around.conductance), lined=around.lined[:0])
    bare = dataclasses.replace(bare, bore=bare.bore[:0], wetted_area=bare.wetted_area[:0])
    flow = np.full((len(links), 2), 0.02)
    flow[links.index("injectors")] = 0.0
    pressure = np.full((len(plumbing.stations), 2), 101325.0)
    for name, gauge in (("pump_outlet", 3.2e5), ("filter_outlet", 3.1e5), ("rail_inlet", 3.05e5), ("rail", 3.04e5)):
        pressure[plumbing.stations.index(name)] += gauge
    heated = fuel_temperatures(
        plumbing,
        bare,
        flow,
        pressure,
        np.full((1, 2), 63.0),
        points.tank_temperature,
        {},
        Boiling(np.full_like(flow, 400.0), np.ones_like(flow)),
    )
    warming = around.fuel.heating_per_pressure
    capacity = 0.02 * around.fuel.heat_capacity
    back = heated.outlets[links.index("return_line")]
    # The least conductance that a heated part has, 0.05 W/K to surroundings that count as adiabatic, takes up to 0.1 %.
    assert back - TANK == pytest.approx(63.0 / capacity, rel=2e-3)
    at = dict(zip(plumbing.stations, heated.nodes, strict=True))
    assert at["rail"] - at["pump_outlet"] == pytest.approx(warming * 0.16e5, rel=1e-6)
    assert at["return_inlet"] - at["rail"] == pytest.approx(warming * 3.04e5, rel=1e-6)
    assert at["pump_outlet"] - TANK == pytest.approx(63.0 / capacity - warming * 3.2e5, rel=2e-3)


def test_flow_the_other_way_is_warmed_by_the_pressure_it_loses(finch):
    plumbing, points, _, around = finch
    links = [link.name for link in plumbing.links]
    bare = dataclasses.replace(around, conductance=np.zeros_like(around.conductance), lined=around.lined[:0])
    bare = dataclasses.replace(bare, bore=bare.bore[:0], wetted_area=bare.wetted_area[:0])
    flow = np.zeros((len(links), 2))
    for name in ("strainer", "pump", "filter", "feed", "rail_bore", "regulator", "return_line"):
        flow[links.index(name)] = -0.01
    pressure = np.full((len(plumbing.stations), 2), 1e5)
    pressure[plumbing.stations.index("return_inlet")] = 0.6e5
    still = np.zeros_like(flow)
    heated = fuel_temperatures(
        plumbing, bare, flow, pressure, still[:1], points.tank_temperature, {}, Boiling(still + TANK, still + 1.0)
    )
    at = dict(zip(plumbing.stations, heated.nodes, strict=True))
    assert at["return_inlet"] - TANK == pytest.approx(0.4e5 * around.fuel.heating_per_pressure, rel=1e-6)


def test_fuel_that_boils_is_exchanged_with_by_the_share_of_the_conductance_that_acts(finch):
    """3 W/K of the feed, of which 0.4 act, draw 0.02 kg/s towards 350 K: by exp(-UA/C) of 1.2 W/K."""
    plumbing, points, _, around = finch
    links, feed = [link.name for link in plumbing.links], row(plumbing, "feed")
    conductance = np.zeros_like(around.conductance)
    conductance[feed] = 3.0
    bare = dataclasses.replace(
        around, conductance=conductance, lined=around.lined[:0], bore=around.bore[:0], wetted_area=around.bore[:0]
    )
    flow = np.full((len(links), 2), 0.02)
    flow[links.index("injectors")] = 0.0
    heated = fuel_temperatures(
        plumbing,
        bare,
        flow,
        np.full((len(plumbing.stations), 2), 1e5),
        np.zeros((1, 2)),
        points.tank_temperature,
        {},
        Boiling(np.full_like(flow, 350.0), np.full_like(flow, 0.4)),
    )
    passed = np.exp(-1.2 / (0.02 * around.fuel.heat_capacity))
    assert heated.outlets[feed] == pytest.approx(350.0 - (350.0 - TANK) * passed, abs=1e-6)


def test_a_pot_of_given_temperature_passes_it_on():
    plumbing, points, _, around = built("plover", "pot")
    links = [link.name for link in plumbing.links]
    flow = np.full((len(links), 2), 50.0)
    heated = fuel_temperatures(
        plumbing,
        around,
        flow,
        np.full((len(plumbing.stations), 2), 1e5),
        np.zeros((3, 2)),
        points.tank_temperature,
        {"pot": np.array([321.0, 322.0])},
        Boiling(np.full_like(flow, 300.0), np.ones_like(flow)),
    )
    at = dict(zip(plumbing.stations, heated.nodes, strict=True))
    assert at["pot"].tolist() == [321.0, 322.0]
    assert at["lift_inlet"] == pytest.approx(points.tank_temperature, abs=0.01)
    assert at["tee"] == pytest.approx([321.0, 322.0], abs=0.05)


def test_still_fuel_is_as_warm_as_what_is_around_it(finch):
    plumbing, points, _, around = finch
    temperatures = standing_temperatures(plumbing, around, points, around.temperature)
    for name in ("feed", "rail_bore", "return_line"):
        at = row(plumbing, name)
        assert temperatures.outlets[at] == pytest.approx(around.temperature[at], abs=1e-6)


def test_boiling_fuel_exchanges_heat_by_its_true_temperature(tables):
    """UA (T_around - T_true) at the mean state of a link, whatever is linear in the temperature as if all liquid."""
    at = np.array([[345.0, 338.0, 330.0, 329.3, 300.0]])
    pressure, around = np.full_like(at, 95e3), np.array([[360.0, 325.0, 345.0, 350.0, 340.0]])
    driven = boiling_at(tables, at, pressure, around)
    true = np.asarray(tables.temperature_after_drop(at, pressure))
    assert np.any(true < at - 3.0)
    assert driven.slope * (driven.equilibrium - at) == pytest.approx(around - true, abs=1e-6)
    assert np.all((driven.slope > 0.0) & (driven.slope <= 1.0))
    # Where it is far into boiling it tends to what fuel as warm as its surroundings would have as if all liquid.
    tends = as_liquid_at(tables, around[0, :2], pressure[0, :2])
    assert driven.equilibrium[0, :2] == pytest.approx(tends, abs=1e-3)
    # Fuel that does not boil tends to its surroundings.
    assert (driven.equilibrium[0, -1], driven.slope[0, -1]) == (340.0, 1.0)
    none = boiling_at(tables, np.array([[300.0]]), np.array([[95e3]]), np.array([[333.0]]))
    assert (none.equilibrium.tolist(), none.slope.tolist()) == ([[333.0]], [[1.0]])


def test_fuel_whose_surroundings_keep_it_where_it_is_stays_there(tables):
    """At equilibrium already, nothing is exchanged."""
    pressure = np.array([[95e3]])
    at = as_liquid_at(tables, np.array([340.0]), pressure[0])[None]
    driven = boiling_at(tables, at, pressure, tables.temperature_after_drop(at, pressure))
    assert driven.equilibrium == pytest.approx(at, abs=1e-3)


def test_the_temperature_as_if_all_liquid_is_that_which_falls_to_the_true_one(tables):
    """Inverse of the isenthalpic drop; fuel that does not boil has its own."""
    pressure = np.full(4, 95e3)
    true = np.array([290.0, 322.0, 340.0, 360.0])
    at = as_liquid_at(tables, true, pressure)
    assert at[0] == 290.0
    assert np.all(np.diff(at - true) >= -1e-6)
    assert np.asarray(tables.temperature_after_drop(at, pressure)) == pytest.approx(true, abs=2e-4)


def test_what_has_boiled_away_beyond_the_tables_warms_kelvin_by_kelvin(tables):
    pressure = np.full(3, 95e3)
    end = float(tables.temperature_after_drop(HIGHEST_TEMPERATURE, 95e3))
    at = as_liquid_at(tables, end + np.array([0.0, 5.0, 40.0]), pressure)
    assert at == pytest.approx(HIGHEST_TEMPERATURE + np.array([0.0, 5.0, 40.0]), abs=1e-3)
    driven = boiling_at(tables, at[None], pressure[None], np.full((1, 3), end + 50.0))
    assert driven.slope * (driven.equilibrium - at) == pytest.approx(np.array([[50.0, 45.0, 10.0]]), abs=1e-2)


def test_surroundings_of_some_points_are_those_of_all_at_them():
    plumbing, _, _, around = built("plover", "pot", rpm=[900.0, 2000.0, 3000.0], vehicle_speed=[0.0, 10.0, 20.0])
    some = around.take(np.array([2, 0]))
    for name in ("temperature", "conductance", "radiation", "bore", "wetted_area"):
        assert np.array_equal(getattr(some, name), getattr(around, name)[:, [2, 0]])
    assert np.array_equal(some.lined, around.lined)
    assert np.array_equal(some.stations.conductance, around.stations.conductance[:, [2, 0]])
    assert np.array_equal(some.fuel.heat_capacity, np.broadcast_to(around.fuel.heat_capacity, 3)[[2, 0]])
    assert plumbing.pots
