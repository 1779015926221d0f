"""Pulsation of a plumbed car: its steady limit, its two methods, and the closed forms of its parts."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.errors import InputError
from fuelsim.ripple.car_waves import car_waves, points_of
from fuelsim.ripple.dynamics import Dynamics
from fuelsim.ripple.injection import Injection, firing_phases
from fuelsim.ripple.transfer import swings_by_transfer
from fuelsim.waves.march import march
from fuelsim.waves.moving_parts import step_matrix

CARS = [(name, layout) for name in ("finch", "heron", "plover") for layout in fs.Car.named(name).layouts()]


def waves_of(name, layout, *, rpm=(3000.0,), **given):
    run = fs.Car.named(name).system(layout).solve(rpm=list(rpm))
    made = {"dynamics": Dynamics(pump_ripple=0.0), "step": 1e-4, "firing_order": None, "dampers": {}} | given
    return run, car_waves(run, points_of(run), **made)


def pressures(waves, record):
    """Return the pressure of each station over time, (times, points), as the network counts heights."""
    heads = waves.setup.node_head
    return {name: record.pressure[:, row] - heads[row] for row, name in enumerate(waves.network.elements.numbers())}


@pytest.mark.parametrize(("name", "layout"), CARS)
def test_with_injectors_held_partly_open_the_pressures_stay_those_of_the_run(name, layout):
    run, waves = waves_of(name, layout, rpm=(1500.0, 5000.0), steady_injectors=True)
    setup = waves.setup
    record = march(setup.sweep, setup.nodes, setup.boundaries, 300, 300)
    for station, over_time in pressures(waves, record).items():
        if station in run.pressure:
            assert over_time[-1] == pytest.approx(run.pressure[station], rel=1e-3), station


@pytest.mark.parametrize(("name", "layout"), [("plover", "pot"), ("heron", "returnless_tank")])
def test_small_pulses_swing_the_pressures_as_exact_lines_in_the_domain_of_frequencies_say(name, layout):
    # The second method shares neither the steps in time nor the reaches: hyperbolic functions of complex numbers.
    _, waves = waves_of(name, layout)
    inner, share = waves.injection, 0.01

    def slight(time):
        mean = inner.conductance * inner.open_fraction
        return mean + share * (inner(time) - mean)

    setup = dataclasses.replace(waves.setup, boundaries=dataclasses.replace(waves.setup.boundaries, conductance=slight))
    cycle = int(inner.cycle[0] / setup.grid.step) + 1
    record = march(setup.sweep, setup.nodes, setup.boundaries, int(0.25 / setup.grid.step) + cycle, 1)
    exact = swings_by_transfer(waves, Dynamics(pump_ripple=0.0))
    over_time = pressures(waves, record)
    stations = {rail.name for rail in waves.rails} | {rail.nodes[0] for rail in waves.rails}
    for station in stations:
        assert np.ptp(over_time[station][-cycle:]) / share == pytest.approx(exact[station][0], rel=0.08), station
    assert record.first_vapour != record.first_vapour


def test_what_comes_in_less_what_goes_out_is_what_is_held():
    result = fs.pulsation(fs.Car.named("plover"), "dead_ended", rpm=[1500, 6000])
    assert np.abs(result.mass_error).max() < 1e-9


def test_injectors_of_all_rails_deliver_what_the_run_asks_but_for_the_root_of_a_rippling_pressure():
    result = fs.pulsation(fs.Car.named("plover"), "pot", rpm=[6000])
    asked = np.concatenate([rail.asked for rail in result.rails.values()])
    # The mean of the root of 1 + x is below that of 1 by x^2/8: 0.25 % for an amplitude of 20 %.
    assert result.injected.sum() == pytest.approx(asked.sum(), rel=3e-3)


def test_a_large_damper_at_the_rail_leaves_the_swing_of_its_compliance():
    # One injector's pulse less the even feed, drawn from a compliance that holds far more than all else beside it.
    damper = fs.Damper(stored_volume="100 mL", pressure_rise="100 kPa")
    car = fs.Car.named("finch")
    result = fs.pulsation(car, "returnless_tank", rpm=[4000], dampers={"rail": damper})
    rail = result.rails["rail"]
    cycle, flow = 0.03, float(rail.injected.sum())
    assert rail.ripple[0] < flow * cycle / 4 / damper.compliance + 300.0
    assert rail.ripple[0] < 0.1 * fs.pulsation(car, "returnless_tank", rpm=[4000]).rails["rail"].ripple[0]


def test_a_rod_of_a_mass_on_a_damped_spring_moves_as_the_textbook_says():
    # x = exp(-z w t) (cos(w_d t) + z w/w_d sin(w_d t)) from rest at 1.
    frequency, ratio, step = 50.0, 0.3, 1e-3
    omega = 2.0 * np.pi * frequency
    damped = omega * np.sqrt(1.0 - ratio**2)
    expected = np.exp(-ratio * omega * step) * (np.cos(damped * step) + ratio * omega / damped * np.sin(damped * step))
    assert step_matrix(frequency, ratio, step)[0, 0] == pytest.approx(expected, rel=1e-12)


def test_over_whole_cycles_an_injector_is_open_for_its_fraction_whatever_the_step():
    step, window = 0.9e-4, 0.0371
    injection = Injection(
        firing_phases(4, None, 1), np.array([window]), np.full((4, 1), 0.137), np.ones((4, 1)), 1, step
    )
    time = np.arange(1, round(7 * window / step) + 1) * step
    assert injection(time).mean(axis=0) == pytest.approx(0.137, rel=2e-3)
    assert injection(time).max() == pytest.approx(1.0)


def test_a_usual_order_opens_each_injector_of_eight_once_and_the_rails_of_a_crossed_crank_out_of_turn():
    phases = firing_phases(8, None, 1)
    assert sorted(phases) == pytest.approx(np.arange(8) / 8)
    # On one rail the intervals of a crossed crankshaft are 90, 180, 270 and 180 degrees [common practice].
    assert sorted(np.diff(np.append(np.sort(phases[:4]), phases[:4].min() + 1.0)) * 720.0) == [90, 180, 180, 270]


def test_an_order_that_leaves_an_injector_out_is_refused():
    with pytest.raises(InputError, match="1 to 4"):
        fs.pulsation(fs.Car.named("finch"), "return", rpm=[3000], firing_order=[1, 2, 3, 3])


def test_along_the_way_from_the_pump_the_pressure_at_the_rail_swings_as_the_pulsation_says():
    system = fs.Car.named("finch").system("returnless_tank")
    wave = fs.wave_along(system, 3000)
    alone = fs.pulsation(system, rpm=[3000])
    assert np.all(np.diff(wave.place) >= 0.0)
    assert wave.stations[-1].place == pytest.approx(wave.place[-1])
    assert np.ptp(wave.pressure[:, -1]) == pytest.approx(alone.rails["rail"].ripple[0], rel=0.1)
    # The steady pressure along the way is that of the run.
    run = system.solve(rpm=3000)
    assert wave.steady[-1] == pytest.approx(float(run.pressure["rail"]), rel=1e-3)
    assert len(wave.animate().moments) > 20
