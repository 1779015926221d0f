"""What the plumbing finds along a trajectory: the states of tank and pots it is solved with, and its judgement."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.transients.along import Along
from fuelsim.transients.plumbing_table import PlumbingState, PlumbingTable
from fuelsim.transients.pot_flows import at_rest, planned_pots
from fuelsim.transients.pot_table import PotTable
from fuelsim.transients.schedule import Phase, Schedule
from fuelsim.transients.tank_equations import PotVector, TankEquations, TankVector, Trajectory
from fuelsim.transients.tank_fuel import tank_fuel
from fuelsim.transients.world import World

GAS, GRAVITY = 8.31446, 9.80665
PHASES = [Phase(name="a", duration=100.0, rpm=900.0), Phase(name="b", duration=50.0, rpm=3000.0, load=0.4)]


class Stub:
    """A plumbing that keeps what it is asked, and whose engine is stopped by vapour at the second point."""

    def at(self, evaporated):
        self.evaporated = evaporated
        return self

    def solve(self, conditions, pot_temperatures=None, from_locked=False):
        self.conditions, self.pots, self.locked = conditions, pot_temperatures, from_locked
        states = np.array(["fed", "stopped", "lean"], dtype=object)[: len(np.atleast_1d(conditions.rpm))]
        return SimpleNamespace(
            engine_state=states,
            vapour_lock=states == "stopped",
            outcome=SimpleNamespace(reason=np.array(["", "vapour", ""], dtype=object)[: len(states)]),
        )


def along_of(name="finch", layout=None, **values):
    car = fs.Car.named(name).with_values(values)
    pots = planned_pots(car.system(layout).plumbing) if layout else ()
    fuel = tank_fuel(car.fuel.fuel())
    equations = TankEquations(car, World(car, Schedule.of(PHASES), None), fuel, pots)
    count = 3
    states = {name: np.zeros(count) for name in TankVector._fields}
    temperature, evaporated = np.array([300.0, 305.0, 310.0]), np.array([0.0, 0.01, 0.05])
    liquid = 1e-3 * np.array([22.0, 20.0, 18.0]) * [fuel.density(t).value for t in temperature]
    states.update(
        temperature=temperature,
        supply_temperature=temperature + 4.0,
        evaporated=evaporated,
        liquid=liquid,
        air=np.array([0.8, 0.7, 0.6]),
    )
    own = tuple(
        PotVector(np.array([0.5, 0.25, 0.1]) * float(pot.pot.volume) * 740.0, temperature + 7.0) for pot in pots
    )
    trajectory = Trajectory(
        time=np.array([0.0, 100.0, 130.0]),
        phase=np.array([0, 1, 1]),
        within=np.array([0.0, 0.0, 30.0]),
        states=TankVector(**states),
        pots=own,
        out_of_fuel=np.zeros(count, dtype=bool),
        stopped=np.zeros(count, dtype=bool),
        stops=(),
    )
    return Along(equations, Stub(), trajectory)


def test_pressures_are_those_of_air_and_vapour_and_the_head_of_the_level():
    """Dalton: n R T/V + p_v; the head is rho g depth (V_fuel - V_own)/V_tank beyond the atmosphere, by hand."""
    along = along_of()
    fuel, states = along.equations.fuel, along.trajectory.states
    for point, (litres, air) in enumerate(((22.0, 0.8), (20.0, 0.7), (18.0, 0.6))):
        kelvin = float(states.temperature[point])
        vapour = fuel.bubble_pressure(kelvin, float(states.evaporated[point])).pressure
        pressure = air * GAS * kelvin / ((45.0 - litres) * 1e-3) + vapour
        assert along.tank_pressure[point] == pytest.approx(pressure, rel=1e-5)
        assert along.tank_gauge_pressure[point] == pytest.approx(pressure - 101325.0, abs=1.0)
        head = fuel.density(kelvin).value * GRAVITY * 0.22 * (litres - 22.0) / 45.0
        assert along.supply_gauge_pressure[point] == pytest.approx(pressure - 101325.0 + head, abs=1.0)
    assert along.network_temperature.tolist() == states.temperature.tolist()


def test_fuel_that_lingers_at_the_pick_up_is_what_the_plumbing_draws():
    along = along_of(**{"tank.pick_up_return_share": 0.3})
    assert along.network_temperature.tolist() == [304.0, 309.0, 314.0]


def test_pots_stand_at_the_pressure_of_the_tank_and_have_their_own_temperatures_and_levels():
    along = along_of("plover", "pot")
    assert along.supply_gauge_pressure.tolist() == along.tank_gauge_pressure.tolist()
    assert along.pot_temperatures["pot"].tolist() == [307.0, 312.0, 317.0]
    # 740 kg/m3 is the density of summer petrol near 25 degC within 3 %.
    assert along.pot_levels["pot"] == pytest.approx([0.5, 0.25, 0.1], rel=0.04)
    tank, pots = along.supplies(np.array([2, 0]))
    assert tank.tolist() == [310.0, 300.0]
    assert pots["pot"].tolist() == [317.0, 307.0]


def test_the_world_is_that_of_each_time_s_own_phase():
    assert along_of().world.rpm.tolist() == [900.0, 3000.0, 3000.0]
    assert along_of().world.load.tolist() == [0.0, 0.4, 0.4]


@pytest.mark.parametrize("locked", [False, True])
def test_networks_are_asked_with_the_state_of_each_point(locked):
    along = along_of()
    judged = along.judge(np.array([2, 1]), from_locked=locked)
    stub = along.plumbing
    assert stub.locked is locked
    assert stub.evaporated.tolist() == [0.05, 0.01]
    assert stub.conditions.tank_temperature.tolist() == [310.0, 305.0]
    assert stub.conditions.vapour_space_pressure.tolist() == along.supply_gauge_pressure[[2, 1]].tolist()
    assert judged.stopped.tolist() == [False, True]
    assert judged.fed.tolist() == [True, False]
    assert judged.by_vapour.tolist() == [False, True]
    assert judged.reason.tolist() == ["", "vapour"]
    assert along.judge(np.arange(3)).fed.tolist() == [True, False, False]
    assert along.judge(np.arange(3)).stopped.tolist() == [False, True, False]


class Plain(PlumbingTable):
    def __init__(self):
        object.__setattr__(self, "asked", [])

    def at(self, *asked):
        self.asked.append(asked)
        return PlumbingState(*[0.0] * 8, 3e5 + asked[0], 0.5 if asked[0] else 0.0)


class WithPots(PotTable):
    def __init__(self):
        object.__setattr__(self, "asked", [])

    def at(self, *asked):
        self.asked.append(asked)
        return at_rest(1)._replace(rail_gauge_pressure=2e5, near_limit=0.25)


def test_tables_are_asked_at_the_moment_of_a_point():
    along, table = along_of(), Plain()
    found = along.in_table(table, 2)
    assert found == (3e5 + 30.0, 0.5)
    ((time, temperature, gauge, evaporated),) = table.asked
    assert (time, temperature, evaporated) == (30.0, 310.0, 0.05)
    assert gauge == along.supply_gauge_pressure[2]
    assert along.near_limit(table, np.array([0, 1, 2])).tolist() == [2]
    nothing = along.in_table(None, 1)
    assert np.isnan(nothing.rail_gauge_pressure)
    assert nothing.near_limit == 0.0
    with_pots, of_pots = along_of("plover", "pot"), WithPots()
    assert with_pots.in_table(of_pots, 1) == (2e5, 0.25)
    assert of_pots.asked[0][:3] == (0.0, 305.0, [312.0])
