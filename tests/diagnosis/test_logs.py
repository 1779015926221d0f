"""Logs of a controller with made-up column names, and the steady stretches in them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import fuelsim as fs

FINCH = fs.Car.named("finch")
COLUMNS = {
    "rpm": "Speed",
    "load": "Charge",
    "rail_pressure [kPa]": "Fuel P",
    "supply_voltage [V]": "Batt",
    "pump_current [A]": "Pump A",
}


def drive(car, rows=400, noise=0.01):
    """A log: idle, a sweep that is never steady, 3,000 rpm and 5,500 rpm at full load."""
    random = np.random.default_rng(5)
    rpm = np.concatenate(
        [np.full(rows, 800.0), np.linspace(800, 3000, rows), np.full(rows, 3000.0), np.full(rows, 5500.0)]
    )
    load = np.concatenate([np.zeros(rows), np.linspace(0.0, 1.0, rows), np.ones(2 * rows)])
    run = car.system("return").solve(rpm=[800, 3000, 5500], load=[0, 1, 1])
    places = np.concatenate([np.zeros(rows, int), np.full(rows, 1), np.full(rows, 1), np.full(rows, 2)])
    columns = {"Fuel P": run.gauge_pressure["rail"] / 1e3, "Batt": run.conditions.supply_voltage,
               "Pump A": run.pump_current["pump"]}  # fmt: skip
    table = {"Speed": rpm + random.normal(0, 8.0, rpm.size), "Charge": load}
    for name, values in columns.items():
        table[name] = np.broadcast_to(values, 3)[places] * (1.0 + noise * random.normal(size=rpm.size))
    return pd.DataFrame(table)


def test_steady_stretches_are_found_and_the_sweep_is_none():
    found = fs.steady_stretches(FINCH, "return", drive(FINCH), COLUMNS)
    long = found.last - found.first > 200
    assert found.rpm[long] == pytest.approx([800.0, 3000.0, 5500.0], abs=10.0)
    assert len(found.readings) == 3 * len(found.first)
    assert "steady stretches" in repr(found)


def test_a_fault_is_found_in_a_log(tmp_path):
    path = tmp_path / "log.csv"
    drive(FINCH.with_values({"rail_regulator.set_pressure": "350 kPa"})).to_csv(path, index=False)
    found = fs.diagnose(
        FINCH, "return", list(fs.steady_stretches(FINCH, "return", path, COLUMNS, least_rows=100).readings)
    )
    assert found.first.name == "regulator set wrong"
    healthy = fs.steady_stretches(FINCH, "return", drive(FINCH), COLUMNS, least_rows=100)
    assert fs.diagnose(FINCH, "return", list(healthy.readings)).healthy


def test_the_load_follows_from_the_manifold_s_pressure():
    log = drive(FINCH)
    run = FINCH.system("return").solve(rpm=3000, load=[0.3, 0.6])
    pressure = run.pressure["manifold"] / 1e3
    part = pd.DataFrame(
        {"Speed": np.repeat(3000.0, 100), "MAP": np.repeat(pressure, 50), "Fuel P": np.full(100, 290.0)}
    )
    columns = {"rpm": "Speed", "manifold_pressure [kPa absolute]": "MAP", "rail_pressure [kPa]": "Fuel P"}
    assert fs.steady_stretches(FINCH, "return", part, columns).load == pytest.approx([0.3, 0.6], abs=0.02)
    assert len(log) == 1600


def test_a_hundred_thousand_rows_take_a_moment_and_gaps_are_left_out():
    log = drive(FINCH, rows=25_000)
    log.loc[100:140, "Speed"] = np.nan
    log.loc[200:210, "Fuel P"] = np.nan
    found = fs.steady_stretches(FINCH, "return", log, COLUMNS)
    assert found.rows == 100_000
    assert not np.any((found.first <= 120) & (found.last >= 120))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"rail_pressure [kPa]": "Fuel pressure"}, "Fuel P"),
        ({"rpm": "Charge", "load": "Speed"}, "steady|range|load"),
        ({"boost of the moon [kPa]": "Batt"}, "no such column"),
    ],
)
def test_wrong_columns_name_what_is_known(change, words):
    with pytest.raises(fs.InputError, match=words):
        fs.steady_stretches(FINCH, "return", drive(FINCH), COLUMNS | change)


def test_a_log_without_speed_or_steady_rows_says_so():
    with pytest.raises(fs.InputError, match="operating point"):
        fs.steady_stretches(FINCH, "return", drive(FINCH), {"rail_pressure [kPa]": "Fuel P"})
    ramp = pd.DataFrame(
        {"Speed": np.linspace(800, 6000, 50), "Charge": 1.0, "Fuel P": 300.0, "Batt": 13.0, "Pump A": 5.0}
    )
    with pytest.raises(fs.InputError, match="no steady stretch"):
        fs.steady_stretches(FINCH, "return", ramp, COLUMNS)
