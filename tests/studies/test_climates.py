"""Which layout survives which climate: limits of boiling, verdicts over bands, and what a cell depends on.

Outside facts: boiling tanks of 62 kPa petrol, remedies and the classes of petrol standards, each with its source beside
it. The laws that hold whatever the numbers are are properties: more volatile, hotter or higher is never better.
"""

from __future__ import annotations

import functools
import pickle
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.climate import Climate, hot_day, places
from fuelsim.fuel.classes import volatility_classes
from fuelsim.studies import climates
from fuelsim.studies.bands import band_inputs, car_at
from fuelsim.studies.climate_limits import boiling_limit
from fuelsim.studies.climates import Cell, ClimateTable, Survival, Verdict, over_climates
from fuelsim.studies.drive_bands import EventRange, drive_band
from fuelsim.transients.drive import drive
from fuelsim.transients.events import EventName
from fuelsim.transients.schedule import Schedule, typical_phase

FINCH, HERON = fs.Car.named("finch"), fs.Car.named("heron")
ZERO = 273.15


def with_petrol(car, vapour_pressure):
    return car.with_values({"fuel": car.fuel.with_vapour_pressure(vapour_pressure)})


@functools.cache
def limit(name="finch", layout="return", kpa=62.0, altitude=0.0, celsius=35.0, opening=0.0, minutes=60):
    car = with_petrol(fs.Car.named(name), kpa * 1e3)
    car = car.with_values({"tank.vent": fs.TankVent(pressure_opening=opening)}) if opening else car
    jam = Schedule.of([typical_phase("jam", 60.0 * minutes, car)], start_time="13 h")
    return boiling_limit(car, layout, jam, Climate(design_temperature=celsius + ZERO, altitude=altitude))


def most_volatile(standard, name):
    """Return the greatest DVPE of a class of a petrol standard, Pa."""
    found = next(item for item in volatility_classes() if (item.standard, item.name) == (standard, name))
    return found.limits_of("vapour_pressure").most


@pytest.mark.parametrize(("altitude", "celsius"), [(0.0, 50.7), (3236.0, 38.8)])
def test_a_vented_tank_of_62_kpa_e10_boils_where_the_published_equilibrium_has_it(altitude, celsius):
    """E10 of 62 kPa, UNIFAC: 50.7 degC at sea level and 38.8 at 3236 m (AP-42: 52 and 39 for petrol without ethanol)
    [ap_42_7_1]."""
    found = limit(altitude=altitude, celsius=20.0, minutes=10)
    assert found.station == "tank"
    assert found.tank_temperature - ZERO == pytest.approx(celsius, abs=0.5)


@pytest.mark.long
def test_a_tank_cap_and_a_milder_petrol_are_worth_what_remedies_say():
    """62 in place of 90 kPa 12.7 K, a cap of 7 kPa 2.4 K at most [computed].

    Of a fresh fuel: one that has stood in a hot tank has lost light ends, and the differences become smaller.
    """
    cool = {"celsius": 20.0, "minutes": 10}
    assert limit(**cool).margin - limit(kpa=90.0, **cool).margin == pytest.approx(12.7, abs=1.5)
    assert 0.0 < limit(opening=7e3).margin - limit().margin < 2.9


@pytest.mark.long
def test_the_limit_is_the_vapour_pressure_at_which_the_drive_begins_to_boil():
    jam = Schedule.of([typical_phase("jam", "1 h", FINCH)], start_time="13 h")
    day = Climate(design_temperature="44 degC")
    greatest = boiling_limit(with_petrol(FINCH, 50e3), "return", jam, day).vapour_pressure
    names = [
        {event.name for event in drive(with_petrol(FINCH, greatest + change), "return", jam, climate=day).events}
        for change in (-3e3, 3e3)
    ]
    assert EventName.TANK_BOILS not in names[0]
    assert EventName.TANK_BOILS in names[1]


