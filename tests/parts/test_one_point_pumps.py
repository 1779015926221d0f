"""Pumps from one measured point at each voltage."""

from types import SimpleNamespace

import numpy as np
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


def line_class(free, dead, **more):
    """A class of pumps on a straight line from its free flow, L/h, at 13.5 V to its dead-head pressure, kPa."""
    kpa = np.array([0.0, 0.25, 0.5, 0.75]) * dead
    return {"flow": [f"{free * (1.0 - p / dead)} L/h" for p in kpa], "pressure": [f"{p} kPa" for p in kpa]} | more


STRAIGHT = {
    "small": line_class(100.0, 800.0),
    "large": line_class(400.0, 1000.0),
    "gear": line_class(200.0, 800.0, type="gear"),
    "controlled": line_class(180.0, 800.0, speed="6000 rpm"),
    "two voltages": {
        "flow": ["1 L/h", "2 L/h", "600 L/h", "900 L/h"],
        "pressure": ["300 kPa", "0 kPa", "300 kPa", "0 kPa"],
        "voltage": [12.0, 12.0, 13.5, 13.5],
    },
}


@pytest.fixture
def straight_classes(monkeypatch):
    monkeypatch.setattr(one_point, "catalogue_names", lambda kind: list(STRAIGHT))
    monkeypatch.setattr(one_point, "catalogue_entry", lambda kind, name: SimpleNamespace(values=STRAIGHT[name]))


def completed_rows(type, **columns):
    rows = {key: np.array(value) for key, value in one_point.completed(columns, type).items()}
    return rows["flow"] / L_H, rows["pressure"] / 1e3, rows["voltage"]


@pytest.mark.parametrize(
    ("litres", "kpa", "dead_head"),
    [
        # At 200 kPa the classes of the kind have 75 and 320 L/h; 150 is nearer to the small one, but twice as much.
        (150.0, 200.0, 800.0),
        (160.0, 200.0, 1000.0),
        # Without a pressure rise they have 100, 400 and 900.
        (250.0, 0.0, 1000.0),
        # Only the large one is known at 700 kPa.
        (10.0, 700.0, 1000.0),
    ],
)
def test_the_nearest_class_in_proportion_lends_its_curve(straight_classes, litres, kpa, dead_head):
    """By hand: flows of the straight line through the point, ending where the rows of the class do, at 3/4."""
    flow, pressure, volts = completed_rows("turbine", flow=[f"{litres} L/h"], pressure=[f"{kpa} kPa"])
    assert flow == pytest.approx(litres * (dead_head - pressure) / (dead_head - kpa))
    assert pressure[[0, -1]].tolist() == [0.75 * dead_head, 0.0]
    assert np.all(np.diff(pressure) < 0.0)
    assert kpa in pressure
    assert set(volts) == {fs.Pump.from_curve(["0 L/h", "9 L/h"], ["9 kPa", "0 kPa"]).bench_voltage}


def test_only_the_rows_at_the_highest_voltage_of_a_class_count(straight_classes):
    flow, pressure, _ = completed_rows("turbine", flow=["900 L/h"], pressure=["300 kPa"], voltage=["13.5 V"])
    assert (flow, pressure) == (pytest.approx([900.0, 1350.0]), pytest.approx([300.0, 0.0]))


def test_a_lower_voltage_loses_the_flow_its_kind_loses(straight_classes):
    """By hand, a gear class of 200 L/h and 800 kPa with 100 L/h at 400 kPa and 13.5 V, 80 at 12 V: the 20 L/h lost are
    15 % the same everywhere and 85 % in proportion; a turbine's 20 L/h are the same everywhere."""
    columns = {"flow": ["80 L/h", "100 L/h"], "pressure": ["400 kPa"] * 2, "voltage": [12.0, 13.5]}
    flow, pressure, volts = completed_rows("gear", **columns)
    assert volts.tolist() == [13.5] * 4 + [12.0] * 4
    at_top = 200.0 * (1.0 - pressure[:4] / 800.0)
    assert flow[:4] == pytest.approx(at_top)
    assert flow[4:] == pytest.approx(at_top - 20.0 * (0.15 + 0.85 * at_top / 100.0))
    columns = {"flow": ["35 L/h", "50 L/h"], "pressure": ["400 kPa"] * 2, "voltage": [12.0, 13.5]}
    flow, pressure, volts = completed_rows("turbine", **columns)
    low = volts == 12.0
    assert flow[low] == pytest.approx(100.0 * (1.0 - pressure[low] / 800.0) - 15.0)
    # Rows without flow are left out: none at 600 kPa, where 25 - 30 L/h would be left.
    columns["flow"] = ["20 L/h", "50 L/h"]
    flow, pressure, volts = completed_rows("turbine", **columns)
    assert pressure[volts == 12.0].tolist() == [400.0, 200.0, 0.0]


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"flow": ["0 L/h", "50 L/h"], "pressure": ["400 kPa"] * 2}, "or none"),
        ({"flow": ["51 L/h", "50 L/h"], "pressure": ["400 kPa"] * 2}, "more flow at less voltage"),
        ({"flow": ["5 L/h", "50 L/h"], "pressure": ["700 kPa", "400 kPa"]}, "no typical curve reaches 700000 Pa"),
        ({"flow": ["5 L/h", "0 L/h"], "pressure": ["400 kPa"] * 2}, "no generic turbine pump delivers"),
    ],
)
def test_points_without_a_curve_through_them_are_refused(straight_classes, columns, words):
    with pytest.raises(InputError, match=words):
        one_point.completed(columns | {"voltage": [12.0, 13.5]}, "turbine")
    equal = {"flow": ["50 L/h", "50 L/h"], "pressure": ["400 kPa"] * 2, "voltage": [12.0, 13.5]}
    assert len(one_point.completed(equal, "turbine")["flow"]) == 8


@pytest.mark.parametrize(
    ("columns", "single"),
    [
        ({"flow": ["50 L/h"]}, True),
        ({"flow": ["50 L/h"], "voltage": "13.5 V"}, True),
        ({"flow": ["50 L/h", "60 L/h"], "voltage": [12.0, 13.5]}, True),
        ({"flow": ["50 L/h", "60 L/h"], "voltage": "13.5 V"}, False),
        ({"flow": ["50 L/h", "60 L/h"], "voltage": [13.5, 13.5]}, False),
        ({"flow": ["50 L/h", "60 L/h"], "voltage": [12.0, 12.0, 13.5]}, False),
        ({"flow": ["50 L/h", "60 L/h", "70 L/h"], "voltage": [12.0, 13.5]}, False),
        ({"flow": ["50 L/h"], "speed": [6000.0]}, False),
        ({"flow": [], "voltage": []}, False),
        ({"flow": ["50 metres"]}, False),
    ],
)
def test_one_row_for_each_voltage_is_told_from_a_table(columns, single):
    assert one_point.is_one_point_per_voltage(columns) is single
