"""What a run shows, against definitions, the fuel's own flash and balances of mass; a second solution is put in."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.outcome import OutcomeCode
from fuelsim.system import results
from fuelsim.system.results import RailResult

RPM = [850.0, 3000.0, 6000.0]


@pytest.fixture(scope="module")
def uneven():
    """Two rails at different heights, five of eight injectors on the right one, at 1500 m."""
    car = fs.Car.named("plover").with_values(
        {"rails.right_rail.height": "0.9 m", "rails.right_rail.injectors": 5, "tank.released_air": 0.0}
    )
    return car.system("pot").solve(rpm=RPM, load=[0.0, 0.4, 1.0], altitude=1500.0)


@pytest.fixture(scope="module")
def hot():
    """Fuel that boils at the pump's inlet, without air."""
    car = fs.Car.named("heron").with_values({"tank.released_air": 0.0})
    return car.system("return").solve(rpm=3000.0, tank_temperature=[300.0, 324.0])


def test_gauge_pressures_are_above_the_atmosphere_of_the_place(uneven):
    """845.6 hPa at 1500 m (ISO 2533)."""
    for name, pressure in uneven.pressure.items():
        assert pressure - uneven.gauge_pressure[name] == pytest.approx(np.full(3, 84556.0), abs=1.0)


def test_margins_are_those_of_the_fuel_s_own_bubble_point(hot):
    """Judge: the direct calculation instead of the tables, within their tenth of a per cent."""
    fuel = hot.solved.fuel
    for name in ("pump_inlet", "rail", "filter_outlet"):
        pressure, temperature = np.asarray(hot.pressure[name]), np.asarray(hot.as_solved.temperature[name])
        for point in range(2):
            bubble = float(fuel.bubble_temperature(float(pressure[point])))
            assert hot.vapour_margin[name][point] == pytest.approx(bubble - temperature[point], abs=0.3)
            holds = float(fuel.bubble_pressure(float(temperature[point])))
            assert hot.pressure_margin[name][point] == pytest.approx(pressure[point] - holds, abs=3e-3 * holds)
    assert hot.vapour_margin["pump_inlet"][1] < 0.0 < hot.vapour_margin["pump_inlet"][0]
    # Where fuel boils it is cooler than as if all liquid, elsewhere the same.
    cooler = np.asarray(hot.as_solved.temperature["pump_inlet"]) - np.asarray(hot.temperature["pump_inlet"])
    assert cooler[0] == 0.0
    assert cooler[1] > 0.1


def test_what_leaves_the_tank_is_burnt_or_comes_back(uneven):
    back = sum(np.asarray(uneven.mass_flow[link.name]) for link in uneven.plumbing.return_links)
    assert uneven.supply_mass_flow - back == pytest.approx(uneven.burnt_mass_flow, rel=1e-5)
    assert uneven.burnt_mass_flow == pytest.approx(
        np.asarray(uneven.mass_flow["left_rail_injectors"]) + uneven.mass_flow["right_rail_injectors"]
    )
    assert uneven.burnt_flow == pytest.approx(
        np.asarray(uneven.flow["left_rail_injectors"]) + uneven.flow["right_rail_injectors"]
    )
    assert uneven.supply_mass_flow == pytest.approx(uneven.mass_flow["lift_strainer"])
    # Stations and links answer to their other names, too.
    assert uneven.pressure["main_filter_inlet"].tolist() == uneven.pressure["tee"].tolist()


def test_rails_differ_by_the_column_between_them(uneven):
    """0.25 m of petrol are 1.8 kPa; at idle next to no pressure is lost between the rails (tenths of a kilopascal)."""
    left, right = (uneven.by_rail[name] for name in ("left_rail", "right_rail"))
    column = 0.25 * 9.80665 * 740.0
    assert left.pressure[0] - right.pressure[0] == pytest.approx(column, abs=600.0)
    assert uneven.rail_spread == pytest.approx(np.abs(left.pressure_difference - right.pressure_difference))
    assert uneven.injector_pressure_difference == pytest.approx(
        np.minimum(left.pressure_difference, right.pressure_difference)
    )
    assert uneven.injector_duty == pytest.approx(np.maximum(left.injector_duty, right.injector_duty))
    assert (left.injectors, right.injectors) == (3, 5)
    assert 5.0 * left.mass_flow == pytest.approx(3.0 * right.mass_flow, rel=1e-4)
    for rail in (left, right):
        assert rail.pressure - rail.gauge_pressure == pytest.approx(np.full(3, 84556.0), abs=1.0)
        assert rail.mass_flow / rail.flow == pytest.approx(np.full(3, 730.0), abs=30.0)
        assert rail.mixture == pytest.approx(np.ones(3), abs=1e-3)


