"""The engine's controller in closed form: pulse at an assumed pressure, trim, mixture, and when the engine stops.

A source of constant flow q (share of the demanded mass) feeds a dead-ended rail; the mass injected is
k (pulse - dead time) sqrt(dp). With the trim used up, dp/dp_set = (q / (1 + trim))^2 and the mixture is 1/q.
"""

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.laws.injector import InjectorCoefficients, injector_equation
from fuelsim.parts.injectors import Injectors
from fuelsim.system.conditions import Conditions
from fuelsim.system.controller import Controller, EngineState, engine_states, mass_demand
from fuelsim.system.operating_points import OperatingPoints

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


def points_of(car, layout, **conditions):
    system = car.system(layout)
    return system.plumbing, OperatingPoints.of(system.car, system.fuel, system.filled(Conditions(**conditions)))


def assumed(car, layout, *manifold):
    """Return what the controller assumes of each rail at some manifold pressures, by rail."""
    plumbing, points = points_of(car, layout, rpm=np.full(len(manifold), 3000.0))
    points = dataclasses.replace(points, manifold_pressure=np.array(manifold), atmospheric_pressure=np.array([1e5]))
    return Controller.of(car.engine, plumbing, points).assumed


def test_a_controller_assumes_the_set_pressure_with_what_the_spring_side_sees():
    """By hand: open to the manifold the rail stands at the set pressure over it; open to the atmosphere of 100 kPa it
    stands higher by what the manifold is below that, and lower by a boost."""
    finch = fs.Car.named("finch")
    at_rail, at_tank = assumed(finch, "return", 40e3, 150e3), assumed(finch, "returnless_tank", 40e3, 150e3)
    assert at_rail["rail"] == pytest.approx([300e3, 300e3])
    assert at_tank["rail"] == pytest.approx([460e3, 350e3])
    for reference, pressures in (("atmosphere", [360e3, 250e3]), ("manifold", [300e3, 300e3])):
        car = finch.with_values({"engine.assumed_reference": reference})
        assert assumed(car, "return", 40e3, 150e3)["rail"] == pytest.approx(pressures)
    # Boost beyond the set pressure leaves a controller with the least that it reckons with, 1 kPa.
    assert assumed(finch, "returnless_tank", 550e3)["rail"] == pytest.approx([1e3])


def test_a_controller_that_measures_the_rail_or_has_nothing_to_rely_on_assumes_nothing():
    finch = fs.Car.named("finch")
    measuring = finch.with_values({"engine.rail_pressure_sensor": True})
    assert assumed(measuring, "return", 40e3) == {"rail": None}
    runs = [["tank", "pump", "feed", "rail"]]
    assert assumed(finch.with_plumbing("bare", runs=runs), "bare", 40e3) == {"rail": None}
    plumbing, points = points_of(measuring, "return", rpm=3000)
    opening = Controller.of(measuring.engine, plumbing, points).openings(
        plumbing.planned_rails[0], np.array([1e-3]), PETROL
    )
    assert (opening.longest.tolist(), opening.shortest.tolist()) == ([1.0], [0.0])
    assert np.isnan(opening.untrimmed).all()


def test_the_higher_of_two_set_pressures_at_a_rail_is_assumed():
    plover = fs.Car.named("plover")
    runs = [list(run) for run in plover.plumbing["pot"].runs]
    runs.append(["front", "beside_pot", "pot"])
    both = assumed(plover.with_plumbing("both", runs=runs), "both", 90e3)
    # 300 kPa above the manifold, and 400 kPa above an atmosphere that is 10 kPa above it.
    assert both["left_rail"] == pytest.approx([410e3])
    assert both["right_rail"] == pytest.approx([410e3])


def test_dead_time_is_a_share_of_the_time_between_two_injections():
    """At 6000 rpm a cylinder of a four-stroke engine gets its next injection after 20 ms."""
    finch = fs.Car.named("finch")
    plumbing, points = points_of(finch, "return", rpm=[6000.0, 3000.0], supply_voltage=13.5)
    injectors = plumbing.planned_rails[0].injectors.part
    dead = float(injectors.opening_loss(13.5, injectors.dead_time_pressure))
    share = Controller.of(finch.engine, plumbing, points).dead_share["rail"]
    assert share == pytest.approx([dead / 0.020, dead / 0.040])
    assert 0.3e-3 < dead < 2e-3


