"""Inputs of a drive: sun and road on the tank, air conditioning, creeping, coils, a car parked before the start."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.climate import hot_day
from fuelsim.system.exchange import moving_share
from fuelsim.transients.schedule import Phase, Schedule, typical_phase
from fuelsim.transients.sun import clear_sky_irradiance, sun_over_noon
from fuelsim.transients.world import World

STEFAN_BOLTZMANN = 5.670374419e-8


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def parked(hours, **keys):
    return Phase(name="parked", duration=f"{hours} h", engine="stopped", **keys)


def sealed_without_walls(car, **keys):
    """Return a car whose tank exchanges nothing with the air and whose vent hardly lets vapour out."""
    return car.with_values(
        {
            "tank.heat_conductance": 0.0,
            "tank.vent.bore": "0.1 mm",
            "tank.vent.pressure_opening": "20 kPa",
            "surroundings.air_temperature": "25 degC",
            **keys,
        }
    )


# ---- sun and road --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("zenith", "irradiance"), [(0.0, 1035.1), (30.0, 888.3), (60.0, 487.9), (85.0, 48.6)])
def test_a_clear_sky_sends_what_haurwitz_found(zenith, irradiance):
    """1098 cos z exp(-0.059/cos z), worked out by hand [haurwitz_1945]."""
    assert float(clear_sky_irradiance(np.cos(np.radians(zenith)))) == pytest.approx(irradiance, abs=0.1)


def test_the_sun_rises_at_five_and_sets_at_seven_in_the_evening():
    """cos H = -tan(30 deg) tan(20 deg): 102.1 degrees, 6.8 h from noon (sphere of the sky, by hand)."""
    assert np.all(sun_over_noon(np.array([4.0, 5.0, 19.3, 23.0]) * 3600.0) == pytest.approx(0.0, abs=1e-3))
    assert np.all(sun_over_noon(np.array([5.7, 18.3]) * 3600.0) > 0.01)
    morning, evening = sun_over_noon(np.array([9.0, 15.0]) * 3600.0)
    assert morning == pytest.approx(evening)


def test_sun_on_a_tank_without_walls_warms_it_by_its_heat_over_the_capacity(finch):
    """0.1 m2 under 1000 W/m2 for an hour: 360 kJ, all stored (heat balance); half of it where half of the sun comes."""
    car = sealed_without_walls(finch, **{"tank.sunlit_area": "0.1 m2"})
    result = fs.drive(car, "return", Schedule.of([parked(1.0)]))
    assert result.ledger.sun == pytest.approx(360e3, rel=1e-6)
    capacity = result.fuel_mass[0] * float(car.fuel.fuel().heat_capacity(300.0))
    warmed = result.tank_temperature[-1] - result.tank_temperature[0]
    assert warmed == pytest.approx(360e3 / capacity, rel=0.03)
    assert result.ledger.error < 1e-3
    half = fs.drive(car, "return", Schedule.of([parked(1.0, sun=0.5)]))
    assert half.ledger.sun == pytest.approx(180e3, rel=1e-6)


def test_a_driven_road_radiates_by_the_fourth_power_and_a_shaded_one_no_more_than_the_air_under_the_floor(finch):
    """sigma A (T_road^4 - T_floor^4) with the road 25 K above air of 25 degC and the floor's air 10 K, by hand."""
    car = finch.with_values(
        {
            "tank.road_facing_area": "0.4 m2",
            "surroundings.air_temperature": "25 degC",
            "surroundings.underfloor_rise": "10 K",
            "surroundings.cruising_underfloor_rise": "10 K",
        }
    )
    driving = fs.drive(car, "return", Schedule.of([typical_phase("jam", "1 h", car)]))
    by_hand = STEFAN_BOLTZMANN * 0.4 * (323.15**4 - 308.15**4)
    assert by_hand == pytest.approx(42.8, abs=0.1)
    assert driving.ledger.road == pytest.approx(by_hand * 3600.0, rel=1e-3)
    jam_then_stop = Schedule.of([typical_phase("jam", "10 min", car), typical_phase("stop", "1 h", car)])
    standing = fs.drive(car, "return", jam_then_stop)
    assert standing.ledger.road == pytest.approx(by_hand * 600.0, rel=2e-3)


