"""The checks behind `fuelsim.studies.findings`: one small function for each objection.

Every check takes a car plumbed in one layout and a run of it, and returns what it finds, with its figures in the
preferred units. A finding is advice for the workbench; none says that a car is safe. The checks stand by subject in
`rating_findings`, `temperature_findings`, `cold_findings`, `electrical_findings`, `line_findings`,
`delivery_findings` and `plumbing_findings`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fuelsim.finding import Finding
from fuelsim.studies.cold_findings import cold_fuel_that_does_not_light, water_in_cold_petrol
from fuelsim.studies.delivery_findings import (
    guessed_pump_figures,
    injectors_at_their_limits,
    points_without_solution,
    pump_control_out_of_range,
    regulator_out_of_control,
    staged_pump_that_cycles,
    vapour_at_the_pump,
    vapour_in_the_rail,
)
from fuelsim.studies.electrical_findings import (
    fuse_beyond_its_wire,
    overloaded_fuse,
    pumps_slowed_by_low_voltage,
    pumps_that_do_not_turn,
    unknown_fuse,
    voltage_lost_in_the_wire,
)
from fuelsim.studies.engine_findings import engine_on_what_it_gets, fuel_rising_to_the_red_line
from fuelsim.studies.input_findings import nominal_sizes_given_as_bores, tank_temperature_left_out
from fuelsim.studies.line_findings import (
    deep_suction,
    fast_lines,
    filters_in_the_wrong_place,
    tank_pulled_down,
    uncovered_pick_up,
)
from fuelsim.studies.plumbing_findings import (
    lift_pump_below_demand,
    pots_that_run_dry,
    pumps_without_check_valves,
    reducers_without_supply,
    tables_without_use,
    unequal_rails,
)
from fuelsim.studies.rating_findings import (
    ratings_below_dead_head,
    ratings_below_set_pressure,
    relief_below_set_pressure,
    set_pressure_above_dead_head,
    unrated_parts,
)
from fuelsim.studies.temperature_findings import lines_above_their_temperature
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import Run, System

__all__ = ["CHECKS", "CONSEQUENCES", "ROOT_CAUSES", "Check", "everyday_run"]

Check = Callable[[System, Run], list[Finding]]

CHECKS: tuple[Check, ...] = (
    ratings_below_set_pressure,
    ratings_below_dead_head,
    set_pressure_above_dead_head,
    relief_below_set_pressure,
    unrated_parts,
    lines_above_their_temperature,
    points_without_solution,
    engine_on_what_it_gets,
    fuel_rising_to_the_red_line,
    pots_that_run_dry,
    lift_pump_below_demand,
    nominal_sizes_given_as_bores,
    fuse_beyond_its_wire,
    overloaded_fuse,
    unknown_fuse,
    voltage_lost_in_the_wire,
    pumps_slowed_by_low_voltage,
    pumps_that_do_not_turn,
    fast_lines,
    deep_suction,
    tank_pulled_down,
    pump_control_out_of_range,
    regulator_out_of_control,
    staged_pump_that_cycles,
    reducers_without_supply,
    pumps_without_check_valves,
    unequal_rails,
    injectors_at_their_limits,
    tank_temperature_left_out,
    vapour_at_the_pump,
    vapour_in_the_rail,
    cold_fuel_that_does_not_light,
    water_in_cold_petrol,
    filters_in_the_wrong_place,
    guessed_pump_figures,
    uncovered_pick_up,
    tables_without_use,
)
"""Every check, in the order in which a practitioner would ask."""
ROOT_CAUSES: tuple[Check, ...] = (
    pots_that_run_dry,
    pumps_slowed_by_low_voltage,
    pumps_that_do_not_turn,
    vapour_at_the_pump,
    pump_control_out_of_range,
    regulator_out_of_control,
    injectors_at_their_limits,
)
"""Checks that can find why an engine lacks fuel, the deepest cause first."""
CONSEQUENCES: tuple[Check, ...] = (engine_on_what_it_gets,)
"""Checks whose findings follow from a lack of fuel."""


def everyday_run(system: System, speeds: int = 12) -> Run:
    """Return the run that the checks judge where none is given: idle, then full load up to the red line.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    speeds : int
        Number of engine speeds at full load.

    Returns
    -------
    Run
        Shape (speeds + 1,), in the car's own weather.

    Raises
    ------
    InputError
        For conditions that do not fit the car.

    Examples
    --------
    >>> import fuelsim as fs
    >>> everyday_run(fs.Car.named("finch").system("return"), speeds=4).bypass_flow.shape
    (5,)
    """
    engine = system.car.engine
    rpm = np.concatenate([[engine.idle_speed], np.linspace(engine.idle_speed, engine.red_line, speeds)])
    return system.solve(Conditions(rpm=rpm, load=np.concatenate([[0.0], np.ones(speeds)])))
