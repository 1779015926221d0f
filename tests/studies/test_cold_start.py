"""Cold starts: battery, mixture and vapour, against published voltages and what is known of fuels."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.cold_mixture import ColdMixture
from fuelsim.parts.supply import Supply

FINCH = fs.Car.named("finch")


def _on(fuel: str) -> fs.Car:
    return FINCH.with_values({"fuel.name": fuel})


def test_the_battery_gives_less_in_the_cold() -> None:
    """Least volts under load [service_manuals_b]: 9.6 V at 20 degC, 8.5 at -18; the default gives 10 V at 20 degC."""
    start = fs.cold_start(FINCH, "return", ["-18 degC", "20 degC"])
    assert start.supply_voltage == pytest.approx([10.0 * 8.5 / 9.6, 10.0])
    assert np.all(start.run.pump_voltage["pump"] < start.supply_voltage)
    given = fs.cold_start(FINCH, "return", ["-18 degC", "20 degC"], supply_voltage=["7.2 V", "9 V"])
    assert given.run.pump_voltage["pump"][0] < start.run.pump_voltage["pump"][0]


def test_a_car_with_a_supply_table_cranks_on_its_own_battery() -> None:
    car = dataclasses.replace(FINCH, supply=Supply(cranking_voltage="9 V"))
    assert fs.cold_start(car, "return", ["20 degC"]).supply_voltage == pytest.approx([9.0])
    run = car.system("return").solve(rpm=200.0, air_temperature=["-18 degC", "-30 degC"])
    cranking = run.conditions.supply_voltage
    assert cranking[0] == pytest.approx(9.0 * 8.5 / 9.6)
    assert cranking[1] < cranking[0]


def test_winter_petrol_starts_in_hard_frost_and_neat_ethanol_not_below_10_degrees() -> None:
    """From memory: cars on winter petrol start at -20 degC; engines on neat ethanol need help below 10 to 15 degC."""
    petrol, ethanol = (fs.cold_start(_on(name), "return") for name in ("winter_e10", "neat_ethanol"))
    celsius = petrol.temperature - 273.15
    assert np.all(petrol.starts[celsius >= -20.1] == "surely")
    assert np.all(ethanol.starts[celsius <= 10.1] == "not")
    assert np.all(ethanol.limited_by[celsius <= 10.1] == "evaporation")


def test_e85_starts_between_petrol_and_neat_ethanol() -> None:
    """From memory: E85 starts down to about -10 degC with enrichment, in the north it is E70 in winter."""
    start = fs.cold_start(_on("e85"), "return", ["-25 degC", "0 degC", "20 degC"])
    assert start.starts.tolist() == ["not", "perhaps", "surely"]
    stretched = fs.Fuel.of_class("ASTM D5798 4")
    own = fs.Fuel.named("e85")
    assert fs.lighting_temperature(stretched, 6.0) < fs.lighting_temperature(own, 6.0) - 5.0


def test_a_car_without_enrichment_is_limited_by_it() -> None:
    plain = ColdMixture(temperatures=[253.15, 353.15], running=[1.0, 1.0], cranking=[1.0, 1.0])
    engine = dataclasses.replace(FINCH.engine, cold=plain)
    start = fs.cold_start(dataclasses.replace(_on("winter_e10"), engine=engine), "return", ["-20 degC"])
    assert start.limited_by.tolist() == ["enrichment"]
    assert start.starts.tolist() == ["not"]


def test_a_pump_without_pressure_is_limited_by_delivery() -> None:
    start = fs.cold_start(_on("winter_e10"), "return", ["-20 degC"], supply_voltage=["0.5 V"])
    assert start.starts[0] in ("not", "unsolved")
    assert start.limited_by[0] in ("delivery", "")


def test_the_mixture_delivered_is_the_one_asked_for_where_the_rail_holds() -> None:
    start = fs.cold_start(_on("winter_e10"), "return", ["-20 degC", "20 degC"])
    assert start.richness == pytest.approx(start.richness_asked, rel=1e-3)
    assert start.richness[0] / start.richness[1] == pytest.approx(6.0 / 2.0, rel=1e-3)


def test_water_stands_beside_and_less_is_held_in_the_cold() -> None:
    start = fs.cold_start(_on("winter_e10"), "return", ["-20 degC", "20 degC"])
    assert start.water.computed[0] < start.water.computed[1]


def test_an_idling_engine_is_refused_and_the_result_is_one_line() -> None:
    with pytest.raises(fs.InputError, match="not a cranking speed"):
        fs.cold_start(FINCH, "return", cranking_speed="700 rpm")
    start = fs.cold_start(FINCH, "return", ["0 degC"])
    assert "\n" not in repr(start)
    assert start.headline in start._repr_html_()


def _checks(fuel: str, tank: str) -> list[str]:
    system = _on(fuel).system("return")
    return [str(finding) for finding in fs.findings(system, system.solve(rpm=1000.0, tank_temperature=tank))]


def test_findings_name_the_water_of_a_cold_tank_and_a_fuel_that_does_not_light() -> None:
    """From memory: E10 drops water in winter and neat ethanol does not start in frost; a warm tank has neither."""
    assert any("vol% of water at -18" in text for text in _checks("winter_e10", "-18 degC"))
    assert any("no amount of it evaporates" in text for text in _checks("neat_ethanol", "0 degC"))
    for fuel, tank in (("winter_e10", "20 degC"), ("neat_ethanol", "20 degC"), ("winter_e0", "-18 degC")):
        assert not any("of water" in text or "to be lit" in text for text in _checks(fuel, tank))
