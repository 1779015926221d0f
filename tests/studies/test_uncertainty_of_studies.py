"""Comparisons, drives, climates and sheets with `uncertainty=`: samples as asked for alone, and what they say."""

from __future__ import annotations

import signal

import numpy as np
import pytest
from scipy import stats

import fuelsim as fs
from fuelsim.numerics.sampling import share_interval
from fuelsim.studies.climates import ClimateTable, Survival
from fuelsim.system.conditions import Conditions
from fuelsim.transients import drive as drive_module
from fuelsim.transients.drive_results import Drive
from fuelsim.transients.schedule import Schedule, typical_phase

FINCH = fs.Car.named("finch")
HERON = fs.Car.named("heron")
BORE = {"feed.bore": (0.0055, 0.0065)}
TANK = {"tank.heat_conductance": (5.0, 15.0)}


def jam(car):
    return Schedule.of([typical_phase("jam", "20 min", car)])


@pytest.fixture(scope="module")
def comparison():
    given = {"rpm": [1000, 6000], "tank_temperature": ["30 degC"], "uncertainty": BORE}
    return fs.compare(FINCH, ["return", "returnless_bay"], **given)


def test_a_comparison_has_the_samples_that_are_asked_for_alone(comparison):
    points = Conditions(rpm=[FINCH.engine.idle_speed, 1000, 6000], load=[0, 1, 1])
    for layout, samples in comparison.samples.items():
        alone = fs.uncertainty(FINCH, layout, BORE, points, samples=512)
        assert samples.values["bypass"] == pytest.approx(alone.values["bypass"], rel=1e-9)
        assert float(samples.all_met.value) == float(alone.all_met.value)


@pytest.mark.long
def test_the_report_of_a_comparison_shows_bands_and_shares_only_where_they_are_asked_for(comparison, tmp_path):
    text = comparison.report(tmp_path / "sure.html").read_text(encoding="utf-8")
    assert "How sure" in text
    assert comparison.samples["return"].headline in text
    assert len(comparison.plot().axes[0].collections) == 2
    with pytest.raises(fs.InputError, match="uncertainty=True"):
        fs.compare(FINCH, ["return"], rpm=[6000], tank_temperature=["30 degC"]).uncertainty_table()


def test_samples_of_a_drive_are_drives_of_cars_with_those_values_and_their_cost_is_said_first(capfd):
    given = {"tank_temperature": "32 degC", "output_step": "5 min"}
    result = fs.drive(HERON, "return", jam(HERON), uncertainty=TANK, **given)
    ends = [
        fs.drive(HERON.with_values({"tank.heat_conductance": value}), "return", jam(HERON), **given).tank_temperature
        for value in (5.0, 15.0)
    ]
    assert "how sure: 16 drives, about" in "".join(capfd.readouterr())
    bands = result.samples.tank_temperatures(result.time)
    assert result.samples.samples == 16
    assert np.all(np.diff(bands[:, -1]) > 0.0)
    assert np.min(ends, axis=0)[-1] < bands[0, -1]
    assert bands[2, -1] < np.max(ends, axis=0)[-1]
    # A uniform input and a tank that answers nearly in proportion: 90 % of the way between the ends.
    assert bands[2, -1] - bands[0, -1] == pytest.approx(0.9 * abs(ends[1][-1] - ends[0][-1]), rel=0.1)


@pytest.mark.long
def test_the_share_of_an_event_is_that_of_the_drives_in_which_it_happens():
    given = {"tank_temperature": "47 degC", "output_step": "5 min", "progress": False}
    result = fs.drive(HERON, "return", jam(HERON), uncertainty={"pump.inlet_superheat": (0.0, 5.0)}, **given)
    for item in result.samples.events:
        happened = [any(event.name == item.name for event in each.events) for each in result.samples.drives]
        assert float(item.happens.value) == pytest.approx(np.mean(happened))
        assert item.happens.low <= item.happens.value <= item.happens.high
    assert result.samples.headline in result.headline


@pytest.mark.long
def test_a_drive_that_cannot_start_is_counted_with_its_reason():
    """At 50 degC a petrol of 60 kPa is liquid, one of 105 kPa boils in the tank."""
    given = {"tank_temperature": "46 degC", "output_step": "5 min", "progress": False}
    result = fs.drive(FINCH, "return", jam(FINCH), uncertainty={"fuel.vapour_pressure": (60e3, 105e3)}, **given)
    samples = result.samples
    assert 0 < len(samples.drives) < samples.samples == 16
    assert sum(samples.failed.values()) == 16 - len(samples.drives)
    assert "not driven" in samples.headline
    assert "samples not driven" in samples.table()["what"].iloc[-1]


@pytest.mark.parametrize(
    ("asked", "words"), [(12, "8 or 16"), (0, "power of two"), ({"supply_voltage": (12.0, 14.0)}, "condition")]
)
def test_samples_that_do_not_suit_a_drive_are_refused(asked, words):
    with pytest.raises(fs.InputError, match=words):
        fs.drive(FINCH, "return", jam(FINCH), tank_temperature="32 degC", uncertainty=asked, progress=False)


def test_ctrl_c_among_the_samples_of_a_drive_keeps_those_that_are_finished(monkeypatch):
    from fuelsim.studies import drive_samples

    work, calls = drive_samples.drive, []

    def called(*arguments, **named) -> Drive:
        calls.append(1)
        if len(calls) == 4:
            signal.raise_signal(signal.SIGINT)
        return work(*arguments, **named)

    monkeypatch.setattr(drive_samples, "drive", called)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        result = drive_module.drive(
            FINCH, "return", jam(FINCH), tank_temperature="32 degC", uncertainty=TANK, progress=False
        )
    finally:
        signal.signal(signal.SIGINT, before)
    assert result.interrupted
    assert len(result.samples.drives) == 3
    assert str(result.completion) == "stopped early: 3 of 16 samples"


@pytest.fixture(scope="module")
def climates() -> ClimateTable:
    asked = {"pump.inlet_superheat": (0.0, 5.0)}
    given = {"bands": False, "wrong_fuel": False, "uncertainty": asked, "progress": False}
    return fs.over_climates([HERON], ["madrid"], ["return"], **given)


@pytest.mark.long
def test_over_climates_each_cell_says_in_how_many_samples_it_fails(climates):
    row = climates.rows[0]
    assert len(row.samples) == 16
    share = row.share_of(Survival.FAILS)
    assert float(share.value) == np.mean([day.survival is Survival.FAILS for day in row.samples])
    assert climates.table()["fails_percent"].iloc[0] == pytest.approx(100.0 * float(share.value))
    assert "of 16 samples" in climates.sentences()[0]


def test_the_sheet_shows_bands_of_its_points_and_how_often_requirements_are_met(tmp_path):
    sheet = fs.hand_over(FINCH, "return", uncertainty=BORE)
    text = sheet.report(tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert sheet.samples.headline in text
    assert sheet.samples.values["rail_pressure"].shape == (512, len(sheet.points) - 1)


def test_a_share_without_spread_between_the_sets_has_the_interval_of_independent_trials():
    """Judge: `scipy.stats.binomtest`, Clopper and Pearson."""
    happens = np.repeat([1.0, 0.0, 0.0, 0.0], 8)
    exact = stats.binomtest(8, 32).proportion_ci(method="exact")
    found = share_interval(happens, 8)
    assert [float(end) for end in found] == pytest.approx([0.25, exact.low, exact.high])
    assert float(share_interval(np.ones(11), 8).value) == 1.0
