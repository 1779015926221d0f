"""Cold enrichment: off by default, by table over the engine's temperature, and nothing for a warm engine."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.cold_mixture import ColdMixture
from fuelsim.data_files import data_path

DEMO = data_path("cars", "heron.toml").read_text(encoding="utf-8")


def _car(tmp_path, table: str) -> fs.Car:
    path = tmp_path / "car.toml"
    path.write_text(DEMO.replace("[tank]", table + "\n[tank]", 1), encoding="utf-8")
    return fs.read_car(path)


def test_without_the_table_a_cold_engine_asks_for_what_a_warm_one_does() -> None:
    engine = fs.Car.named("heron").engine
    cold, warm = (engine.demand(800.0, 0.2, engine_temperature=kelvin) for kelvin in (253.15, 368.15))
    assert cold.fuel_mass_flow == warm.fuel_mass_flow


def test_the_table_enriches_the_cold_engine_alone_and_more_while_cranking(tmp_path) -> None:
    """By hand: 1.6 at 0 degC and 1.0 at 80 degC are 1.3 at 40; cranking 4 at 0 degC."""
    table = '[engine.cold]\ntemperatures = ["0 degC", "80 degC"]\nrunning = [1.6, 1.0]\ncranking = [4.0, 1.0]\n'
    car = _car(tmp_path, table)
    plain = fs.Car.named("heron").engine
    for rpm, kelvin, ratio in (
        (2000.0, 313.15, 1.3),
        (2000.0, 253.15, 1.6),
        (200.0, 273.15, 4.0),
        (200.0, 368.15, 1.0),
    ):
        asked = car.engine.demand(rpm, 1.0, engine_temperature=kelvin)
        warm = plain.demand(rpm, 1.0)
        assert asked.fuel_mass_flow == pytest.approx(ratio * warm.fuel_mass_flow)
        assert asked.lambda_demanded == pytest.approx(warm.lambda_demanded / ratio)
        assert asked.air_mass_flow == warm.air_mass_flow
    assert fs.read_car(fs.write_car(car, tmp_path / "again.toml")) == car


def test_an_empty_table_has_typical_figures_that_end_at_a_warm_engine(tmp_path) -> None:
    car = _car(tmp_path, "[engine.cold]\n")
    assert car.engine.cold is not None
    assert car.engine.cold.factor([353.15, 380.0], [True, False]).tolist() == [1.0, 1.0]
    assert np.all(np.diff(car.engine.cold.running) < 0.0)
    assert np.all(car.engine.cold.cranking >= car.engine.cold.running)


def test_the_temperature_of_the_engine_is_a_condition_and_the_fuel_follows_it(tmp_path) -> None:
    """The warm answer of a car with the table is that of the car without it; at -20 degC 1.7 times the fuel."""
    plain, cold = fs.Car.named("heron"), _car(tmp_path, "[engine.cold]\n")
    asked = fs.Conditions(rpm=2000.0, load=0.3, engine_temperature=["-20 degC", "95 degC"])
    without, given = (car.system("return").solve(asked) for car in (plain, cold))
    assert given.burnt_mass_flow[1] == pytest.approx(without.burnt_mass_flow[1], rel=1e-9)
    assert given.burnt_mass_flow[0] == pytest.approx(1.7 * without.burnt_mass_flow[0], rel=1e-5)
    default = plain.system("return").solve(rpm=2000.0, load=0.3)
    assert without.temperature["rail"][1] == pytest.approx(float(default.temperature["rail"]), abs=1e-9)
    assert without.temperature["rail"][0] < without.temperature["rail"][1]


def test_wrong_tables_have_messages(tmp_path) -> None:
    with pytest.raises(fs.InputError, match=r"engine\.cold\.running': 1 values for 2 temperatures"):
        _car(tmp_path, '[engine.cold]\ntemperatures = ["0 degC", "80 degC"]\nrunning = [1.6]\ncranking = [4.0, 1.0]\n')
    with pytest.raises(fs.InputError, match="must rise"):
        ColdMixture(temperatures=["80 degC", "0 degC"], running=[1.0, 1.6], cranking=[1.0, 4.0])
