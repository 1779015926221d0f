"""Where the heat of a plumbing comes from, link by link."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.heat_sources import HeatSources, heat_sources


def test_sources_are_the_sums_over_the_links_of_their_kind():
    """Plover without a pot: feeds and crossover in the bay, rails by themselves, hoses under the floor, pumps."""
    run = (
        fs.Car.named("plover")
        .system("no_pot")
        .solve(rpm=[900.0, 4000.0], load=[0.0, 0.6], tank_temperature=[305.0, 311.0], air_temperature=308.0)
    )
    sources, heat = heat_sources(run), run.heat_flow
    in_bay = heat["left_feed"] + heat["right_feed"] + heat["crossover"]
    assert sources.bay_heat == pytest.approx(in_bay)
    assert np.all(np.abs(in_bay) > 0.1)
    assert sources.pump_heat == pytest.approx(heat["left_pump"] + heat["right_pump"] + run.shed_heat)
    below = heat["mains_suction"] + heat["feed_line"] + heat["return_hose"]
    assert sources.line_heat == pytest.approx(below, rel=1e-6, abs=1e-6)
    assert np.all(sources.rail_heat > 10.0)
    assert sources.burnt_heat == pytest.approx(run.burnt_heat_flow)
    assert sources.returned == pytest.approx(run.tank_heat_flow, rel=1e-6)


def test_what_returns_is_what_came_in_less_what_was_burnt():
    sources = HeatSources(*(np.array([value]) for value in (100.0, 40.0, 7.0, -3.0, 14.0)))
    assert sources.returned.tolist() == [130.0]


def test_a_pump_in_the_tank_brings_all_its_electrical_power():
    """A submerged motor has no other way to lose heat than into the fuel that it moves and the fuel around it."""
    run = fs.Car.named("finch").system("returnless_tank").solve(rpm=[900.0, 4000.0], load=[0.0, 0.6])
    assert heat_sources(run).pump_heat == pytest.approx(run.pump_power["pump"], rel=2e-3)
    assert np.all(run.shed_heat > 0.5)
