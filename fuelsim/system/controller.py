"""The engine's controller: for how long it opens the injectors, and what comes of it.

The controller sets the pulse for the mass that the engine asks for, at the pressure over the manifold that it assumes
the rail to have, and does not know the one that is there unless it has a sensor. Oxygen in the exhaust tells it what
mixture it made: it lengthens or shortens the pulse, dead time excluded, by a limited share, the trim. It knows the
injectors, the dead time at its voltage and the density of the fuel.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.engine import Engine
from fuelsim.laws.injector import static_flow
from fuelsim.parts.injectors import Injectors
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumbing import PlannedRail, Plumbing
from fuelsim.typing import FloatLike, IndexArray, PointArray, TextArray

__all__ = ["Controller", "EngineState", "Openings", "RichOrLean", "engine_states", "mass_demand"]

FED_MIXTURE = 1.01
"""Air-fuel ratio over the one asked for up to which the engine counts as fed."""
_LEAST_DIFFERENCE = 1e3
"""Pressure over the manifold that a controller assumes at the least, Pa."""


class EngineState(StrEnum):
    """How the engine runs at an operating point.

    Examples
    --------
    >>> EngineState.LEAN == "lean"
    True
    """

    FED = "fed"
    LEAN = "lean"
    STOPPED = "stopped"


class Openings(NamedTuple):
    """Fraction of the time that injectors are open, dead time excluded; every array is (points,).

    Attributes
    ----------
    longest, shortest : array
        With the trim used up either way.
    untrimmed : array
        Without a trim; NaN where the controller measures the pressure.
    """

    longest: PointArray
    shortest: PointArray
    untrimmed: PointArray


class RichOrLean(NamedTuple):
    """What the controller makes of a rail; every array is (points,).

    Attributes
    ----------
    trim : array
        Share by which the pulse less its dead time is lengthened (+) or shortened (-); 0 without a demand.
    mixture : array
        Air-fuel ratio over the one asked for; 1 without a demand.
    """

    trim: PointArray
    mixture: PointArray


@dataclass(frozen=True)
class Controller:
    """The controller of one car at a batch of operating points.

    Attributes
    ----------
    assumed : dict of str to array (points,) or None
        By rail: its pressure over the manifold as the controller takes it, Pa; None where it measures it.
    trim_limit : float or array (points,)
        Share by which it may change the pulse.
    dead_share : dict of str to array (points,)
        By rail: dead time over the time from one injection to the next.
    """

    assumed: dict[str, PointArray | None]
    trim_limit: FloatLike
    dead_share: dict[str, PointArray]

    @classmethod
    def of(cls, engine: Engine, plumbing: Plumbing, points: OperatingPoints) -> Controller:
        """Return the controller of an engine.

        Parameters
        ----------
        engine : Engine
        plumbing : Plumbing
        points : OperatingPoints
        """
        assumed: dict[str, PointArray | None] = {}
        dead_share = {}
        for rail in plumbing.planned_rails:
            assumed[rail.name] = _assumed_difference(engine, plumbing, rail, points)
            injectors = rail.injectors.part
            dead = unchecked(injectors.opening_loss)(points.supply_voltage, injectors.dead_time_pressure)
            dead_share[rail.name] = dead / unchecked(injectors.window)(points.rpm)
        return cls(assumed, engine.trim_limit, dead_share)

    def take(self, index: IndexArray) -> Controller:
        """Return the controller at some of the points."""
        return Controller(
            {rail: None if values is None else values[index] for rail, values in self.assumed.items()},
            self.trim_limit if np.ndim(self.trim_limit) == 0 else np.asarray(self.trim_limit)[index],
            {rail: values[index] for rail, values in self.dead_share.items()},
        )

    def openings(self, rail: PlannedRail, mass_demand: PointArray, density: FloatLike) -> Openings:
        """Return for how long the controller opens the injectors of a rail.

        Parameters
        ----------
        rail : PlannedRail
        mass_demand : array (points,)
            Asked of the rail, kg/s.
        density : float or array (points,)
            Density of the fuel in the rail, kg/m3.
        """
        injectors = rail.injectors.part
        # A pulse that is shorter than the time between two injections ends with a dead time; one held open has none.
        limit = np.asarray(injectors.duty_limit, dtype=float)
        most = np.where(limit < 1.0, np.maximum(limit - self.dead_share[rail.name], 0.0), 1.0)
        assumed = self.assumed[rail.name]
        if assumed is None:
            return Openings(most, np.zeros(most.shape), np.full(most.shape, np.nan))
        untrimmed = mass_demand / (_static(injectors, assumed, density) * density)
        return Openings(
            np.minimum(untrimmed * (1.0 + self.trim_limit), most),
            np.minimum(untrimmed * (1.0 - self.trim_limit), most),
            untrimmed,
        )

    def outcome(
        self,
        rail: PlannedRail,
        mass_demand: PointArray,
        mass_flow: PointArray,
        difference: PointArray,
        density: PointArray,
        vapour_liquid_ratio: PointArray,
    ) -> RichOrLean:
        """Return trim and mixture of a rail at what was solved.

        Parameters
        ----------
        rail : PlannedRail
        mass_demand, mass_flow : array (points,)
            Asked of the rail and injected, kg/s.
        difference : array (points,)
            Pressure over the manifold, Pa.
        density, vapour_liquid_ratio : array (points,)
            Density of the fuel in the rail, kg/m3, and V/L there.
        """
        asked = mass_demand > 0.0
        untrimmed = self.openings(rail, mass_demand, density).untrimmed
        passed = _static(rail.injectors.part, difference, density) * density / np.sqrt(1.0 + 2.0 * vapour_liquid_ratio)
        with np.errstate(divide="ignore", invalid="ignore"):
            trim = mass_flow / passed / untrimmed - 1.0
            mixture = mass_demand / mass_flow
        limit = self.trim_limit
        # Injectors held open are longer open than any pulse; their trim is what was left of the share.
        trim = np.where(np.isfinite(untrimmed) & asked, np.clip(trim, -limit, limit), 0.0)
        return RichOrLean(trim, np.where(asked, np.where(mass_flow > 0.0, mixture, np.inf), 1.0))


def mass_demand(plumbing: Plumbing, points: OperatingPoints, rail: PlannedRail) -> PointArray:
    """Return the mass flow that the engine asks of a rail, by its share of the injectors, (points,), kg/s.

    Parameters
    ----------
    plumbing : Plumbing
    points : OperatingPoints
    rail : PlannedRail
        One of its rails.
    """
    total = sum(link.part.count for link in plumbing.injectors)
    demand: PointArray = points.fuel_mass_flow * (rail.injectors.part.count / total)
    return demand


def _static(injectors: Injectors, difference: PointArray, density: FloatLike) -> PointArray:
    """Return the volume flow of all injectors held open, without vapour, m3/s."""
    one = static_flow(injectors.static_flow, injectors.rated_pressure, injectors.rated_density, difference, density)
    return injectors.count * one


def _assumed_difference(
    engine: Engine, plumbing: Plumbing, rail: PlannedRail, points: OperatingPoints
) -> PointArray | None:
    """Return the pressure of a rail over the manifold that the controller assumes, Pa; None where it measures it.

    Where nothing holds the rail's pressure the controller has been set up with the pressures that are there.
    """
    held = plumbing.held_at(rail.name).set_pressures
    if engine.rail_pressure_sensor or not held:
        return None
    below = points.atmospheric_pressure - points.manifold_pressure
    sees = {"manifold": True, "atmosphere": False}.get(engine.assumed_reference)
    differences = [pressure + (0.0 if (as_fitted if sees is None else sees) else below) for pressure, as_fitted in held]
    highest = np.max(np.broadcast_arrays(*differences, np.zeros(len(points))), axis=0)
    return np.asarray(np.maximum(highest, _LEAST_DIFFERENCE))


def engine_states(mixture: PointArray, lambda_demanded: PointArray, lean_limit: FloatLike) -> TextArray:
    """Return how the engine runs, (points,).

    Parameters
    ----------
    mixture : array (points,)
        Air-fuel ratio over the one asked for, of the worst rail.
    lambda_demanded : array (points,)
        Air-fuel ratio asked for over the stoichiometric one.
    lean_limit : float or array (points,)
        Air-fuel ratio over the stoichiometric one beyond which the engine stops.

    Examples
    --------
    >>> engine_states(np.array([0.9, 1.2, 1.5]), np.array([1.0, 0.9, 1.0]), 1.4).tolist()
    ['fed', 'lean', 'stopped']
    """
    stopped = mixture * lambda_demanded > lean_limit
    states: TextArray = np.where(mixture > FED_MIXTURE, EngineState.LEAN.value, EngineState.FED.value).astype(object)
    states[stopped] = EngineState.STOPPED.value
    return states
