"""The integration of a drive over stubs of the plumbing: steady flows, and an engine that stops when a rule says so.

The tank's walls lead so well, or so badly, that what the tank does is known in closed form.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.interruption import Interruption
from fuelsim.transients.integration import EMPTY_LEVEL, forward_jacobian, integrate
from fuelsim.transients.plumbing_table import PlumbingState, PlumbingTable
from fuelsim.transients.pot_flows import PotFlows, VesselFlows, planned_pots
from fuelsim.transients.pot_table import PotTable
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.tank_equations import TankEquations, TankVector
from fuelsim.transients.tank_fuel import tank_fuel
from fuelsim.transients.world import World

AIR = 293.15
STEP = 60.0


class Steady(PlumbingTable):
    """A plumbing that burns and heats alike at every moment."""

    def __init__(self, burnt=1e-3, heat=0.0, near=0.0):
        object.__setattr__(self, "state", PlumbingState(0.03, 0.03 - burnt, heat, heat, 0.0, 0.0, 0.0, 0.0, 3e5, near))

    def at(self, time, temperature, pressure, evaporated):
        return self.state


class SteadyPots(PotTable):
    """A plumbing with a pot that loses a steady flow, and gains another where that is said."""

    def __init__(self, lost=0.0, gained=0.0):
        pot = PotFlows(gained, 0.0, -lost, 0.0, 0.0)
        object.__setattr__(self, "flows", VesselFlows(gained, 0.0, 0.0, lost, 3e5, 0.0, (pot,)))

    def at(self, time, temperature, pot_temperatures, pressure, evaporated):
        return self.flows


class Rule:
    """A plumbing whose engine is stopped by vapour above one tank temperature, and fed again below another."""

    def __init__(self, stops_above=np.inf, fed_below=0.0):
        self.stops_above, self.fed_below, self.asked = stops_above, fed_below, []

    def at(self, evaporated):
        return self

    def solve(self, conditions, pot_temperatures=None, from_locked=False):
        tank = np.asarray(conditions.tank_temperature, dtype=float)
        self.asked.append((tank, from_locked))
        limit = self.fed_below if from_locked else self.stops_above
        state = np.where(tank > limit, "stopped", "fed").astype(object)
        return SimpleNamespace(
            engine_state=state,
            vapour_lock=tank > limit,
            outcome=SimpleNamespace(reason=np.array([f"too hot at {each:.2f}" for each in tank], dtype=object)),
        )


def equations_of(phases, name="finch", layout=None, **values):
    """A car in air of 20 degC alone: without sun, and with a vent that lets little vapour out."""
    still = {
        "surroundings.air_temperature": AIR,
        "surroundings.underfloor_rise": 0.0,
        "surroundings.cruising_underfloor_rise": 0.0,
        "tank.vent.bore": "0.1 mm",
        "tank.vent.pressure_opening": "30 kPa",
        "tank.vent.vacuum_opening": "30 kPa",
        "tank.heat_conductance": 0.0,
        **values,
    }
    car = fs.Car.named(name).with_values(still)
    pots = planned_pots(car.system(layout).plumbing) if layout else ()
    return TankEquations(car, World(car, Schedule.of(phases), None), tank_fuel(car.fuel.fuel()), pots)


def integrated(equations, tables, start=AIR, rule=None, judged=True, step=STEP, interruption=None):
    first, rule, interruption = equations.start(start), rule or Rule(), interruption or Interruption()
    return integrate(equations, first, tables, step, rule, interruption, judged=judged)


def driving(seconds, **keys):
    return Phase(name="drive", duration=seconds, **keys)


# ---- the way through the phases ------------------------------------------------------------------------------------


def test_states_are_shown_from_the_start_to_the_end_of_every_phase_in_steps_of_equal_length():
    """A phase of 150 s at a step of a minute has three of 50 s; the next begins with the state at which it ends."""
    equations = equations_of([driving(150.0), Phase(name="stop", duration=60.0, engine="stopped"), driving(10.0)])
    result = integrated(equations, [Steady(), None, Steady()])
    assert result.time.tolist() == pytest.approx([0.0, 50.0, 100.0, 150.0, 150.0, 210.0, 210.0, 220.0])
    assert result.within.tolist() == pytest.approx([0.0, 50.0, 100.0, 150.0, 0.0, 60.0, 0.0, 10.0])
    assert result.phase.tolist() == [0, 0, 0, 0, 1, 1, 2, 2]
    assert result.states.burnt == pytest.approx(1e-3 * np.array([0, 50, 100, 150, 150, 150, 150, 160]), abs=1e-6)
    assert not result.stopped.any()
    assert not result.out_of_fuel.any()
    assert result.stops == ()


def test_heat_of_an_insulated_tank_stays_in_its_fuel():
    """Enthalpy balance in closed form: m h(T) of a tank that burns nothing grows by Q t, less what evaporates."""
    equations = equations_of([driving(1800.0)])
    result = integrated(equations, [Steady(burnt=0.0, heat=500.0)])
    first, last = result.state(0), result.state(-1)
    gained = equations.enthalpy(last, []) - equations.enthalpy(first, [])
    assert last.returned == pytest.approx(500.0 * 1800.0)
    assert gained + last.evaporation + last.carried == pytest.approx(500.0 * 1800.0, rel=1e-4)
    assert last.temperature > AIR + 10.0


def test_a_drive_ends_as_the_pick_up_falls_bare():
    """t = (m0 - 0.3 kg)/m', by hand; phases after it are not begun."""
    equations = equations_of([driving(3600.0), driving(600.0)], **{"tank.fuel_volume": "2 L"})
    start = equations.start(AIR).liquid
    result = integrated(equations, [Steady(burnt=1e-3), Steady(burnt=1e-3)])
    assert 900.0 < (start - 0.3) / 1e-3 < 1500.0
    assert result.time[-1] == pytest.approx((start - 0.3) / 1e-3, abs=3.0)  # a little evaporates
    assert result.states.liquid[-1] == pytest.approx(0.3, abs=1e-6)
    assert set(result.phase) == {0}
    assert np.all(np.diff(result.time) > 0.0)


