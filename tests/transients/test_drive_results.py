"""What a drive's ledger and its samples say, out of given figures."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fuelsim.interruption import WHOLE
from fuelsim.transients.drive_results import DriveSamples, HeatLedger
from fuelsim.transients.events import Event, EventName

LEDGER = HeatLedger(
    wall=-400.0,
    returned=1000.0,
    radiated=200.0,
    lift=50.0,
    sun=70.0,
    road=-30.0,
    pump_heat=700.0,
    rail_heat=300.0,
    bay_heat=60.0,
    line_heat=-20.0,
    burnt_heat=40.0,
    evaporation=290.0,
    carried=-150.0,
    stored=750.0,
)


def test_a_ledger_s_sums_are_those_of_its_rows():
    """By hand: 890 J came in, of which 290 evaporated fuel and 600 warmed it: nothing is missing of the 2040 J that
    moved."""
    assert LEDGER.warming == 600.0
    assert LEDGER.by_source == 1000.0
    assert LEDGER.moved == 400.0 + 1000.0 + 200.0 + 50.0 + 70.0 + 30.0 + 290.0
    assert LEDGER.error == pytest.approx(0.0)
    assert LEDGER.source_error == pytest.approx(0.0)


@pytest.mark.parametrize("name", ["wall", "returned", "radiated", "lift", "sun", "road"])
def test_heat_that_comes_in_and_goes_nowhere_is_missing(name):
    wrong = replace(LEDGER, **{name: getattr(LEDGER, name) + 102.0})
    assert wrong.error == pytest.approx(102.0 / wrong.moved)


@pytest.mark.parametrize(("name", "sign"), [("pump_heat", 1), ("rail_heat", 1), ("bay_heat", 1), ("line_heat", 1)])
def test_a_source_too_much_is_a_source_error(name, sign):
    wrong = replace(LEDGER, **{name: getattr(LEDGER, name) + 51.0})
    assert wrong.source_error == pytest.approx(51.0 / 2040.0)
    assert wrong.error == pytest.approx(0.0)


def test_a_ledger_of_nothing_has_no_error():
    assert HeatLedger(*[0.0] * 14).error == 0.0


# ---- samples -------------------------------------------------------------------------------------------------------


def sample(*times, hottest=310.0, part="", margin=np.nan):
    return SimpleNamespace(
        events=[Event(time, EventName.TANK_BOILS, "boils", part) for time in times],
        time=np.array([0.0, 100.0]),
        tank_temperature=np.array([300.0, hottest]),
        pump_margin=np.array([12.0, margin]),
        rail_margin=np.array([np.nan, np.nan]),
        rail_gauge_pressure=np.array([3e5, 2e5]),
        vapour_lost=np.array([0.0, 0.02]),
    )


def samples(*drives, failed=None):
    return DriveSamples(("a", "b"), drives, failed or {}, WHOLE)


def test_an_event_s_share_counts_samples_and_those_that_failed_and_its_first_time_alone():
    """Three of four samples, one of which could not be driven: hence 3/5; median of the first times, by hand."""
    study = samples(sample(50.0, 60.0), sample(30.0), sample(70.0), sample(), failed={"cold": 1})
    (event,) = study.events
    assert study.samples == 5
    assert (event.name, event.part) == (EventName.TANK_BOILS, "")
    assert float(event.happens.value) == pytest.approx(0.6)
    assert event.times[1] == pytest.approx(50.0)
    assert event.times[0] < event.times[1] < event.times[2]
    assert "5 samples of 2 inputs: tank boils in 60 % (" in study.headline
    assert "1 not driven: cold" in study.headline


def test_events_are_told_by_part_the_earliest_first():
    study = samples(sample(90.0, part="left"), sample(20.0, part="right"))
    assert [event.part for event in study.events] == ["right", "left"]
    assert [float(event.happens.value) for event in study.events] == [0.5, 0.5]


def test_the_headline_tells_minutes_as_one_figure_or_as_a_span():
    assert "after 2 min" in samples(sample(120.0), sample(120.0)).headline
    assert "after 2 to 10 min" in samples(sample(120.0), sample(600.0)).headline
    assert "no events" in samples(sample()).headline


def test_figures_are_the_worst_of_each_drive_over_the_samples():
    """Quantiles of equally spread values: the median is the middle one; 5 and 95 % lie within the ends (Hazen 1914)."""
    study = samples(*(sample(hottest=value, margin=value - 305.0) for value in (310.0, 311.0, 312.0, 313.0, 314.0)))
    figures = {figure.about: figure for figure in study.figures}
    assert figures["hottest tank"].quantiles == pytest.approx([310.0, 312.0, 314.0])
    assert figures["least margin to boiling at the pump"].quantiles == pytest.approx([5.0, 7.0, 9.0])
    assert "least margin to boiling in the rail" not in figures
    assert figures["least rail pressure (gauge)"].quantiles == pytest.approx([2e5] * 3)
    assert figures["vapour lost"].quantiles == pytest.approx([0.02] * 3)
    middle = study.tank_temperatures(np.array([0.0, 50.0, 100.0]))
    assert middle[1] == pytest.approx([300.0, 306.0, 312.0])
    assert middle[0] == pytest.approx([300.0, 305.0, 310.0])
    assert middle[2] == pytest.approx([300.0, 307.0, 314.0])