def test_trim_lengthens_and_shortens_the_pulse_by_its_share():
    """Four injectors of 220 mL/min with heptane (684 kg/m3) pass 4 x 220 mL/min x sqrt(684 x 745) = 10.47 g/s of
    petrol held open: half of that takes half of the time."""
    injectors = Injectors(count=4, static_flow="220 mL/min", rated_density=684.0)
    full = 4.0 * 220e-6 / 60.0 * np.sqrt(684.0 * PETROL)
    assert full == pytest.approx(10.47e-3, abs=0.01e-3)
    _, opening = openings(0.25, np.array([0.5 * full, 0.9 * full]), injectors)
    assert opening.untrimmed == pytest.approx([0.5, 0.9])
    assert opening.longest == pytest.approx([0.625, 1.0])
    assert opening.shortest == pytest.approx([0.375, 0.675])


def test_vapour_in_the_rail_asks_for_a_longer_pulse():
    """V/L of 1.5 halves what an injector passes, 1/sqrt(1 + 2 x 1.5): 55 % of the demand is then a pulse 10 % longer,
    45 % one that is 10 % shorter. At V/L of 4 a third passes: two thirds would take twice the pulse, past the limit."""
    injectors = Injectors(count=4, static_flow="220 mL/min")
    demand = np.array([0.002])
    controller, _ = openings(0.25, demand, injectors)
    made = [
        controller.outcome(
            Rail(injectors), demand, flow * demand, np.array([SET]), np.array([PETROL]), np.array([ratio])
        )
        for ratio, flow in ((0.0, 1.1), (1.5, 0.55), (1.5, 0.45), (4.0, 2.0 / 3.0), (0.0, 0.5))
    ]
    assert [float(each.trim[0]) for each in made] == pytest.approx([0.1, 0.1, -0.1, 0.25, -0.25])
    assert [float(each.mixture[0]) for each in made] == pytest.approx([1 / 1.1, 1 / 0.55, 1 / 0.45, 1.5, 2.0])


def test_without_demand_there_is_no_trim_and_without_fuel_no_mixture_that_burns():
    injectors = Injectors(count=4, static_flow="220 mL/min")
    demand = np.array([0.0, 0.002])
    controller, _ = openings(0.25, demand, injectors)
    ones = np.ones(2)
    made = controller.outcome(Rail(injectors), demand, np.zeros(2), SET * ones, PETROL * ones, np.zeros(2))
    assert made.trim[0] == 0.0
    assert made.mixture.tolist() == [1.0, np.inf]


def test_each_rail_is_asked_for_the_share_of_its_injectors():
    """Three of eight injectors on the left rail."""
    car = fs.Car.named("plover").with_values({"rails.left_rail.injectors": 3})
    plumbing, points = points_of(car, "pot", rpm=[850, 6000], load=[0.0, 1.0])
    left, right = (mass_demand(plumbing, points, rail) for rail in plumbing.planned_rails)
    assert left == pytest.approx(0.375 * points.fuel_mass_flow)
    assert right == pytest.approx(0.625 * points.fuel_mass_flow)


def test_the_controller_of_some_points_is_that_of_all_at_them():
    controller = Controller(
        {"a": np.array([1.0, 2.0, 3.0]), "b": None}, np.array([0.1, 0.2, 0.3]), {"a": np.array([4.0, 5.0, 6.0])}
    )
    some = controller.take(np.array([2, 0]))
    assert some.assumed["a"].tolist() == [3.0, 1.0]
    assert some.assumed["b"] is None
    assert np.asarray(some.trim_limit).tolist() == [0.3, 0.1]
    assert some.dead_share["a"].tolist() == [6.0, 4.0]
    assert dataclasses.replace(controller, trim_limit=0.25).take(np.array([1])).trim_limit == 0.25
