"""What is computed from a coupled solution, each figure by hand from flows, pressures and temperatures put into it."""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.laws.link import Regime
from fuelsim.outcome import OutcomeCode
from fuelsim.system.run_values import RunValues

L_H = 1e-3 / 3600.0


class Parts(NamedTuple):
    """What a run was solved for and its solution, from which others are made."""

    run: fs.Run
    car: fs.Car
    plumbing: object
    tables: object
    points: object
    solution: object

    def values(self, *, pumps_cut=True, **changed):
        """Return the values of the solution with some rows of its tables replaced."""
        solution = self.solution
        for table, rows in changed.items():
            known = getattr(solution, table)
            solution = dataclasses.replace(solution, **{table: {**known, **{k: np.array(v) for k, v in rows.items()}}})
        return RunValues(self.car, self.plumbing, self.tables, self.points, solution, pumps_cut)

    def with_failed(self, point):
        """Return the same with one point that failed."""
        outcome = self.solution.outcome
        code = np.array(outcome.code)
        code[point] = OutcomeCode.NOT_CONVERGED
        solution = dataclasses.replace(self.solution, outcome=dataclasses.replace(outcome, code=code))
        return self._replace(solution=solution)


def parts_of(car, layout, **conditions):
    run = car.system(layout).solve(**({"rpm": [1000.0, 3000.0, 6000.0], "load": 0.5} | conditions))
    car, plumbing, fuel, points, _ = run.solved
    return Parts(run, car, plumbing, fuel.tables(), points, run.as_solved)


@pytest.fixture(scope="module")
def finch():
    changes = {"rail_regulator.hysteresis": "6 kPa", "pump.contact_heat": "7 W"}
    return parts_of(fs.Car.named("finch").with_values(changes), "return")


@pytest.fixture(scope="module")
def plover():
    return parts_of(fs.Car.named("plover"), "pot")


def with_flow(parts, **flows):
    """Return the values with volume flows put in, L/h."""
    mass = {name: np.array(flow) * L_H * parts.solution.density[name] for name, flow in flows.items()}
    return parts.values(mass_flow=mass)


def test_volume_flows_are_mass_flows_at_the_density_of_each_link(finch):
    assert with_flow(finch, feed=[80.0, 90.0, 100.0]).flow["feed"] == pytest.approx(np.array([80, 90, 100]) * L_H)


def test_failed_points_have_no_values_and_ask_the_tables_for_none(finch):
    asked = []

    def table(value):
        asked.append(value)
        return 2.0 * value

    values = finch.with_failed(1).values()
    looked_up = values.looked_up(table, np.array([1.0, np.nan, 3.0]))
    assert looked_up[[0, 2]].tolist() == [2.0, 6.0]
    assert np.isnan(looked_up[1])
    assert np.all(np.isfinite(asked))
    for each in (values.bypass_flow(), values.hysteresis(), values.tank_heat_flow(), values.shed_heat()):
        assert np.isfinite(each).tolist() == [True, False, True]


def test_the_bypass_is_what_every_regulator_that_is_not_shut_lets_pass(finch):
    regime = np.array([Regime.REGULATING, Regime.SHUT, Regime.WIDE_OPEN], dtype=object)
    mass = np.array([50.0, 1e-5, 70.0]) * L_H * finch.solution.density["regulator"]
    values = finch.values(mass_flow={"regulator": mass}, regime={"regulator": regime})
    assert values.bypass_flow() == pytest.approx(np.array([50.0, 0.0, 70.0]) * L_H)


def test_the_band_is_half_the_hysteresis_where_the_regulator_regulates(finch):
    regime = np.array([Regime.REGULATING, Regime.SHUT, Regime.REGULATING], dtype=object)
    assert finch.values(regime={"regulator": regime}).hysteresis().tolist() == [3e3, 0.0, 3e3]
    bare = fs.Car.named("finch").with_plumbing("bare", runs=[["tank", "pump", "feed", "rail"]])
    assert parts_of(bare, "bare").values().hysteresis().tolist() == [0.0, 0.0, 0.0]


