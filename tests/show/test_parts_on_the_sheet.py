"""Parts as bought, buy list, pump curve and wiring on the sheet, judged by the car's own figures and by definitions."""

import csv
import itertools
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from test_system_drawing import text_box

import fuelsim as fs
from fuelsim.show.parts_list import as_bought, purchases
from fuelsim.show.pump_curve_figure import pump_curve_figure
from fuelsim.show.wiring_drawing import wiring_drawing

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def sheet():
    car = fs.Car.named("finch").with_values(
        {
            "feed": "push_on_6",
            "feed.fittings": "2 bend_90_swept, sharp_entry",
            "return_line.working_pressure": "400 kPa",
            "filter.working_pressure": "1500 kPa",
            "feed.working_pressure": "1500 kPa",
        }
    )
    return fs.hand_over(car, reused=["tank", "return_line", "filter"])


def rows_for(sheet, part):
    return [row for row in purchases(sheet) if row.part == part]


def test_a_hose_is_bought_by_family_bore_and_length_with_a_tenth_and_with_fittings_and_clamps_by_count(sheet):
    hose, fittings, clamps = rows_for(sheet, "feed")
    assert "push on, -6" in hose.item
    assert f"{1e3 * float(sheet.car.feed.bore):.3g} mm" in hose.item
    assert float(hose.quantity.split()[0]) == pytest.approx(1.1 * float(sheet.car.feed.length))
    assert fittings.quantity == "2"
    assert "90 degree swept hose end" in fittings.item
    assert clamps.quantity == "2"
    outside = 1e3 * (float(sheet.car.feed.bore) + 2.0 * 3e-3 if sheet.car.feed.wall_thickness is None else 0.0)
    assert outside == 0.0 or f"{outside:.3g} mm" in clamps.item
    assert not any("entry" in row.item for row in purchases(sheet))


def test_every_part_under_pressure_is_bought_for_the_dead_head_of_the_pump_s_class(sheet):
    expected = max(sheet.car.pump.dead_head_to_withstand, sheet.car.pump.dead_head_pressure) / 1e3
    for part in ("feed", "injectors", "rail", "rail regulator"):
        assert float(rows_for(sheet, part)[0].rated.split()[0]) == pytest.approx(expected, rel=5e-3)
    assert rows_for(sheet, "strainer")[0].rated == ""


def test_what_is_used_again_says_why_and_what_is_not_rated_is_bought(sheet):
    tank, filter_ = rows_for(sheet, "tank")[0], rows_for(sheet, "filter")[0]
    assert tank.source == filter_.source == "use again"
    assert "rated 1500 kPa" in filter_.why
    assert "if it is sound" in filter_.why
    line = rows_for(sheet, "return line")[0]
    assert "not to be used again" in line.source
    assert "400 kPa" in line.why
    assert rows_for(sheet, "pump")[0].source == "buy"
    with pytest.raises(fs.InputError, match="no such part in this layout"):
        fs.hand_over(sheet.car, reused=["fead"])


def test_wire_fuse_relay_and_cut_off_are_bought_for_each_pump():
    plover = fs.hand_over(fs.Car.named("plover"), "pot")
    rows = [row for row in purchases(plover) if row.part == "wire"]
    assert [row.quantity for row in rows[1:3]] == ["2", "2"]
    assert float(rows[0].quantity.split()[0]) == pytest.approx(2 * 1.1 * float(plover.car.wire.length), rel=5e-3)
    assert "20 A" in rows[1].item
    assert any("inertia switch" in row.item for row in rows)


def test_the_buy_list_is_a_file_and_stands_on_the_sheet(sheet, tmp_path):
    page = sheet.report(tmp_path / "sheet.html")
    rows = list(csv.DictReader((tmp_path / "sheet_buy_list.csv").open(encoding="utf-8")))
    assert [row["item"] for row in rows] == [row.item for row in purchases(sheet)]
    assert "<h2>Buy list" in page.read_text(encoding="utf-8")


def test_a_size_that_was_changed_after_the_catalogue_is_named_by_its_own_bore():
    car = fs.Car.named("finch").with_values({"feed": "steel_tube 3/8 in"})
    assert as_bought(car.feed).startswith("steel tube, 3/8 in")
    assert "3/8" not in as_bought(car.with_values({"feed.bore": "6.52 mm"}).feed)
    pump = car.with_values({"pump": "in_tank_220"})
    assert "220 L/h at 400 kPa" in as_bought(pump.pump)
    assert "own relief pressure" in as_bought(pump.with_values({"pump.relief_pressure": "700 kPa"}).pump)


def test_the_curve_of_the_pump_goes_through_its_bench_rows_and_the_demand_stands_at_set_pressure():
    """A pump tested at 13.5 V has its rows on the curve of 13.5 V."""
    car = fs.Car.named("finch").with_values({"pump": "in_tank_220"})
    sheet = fs.hand_over(car)
    (axis,) = pump_curve_figure(sheet).axes
    lines = {line.get_label(): line.get_xydata() for line in axis.get_lines()}
    curve = lines["13.5 V at the pump"]
    rows = np.column_stack([3.6e6 * np.asarray(car.pump.flow), 1e-3 * np.asarray(car.pump.pressure)])
    tested = np.isclose(np.broadcast_to(car.pump.voltage, len(rows)), 13.5)
    assert tested.any()
    for flow, pressure in rows[tested & (rows[:, 1] < 500.0)]:
        assert np.interp(flow, curve[:, 0], curve[:, 1]) == pytest.approx(pressure, abs=0.05 * 500.0)
    ((_, demanded_at),) = lines["greatest demand at set pressure"]
    assert demanded_at == pytest.approx(1e-3 * float(car.rail_regulator.set_pressure))
    assert np.all(np.interp(100.0, *lines["12 V at the pump"].T) < np.interp(100.0, *curve.T))


def test_volts_along_the_circuit_add_up_to_those_at_the_pump_and_no_two_texts_overlap():
    for name, layout in (("heron", "return"), ("plover", "pot")):
        sheet = fs.hand_over(fs.Car.named(name), layout)
        root = ElementTree.fromstring(wiring_drawing(sheet))
        boxes = [text_box(element) for element in root.iter(f"{SVG}text")]
        assert not any(one.meets(other) for one, other in itertools.combinations(boxes, 2))
        volts = [float(box.text.split()[0]) for box in boxes if re.fullmatch(r"[0-9.]+ V", box.text)]
        words = [box.text for box in boxes]
        assert all(words.count(place) == len(sheet.system.plumbing.pumps) for place in ("battery", "relay", "cut-off"))
        at = sheet.points.index("full load, peak power")
        for number, pump in enumerate(sheet.run.pump_voltage):
            # Of each place, in the order of the current, the row of key-on and that of full load.
            battery, *_, plus, minus = volts[12 * number + 1 : 12 * number + 12 : 2]
            assert battery == pytest.approx(float(np.ravel(sheet.run.conditions.supply_voltage)[at]), abs=0.06)
            assert plus - minus == pytest.approx(float(sheet.run.pump_voltage[pump][at]), abs=0.06)