@pytest.mark.parametrize(
    ("name", "layout"),
    [
        ("finch", "returnless_tank"),
        pytest.param("heron", "return", marks=pytest.mark.long),
    ],
)
def test_more_volatile_hotter_or_higher_never_raises_a_margin(name, layout):
    by_fuel = [limit(name, layout, kpa=kpa) for kpa in (48.0, 62.0, 90.0)]
    by_heat = [limit(name, layout, celsius=celsius) for celsius in (28.0, 35.0, 44.0)]
    by_altitude = [limit(name, layout, altitude=altitude) for altitude in (0.0, 800.0, 2240.0)]
    for row in (by_fuel, by_heat, by_altitude):
        assert np.all(np.diff([each.margin for each in row]) < 0.0)
        assert np.all(np.diff([each.pressure_margin for each in row]) < 0.0)
    for row in (by_heat, by_altitude):
        assert np.all(np.diff([each.vapour_pressure for each in row]) < 0.0)
    # What boils does not depend on what is in the tank.
    assert [each.vapour_pressure for each in by_fuel] == pytest.approx([by_fuel[0].vapour_pressure] * 3, rel=1e-4)
    assert np.all(np.diff([each.tank_temperature for each in by_fuel]) < 0.0)


def test_an_equal_set_pressure_lowers_rail_margins_alone():
    jam = Schedule.of([typical_phase("jam", "20 min", FINCH)])
    day = Climate(design_temperature="20 degC")
    own, equal = (boiling_limit(FINCH, "returnless_tank", jam, day, each) for each in (400e3, 20e3))
    assert own.set_pressure == pytest.approx(400e3)
    assert equal.margin_station in ("rail", "rail_inlet")
    assert equal.margin < own.margin
    assert equal.vapour_pressure == own.vapour_pressure


@pytest.mark.parametrize("place", places())
def test_what_is_sold_in_summer_is_never_more_volatile_than_in_winter(place):
    day = hot_day(place)
    assert day.summer_vapour_pressure <= day.winter_vapour_pressure


def test_summer_petrol_is_within_the_class_of_its_standard():
    """Classes of ASTM D4814 [astm_d4814_summary] and EN 228 [en_228_summary]; which place has which is from memory."""
    for place, standard, name in (
        ("phoenix", "ASTM D4814", "AA"),
        ("yuma", "ASTM D4814", "A"),
        ("las_vegas", "ASTM D4814", "A"),
        ("denver", "ASTM D4814", "A"),
        ("miami", "ASTM D4814", "A"),
        ("seville", "EN 228", "A"),
        ("madrid", "EN 228", "A"),
        ("athens", "EN 228", "A"),
        ("paris", "EN 228", "A"),
        ("munich", "EN 228", "A"),
    ):
        assert hot_day(place).summer_vapour_pressure <= most_volatile(standard, name), place


@pytest.mark.long
def test_the_wrong_fuel_is_never_better_and_a_cool_place_s_own_fuel_is_carried():
    """The lesson of the trade: winter petrol on a summer day is what locks (common practice) [common_practice]."""
    row = over_climates([FINCH], ["london"], ["return"], progress=False).rows[0]
    assert row.middle.survival is Survival.LIQUID
    assert row.wrong_fuel.survival > row.middle.survival
    assert row.wrong_fuel.vapour_lost > row.middle.vapour_lost
    assert [day.survival for day in row.sides] == sorted(day.survival for day in row.sides)
    assert [day.vapour_pressure for day in row.sides] == pytest.approx([57e3, 64e3, 71e3], rel=1e-3)
    told = over_climates([FINCH], ["london"], ["return"], bands=False, wrong_fuel=False, progress=False)
    assert told.rows[0].middle == row.middle


def test_a_tank_that_would_boil_before_the_start_is_a_verdict():
    """90 kPa E10 boils near 38 degC at sea level (62 kPa at 50.7, 12.7 K less) [computed]."""
    day = climates._day(with_petrol(FINCH, 90e3), "return", hot_day("kuwait"))
    assert (day.verdict, day.verdict_time) == (Verdict.TANK_BOILS, 0.0)


