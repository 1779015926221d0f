"""A petrol per operating point: a lattice of tables against the fuels themselves, runs against one fuel at a time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fuelsim as fs
from fuelsim.car.fuel_choice import FuelChoice
from fuelsim.errors import InputError
from fuelsim.fuel.fuels import MOST_WITH_OWN_TABLES, FuelPerPoint

FEW = [(54e3, 0.10), (66e3, 0.10), (60e3, 0.0)]


def _many(ethanol: tuple[float, float]) -> tuple[FuelPerPoint, np.ndarray, np.ndarray]:
    generator = np.random.default_rng(4)
    pressures = generator.uniform(55e3, 62e3, 40)
    shares = generator.uniform(*ethanol, 40)
    return FuelPerPoint.petrols(pressures, shares), pressures, shares


@pytest.mark.parametrize(
    ("ethanol", "pressure_error", "temperature_error"),
    [((0.10, 0.10), 1e-3, 0.02), ((0.05, 0.10), 4e-3, 0.05)],
    ids=["along the vapour pressure", "along the ethanol too"],
)
def test_a_lattice_gives_what_the_flashes_of_each_fuel_give(ethanol, pressure_error, temperature_error):
    """Judge: `Fuel.bubble_pressure` and `bubble_temperature`, the direct calculation of each petrol."""
    each, pressures, shares = _many(ethanol)
    assert len(each.fuels) < len(pressures)
    tables = each.tables()
    pick = range(0, len(pressures), 5)
    hot = tables.bubble_pressure(np.full(len(pressures), 330.0))
    boiling = tables.bubble_temperature(np.full(len(pressures), 90e3))
    for point in pick:
        fuel = fs.Fuel.petrol(float(pressures[point]), float(shares[point]))
        assert hot[point] == pytest.approx(float(fuel.bubble_pressure(330.0)), rel=pressure_error)
        assert boiling[point] == pytest.approx(float(fuel.bubble_temperature(90e3)), abs=temperature_error)


def test_shares_of_a_lattice_sum_to_one_and_none_is_negative():
    each, pressures, _ = _many((0.0, 0.2))
    assert each.shares.weight.shape == each.shares.table.shape == (4, len(pressures))
    np.testing.assert_allclose(each.shares.weight.sum(axis=0), 1.0)
    assert np.all(each.shares.weight >= 0.0)


def test_a_few_fuels_have_the_tables_of_each():
    each = FuelPerPoint.petrols(*np.array(FEW).T)
    assert len(each.fuels) == len(FEW) <= MOST_WITH_OWN_TABLES
    temperature = np.array([[300.0] * 3, [340.0] * 3])
    for name in ("density", "viscosity", "heat_capacity", "bubble_pressure"):
        values = getattr(each.tables(), name)(temperature)
        for point, (pressure, ethanol) in enumerate(FEW):
            one = getattr(fs.Fuel.petrol(pressure, ethanol).tables(), name)
            assert values[:, point].tolist() == one(temperature[:, point]).tolist()


@settings(max_examples=20, deadline=None)
@given(st.lists(st.booleans(), min_size=6, max_size=6))
def test_a_mask_chooses_the_fuels_of_its_elements(chosen):
    tables = FuelPerPoint.petrols(*np.array(FEW).T).tables()
    mask = np.reshape(chosen, (2, 3))
    temperature = np.linspace(290.0, 350.0, 6).reshape(2, 3)
    pressure = np.full((2, 3), 50e3)
    whole = tables.vapour_liquid_ratio_after_drop(temperature, pressure)
    part = tables.where(mask).vapour_liquid_ratio_after_drop(temperature[mask], pressure[mask])
    assert part.tolist() == whole[mask].tolist()


@pytest.mark.parametrize("layout", ["return", "returnless_tank"])
def test_a_run_over_fuels_is_the_runs_of_each(layout):
    """But for the current of a turbine, which is that of the mean density of the fuels."""
    car = fs.Car.named("finch")
    conditions = {"rpm": 2500, "load": 0.3, "tank_temperature": "50 degC"}
    pressures, ethanol = np.array(FEW).T
    together = _with_fuel(car, pressures, ethanol).system(layout).solve(**conditions)
    for point, (pressure, share) in enumerate(FEW):
        alone = _with_fuel(car, pressure, share).system(layout).solve(**conditions)
        for name in ("pressure", "temperature", "flow"):
            for place, value in getattr(alone, name).items():
                assert getattr(together, name)[place][point] == pytest.approx(float(value), rel=1e-3, abs=1e-9)


def test_a_run_over_many_fuels_is_the_runs_of_each():
    generator = np.random.default_rng(11)
    pressures, shares = generator.uniform(56e3, 60e3, 30), generator.uniform(0.08, 0.1, 30)
    conditions = {"rpm": 2500, "load": 0.3, "tank_temperature": "50 degC"}
    car = fs.Car.named("finch")
    together = _with_fuel(car, pressures, shares).system("return").solve(**conditions)
    for point in (0, 15, 29):
        alone = _with_fuel(car, pressures[point], shares[point]).system("return").solve(**conditions)
        assert together.injector_pressure_difference[point] == pytest.approx(
            float(alone.injector_pressure_difference), rel=1e-3
        )
        margin = together.vapour_margin["pump_inlet"][point]
        assert margin == pytest.approx(float(alone.vapour_margin["pump_inlet"]), abs=0.05)


def test_a_list_of_fuels_broadcasts_with_the_conditions():
    car = _with_fuel(fs.Car.named("finch"), [54e3, 60e3, 66e3], 0.1)
    run = car.system("return").solve(rpm=[[800], [6000]], tank_temperature="50 degC")
    assert run.injector_pressure_difference.shape == (2, 3)
    assert np.all(np.diff(run.vapour_margin["pump_inlet"], axis=1) < 0.0)


def test_cold_pumps_know_the_viscosity_of_each_fuel():
    """Ethanol thickens in the cold far more than petrol does: E85 has 2.6 mm2/s at -20 degC or so [memory]."""
    car = _with_fuel(fs.Car.named("finch"), [60e3, 50e3], [0.0, 0.85])
    run = car.system("return").solve(rpm=2000, load=0.2, tank_temperature="-25 degC", air_temperature="-25 degC")
    for point, fuel in enumerate(((60e3, 0.0), (50e3, 0.85))):
        alone = _with_fuel(fs.Car.named("finch"), *fuel).system("return")
        one = alone.solve(rpm=2000, load=0.2, tank_temperature="-25 degC", air_temperature="-25 degC")
        assert run.flow["pump"][point] == pytest.approx(float(one.flow["pump"]), rel=2e-3)


def test_a_study_that_wants_one_fuel_says_so():
    system = _with_fuel(fs.Car.named("finch"), [54e3, 60e3], 0.1).system("return")
    with pytest.raises(InputError, match="a list of fuels, where one is wanted"):
        system.fuel.dvpe()


def test_lists_that_spread_over_too_many_petrols_say_so():
    with pytest.raises(InputError, match="at most 120"):
        FuelPerPoint.petrols(*np.random.default_rng(2).uniform([[40e3], [0.0]], [[100e3], [0.9]], (2, 400)))


def _with_fuel(car: fs.Car, vapour_pressure: object, ethanol: object) -> fs.Car:
    return car.with_values({"fuel": FuelChoice(vapour_pressure=vapour_pressure, ethanol=ethanol)})