def test_ctrl_c_keeps_what_is_finished():
    equations = equations_of([driving(600.0), driving(600.0)])

    interruption = Interruption()

    class Interrupting(Steady):
        def at(self, time, temperature, pressure, evaporated):
            interruption.came |= time > 300.0
            return self.state

    result = integrated(equations, [Interrupting(), Steady()], interruption=interruption)
    assert 0.0 < result.time[-1] < 600.0
    assert set(result.phase) == {0}


# ---- an engine that stops of itself --------------------------------------------------------------------------------


def stopping(**keys):
    """An insulated tank that warms evenly: the rule stops the engine on the way."""
    equations = equations_of([driving(600.0), driving(600.0)])
    return equations, integrated(equations, [Steady(burnt=0.0, heat=500.0, near=1.0)] * 2, **keys)


@pytest.mark.parametrize("passed", [481.0, 500.0, 539.5])
def test_an_engine_stops_within_a_thirty_second_of_a_step_before_its_limit_is_passed(passed):
    """Temperatures rise evenly to within a few per cent, so that the stop is known by straight interpolation."""
    _, freely = stopping(judged=False)
    limit = float(np.interp(passed, freely.time, freely.states.temperature))
    _, result = stopping(rule=Rule(stops_above=limit))
    (stop,) = result.stops
    assert stop.by_vapour
    assert stop.reason.startswith("too hot at ")
    assert passed - STEP / 32.0 - 0.05 <= stop.time <= passed + 0.05
    at = np.flatnonzero(result.time == stop.time)
    assert np.all(result.states.temperature[at] <= limit)
    # From then on nothing warms; the stop ends the part that runs and begins the one that stands.
    assert result.stopped[at].tolist() == [False, True]
    assert not result.stopped[: at[0]].any()
    assert result.stopped[at[1] :].all()
    assert result.states.temperature[-1] == pytest.approx(result.states.temperature[at[0]], abs=0.01)
    assert np.isinf(stop.restart)
    assert np.all(np.diff(result.time) >= 0.0)
    assert result.time[-1] == 1200.0


