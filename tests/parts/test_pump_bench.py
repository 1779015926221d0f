"""Bench tables from files, fits to scattered rows, speed-controlled pumps."""

import numpy as np
import pytest

from fuelsim.errors import InputError
from fuelsim.parts.pump.bench_tables import fit_bench, read_bench
from fuelsim.parts.pump.pump import Pump

L_H = 1.0 / 3.6e6
PRESSURE = np.array([0.0, 200e3, 300e3, 400e3, 500e3, 600e3])
# Typical class tables (from memory): L/h at 13.5 and at 12.0 V.
TABLES = {
    "255": ([318, 274, 248, 221, 192, 160], [275, 232, 207, 180, 150, 118]),
    "340": ([410, 362, 333, 300, 264, 225], [355, 305, 276, 243, 207, 168]),
}


def _published_flow(speed, pressure):
    """Published 35-point map of a 48 V brushless turbine pump: plane fit of 1.9 L/h rms, L/h from rpm and kPa."""
    return 0.06467 * speed - 0.1402 * pressure / 1e3 - 53.1


@pytest.mark.parametrize("name", TABLES)
def test_a_concave_form_fits_the_class_tables_better_than_a_plane_does(name):
    """The plane misses by 4-6 L/h rms and puts dead-head at 1230-1350 kPa (computed from the typical tables)."""
    high, low = TABLES[name]
    fit = fit_bench(
        np.array(high + low) * L_H, np.tile(PRESSURE, 2), voltage=np.repeat([13.5, 12.0], 6), relief_pressure=760e3
    )
    assert fit.rms_error < 1.5 * L_H
    assert 3.5 * L_H < fit.plane_rms_error < 6.5 * L_H
    assert 1225e3 < fit.plane_dead_head < 1355e3
    assert Pump.from_fit(fit).dead_head_pressure < 830e3
    assert f"concave fit {fit.rms_error / L_H:.1f} L/h rms" in str(fit)


def test_scattered_rows_are_fitted_falling_and_concave():
    noise = np.random.default_rng(1).normal(0.0, 4.0, 24)
    pressure = np.tile(PRESSURE, 4)
    fit = fit_bench((np.tile(TABLES["255"][0], 4) + noise) * L_H, pressure, current=5.0 + 1e-5 * pressure)
    assert 2.0 * L_H < fit.rms_error < 6.0 * L_H
    assert np.all(np.diff(Pump.from_fit(fit).at().flow(PRESSURE)) < 0.0)
    assert Pump.from_fit(fit).at().flow(300e3) == pytest.approx(248 * L_H, rel=0.02)
    assert Pump.from_fit(fit).at().current(300e3) == pytest.approx(8.0, rel=1e-3)
    assert Pump.from_fit(fit).dead_head_source == "extrapolated"


def test_a_measured_dead_head_is_kept_by_the_fit():
    fit = fit_bench(np.array(TABLES["255"][0]) * L_H, PRESSURE, dead_head_pressure="800 kPa")
    assert Pump.from_fit(fit).dead_head_pressure == pytest.approx(800e3, rel=0.01)


def test_published_map_of_a_brushless_pump_is_reproduced_from_three_of_its_speeds():
    speeds, pressure = [3000.0, 4500.0, 6000.0], np.array([800e3, 600e3, 400e3])
    pump = Pump(
        flow=[_published_flow(n, p) * L_H for n in speeds for p in pressure],
        pressure=np.tile(pressure, 3),
        speed=np.repeat(speeds, 3),
        voltage=48.0,
    )
    errors = []
    for n in np.linspace(3000.0, 6000.0, 7):
        at = np.linspace(400e3, 800e3, 5)
        errors.append(pump.at(speed=n).flow(at) / L_H - _published_flow(n, at))
    assert np.sqrt(np.mean(np.square(errors))) < 0.1
    assert pump.at(speed=3600.0).flow(6e5) == pytest.approx(_published_flow(3600.0, 6e5) * L_H, rel=1e-3)


def test_one_speed_foretells_the_others_within_the_scatter_of_the_published_map():
    pressure = np.array([800e3, 700e3, 600e3, 500e3, 400e3])
    pump = Pump(flow=_published_flow(6000.0, pressure) * L_H, pressure=pressure, speed=6000.0, voltage=48.0)
    for speed in (3000.0, 4500.0):
        found = pump.at(speed=speed).flow(pressure) / L_H
        assert found == pytest.approx(_published_flow(speed, pressure), abs=1.9)