def test_duty_is_pulse_and_dead_time_over_the_window_and_grows_with_vapour(finch):
    """Half of what four injectors of 200 mL/min pass held open takes half of the time, and V/L of 1.5 halves what they
    pass; at 6000 rpm a cylinder has 20 ms."""
    injectors, density = finch.plumbing.injectors[0].part, finch.solution.density["injectors"]
    half = 0.5 * injectors.static_volume_flow(3e5, density) * density
    pressure = finch.solution.pressure["manifold"] + 3e5
    dead = np.asarray(injectors.opening_loss(finch.points.supply_voltage, 3e5)) * finch.points.rpm / 120.0
    changed = {"mass_flow": {"injectors": half}, "pressure": {"rail": pressure}}
    plain = finch.values(**changed, vapour_liquid_ratio={"rail": np.zeros(3)})
    assert plain.injector_duties()["rail"] == pytest.approx(0.5 + dead, rel=1e-6)
    boiling = finch.values(**changed, vapour_liquid_ratio={"rail": [0.0, 1.5, np.nan]})
    assert boiling.injector_duties()["rail"] == pytest.approx(np.array([0.5, 1.0, 0.5]) + dead, rel=1e-6)


def test_a_pot_that_gets_less_than_leaves_it_is_empty_after_its_volume_over_the_difference(plover):
    """1.5 L at 30 L/h less than leaves are three minutes; a hundredth of a litre per hour counts for nothing, and of
    200 L/h less than a ten-thousandth, 0.02 L/h, neither."""
    for leaving, overflow, lasts in (
        (30.0, [-30.0, 5.0, -0.009], [180.0, np.inf, np.inf]),
        (30.0, [-0.011, -3.0, 0.0], [1.5 / 0.011 * 3600.0, 1800.0, np.inf]),
        (100.0, [-0.0199, -0.0201, -90.0], [np.inf, 1.5 / 0.0201 * 3600.0, 60.0]),
    ):
        values = with_flow(plover, overflow=overflow, left_pump=[leaving] * 3, right_pump=[-leaving] * 3)
        assert values.through_pot("pot") == pytest.approx(np.full(3, 2.0 * leaving * L_H))
        assert values.pot_overflow["pot"] == pytest.approx(np.array(overflow) * L_H)
        assert values.pot_times["pot"] == pytest.approx(lasts)
    failed = plover.with_failed(0).values()
    assert np.isnan(failed.pot_times["pot"]).tolist() == [True, False, False]


def test_a_pot_that_runs_dry_is_told_with_what_leaves_and_what_comes(plover):
    values = with_flow(plover, overflow=[-30.0, 5.0, 5.0], left_pump=[45.0] * 3, right_pump=[45.0] * 3)
    outcome = values.outcome(values.over_vapour_limit())
    assert outcome.code.tolist() == [OutcomeCode.RUNS_DRY, OutcomeCode.SOLVED, OutcomeCode.SOLVED]
    assert outcome.worst_part[0] == "pot"
    assert "'pot' runs dry in 180 s" in outcome.reason[0]
    assert "90 L/h leave it and 60 L/h come in" in outcome.reason[0]


def test_the_suction_margin_is_that_of_the_pump_with_least(plover):
    pumps = plover.plumbing.pumps
    beyond = {link.upstream: np.zeros(3) for link in pumps}
    needs = {link.name: link.part.npsh_required for link in pumps}
    assert plover.values().suction_margin(beyond) == pytest.approx(np.full(3, -max(needs.values())))
    beyond["lift_inlet"] = np.array([-9e4, 0.0, 0.0])
    assert plover.values().suction_margin(beyond)[0] == pytest.approx(-9e4 - needs["lift"])


def test_heat_into_the_tank_is_the_warmth_of_what_comes_back(finch):
    """0.02 kg/s of 10 K above the tank: 0.02 x c x 10, with what the submerged pump sheds beside it."""
    tank, warmer = finch.points.tank_temperature, np.array([10.0, -5.0, 30.0])
    values = finch.values(
        mass_flow={"return_line": [0.02, 0.02, 0.0]}, outlet_temperature={"return_line": tank + warmer}
    )
    back = 0.02 * np.asarray(finch.tables.heat_capacity(tank)) * [10.0, -5.0, 0.0]
    assert values.tank_heat_flow() - values.shed_heat() == pytest.approx(back)