def test_a_day_of_sun_follows_the_hours_of_the_climate(finch):
    car = finch.with_values({"tank.sunlit_area": "0.1 m2"})
    noon, night = (
        fs.drive(car, "return", Schedule.of([parked(2.0)], start_time=start), climate=hot_day("madrid"))
        for start in ("11 h", "22 h")
    )
    assert 0.97 * 720e3 < noon.ledger.sun < 720e3
    assert night.ledger.sun == pytest.approx(0.0, abs=1.0)


def test_sun_reaches_tanks_with_pots_too():
    plover = fs.Car.named("plover").with_values({"tank.sunlit_area": "0.1 m2"})
    schedule = Schedule.of([parked(1.0), typical_phase("jam", "10 min", plover)])
    result = fs.drive(plover, "pot", schedule, output_step="5 min")
    assert result.ledger.sun == pytest.approx(0.1 * 1000.0 * 4200.0, rel=1e-3)
    assert result.ledger.error < 1e-3


# ---- parked before the start ---------------------------------------------------------------------------------------


def test_a_car_parked_cold_has_no_hot_engine(finch):
    """Bay and rail of a car that has not run stay at the air's temperature; after a drive they soak."""
    schedule = Schedule.of(
        [parked(2.0), typical_phase("city", "20 min", finch), typical_phase("stop", "30 min", finch)]
    )
    world = World(finch, schedule, None)
    air = float(finch.surroundings.air_temperature)
    assert world.at(0, np.array([0.0, 1200.0, 7200.0])).bay_temperature == pytest.approx(air)
    assert world.at(2, np.array([1200.0])).bay_temperature[0] > air + 50.0
    result = fs.drive(finch, "return", schedule)
    before = result.phase == "parked"
    assert result.temperature["rail"][before] == pytest.approx(air, abs=1e-6)
    assert result.temperature["rail"][-1] > air + 40.0


def test_a_drive_starts_with_the_tank_that_the_sun_has_left(finch):
    """A lumped tank under constant heat goes to T_floor + P/UA with the time constant C/UA (Incropera et al.)."""
    car = sealed_without_walls(
        finch,
        **{
            "tank.heat_conductance": "10 W/K",
            "tank.sunlit_area": "0.12 m2",
            "surroundings.cruising_underfloor_rise": "0 K",
            "surroundings.underfloor_rise": "0 K",
        },
    )
    schedule = Schedule.of([parked(3.0), typical_phase("jam", "10 min", car)])
    result = fs.drive(car, "return", schedule, output_step="10 min")
    start = np.flatnonzero(result.running)[0]
    capacity = result.fuel_mass[0] * float(car.fuel.fuel().heat_capacity(302.0))
    expected = 120.0 / 10.0 * (1.0 - np.exp(-10.0 * 3.0 * 3600.0 / capacity))
    rise = result.tank_temperature[start] - result.air_temperature[start]
    assert rise == pytest.approx(expected, rel=0.05)
    assert rise > 8.0
    shaded = fs.drive(car, "return", Schedule.of([parked(3.0, sun=0.0), *schedule.phases[1:]]), output_step="10 min")
    assert abs(shaded.tank_temperature[start] - shaded.air_temperature[start]) < 0.3


# ---- air conditioning and creeping ---------------------------------------------------------------------------------


def test_air_conditioning_burns_its_power_over_the_slope_of_fuel_over_power(finch):
    """2.5 kW x 230 g/kWh = 575 g an hour of petrol beside idle (by hand), more by the ratio of air-fuel ratios."""
    burnt = []
    for share in (0.0, 1.0):
        jam = Schedule.of([typical_phase("jam", "1 h", finch, air_conditioning=share)])
        result = fs.drive(finch, "returnless_tank", jam, tank_temperature="25 degC")
        evaporated = result.vapour_lost[-1]
        burnt.append(result.fuel_mass[0] - result.fuel_mass[-1] - evaporated)
    plain, cooled = burnt
    of_fuel = finch.engine.reference_air_fuel_ratio / finch.fuel.fuel().stoichiometric_air_fuel_ratio
    assert cooled - plain == pytest.approx(0.575 * of_fuel, rel=0.02)