def test_an_engine_of_which_no_grid_point_is_near_its_limit_is_not_asked():
    rule = Rule(stops_above=0.0)
    equations = equations_of([driving(300.0)])
    result = integrated(equations, [Steady(near=0.0)], rule=rule)
    assert not rule.asked
    assert result.stops == ()
    unjudged = integrated(equations, [Steady(near=1.0)], rule=rule, judged=False)
    assert not rule.asked
    assert unjudged.stops == ()


def test_an_engine_that_cannot_run_at_the_start_of_a_phase_stands_from_there():
    equations = equations_of([driving(120.0), driving(180.0)])
    result = integrated(equations, [Steady(near=0.0), Steady(near=1.0)], rule=Rule(stops_above=0.0))
    (stop,) = result.stops
    assert stop.time == 120.0
    assert result.states.burnt[-1] == pytest.approx(0.120, abs=1e-6)
    assert result.stopped.tolist() == [False] * 3 + [True] * 4


def test_times_after_a_stop_are_those_of_the_grid_each_once():
    """What follows a stop is integrated in pieces, of some 30 steps at first: each begins where the last one ends."""
    equations, heated = equations_of([driving(1000.0)]), [Steady(burnt=0.0, heat=500.0, near=1.0)]
    freely = integrated(equations, heated, judged=False, step=10.0)
    rule = Rule(stops_above=float(np.interp(55.0, freely.time, freely.states.temperature)))
    result = integrated(equations, heated, rule=rule, step=10.0)
    (stop,) = result.stops
    expected = np.sort(np.append(np.arange(0.0, 1001.0, 10.0), [stop.time, stop.time]))
    assert 50.0 < stop.time < 60.0
    assert result.time == pytest.approx(expected)
    assert np.all(np.diff(result.states.temperature[result.time > stop.time]) < 1e-4)


def test_a_stopped_engine_is_restarted_at_the_first_time_shown_at_which_it_would_be_fed():
    """Source: lumped capacity, t = C/UA ln((T0 - Ta)/(T - Ta)) (Incropera et al., transient conduction)."""
    conductance = 150.0
    equations = equations_of([driving(7200.0)], **{"tank.heat_conductance": conductance})
    rule = Rule(stops_above=302.0, fed_below=301.0)
    result = integrated(equations, [Steady(burnt=2e-4, near=1.0)], start=303.15, rule=rule)
    (stop,) = result.stops
    assert stop.time == 0.0
    fuel, mass = equations.fuel, result.states.liquid[0]
    capacity = mass * fuel.heat_capacity(302.0)
    by_hand = capacity / conductance * np.log((303.15 - AIR) / (301.0 - AIR))
    assert by_hand < stop.restart < by_hand * 1.05 + STEP
    assert stop.restart % STEP == 0.0
    at = np.flatnonzero(result.time == stop.restart)
    assert result.states.temperature[at[0]] < 301.0 < result.states.temperature[at[0] - 1]
    assert result.stopped[at].tolist() == [True, False]
    # With the pumps in vapour while it stands, and as they run before and after.
    assert [locked for _, locked in rule.asked[:3]] == [False, True, False]


def test_a_restarted_engine_burns_again_and_a_phase_may_restart_it():
    equations = equations_of([driving(600.0), driving(600.0)], **{"tank.heat_conductance": 100.0})

    class Second(Rule):
        """Fed again whenever the second phase asks, which is the first time at which the altitude is not 0."""

        def solve(self, conditions, pot_temperatures=None, from_locked=False):
            self.stops_above = 303.0 if not self.asked else np.inf
            high = np.asarray(conditions.rpm) > 2000.0
            run = super().solve(conditions, pot_temperatures, from_locked)
            if from_locked:
                run.engine_state = np.where(high, "fed", "stopped").astype(object)
            return run

    phases = [driving(600.0), driving(600.0, rpm=3000.0)]
    equations = equations_of(phases)
    result = integrated(equations, [Steady(near=1.0)] * 2, start=303.15, rule=Second())
    (stop,) = result.stops
    assert (stop.time, stop.restart) == (0.0, 600.0)
    assert result.states.burnt[-1] == pytest.approx(0.6, abs=1e-5)
    assert set(result.stopped[result.phase == 0]) == {True}
    assert set(result.stopped[result.phase == 1]) == {False}


