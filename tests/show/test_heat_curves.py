"""Pictures and tables of heat: they read results, say what they show, and name every axis."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.show.climates import COLOURS, climate_figure, verdict_in_words
from fuelsim.show.heat_curves import drive_figure, path_figure, soak_figure
from fuelsim.studies.climate_limits import BoilingLimit
from fuelsim.studies.climates import ClimateRow, ClimateTable, DayResult, Survival, Verdict, over_climates
from fuelsim.studies.margins import margin_map
from fuelsim.studies.remedies import remedies
from fuelsim.transients.drive import drive
from fuelsim.transients.schedule import Schedule, typical_phase
from fuelsim.transients.soak import hot_soak


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


@pytest.fixture(scope="module")
def jam(finch):
    schedule = Schedule.of([typical_phase("city", "10 min", finch), typical_phase("jam", "20 min", finch)])
    return [drive(finch, layout, schedule, output_step="5 min") for layout in finch.layouts()]


def labels(drawn):
    return " ".join(axis.get_xlabel() + axis.get_ylabel() for axis in drawn.axes)


def test_the_path_figure_names_the_station_nearest_to_boiling(finch):
    runs = [finch.system(layout).solve(rpm=800, load=0.0) for layout in finch.layouts()]
    drawn = path_figure(runs)
    assert "Nearest to boiling" in drawn.get_suptitle()
    assert "°C" in labels(drawn)


def test_the_drive_figure_tells_the_hottest_tank(jam):
    drawn = drive_figure(jam)
    hottest = max(float(result.tank_temperature.max()) for result in jam) - 273.15
    assert f"{hottest:.0f} °C" in drawn.get_suptitle()
    assert "time, h" in labels(drawn)


def test_the_drive_table_has_units_and_one_row_per_time(jam):
    table = jam[0].table()
    assert len(table) == len(jam[0].time)
    assert {"time_s", "tank_degC", "rail_kPa_gauge", "engine_state", "vapour_lock"} <= set(table.columns)
    assert table["tank_degC"].iloc[0] == pytest.approx(jam[0].tank_temperature[0] - 273.15)


def test_the_soak_figure_and_table(finch):
    soak = hot_soak(finch, "return", duration="30 min", output_step="5 min")
    assert "°C" in soak_figure([soak]).get_suptitle()
    assert "key_on_to_pressure_s" in soak.table().columns


def test_margin_maps_of_one_and_two_axes_are_drawn(finch):
    one = margin_map(finch, "return", {"altitude": [0.0, 1000.0, 2000.0]})
    two = margin_map(finch, "return", {"vapour_pressure": [50e3, 70e3], "altitude": [0.0, 2000.0]})
    assert "altitude, m" in labels(one.plot())
    assert "DVPE" in labels(two.plot("rail"))
    assert len(two.table()) == 4
    assert np.isfinite(two.table()["tank_limit_for_pump_inlet_degC"]).all()


def told_above(drawn):
    return drawn.get_suptitle().replace("\n", " ")


def day(verdict, minutes=30.0):
    return DayResult(60e3, 320.0, 1.5, 1.0, 0.1, {} if verdict is Verdict.STAYS_LIQUID else {verdict: 60.0 * minutes})


def test_climates_are_told_in_words_and_colour(finch):
    result = over_climates([finch], ["london"], ["return", "returnless_tank"], bands=False, wrong_fuel=False)
    assert "0 of 2 cases" in told_above(climate_figure(result))
    assert list(result.table()["outcome"]) == ["stays liquid", "stays liquid"]


def test_every_verdict_has_words_and_a_colour_of_its_kind():
    rows = [ClimateRow("kuwait", f"car {verdict}", "return", 320.0, day(verdict)) for verdict in Verdict]
    told = [verdict_in_words(row.middle) for row in rows]
    assert len(set(told)) == len(Verdict)
    assert all("30 min" in words for words in told[1:])
    failing = sum(Survival.of(verdict) is Survival.FAILS for verdict in Verdict)
    assert f"{failing} of {len(Verdict)} cases" in told_above(climate_figure(ClimateTable(rows)))
    assert [row.lock_time for row in rows] == [np.inf] * (len(Verdict) - 1) + [1800.0]


def test_classes_of_verdicts_differ_in_grey():
    """Luma of a colour: 0.299 R + 0.587 G + 0.114 B (ITU-R BT.601) [common_practice]."""
    greys = [
        sum(
            share * int(COLOURS[each].colour[start : start + 2], 16)
            for share, start in ((0.299, 1), (0.587, 3), (0.114, 5))
        )
        for each in Survival
    ]
    assert np.all(np.diff(greys) < -0.12 * 255)


def test_a_cell_that_differs_over_the_bands_says_what_it_depends_on():
    limit = BoilingLimit(54e3, "pump_inlet", 9000.0, 323.0, -1.0, -3e3, "pump_inlet", 300e3)
    ends = (day(Verdict.STAYS_LIQUID), day(Verdict.VAPOUR_LOCK, 31.0))
    open_cell = ClimateRow("madrid", "car", "return", 309.0, day(Verdict.TANK_BOILS), *ends, None, limit)
    locks = [day(Verdict.VAPOUR_LOCK, minutes) for minutes in (35.0, 44.0, 31.0)]
    decided = ClimateRow("kuwait", "car", "return", 321.0, *locks, locks[1], limit)
    result = ClimateTable([open_cell, decided])
    first, second = result.sentences()
    assert first.startswith("not decided by what is known")
    assert "boils above 54 kPa (first at pump inlet)" in first
    assert second.startswith("vapour lock between 31 and 44 min over the bands")
    assert list(result.table()["verdict"]) == ["not decided", "fails"]
    drawn = climate_figure(result)
    words = [text.get_text() for text in drawn.axes[0].texts]
    assert words == ["boils above\n54 kPa", "lock\n31-44 min"]
    assert len(drawn.axes) == 2  # the wrong fuel below


def test_the_ladder_s_table_has_one_row_per_remedy(finch):
    ladder = remedies(finch, "return")
    assert len(ladder.table()) == len(ladder.remedies)
