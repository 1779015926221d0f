"""Pumps from one measured point at each voltage."""

import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.parts.pump import one_point

L_H = 1e-3 / 3600.0


def test_the_curve_runs_through_every_measured_point():
    pump = fs.Pump.from_tables(
        {
            "12 V": {"flow": ["150 L/h"], "pressure": ["3 bar"]},
            "13.5 V": {"flow": ["185 L/h"], "pressure": ["43 psi"]},
        }
    )
    assert float(pump.at(supply_voltage=12.0).flow("3 bar")) == pytest.approx(150 * L_H, rel=1e-5)
    assert float(pump.at(supply_voltage=13.5).flow("43 psi")) == pytest.approx(185 * L_H, rel=1e-4)
    assert pump.flow_tolerance == 0.10
    assert pump.current_source == "estimated"


CLASS_340 = {
    13.5: {200e3: 362.0, 300e3: 333.0, 400e3: 300.0, 500e3: 264.0},
    12.0: {200e3: 305.0, 300e3: 276.0, 400e3: 243.0, 500e3: 207.0},
}
"""L/h of a typical 340 class in-tank turbine pump (from memory, 10 % of flow)."""


def test_a_class_is_met_from_one_of_its_points_and_the_other_classes(monkeypatch):
    """Left out of the catalogue, a class follows within 5 % from its flow at 300 kPa, 12 and 13.5 V, alone."""
    without = [name for name in one_point.catalogue_names("pumps") if name != "in_tank_300"]
    monkeypatch.setattr(one_point, "catalogue_names", lambda kind: without)
    flow = [f"{CLASS_340[volts][300e3]} L/h" for volts in CLASS_340]
    pump = fs.Pump.from_curve(flow, ["300 kPa", "300 kPa"], voltage=[f"{volts} V" for volts in CLASS_340])
    for volts, row in CLASS_340.items():
        for pressure, expected in row.items():
            assert float(pump.at(supply_voltage=volts).flow(pressure)) / L_H == pytest.approx(expected, rel=0.05)


def test_a_gear_pump_loses_flow_with_the_voltage_mostly_in_proportion():
    """A large gear pump has d ln Q / d ln V of 1.0 to 1.1 at any pressure; a turbine loses the same flow everywhere."""
    tables = {
        "12 V": {"flow": ["420 L/h"], "pressure": ["3 bar"]},
        "13.5 V": {"flow": ["480 L/h"], "pressure": ["3 bar"]},
    }
    lost = {}
    for kind in ("gear", "turbine"):
        pump = fs.Pump.from_tables(tables, type=kind)
        lost[kind] = [
            float(pump.at(supply_voltage=13.5).flow(p) - pump.at(supply_voltage=12.0).flow(p)) / L_H for p in (1e5, 4e5)
        ]
    assert lost["turbine"] == pytest.approx([60.0, 60.0], rel=0.02)
    assert lost["gear"][0] > 62.0 > 58.0 > lost["gear"][1]


def test_a_file_may_hold_one_row_for_each_voltage(tmp_path):
    path = tmp_path / "bench.csv"
    path.write_text("flow [L/h],pressure [kPa],voltage [V]\n150,300,12\n")
    assert float(fs.Pump.from_file(path).at(supply_voltage=12.0).flow(3e5)) == pytest.approx(150 * L_H, rel=1e-5)


def test_a_point_no_pump_of_the_kind_delivers_at_and_rising_rows_are_refused():
    with pytest.raises(InputError, match="no generic turbine pump delivers at its pressure"):
        fs.Pump.from_curve(["150 L/h"], ["20 bar"])
    with pytest.raises(InputError, match="more flow at less voltage"):
        fs.Pump.from_curve(["150 L/h", "140 L/h"], ["3 bar", "3 bar"], voltage=["12 V", "13.5 V"])
    with pytest.raises(InputError, match="2 pressures, but 1 flows"):
        fs.Pump.from_curve(["150 L/h"], ["3 bar", "2 bar"])


def test_the_bench_fluid_may_be_named_beside_the_rows():
    """A turbine's pressure is proportional to the density of the fluid."""
    rows = {"flow": ["0 L/h", "150 L/h"], "pressure": ["6 bar", "3 bar"]}
    solvent = fs.Pump.from_curve(**rows, bench_density="780 kg/m3")
    assert solvent.bench_density == 780.0
    assert fs.Pump.from_curve(**rows).bench_density == 745.0
    assert fs.Pump.from_tables({"13.5 V": rows}, bench_density="0.78 g/cm3").bench_density == pytest.approx(780.0)
    two_points = fs.Pump.from_two_points(("130 L/h", "3 bar"), ("0 L/h", "6 bar"), bench_density=780.0)
    assert two_points.bench_density == 780.0
