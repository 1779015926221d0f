"""A change from one operating point to another: where it ends, what it passes on the way."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs

CHANGES = {
    "throttle": ("finch", "return", {"rpm": 3000, "load": 0.2}, {"rpm": 3000, "load": 1.0}),
    "pump step": (
        "finch",
        "returnless_bay",
        {"rpm": 3000, "supply_voltage": 11.5},
        {"rpm": 3000, "supply_voltage": 14},
    ),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_ends_at_the_steady_answer_of_the_run_within_a_thousandth(name):
    car, layout, before, after = CHANGES[name]
    system = fs.Car.named(car).system(layout)
    event = fs.pressure_event(system, fs.Conditions(**before), fs.Conditions(**after), duration="0.3 s")
    assert abs(event.mass_error) < 1e-9
    for over_time, conditions in ((event.pressure, after), (event.back, before)):
        run = system.solve(fs.Conditions(**conditions))
        assert over_time["rail"][-100:].mean() == pytest.approx(float(run.pressure["rail"]), rel=1e-3)


def test_full_load_at_once_pulls_the_rail_of_a_long_feed_down_by_at_most_what_joukowsky_says():
    system = fs.Car.named("heron").system("returnless_tank")
    before, after = fs.Conditions(rpm=5000, load=0.1), fs.Conditions(rpm=5000, load=1.0)
    event = fs.pressure_event(system, before, after, over="0.2 ms", duration="60 ms")
    runs = [system.solve(each) for each in (before, after)]
    step = float(runs[1].burnt_mass_flow - runs[0].burnt_mass_flow)
    feed = system.plumbing.feed_lines[0].part
    # rho a v = a m/A, with the wave speed of fuel in a rigid line at most [closed form].
    joukowsky = step * 1200.0 / float(feed.cross_section)
    manifold = float(runs[1].pressure["manifold"] - runs[0].pressure["manifold"])
    assert 0.0 < event.there.dip < joukowsky + manifold


def test_blips_end_where_they_began_and_dip_as_often():
    system = fs.Car.named("finch").system("return")
    event = fs.pressure_event(
        system, fs.Conditions(rpm=2000, load=0.1), fs.Conditions(rpm=2000), hold="20 ms", over="5 ms", blips=2,
        duration="0.2 s",
    )  # fmt: skip
    high = event.manifold_pressure > 0.5 * (event.manifold_pressure.max() + event.manifold_pressure.min())
    assert np.count_nonzero(np.diff(high.astype(int)) == 1) == 2
    assert event.there.after == event.there.before
    assert event.pressure["rail"][-1] == pytest.approx(event.pressure["rail"][0], rel=2e-3)


def test_an_event_takes_one_operating_point_each():
    with pytest.raises(fs.InputError, match="one in 'before'"):
        fs.pressure_event(fs.Car.named("finch"), "return", fs.Conditions(rpm=[1000, 2000]), fs.Conditions(rpm=3000))


def test_blips_pull_the_pump_s_inlet_deeper_behind_a_clogged_strainer():
    """The strainer alone stands between tank and inlet; a spent one has ten times the viscous share of the drop."""
    deepest = {}
    for clogging in (1.0, 10.0):
        car = fs.Car.named("finch").with_values({"strainer.clogging": clogging})
        event = fs.pressure_event(
            car, "return", fs.Conditions(rpm=2500, load=0.1), fs.Conditions(rpm=2500), hold="20 ms", over="5 ms",
            blips=2, duration="0.1 s",
        )  # fmt: skip
        assert abs(event.mass_error) < 1e-9
        deepest[clogging] = float(event.pressure["pump_inlet"].min())
    assert deepest[10.0] < deepest[1.0] - 1e3


def test_a_second_pump_that_is_staged_on_brings_the_rail_to_the_steady_answer_of_both():
    car = fs.Car.named("finch").with_values({
        "pumps.second": fs.Pump.named("in_tank_220"),
        "filters.second_strainer": fs.Car.named("finch").strainer,
        "check_valves.first_check": fs.CheckValve(),
        "check_valves.second_check": fs.CheckValve(),
        "pump_stages.second": fs.PumpStage(demand_on="30 L/h", demand_off="20 L/h"),
    })  # fmt: skip
    runs = [
        ["tank", "strainer", "pump", "first_check", "tee"],
        ["tank", "second_strainer", "second", "second_check", "tee"],
        ["tee", "filter", "feed", "rail", "rail_regulator", "return_line", "tank"],
    ]
    system = car.with_plumbing("two", runs=runs).system("two")
    before, after = fs.Conditions(rpm=5000, load=0.1), fs.Conditions(rpm=5000, load=1.0)
    both, alone = system.solve(after), system.solve(before)
    assert float(alone.flow["second"]) == pytest.approx(0.0, abs=1e-7)
    event = fs.pressure_event(system, before, after, duration="0.3 s")
    assert abs(event.mass_error) < 1e-9
    assert event.pressure["rail"][-100:].mean() == pytest.approx(float(both.pressure["rail"]), rel=2e-3)
