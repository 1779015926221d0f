"""Where the heat of a drive comes from: pumps, rails, lines, walls; conservation and hand calculations."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.heat_sources import HeatSources, heat_sources
from fuelsim.transients.schedule import Schedule, typical_phase

CARS = ("finch", "heron")


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


def jam(car, layout, duration="1 h", **keys):
    return fs.drive(car, layout, Schedule.of([typical_phase("jam", duration, car)]), output_step="5 min", **keys)


@pytest.mark.parametrize("name", CARS)
def test_all_heat_that_enters_the_plumbing_comes_back_or_leaves_with_the_burnt_fuel(name):
    """Conservation of energy, at every point of every layout without pots."""
    car = fs.Car.named(name)
    for layout in car.layouts():
        run = car.system(layout).solve(
            rpm=[800.0, 3000.0, 5000.0],
            load=[0.0, 0.3, 1.0],
            tank_temperature=[300.0, 313.0, 320.0],
            air_temperature=308.0,
        )
        sources = heat_sources(run)
        assert sources.returned == pytest.approx(run.tank_heat_flow, rel=1e-6, abs=1e-3)
        assert np.all(sources.pump_heat > 0.0)


@pytest.mark.parametrize("layout", ["return", "returnless_tank", "returnless_bay"])
def test_sources_walls_vapour_and_warming_close_within_a_thousandth(finch, layout):
    """Conservation: the rows of the table sum to nothing within 0.1 % of all heat that moved."""
    car = finch.with_values(
        {"tank.sunlit_area": "0.1 m2", "tank.road_facing_area": "0.3 m2", "tank.radiated_heat": "40 W"}
    )
    result = jam(car, layout)
    ledger = result.ledger
    assert ledger.error + ledger.source_error < 1e-3
    table = result.heat_table(units="SI")[f"{layout}_J"]
    into_plumbing = table.loc["pumps":"burnt fuel took along"].sum()
    assert into_plumbing == pytest.approx(table["= returning fuel"], abs=1e-3 * ledger.moved)
    into_tank = table.loc["= returning fuel":"went into vapour"].sum()
    assert into_tank == pytest.approx(table["= warmed the fuel"], abs=1e-3 * ledger.moved)
    assert table["exhaust"] == pytest.approx(40.0 * 3600.0)


def test_balances_close_while_the_tank_boils():
    heron = fs.Car.named("heron")
    ledger = jam(heron, "return", "2 h").ledger
    assert ledger.evaporation > 200e3
    assert ledger.error + ledger.source_error < 1e-3


def test_the_pump_in_the_tank_brings_all_of_its_electrical_power(finch):
    """A submerged motor has no other way to lose heat (heat balance); volts times amperes, by hand."""
    result = jam(finch, "return")
    power = np.trapezoid(result.pump_power, result.time)
    assert result.ledger.pump_heat == pytest.approx(power, rel=1e-3)


def test_a_rail_takes_its_conductances_times_the_differences(finch):
    """Q = UA_air (T_bay - T) + UA_metal (T_metal - T) at the mean temperature of the fuel, by hand: at 140 L/h the
    fuel warms by less than 1 K on its way."""
    result = jam(finch, "return", "2 h")
    fuel = 0.5 * (result.temperature["rail_inlet"] + result.temperature["rail"])
    heat = 0.75 * (result.bay_temperature - fuel) + 0.45 * (368.15 - fuel)
    assert result.ledger.rail_heat == pytest.approx(np.trapezoid(heat, result.time), rel=0.02)


def test_what_is_burnt_takes_its_heat_along_and_an_adiabatic_plumbing_keeps_only_the_pump(finch):
    """Without exchange all lines and the rail bring nothing; the burnt fuel leaves at the pump's outlet temperature and
    pressure: flow times (c dT + dp/rho (1 - alpha T)), summed by the conservation of energy."""
    car = finch.with_values(
        {
            "feed.heat_conductance": 0.0,
            "return_line.heat_conductance": 0.0,
            "rail.air_conductance": 0.0,
            "rail.engine_conductance": 0.0,
        }
    )
    ledger = jam(car, "return").ledger
    for heat in (ledger.rail_heat, ledger.bay_heat, ledger.line_heat):
        assert abs(heat) < 2e-3 * ledger.pump_heat
    assert 0.0 < ledger.burnt_heat < 0.02 * ledger.pump_heat
    assert ledger.returned == pytest.approx(ledger.pump_heat - ledger.burnt_heat, rel=2e-3)


def test_a_hotter_bay_brings_heat_to_rails_and_to_nothing_else(finch):
    plain, hotter = (
        jam(finch.with_values({"surroundings.bay_rise": rise}), "return", tank_temperature="40 degC").ledger
        for rise in ("40 K", "60 K")
    )
    gained = {name: getattr(hotter, name) - getattr(plain, name) for name in HeatSources._fields}
    assert gained["rail_heat"] > 40e3
    assert abs(gained["pump_heat"]) < 0.01 * gained["rail_heat"]


def test_drives_stand_side_by_side(finch):
    drives = [jam(finch, layout, "20 min") for layout in ("return", "returnless_tank", "return")]
    table = drives[0].heat_table(*drives[1:])
    assert list(table.columns[::2]) == ["return_1_kJ", "returnless_tank_kJ", "return_3_kJ"]
    assert table["return_1_mean_W"].equals(table["return_3_mean_W"])
    assert table["return_1_kJ"]["rails"] > 3.0 * table["returnless_tank_kJ"]["rails"]


def test_sources_of_a_plumbing_with_pots_miss_little():
    """There they are integrated over the times shown, and the walls of the pots are counted with the tank's."""
    plover = fs.Car.named("plover")
    ledger = fs.drive(plover, "pot", Schedule.of([typical_phase("jam", "20 min", plover)]), output_step="1 min").ledger
    assert ledger.error < 1e-3
    assert ledger.source_error < 0.02
