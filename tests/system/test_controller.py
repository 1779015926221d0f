"""The engine's controller in closed form: pulse at an assumed pressure, trim, mixture, and when the engine stops.

A source of constant flow q (share of the demanded mass) feeds a dead-ended rail; the mass injected is
k (pulse - dead time) sqrt(dp). With the trim used up, dp/dp_set = (q / (1 + trim))^2 and the mixture is 1/q.
"""

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.laws.injector import InjectorCoefficients, injector_equation
from fuelsim.parts.injectors import Injectors
from fuelsim.system.controller import Controller, EngineState, engine_states

SET = 300e3
PETROL = 745.0


class Rail:
    """A rail with its injectors, as the controller sees it."""

    name = "rail"

    def __init__(self, injectors):
        self.injectors = self
        self.part = injectors


def openings(trim_limit, demand, injectors):
    count = np.size(demand)
    controller = Controller({"rail": np.full(count, SET)}, trim_limit, {"rail": np.zeros(count)})
    return controller, controller.openings(Rail(injectors), np.asarray(demand), PETROL)


@pytest.mark.parametrize(
    ("share", "pressure", "mixture"), [(0.90, 0.518, 1.111), (0.75, 0.360, 1.333), (0.50, 0.160, 2.000)]
)
def test_trim_buys_no_fuel_from_a_pump_at_its_end(share, pressure, mixture):
    """Closed form; the figures are those of the formula above."""
    injectors = Injectors(count=4, static_flow="220 mL/min")
    demand = np.array([0.002])
    controller, opening = openings(0.25, demand, injectors)
    # The flow through injectors open for a share s of the time: s c sqrt(dp), which carries q of the demand.
    full = injectors.static_volume_flow(SET, PETROL) * PETROL
    difference = SET * (share * demand / (opening.longest * full)) ** 2
    assert difference / SET == pytest.approx(pressure, abs=5e-4)
    made = controller.outcome(Rail(injectors), demand, share * demand, difference, np.array([PETROL]), np.zeros(1))
    assert made.mixture == pytest.approx(mixture, abs=5e-4)
    assert made.trim == pytest.approx(0.25)
    open_loop, own = openings(0.0, demand, injectors)
    assert SET * (share * demand / (own.longest * full)) ** 2 / SET == pytest.approx(share**2)
    assert open_loop.outcome(
        Rail(injectors), demand, share * demand, SET * np.array([share**2]), np.array([PETROL]), np.zeros(1)
    ).mixture == pytest.approx(mixture, abs=5e-4)


@pytest.mark.parametrize(("barometer", "trim", "mixture"), [(100e3, -0.093, 0.907), (101325.0, -0.095, 0.905)])
def test_a_lost_reference_hose_is_trimmed_out_or_runs_rich(barometer, trim, mixture):
    """300 kPa set, manifold 35 kPa absolute: the rail stands at 300 kPa above the barometer, sqrt of the ratio."""
    injectors = Injectors(count=4, static_flow="220 mL/min")
    demand, difference = np.array([0.0005]), np.array([SET + barometer - 35e3])
    controller, _ = openings(0.25, demand, injectors)
    state = controller.outcome(Rail(injectors), demand, demand, difference, np.array([PETROL]), np.zeros(1))
    assert float(state.trim[0]) == pytest.approx(trim, abs=6e-4)
    assert float(state.mixture[0]) == 1.0
    _, own = openings(0.0, demand, injectors)
    delivered = own.longest * injectors.static_volume_flow(difference, PETROL) * PETROL
    assert float((demand / delivered)[0]) == pytest.approx(mixture, abs=6e-4)


def test_a_car_that_lost_its_hose_is_trimmed_by_the_same():
    lost = {"rail_regulator.reference": "atmosphere", "engine.assumed_reference": "manifold"}
    car = fs.Car.named("finch").with_values(lost)
    run = car.system("return").solve(rpm=2500, load=0.0)
    difference = float(run.injector_pressure_difference)
    assert float(run.trim) == pytest.approx(np.sqrt(SET / difference) - 1.0, abs=1e-4)
    assert run.engine_state == "fed"
    assert float(run.mixture) == pytest.approx(1.0, abs=1e-5)
    open_loop = car.with_values({"engine.trim_limit": 0.0}).system("return").solve(rpm=2500, load=0.0)
    assert float(open_loop.mixture) == pytest.approx(
        np.sqrt(SET / float(open_loop.injector_pressure_difference)), abs=1e-4
    )
    assert open_loop.engine_state == "fed"


def test_a_rail_sensor_leaves_nothing_to_trim():
    lost = {"rail_regulator.reference": "atmosphere", "engine.rail_pressure_sensor": True}
    run = fs.Car.named("finch").with_values(lost).system("return").solve(rpm=2500, load=0.0)
    assert float(run.trim) == 0.0
    assert float(run.mixture) == pytest.approx(1.0, abs=1e-5)


def test_lean_begins_where_the_trim_is_used_up_and_the_engine_stops_at_its_limit():
    """The limit is a lambda: mixture times the lambda asked for."""
    mixture = np.array([0.95, 1.0, 1.009, 1.011, 1.39, 1.41, 1.41, np.inf])
    asked = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.88, 1.0])
    states = engine_states(mixture, asked, 1.4)
    assert states.tolist() == ["fed", "fed", "fed", "lean", "lean", "stopped", "lean", "stopped"]
    assert set(states) == {state.value for state in EngineState}


def test_injectors_of_equal_longest_and_shortest_pulse_are_an_orifice():
    c = InjectorCoefficients(1e-5, 3e-8, 3e-8)
    for difference in (1e5, 3e5, 5e5):
        at = injector_equation(np.array([[3e-8 * np.sqrt(difference)]]), 1e5 + difference, 1e5, 0.0, c)
        assert abs(float(at.residual[0, 0]) / float(at.flow_slope[0, 0])) < 1e-4 * 3e-8 * np.sqrt(difference)


def test_a_pump_that_is_too_weak_leans_the_engine_and_only_the_rail_falls_with_the_trim():
    """Constant supply near its end: the trim lowers the rail's pressure and leaves the mixture."""
    weak = {"wire.other": "2.4 ohm"}
    rails, mixtures = [], []
    for trim in (0.0, 0.25):
        car = fs.Car.named("finch").with_values({**weak, "engine.trim_limit": trim, "engine.lean_limit": 2.9})
        run = car.system("return").solve(rpm=6000, load=1.0)
        rails.append(float(run.injector_pressure_difference))
        mixtures.append(float(run.mixture))
    assert rails[1] < rails[0]
    # A lower rail lets the pump give more.
    assert mixtures[0] > mixtures[1] > 1.0


def test_injectors_that_may_be_held_open_have_no_dead_time_taken_off():
    """Held open they never close, so the whole static flow is there; short of that each pulse ends with a dead time."""
    demand, dead = np.array([1.0]), 0.12
    for limit, longest in ((1.0, 1.0), (0.9, 0.9 - dead), (0.1, 0.0)):
        injectors = Injectors(count=4, static_flow="220 mL/min", duty_limit=limit)
        controller = Controller({"rail": np.full(1, SET)}, 0.25, {"rail": np.full(1, dead)})
        assert controller.openings(Rail(injectors), demand, PETROL).longest == pytest.approx(longest)