# ---- pots --------------------------------------------------------------------------------------------------------


def test_a_pot_runs_empty_after_its_volume_over_what_it_loses_and_the_engine_stands_until_the_phase_is_over():
    """t = m (1 - 0.001)/m', by hand; the next phase starts the engine again where its pot gains fuel."""
    phases = [driving(300.0), driving(60.0), driving(120.0)]
    equations = equations_of(phases, "plover", "pot")
    pots = equations.pots_at_start(AIR)
    lasts = pots[0].mass * (1.0 - EMPTY_LEVEL) / 0.01
    assert 60.0 < lasts < 240.0
    result = integrated(equations, [SteadyPots(0.01), SteadyPots(0.01), SteadyPots(0.01, 0.05)], step=20.0)
    first = np.flatnonzero(result.out_of_fuel)[0]
    assert result.time[first] == pytest.approx(lasts, abs=0.1)
    assert result.time[first - 1] == result.time[first]
    assert result.out_of_fuel[(result.phase == 0) & (result.time > lasts + 1.0)].all()
    # The second phase loses fuel from a pot that has none: it stands at once. The third fills it.
    assert result.out_of_fuel[result.phase == 1].all()
    assert not result.out_of_fuel[result.phase == 2].any()
    assert result.states.burnt[-1] == pytest.approx(0.01 * lasts + 0.01 * 120.0, rel=1e-3)
    gained = result.pots[0].mass[-1] - result.pots[0].mass[result.phase == 2][0]
    assert gained == pytest.approx(pots[0].mass, rel=0.02)  # 4.8 kg came in: it is full
    assert result.stops == ()


def test_a_pot_that_neither_gains_nor_loses_stays_full():
    equations = equations_of([driving(120.0)], "plover", "pot")
    result = integrated(equations, [SteadyPots(0.0, 0.0)], step=60.0)
    assert result.pots[0].mass == pytest.approx(equations.pots_at_start(AIR)[0].mass, rel=1e-6)
    assert len(result.pots) == 1
    assert result.pot_states(-1)[0].temperature == result.pots[0].temperature[-1]


def test_the_jacobian_has_columns_for_what_tank_and_pots_depend_on(monkeypatch):
    made = []

    def recorded(derivative, columns, tolerance):
        made.append((list(columns), len(tolerance)))
        return forward_jacobian(derivative, columns, tolerance)

    monkeypatch.setattr("fuelsim.transients.integration.forward_jacobian", recorded)
    integrated(equations_of([driving(60.0)], "plover", "pot"), [SteadyPots(0.0, 0.0)])
    integrated(equations_of([driving(60.0)]), [Steady()])
    tank = len(TankVector._fields)
    assert made == [([0, 1, 2, 3, tank, tank + 1], tank + 2), ([0, 1, 2, 3], tank)]


# ---- the Jacobian matrix ---------------------------------------------------------------------------------------------


def test_forward_differences_give_the_matrix_of_a_linear_system_and_nothing_in_other_columns():
    matrix = np.array([[-2.0, 0.5, 7.0], [1.0, -3.0, 7.0], [4.0, 0.25, 7.0]])
    jacobian = forward_jacobian(lambda time, y: (matrix @ y).tolist(), [0, 1], np.array([1e-5, 1e-5, 1.0]))
    for start in ([3.0, -40.0, 1.0], [0.0, 0.0, 0.0]):
        found = jacobian(5.0, np.array(start))
        assert found[:, :2] == pytest.approx(matrix[:, :2], rel=1e-3)
        assert found[:, 2].tolist() == [0.0, 0.0, 0.0]


def test_the_step_of_forward_differences_is_a_small_share_of_the_state_or_of_its_tolerance():
    asked = []
    jacobian = forward_jacobian(lambda time, y: asked.append(y.copy()) or [0.0, 0.0], [0, 1], np.array([1e-3, 1e-3]))
    jacobian(0.0, np.array([-500.0, 0.0]))
    start, first, second = asked
    assert 0.0 < first[0] - start[0] < 1e-5
    assert 0.0 < second[1] - start[1] < 1e-10
    assert (first[1], second[0]) == (start[1], start[0])