def test_the_regime_of_the_regulator_is_that_of_the_rails(uneven):
    assert uneven.regulator_regime.tolist() == uneven.regime["rail_end"].tolist()
    bare = fs.Car.named("finch").with_plumbing("bare", runs=[["tank", "pump", "feed", "rail"]])
    run = bare.system("bare").solve(rpm=[1000.0, 2000.0])
    assert run.regulator_regime.tolist() == ["", ""]
    assert run.rail_spread.tolist() == [0.0, 0.0]
    assert run.bypass_flow.tolist() == [0.0, 0.0]


def test_a_headline_counts_the_points_at_which_the_engine_is_lean_or_stopped(uneven):
    assert uneven.headline == "surge pot, crossover, return from the rails: 3 of 3 operating points solved"
    states = dataclasses.replace(uneven, engine_state=np.array(["lean", "stopped", "stopped"], dtype=object))
    assert states.headline.endswith("solved; engine lean at 1; engine stopped at 2")
    assert states.layout == "pot"
    assert uneven.by_rail["left_rail"].headline == "3 injectors at 3 operating points"
    assert RailResult(4, *(np.float64(1.0),) * 8).headline == "4 injectors at 1 operating points"


def test_pumps_are_on_where_they_have_a_share_of_the_time_and_stall_without_the_voltage_to_turn(uneven):
    assert all(on.all() for on in uneven.pump_on.values())
    off = fs.Car.named("finch").system("return").solve(rpm=800, load=0.0, supply_voltage=[0.0, 0.5, 13.5])
    assert off.pump_on["pump"].tolist() == [False, False, True]
    assert off.pump_stalled["pump"].tolist() == [False, True, False]
    # Nothing flows where the engine stops, and what stopped it is kept.
    assert off.outcome.code.tolist() == [OutcomeCode.ENGINE_STOPPED] * 2 + [OutcomeCode.SOLVED]
    assert np.isnan(off.while_running(np.ones(3))).tolist() == [True, True, False]
    assert np.isnan(off.vapour_margin["rail"]).tolist() == [True, True, False]
    assert np.isnan(off.pressure_margin["rail"]).tolist() == [True, True, False]
    assert off.before_stop.outcome.code.tolist() == [OutcomeCode.SOLVED] * 3
    assert uneven.before_stop is uneven


@pytest.mark.parametrize("from_locked", [False, True])
def test_a_second_state_is_one_that_takes_a_hundredth_less_or_more_from_the_tank(uneven, monkeypatch, from_locked):
    """The other solution is put in: it takes 0.9 % more, 1.1 % more and 1.1 % less out of the tank."""
    asked = []

    def other(car, plumbing, tables, points, *, from_above):
        asked.append(from_above)
        flows = dict(uneven.as_solved.mass_flow)
        flows["lift_strainer"] = flows["lift_strainer"] * [1.009, 1.011, 0.989]
        return dataclasses.replace(uneven.as_solved, mass_flow=flows)

    monkeypatch.setattr(results, "couple", other)
    run = dataclasses.replace(uneven, solved=uneven.solved._replace(from_locked=from_locked))
    assert run.second_state.tolist() == [False, True, True]
    assert asked == [not from_locked]


def test_a_second_state_is_one_in_which_the_engine_stops_and_none_where_a_point_failed(uneven, monkeypatch):
    starving = dict(uneven.as_solved.mass_flow)
    starving["left_rail_injectors"] = starving["left_rail_injectors"] * [0.1, 1.0, 0.1]
    starving["lift_strainer"] = starving["lift_strainer"] * [1.0, 1.0, 0.5]
    outcome = uneven.as_solved.outcome
    failed = dataclasses.replace(outcome, code=np.array([0, 0, int(OutcomeCode.NOT_CONVERGED)]))
    other = dataclasses.replace(uneven.as_solved, mass_flow=starving, outcome=failed)
    monkeypatch.setattr(results, "couple", lambda *given, from_above: other)
    assert dataclasses.replace(uneven).second_state.tolist() == [True, False, False]
