"""What the engine makes of a solution: its mixture, whether it runs, and what state it stopped in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.car import Car
from fuelsim.numerics.pointwise import greatest_at_each_point, least_at_each_point
from fuelsim.system.collected import CoupledSolution
from fuelsim.system.controller import Controller, EngineState, RichOrLean, engine_states, mass_demand
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import MANIFOLD, Plumbing
from fuelsim.system.plumbing_paths import pumps_to_rails
from fuelsim.typing import ArrayLike, BoolArray, FloatArray, PointArray, TextArray

__all__ = ["AtStop", "Judgement", "judge", "least_rail_difference", "pump_flow_lost"]

CAUSE_OF_STOP = 0.05
"""Share of a pump's flow taken by gas from which vapour is the cause of an engine's stop."""


@dataclass(frozen=True)
class AtStop:
    """The state in which an engine stopped: pump on, demand at its speed, trim used up; NaN where it runs.

    Every array has the shape of the conditions. It continues the curves of the running engine without a jump, unless
    the flowing solution has come to its end.

    Attributes
    ----------
    rail_gauge_pressure, rail_pressure_difference : array
        Pressure of the rail that has least over the manifold, Pa above the atmosphere and over the manifold.
    mixture : array
        Air-fuel ratio over the one asked for, of the worst rail.
    flow : array
        Volume flow that the pumps bring to the rails, m3/s.
    vapour_liquid_ratio : array
        At the pump's inlet that has most.
    tank_temperature : array
        K.
    """

    rail_gauge_pressure: FloatArray
    rail_pressure_difference: FloatArray
    mixture: FloatArray
    flow: FloatArray
    vapour_liquid_ratio: FloatArray
    tank_temperature: FloatArray

    def mapped(self, function: Callable[[ArrayLike], FloatArray]) -> AtStop:
        """Return the same with every array replaced by a function of it, as to give it another shape."""
        return AtStop(**{name: function(values) for name, values in vars(self).items()})


@dataclass(frozen=True)
class Judgement:
    """What the engine makes of a solution; every array is (points,), NaN where the point failed.

    Attributes
    ----------
    by_rail : dict of str to RichOrLean
        Trim and mixture of each rail.
    trim, mixture : array
        Those of the rail with the leanest mixture.
    state : array of str
        Words of `EngineState`; empty where the point failed.
    locked : bool array
        Whether the engine is stopped and vapour at a pump's inlet is the cause.
    at_stop : AtStop
    """

    by_rail: dict[str, RichOrLean]
    trim: PointArray
    mixture: PointArray
    state: TextArray
    locked: BoolArray
    at_stop: AtStop

    @property
    def stopped(self) -> BoolArray:
        """Whether the engine is stopped, (points,)."""
        return np.asarray(self.state == EngineState.STOPPED)


def judge(car: Car, plumbing: Plumbing, points: OperatingPoints, solution: CoupledSolution) -> Judgement:
    """Return what the engine makes of a solution.

    Parameters
    ----------
    car, plumbing : Car, Plumbing
        Ratings that are lists have one value per point.
    points : OperatingPoints
    solution : CoupledSolution
        With the pumps on and the engine's demand at its speed.
    """
    known = solution.outcome.has_values
    controller = Controller.of(car.engine, plumbing, points)
    by_rail: dict[str, RichOrLean] = {}
    for rail in plumbing.planned_rails:
        injectors = rail.injectors
        made = controller.outcome(
            rail,
            mass_demand(plumbing, points, rail),
            solution.mass_flow[injectors.name],
            solution.pressure[rail.name] - solution.pressure[MANIFOLD],
            solution.density[injectors.name],
            solution.vapour_liquid_ratio[rail.name],
        )
        by_rail[rail.name] = RichOrLean(*(np.where(known, values, np.nan) for values in made))
    mixtures = np.stack([made.mixture for made in by_rail.values()])
    worst = np.where(known, np.nan_to_num(mixtures, nan=0.0).argmax(axis=0), 0)
    trim, mixture = (
        np.take_along_axis(np.stack([getattr(made, name) for made in by_rail.values()]), worst[None], axis=0)[0]
        for name in RichOrLean._fields
    )
    state = engine_states(mixture, points.lambda_demanded, car.engine.lean_limit)
    state[~known] = ""
    stopped = np.asarray(state == EngineState.STOPPED)
    flows = [solution.mass_flow[link.name] / solution.density[link.name] for link in pumps_to_rails(plumbing)]
    at_stop = AtStop(
        least_at_each_point([solution.pressure[rail] for rail in plumbing.rails]) - points.atmospheric_pressure,
        least_rail_difference(plumbing, solution),
        mixture,
        np.asarray(sum(flows)),
        greatest_at_each_point([solution.vapour_liquid_ratio[link.upstream] for link in plumbing.pumps]),
        points.tank_temperature,
    ).mapped(lambda values: np.where(stopped, values, np.nan))
    return Judgement(
        by_rail, trim, mixture, state, stopped & (pump_flow_lost(plumbing, solution) > CAUSE_OF_STOP), at_stop
    )


def pump_flow_lost(plumbing: Plumbing, solution: CoupledSolution) -> PointArray:
    """Return the share of its flow that gas takes from the pump that loses most, (points,).

    Parameters
    ----------
    plumbing : Plumbing
    solution : CoupledSolution
    """
    ratio = solution.vapour_liquid_ratio
    return greatest_at_each_point(
        [1.0 - unchecked(link.part.vapour_flow_share)(ratio[link.upstream]) for link in plumbing.pumps]
    )


def least_rail_difference(plumbing: Plumbing, solution: CoupledSolution) -> PointArray:
    """Return the pressure of the rail that has least, over the manifold, (points,), Pa.

    Parameters
    ----------
    plumbing : Plumbing
    solution : CoupledSolution
    """
    pressure = solution.pressure
    return least_at_each_point([pressure[rail] - pressure[MANIFOLD] for rail in plumbing.rails])