@pytest.fixture
def short_day(monkeypatch):
    """A day of ten minutes in a jam, where what counts is that cells are worked on, not what becomes of them."""

    def jam(car):
        return Schedule.of([typical_phase("jam", "10 min", car)], start_time="13 h")

    monkeypatch.setattr(climates, "traffic_day", jam)


@pytest.mark.usefixtures("short_day")
def test_the_same_numbers_come_from_an_executor():
    asked = {"bands": False, "wrong_fuel": False, "progress": False}
    plain = over_climates([FINCH], ["london", "madrid"], ["return"], **asked)
    with ThreadPoolExecutor(2) as executor:
        assert over_climates([FINCH], ["london", "madrid"], ["return"], executor=executor, **asked) == plain
    cell = Cell("london", FINCH, "return")
    work = pickle.loads(
        pickle.dumps(functools.partial(climates._row, bands=False, wrong_fuel=False, uncertainty=False))
    )
    assert pickle.loads(pickle.dumps(work(cell))) == plain.rows[0]


@pytest.mark.usefixtures("short_day")
def test_an_interruption_keeps_the_finished_cells_and_the_table_says_so(monkeypatch):
    finished = over_climates([FINCH], ["london"], ["return"], bands=False, wrong_fuel=False, progress=False).rows[0]

    def until_the_second(cell, **_):
        if cell.place != "london":
            raise KeyboardInterrupt
        return finished

    monkeypatch.setattr(climates, "_row", until_the_second)
    found = over_climates([FINCH], ["london", "madrid"], ["return"], progress=False)
    assert found.interrupted
    assert found.rows == [finished]
    assert found.missing == [("madrid", "Finch", "return")]
    assert found.table()["outcome"].tolist() == ["stays liquid", "not run"]
    assert set(found.table()["stopped_early"]) == {"stopped early: 1 of 2 cells"}


def test_an_unknown_place_is_refused_before_anything_is_run():
    with pytest.raises(fs.InputError, match="did you mean 'madrid'"):
        over_climates([FINCH], ["london", "madird"])


def test_a_table_without_rows_is_a_table():
    assert len(ClimateTable([], missing=[("madrid", "Finch", "return")]).table()) == 1


def test_events_of_a_drive_lie_between_those_of_the_ends_of_its_bands():
    """What warms or boils more comes sooner: of every event the adverse time is at most that of the middle."""
    car = with_petrol(FINCH, 60e3)
    jam = Schedule.of([typical_phase("jam", "80 min", car)], start_time="13 h")
    found = drive_band(car, "return", jam, climate=hot_day("kuwait"), output_step="2 min")
    boils = next(item for item in found.events if item.name is EventName.TANK_BOILS)
    assert boils.adverse < boils.middle < boils.favourable
    assert boils.middle == next(event.time for event in found.middle.events if event.name is EventName.TANK_BOILS)
    assert "tank boils" in found.sentence()
    assert found.table()["range"].tolist() == [item.when() for item in found.events]
    assert "tank" in found.plot().axes[0].get_ylabel()


def test_a_range_is_told_in_minutes():
    assert (
        EventRange(EventName.VAPOUR_LOCK, "", 2640.0, 2100.0, 1860.0).sentence() == "vapour lock between 31 and 44 min"
    )
    assert EventRange(EventName.LEAN, "", np.inf, np.inf, np.inf).when() == "never"


def test_a_car_at_a_side_of_its_bands_has_all_inputs_there():
    inputs = band_inputs(HERON)
    adverse = car_at(HERON, inputs, "adverse")
    assert adverse.fuel.vapour_pressure == pytest.approx(float(HERON.fuel.fuel().dvpe()) + 7e3)
    assert adverse.surroundings.bay_rise > HERON.surroundings.bay_rise
    assert car_at(HERON, inputs, "middle") is HERON