def test_a_speed_controlled_pump_draws_its_power_behind_the_wire():
    pressure = np.array([800e3, 600e3, 400e3])
    pump = Pump(flow=_published_flow(6000.0, pressure) * L_H, pressure=pressure, speed=6000.0, voltage=13.5)
    flow, rise = 250.0 * L_H, 500e3
    near = pump.at().operating(flow, rise)
    far = pump.at(supply_voltage=13.5, wire_resistance=0.05).operating(flow, rise)
    slow = pump.at(speed=3000.0).operating(0.5 * flow, rise)
    assert far.electrical_power == pytest.approx(near.electrical_power)
    assert far.current > near.current
    assert far.terminal_voltage == pytest.approx(13.5 - 0.05 * far.current)
    assert slow.electrical_power == pytest.approx(0.5 * near.electrical_power)
    assert 0.15 < near.efficiency < 0.35


def test_duty_and_speed_are_not_mixed_up():
    brushed = Pump.from_curve(["1 L/min", "2 L/min"], ["4 bar", "2 bar"])
    controlled = brushed.with_values({"speed": "6000 rpm"})
    with pytest.raises(InputError, match="no speed control"):
        brushed.at(speed=3000.0)
    with pytest.raises(InputError, match="sets the speed"):
        controlled.at(duty=0.5)


def test_least_duty_against_300_to_400_kpa_is_about_40_percent():
    """Below about 40 % most brushed turbine pumps deliver nothing against 300-400 kPa (from memory)."""
    pump = Pump.from_curve(np.array(TABLES["255"][0]) * L_H, PRESSURE)
    duty = pump.least_drive([300e3, 400e3]) / 13.5
    assert np.all((duty > 0.3) & (duty < 0.5))
    just = pump.at(duty=duty + 0.01).flow([300e3, 400e3])
    none = pump.at(duty=duty - 0.01).flow([300e3, 400e3])
    assert np.all(just > 0.0)
    assert np.all(none < 0.0)


def test_a_csv_table_is_read_with_the_units_of_its_header(tmp_path):
    path = tmp_path / "bench.csv"
    path.write_text(
        "# my pump\nflow [L/h],pressure [bar],current [A],voltage [V]\n"
        "248,3,7.5,13.5\n221,4,8.8,13.5\n207,3,7.2,12\n180,4,8.4,12\n"
    )
    pump = Pump.from_file(path, relief_pressure="750 kPa")
    assert pump.at(supply_voltage=12.0).flow([3e5, 4e5]) == pytest.approx([207 * L_H, 180 * L_H], rel=1e-4)
    assert pump.at(supply_voltage=12.0).current(4e5) == pytest.approx(8.45, abs=0.06)


def test_a_toml_table_is_read(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text('flow = ["248 L/h", "221 L/h"]\npressure = ["3 bar", "4 bar"]\nvoltage = "13.5 V"\n')
    assert Pump.from_file(path).at().flow(3e5) == pytest.approx(248 * L_H, rel=1e-4)


@pytest.mark.parametrize(
    ("content", "key", "words"),
    [
        ("flow [L/h],presure [kPa]\n1,2\n3,4\n", "presure", "did you mean 'pressure'"),
        ("flow [L/h],pressure [kPa]\n100,300\nmany,200\n", "flow", "row 3"),
        ("flow [L/h],pressure [kPa]\n100,300\n120\n", "flow", "row 3 has 1 cells"),
        ("flow [kPa],pressure [kPa]\n100,300\n120,200\n", "flow", "not a unit"),
        ("flow [L/h]\n100\n120\n", "pressure", "missing column"),
        ("flow [L/h],pressure [kPa]\n100,300\n120,400\n", "pressure", "rises"),
        ("", None, "too few rows"),
    ],
)
def test_a_wrong_file_is_one_error_that_names_file_and_column(tmp_path, content, key, words):
    path = tmp_path / "bench.csv"
    path.write_text(content)
    with pytest.raises(InputError) as caught:
        Pump.from_file(path)
    assert caught.value.file == str(path)
    assert caught.value.key == key
    assert words in str(caught.value)


def test_a_binary_file_is_refused(tmp_path):
    path = tmp_path / "bench.csv"
    path.write_bytes(bytes(range(256)))
    with pytest.raises(InputError, match="not text"):
        read_bench(path)


def test_a_pump_of_one_point_and_its_dead_head_falls_as_the_class_does():
    """By hand: q/q0 = 1 - 0.6 x - 0.4 x2 of the share x of the dead-head pressure, the bend of the class tables."""
    pump = Pump.from_two_points(("150 L/h", "400 kPa"), ("0 L/h", "800 kPa"))
    share = np.array([0.0, 0.25, 0.75, 0.95])
    expected = 150.0 * (1.0 - 0.6 * share - 0.4 * share**2) / (1.0 - 0.3 - 0.1)
    assert pump.at().flow(share * 800e3) / L_H == pytest.approx(expected, rel=0.01, abs=1.0)
