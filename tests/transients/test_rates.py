"""The rates of a drive depend on the states that its Jacobian matrix is formed from, and on no others."""

from __future__ import annotations

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.car.climate import hot_day
from fuelsim.system.run import System
from fuelsim.transients.plumbing_table import tabulate_plumbing
from fuelsim.transients.schedule import Schedule, typical_phase
from fuelsim.transients.tank_equations import TankEquations, TankVector
from fuelsim.transients.tank_fuel import tank_fuel
from fuelsim.transients.weathering_plumbing import WeatheringPlumbing
from fuelsim.transients.world import World


@pytest.mark.parametrize("share", [0.0, 0.3])
def test_rates_depend_on_the_driving_states_alone(share):
    car = fs.Car.named("finch").with_values({"tank.pick_up_return_share": share})
    world = World(car, Schedule.of([typical_phase("jam", "1 h", car)]), hot_day("madrid"))
    fuel, system = tank_fuel(car.fuel.fuel()), System(car, "return")
    equations = TankEquations(car, world, fuel)
    table = tabulate_plumbing(WeatheringPlumbing(system, fuel), world, equations.pressure_grid())[0]
    start = equations.start("40 degC")
    state = np.array(start) + np.array([0.0, 0.0, 0.001, 0.001, 0.2, *[1.0] * (len(start) - 5)])

    def rates(values):
        return np.array(equations.rates(0, table, 600.0, TankVector(*values), equations.outside(0).at(600.0)))

    moved_by = []
    for number, value in enumerate(state):
        moved = state.copy()
        moved[number] = value * (1.0 + 1e-4)
        if not np.array_equal(rates(moved), rates(state)):
            moved_by.append(number)
    assert set(moved_by) == set(equations.driving_states)