@pytest.mark.parametrize("altitude", [0.0, 2000.0])
@pytest.mark.parametrize("load", [0.0, 0.15, 0.5])
def test_added_power_takes_the_same_fuel_at_every_part_load_and_altitude(finch, load, altitude):
    """A straight Willans line: fuel grows by power times slope, by hand."""
    engine = finch.engine
    pressure = 101325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.25588
    flow = [
        float(engine.demand(1500.0, each, atmospheric_pressure=pressure).fuel_mass_flow)
        for each in (load, float(engine.load_with(1500.0, load, 2000.0, atmospheric_pressure=pressure)))
    ]
    assert flow[1] - flow[0] == pytest.approx(2.0 * 0.230 / 3600.0, rel=1e-6)


def test_more_power_than_the_engine_has_is_full_load(finch):
    assert float(finch.engine.load_with(800.0, 0.0, 50e3)) == 1.0
    assert float(finch.engine.load_with(800.0, 0.3, 0.0)) == pytest.approx(0.3)


def test_creeping_and_air_conditioning_add_up_and_warm_the_bay_in_traffic_only(finch):
    schedule = Schedule.of(
        [
            typical_phase("jam", "2 h", finch, creep_power="2 kW", air_conditioning=1.0),
            typical_phase("motorway", "2 h", finch, air_conditioning=1.0),
        ]
    )
    world = World(finch, schedule, None)
    air, around = float(finch.surroundings.air_temperature), finch.surroundings
    share = float(moving_share(2.0 / 3.6))  # a jam moves at 2 km/h
    in_traffic = (1.0 - share) * (around.bay_rise + 8.0) + share * around.cruising_bay_rise
    jam, motorway = world.at(0, np.array([7200.0])), world.at(1, np.array([7200.0]))
    assert jam.bay_temperature[0] - air == pytest.approx(in_traffic, abs=0.01)
    assert motorway.bay_temperature[0] - air == pytest.approx(around.cruising_bay_rise, abs=2.0)
    temperature = float(jam.air_temperature[0])
    both = float(finch.engine.load_with(800.0, 0.0, 4500.0, air_temperature=temperature))
    assert jam.load[0] == pytest.approx(both)


# ---- coils ---------------------------------------------------------------------------------------------------------


def test_coils_warm_a_dead_ended_rail_by_their_heat_over_the_flow(finch):
    """Four coils of 12 ohm at 13.5 V, 15.2 W each while switched on, times duty and share, over m c (by hand)."""
    warm, cold = (
        finch.with_values({"injectors.coil_heat_share": share}).system("returnless_tank").solve(rpm=5500.0, load=1.0)
        for share in (0.5, 0.0)
    )
    heat = 0.5 * float(warm.injector_duty) * 4 * 13.5**2 / 12.0
    capacity = float(cold.burnt_mass_flow) * float(finch.fuel.fuel().heat_capacity(330.0))
    # The rail gives part of it to the bay: its conductances, 1.2 W/K, are small beside the flow's.
    expected = heat / (capacity + 0.5 * 1.2)
    assert float(warm.temperature["rail"] - cold.temperature["rail"]) == pytest.approx(expected, rel=0.06)
    assert heat > 10.0


def test_a_driver_that_limits_the_current_heats_less(finch):
    injectors = finch.with_values({"injectors.coil_resistance": "2.4 ohm", "injectors.hold_current": "1 A"}).injectors
    assert float(injectors.coil_power(13.5)) == pytest.approx(2.4)  # I^2 R
    assert float(finch.injectors.coil_power(13.5)) == pytest.approx(13.5**2 / 12.0)