def test_a_submerged_pump_sheds_what_of_its_power_does_not_go_along(finch):
    """Power and contact heat, less the enthalpy that the fuel takes up: its warming and the pressure it gains, which
    costs the work rise/density and keeps back what throttling would warm."""
    tank = finch.points.tank_temperature
    capacity, density = finch.tables.heat_capacity(tank), finch.tables.density(tank)
    per_pressure = finch.run.solved.fuel.tables()
    expansion = (per_pressure.density(tank - 0.5) - per_pressure.density(tank + 0.5)) / density
    rise = np.array([3e5, 0.0, 3e5])
    warming = np.array([0.0, 0.5, 0.5])
    changed = {
        "mass_flow": {"pump": np.full(3, 0.03)},
        "pressure": {"pump_inlet": np.full(3, 1e5), "pump_outlet": 1e5 + rise},
        "temperature": {"pump_inlet": tank},
        "outlet_temperature": {"pump": tank + warming},
    }
    solution = {**finch.solution.pump["pump"], "heat_into_fuel": np.full(3, 50.0)}
    values = finch._replace(solution=dataclasses.replace(finch.solution, pump={"pump": solution})).values(**changed)
    work = 0.03 * rise / density * (1.0 - expansion * tank)
    expected = 50.0 + 7.0 - 0.03 * capacity * warming - work
    assert values.shed_heat() == pytest.approx(expected, rel=1e-3)
    heron = parts_of(fs.Car.named("heron"), "return").values()
    assert heron.shed_heat().tolist() == [0.0, 0.0, 0.0]


def test_a_pump_is_over_its_limit_with_more_vapour_than_it_tolerates(finch):
    tolerated = finch.plumbing.pumps[0].part.tolerated_vapour
    values = finch.values(vapour_liquid_ratio={"pump_inlet": [0.9 * tolerated, 1.1 * tolerated, np.nan]})
    assert values.over_vapour_limit()["pump"].tolist() == [False, True, False]
    failed = finch.with_failed(1).values(vapour_liquid_ratio={"pump_inlet": np.full(3, 1.1 * tolerated)})
    assert failed.over_vapour_limit()["pump"].tolist() == [True, False, True]


def test_vapour_at_a_pump_is_told_from_a_thousandth_of_the_volume_on(finch):
    tolerated = finch.plumbing.pumps[0].part.tolerated_vapour
    ratio = [0.96e-3, 1.06e-3, 1.5 * tolerated]
    values = finch.values(pumps_cut=False, vapour_liquid_ratio={"pump_inlet": ratio})
    reason = values.outcome(values.over_vapour_limit()).reason
    assert reason[0] == ""
    said = "vapour takes flow from the pump: 0.0011 volumes of gas per volume of fuel at the inlet of 'pump'"
    assert reason[1] == said
    assert reason[2].endswith(", more than it tolerates")


def test_an_engine_that_stops_is_told_with_the_share_of_fuel_it_gets(plover):
    """A third of the demand at the right rail is 33 % of what it asks for; less than one per cent is hardly any."""
    demand = 0.5 * plover.points.fuel_mass_flow
    names = [rail.injectors.name for rail in plover.plumbing.planned_rails]
    flows = {names[0]: demand, names[1]: demand * [0.0106, 1.0 / 3.0, 0.0096]}
    values = plover.values(mass_flow=flows, pressure={"right_rail": plover.solution.pressure["manifold"] + 40e3})
    assert values.at_rest.all()
    outcome = values.outcome(values.over_vapour_limit())
    assert outcome.code.tolist() == [OutcomeCode.ENGINE_STOPPED] * 3
    assert outcome.worst_part.tolist() == ["right_rail"] * 3
    assert outcome.reason[1] == (
        "the engine stops: it gets 33 % of the fuel it asks for, with the rail 40 kPa above the manifold"
    )
    assert "it gets 1.1 % of the fuel" in outcome.reason[0]
    assert "it gets hardly any fuel" in outcome.reason[2]
    running = plover.values(pumps_cut=False, mass_flow=flows)
    assert not running.at_rest.any()
    assert running.while_running(np.ones(3)).tolist() == [1.0, 1.0, 1.0]
    assert np.isnan(values.while_running(np.ones(3))).all()
    half = plover.values(mass_flow={names[1]: demand * [1.0, 0.3, 1.0]})
    assert np.isnan(half.while_running(np.ones(3))).tolist() == [False, True, False]


def test_vapour_that_stops_an_engine_is_told_as_the_cause(finch):
    """A V/L of 2 at the pump's inlet takes far more than a twentieth of its flow."""
    flow = finch.points.fuel_mass_flow * [1.0, 0.2, 0.2]
    values = finch.values(mass_flow={"injectors": flow}, vapour_liquid_ratio={"pump_inlet": [0.0, 2.0, 0.0]})
    assert values.judgement.locked.tolist() == [False, True, False]
    reason = values.outcome(values.over_vapour_limit()).reason
    assert "; vapour takes flow from the pump: 2 volumes" in reason[1]
    assert "vapour" not in reason[2]
    assert "it gets 20 % of the fuel" in reason[2]
