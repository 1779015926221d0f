"""Comparing layouts: the outer product, tables, sentences, figure and report."""

from __future__ import annotations

import html
import re

import numpy as np
import pytest

import fuelsim as fs


@pytest.fixture(scope="module")
def result():
    return fs.compare(fs.Car.named("finch"), rpm=[800, 3000, 6000], tank_temperature=["20 degC", "45 degC", "50 degC"])


def test_the_comparison_is_the_outer_product_of_speeds_and_tank_temperatures(result):
    assert result.layouts == ("return", "returnless_tank", "returnless_bay")
    for layout in result.layouts:
        assert result.full_load[layout].pressure["rail"].shape == (3, 3)
        assert result.idle[layout].pressure["rail"].shape == (3,)
        assert np.all(result.full_load[layout].outcome.converged)


def test_tables_name_units_and_say_gauge(result):
    layouts, vapour = result.table(), result.vapour_table()
    assert "least_rail_kPa_gauge" in layouts.columns
    assert len(vapour) == 9
    assert {"pump_inlet_margin_K", "pump_inlet_margin_kPa", "pump_noisy", "pump_flow_lost_percent"} <= set(
        vapour.columns
    )
    psi = result.table("US workshop")["least_rail_psi_gauge"]
    assert psi.to_numpy() * 6.894757 == pytest.approx(layouts["least_rail_kPa_gauge"].to_numpy(), rel=1e-5)


def test_noise_and_loss_of_flow_are_thresholds_of_their_own(result):
    noise, loss = result.suction_limits("return")
    assert noise < loss or np.isnan(loss)
    vapour = result.vapour_table()
    liquid = vapour[vapour["pump_inlet_margin_K"] > 0.0]
    assert np.all(liquid["pump_flow_lost_percent"] == 0.0)


def test_a_run_table_has_one_row_per_point_and_agrees_with_the_run(result):
    run = result.full_load["return"]
    table = run.table()
    assert len(table) == 9
    assert table["rail_kPa_gauge"].to_numpy() == pytest.approx(run.gauge_pressure["rail"].reshape(-1) / 1e3)
    assert table.index.get_level_values("tank_degC").to_numpy() == pytest.approx(
        run.conditions.points()["tank_temperature"] - 273.15
    )


def test_figures_have_labelled_axes_and_a_sentence(result):
    drawn = result.plot()
    assert drawn.get_suptitle().startswith("Finch:")
    for axis in drawn.axes:
        assert re.search(r", (kPa|L/h|K|rpm|°C)", axis.get_ylabel())
        assert axis.get_xlabel()
    styles = {str(line.get_linestyle()) for line in drawn.axes[0].get_lines()[:3]}
    assert len(styles) == 3, "lines must differ without colour"


def test_one_sentence_per_layout_says_what_limits_it(result):
    sentences = result.sentences()
    assert [sentence.split(":")[0] for sentence in sentences] == list(result.layouts)
    assert not any("safe" in sentence for sentence in sentences)


def test_the_report_is_one_file_without_requests_and_escapes_user_text(tmp_path):
    car = fs.Car.named("finch").with_values(
        {"name": "<script>alert(1)</script>", "about": "<img src=x onerror=alert(2)>"}
    )
    path = fs.compare(car, ["return"], rpm=[3000], tank_temperature=["40 degC"]).report(tmp_path / "report.html")
    text = path.read_text(encoding="utf-8")
    assert "<script" not in text
    assert "<img src=x" not in text
    assert "&lt;script&gt;" in text
    assert not re.search(r'(src|href)="(?!data:)', text)
    assert "do not replace a pressure test" in text
    assert list(tmp_path.iterdir()) == [path]


def test_the_report_lists_the_findings_of_each_layout_with_caution_and_source(tmp_path):
    car = fs.Car.named("finch").with_values({"feed.working_pressure": "340 kPa"})
    result = fs.compare(car, rpm=[3000], tank_temperature=["40 degC"])
    gravest = result.findings("returnless_tank")[0]
    assert gravest.severity is fs.Severity.FAILURE
    text = result.report(tmp_path / "report.html").read_text(encoding="utf-8")
    for said in (gravest.statement, gravest.advice, gravest.caution):
        assert said in html.unescape(text)
    assert gravest.statement not in " ".join(finding.statement for finding in result.findings("return"))


def test_an_unknown_layout_and_a_wrong_temperature_are_refused():
    car = fs.Car.named("finch")
    with pytest.raises(fs.InputError, match="did you mean 'return'"):
        fs.compare(car, ["retrun"])
    with pytest.raises(fs.InputError, match="write '45 degC'"):
        fs.compare(car, tank_temperature=[45])


def test_something_that_is_no_car_and_an_empty_list_of_layouts_are_refused():
    with pytest.raises(fs.InputError, match=r"not a Car; given 'finch'.*fs\.Car\.named"):
        fs.compare("finch")
    with pytest.raises(fs.InputError, match="no layout to compare"):
        fs.compare(fs.Car.named("finch"), [])


def test_rows_above_the_boiling_point_of_the_tank_are_marked_and_left_out_of_limits():
    """A tank above its own fuel's boiling point does not exist; a pump locked there was noisy before."""
    result = fs.compare(fs.Car.named("heron"), ["returnless_tank"], tank_temperature=["45 degC", "50 degC", "60 degC"])
    boils = result.tank_boiling_temperature
    assert 323.15 < boils < 333.15
    table = result.vapour_table("SI")
    assert list(table["tank_boils"]) == [False, False, True]
    assert list(table["pump_noisy"]) == [True, True, True]
    (sentence,) = result.sentences()
    assert "nan" not in sentence
    assert "60 °C" not in sentence
    assert fs.si(f"{result.suction_limits('returnless_tank').vapour} K", "K") <= boils
