"""Fixed-point iteration that brings liquid and vapour into equilibrium at many points; `flashes` says what is held.

Each iteration takes one Newton step of the held and the sought quantities, then forms new activity coefficients
(successive substitution). Converged points are removed from the batch. Every fifth iteration is accelerated by the
dominant eigenvalue; after 60 iterations steps are damped to 0.5, after 120 to 0.15.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.fuel.phase_equilibrium.balance import limited
from fuelsim.fuel.phase_equilibrium.equilibrium import Equilibrium, FlashState
from fuelsim.fuel.phase_equilibrium.phases import Mixture, PhaseTerms
from fuelsim.typing import BoolArray, IndexArray, PointArray, SpeciesArray

__all__ = ["TOLERANCE", "Iterate", "Specification", "solve"]

TOLERANCE = 1e-11  # change of ln K, ln p, T/(10 K) and vapour fraction between two iterations
MOST_ITERATIONS = 320
FIRST_DAMPED, LATER_DAMPED = 60, 120  # iterations after which steps are damped: liquids close to splitting oscillate
FIRST_DAMPING, LATER_DAMPING = 0.5, 0.15  # fraction of the step that is taken then
ACCELERATE_EVERY = 5  # iterations; 2 and 3 upset the slowest adiabatic flashes
# Upper bounds of the eigenvalue by which a step is lengthened: a liquid close to splitting has a slow mode.
LARGEST_EIGENVALUE, LARGEST_DAMPED_EIGENVALUE = 0.9, 0.98
LARGEST_LOG_K = 300.0  # exp() of more overflows


class Iterate(NamedTuple):
    """All quantities of the iteration at the points that have not converged yet.

    Attributes
    ----------
    points : array (points,) of int
        Positions of these points in the batch.
    feed : array (species, points)
        Mole fractions of the feed.
    held : array (points,)
        The quantity that the specification holds beside temperature, pressure or vapour fraction; zero without one.
    state : FlashState
    terms : PhaseTerms
        Quantities that depend on temperature alone.
    liquid : array (species, points)
        Mole fractions of the liquid.
    log_activity : array (species, points)
        ln of the activity coefficients in use.
    activity_change : array (species, points)
        Their change in the last iteration.
    sqrt_virial : array (points,)
        Mean of sqrt(-B) of the vapour, (m3/mol)^0.5.
    log_k, k : array (species, points)
        ln of the equilibrium ratios y/x, and the ratios.
    temperature_change : array (points,)
        Change of temperature in the last iteration, K.
    """

    points: IndexArray
    feed: SpeciesArray
    held: PointArray
    state: FlashState
    terms: PhaseTerms
    liquid: SpeciesArray
    log_activity: SpeciesArray
    activity_change: SpeciesArray
    sqrt_virial: PointArray
    log_k: SpeciesArray
    k: SpeciesArray
    temperature_change: PointArray

    def take(self, kept: BoolArray) -> Iterate:
        """Return the iterate at some of its points.

        Parameters
        ----------
        kept : array (points,) of bool
        """
        return Iterate(
            self.points[kept],
            self.feed[:, kept],
            self.held[kept],
            self.state.take(kept),
            self.terms.take(kept),
            self.liquid[:, kept],
            self.log_activity[:, kept],
            self.activity_change[:, kept],
            self.sqrt_virial[kept],
            self.log_k[:, kept],
            self.k[:, kept],
            self.temperature_change[kept],
        )


@dataclass(frozen=True)
class Specification:
    """What a flash holds and seeks.

    Attributes
    ----------
    step : function
        One Newton step: takes an `Iterate`, returns the next `FlashState` with the held members unchanged.
    moves_temperature : bool
        Temperature is sought, so the terms that depend on it are formed anew in each iteration.
    vapour_suffices : bool
        A point that stays all vapour counts as converged although its incipient liquid has not.
    """

    step: Callable[[Iterate], FlashState]
    moves_temperature: bool = False
    vapour_suffices: bool = False


def solve(
    mixture: Mixture,
    feed: SpeciesArray,
    start: FlashState,
    specification: Specification,
    held: PointArray | None = None,
    tolerance: float = TOLERANCE,
) -> Equilibrium:
    """Iterate until liquid and vapour are in equilibrium at every point, or report the point as not converged.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points)
        Mole fractions.
    start : FlashState
        Held values, and first values of those sought.
    specification : Specification
        The Newton step of what is held and sought.
    held : array (points,), optional
        Another held quantity, such as a molar enthalpy (J/mol) or volume (m3/mol); the step reads it.
    tolerance : float
        Largest change of ln K, ln p, T/(10 K) and vapour fraction between two iterations.

    Returns
    -------
    Equilibrium
        `Equilibrium.solved` and `Equilibrium.reason` tell which points failed, and why; nothing is raised.

    Notes
    -----
    Successive substitution in ln gamma with a Newton step of the specification between. The change of ln gamma is
    multiplied by 1/(1 - lambda) every fifth iteration, lambda being the dominant eigenvalue estimated from two
    successive changes. Source: [orbach_crowe_1971].

    Examples
    --------
    The bubble pressure of n-pentane (CoolProp 107.5 kPa at 37.78 degC) by a step that seeks pressure:

    >>> from fuelsim.fuel.molecules.species import species
    >>> from fuelsim.fuel.phase_equilibrium.balance import FlashBalance
    >>> def step(now: Iterate) -> FlashState:
    ...     balance = FlashBalance(now.feed, now.k, now.state.vapour_fraction)
    ...     return now.state._replace(pressure=now.state.pressure * np.exp(balance.residual))
    >>> start = FlashState(np.array([310.93]), np.array([5e4]), np.zeros(1))
    >>> answer = solve(Mixture(species().take(("n-pentane",))), np.ones((1, 1)), start, Specification(step))
    >>> bool(answer.solved[0]), round(float(answer.pressure[0]) / 1e3)
    (True, 107)
    """
    iterate = _first_iterate(mixture, feed, start, held)
    answer = _Answer(feed, start)
    iteration = 0
    for iteration in range(1, MOST_ITERATIONS + 1):
        previous = iterate.state
        iterate, change = _next_iterate(iterate, specification, iteration)
        converged = change < tolerance
        if specification.vapour_suffices and iteration > FIRST_DAMPED:
            converged |= (previous.vapour_fraction >= 1.0) & (iterate.state.vapour_fraction >= 1.0)
        if iteration == MOST_ITERATIONS:
            answer.store(iterate, np.ones_like(converged), converged)
        elif converged.any():
            answer.store(iterate, converged, converged)
            if converged.all():
                break
            iterate = iterate.take(~converged)
    return answer.equilibrium(iteration)


def _ratios(log_k: SpeciesArray) -> SpeciesArray:
    """Return the equilibrium ratios from their logarithms."""
    ratios: SpeciesArray = np.exp(limited(log_k, LARGEST_LOG_K))
    return ratios


def _first_iterate(mixture: Mixture, feed: SpeciesArray, start: FlashState, held: PointArray | None) -> Iterate:
    """Return the first iterate: a liquid of the feed's composition, and the vapour that an ideal vapour would be."""
    terms = PhaseTerms.at(mixture, start.temperature)
    log_activity = terms.log_activity(feed)
    sqrt_virial = terms.mean_sqrt_virial(_incipient_vapour(terms, start.pressure, log_activity, feed))
    log_k = terms.log_k(start.pressure, log_activity, sqrt_virial, feed)
    return Iterate(
        points=np.arange(feed.shape[1]),
        feed=feed,
        held=np.zeros(feed.shape[1]) if held is None else held,
        state=start,
        terms=terms,
        liquid=feed,
        log_activity=log_activity,
        activity_change=np.zeros_like(log_activity),
        sqrt_virial=sqrt_virial,
        log_k=log_k,
        k=_ratios(log_k),
        temperature_change=np.zeros_like(start.temperature),
    )


def _next_iterate(now: Iterate, specification: Specification, iteration: int) -> tuple[Iterate, PointArray]:
    """Return the next iterate and the largest change from the present one, on the scale of the tolerance."""
    damping = _damping(iteration)
    state, terms, temperature_change = specification.step(now), now.terms, now.temperature_change
    if specification.moves_temperature:
        state, temperature_change = _damped_where_oscillating(now, state, damping)
        terms = PhaseTerms.at(terms.mixture, state.temperature)
    k = now.k
    x = now.feed / (1.0 + state.vapour_fraction * (k - 1.0))
    y = k * x
    x = x / x.sum(axis=0)
    activity_change = damping * (terms.log_activity(x) - now.log_activity)
    if iteration % ACCELERATE_EVERY == 0:
        bound = LARGEST_EIGENVALUE if damping == 1.0 else LARGEST_DAMPED_EIGENVALUE
        activity_change = activity_change * _acceleration(activity_change, now.activity_change, bound)
    log_activity = now.log_activity + activity_change
    sqrt_virial = terms.mean_sqrt_virial(y)
    log_k = terms.log_k(state.pressure, log_activity, sqrt_virial, x)
    new = Iterate(
        now.points,
        now.feed,
        now.held,
        state,
        terms,
        x,
        log_activity,
        activity_change,
        sqrt_virial,
        log_k,
        _ratios(log_k),
        temperature_change,
    )
    return new, _largest_change(now, new)


def _damping(iteration: int) -> float:
    """Return the fraction of a step to take in an iteration."""
    if iteration > LATER_DAMPED:
        return LATER_DAMPING
    return FIRST_DAMPING if iteration > FIRST_DAMPED else 1.0


def _damped_where_oscillating(now: Iterate, state: FlashState, damping: float) -> tuple[FlashState, PointArray]:
    """Damp temperature and vapour fraction of points whose temperature oscillates; the others keep the full step."""
    t, b = now.state.temperature, now.state.vapour_fraction
    oscillates = (state.temperature - t) * now.temperature_change < 0.0
    relaxation = np.where(oscillates, damping, 1.0)
    temperature = t + relaxation * (state.temperature - t)
    vapour_fraction = b + relaxation * (state.vapour_fraction - b)
    return FlashState(temperature, state.pressure, vapour_fraction), temperature - t


def _largest_change(now: Iterate, new: Iterate) -> PointArray:
    """Return the largest of the changes of ln K, vapour fraction, and T/(10 K) with ln p."""
    change = np.abs(new.log_k - now.log_k).max(axis=0)
    change = np.maximum(change, np.abs(new.state.vapour_fraction - now.state.vapour_fraction))
    by_temperature = np.abs(new.state.temperature - now.state.temperature) / 10.0
    largest: PointArray = np.maximum(change, by_temperature + np.abs(np.log(new.state.pressure / now.state.pressure)))
    return largest


class _Answer:
    """Results of a batch, filled as its points converge."""

    def __init__(self, feed: SpeciesArray, start: FlashState) -> None:
        self.temperature, self.pressure = start.temperature.copy(), start.pressure.copy()
        self.vapour_fraction = start.vapour_fraction.copy()
        self.liquid, self.vapour = feed.copy(), feed.copy()
        self.liquid_volume, self.vapour_volume = np.empty(feed.shape[1]), np.empty(feed.shape[1])
        self.converged: BoolArray = np.zeros(feed.shape[1], dtype=bool)

    def store(self, iterate: Iterate, chosen: BoolArray, converged: BoolArray) -> None:
        """Store some points of an iterate."""
        points, state = iterate.points[chosen], iterate.state.take(chosen)
        k = iterate.k[:, chosen]
        x = iterate.feed[:, chosen] / (1.0 + state.vapour_fraction * (k - 1.0))
        y = k * x
        one_phase = (state.vapour_fraction <= 0.0) | (state.vapour_fraction >= 1.0)
        self.temperature[points], self.pressure[points] = state.temperature, state.pressure
        self.vapour_fraction[points] = state.vapour_fraction
        self.liquid[:, points] = np.where(one_phase, x / x.sum(axis=0), x)
        self.vapour[:, points] = np.where(one_phase, y / y.sum(axis=0), y)
        self.liquid_volume[points] = iterate.terms.liquid_volume(iterate.liquid)[chosen]
        self.vapour_volume[points] = iterate.terms.vapour_volume(iterate.state.pressure, iterate.sqrt_virial)[chosen]
        self.converged[points] = converged[chosen]

    def equilibrium(self, iterations: int) -> Equilibrium:
        """Return all results."""
        return Equilibrium(
            self.temperature,
            self.pressure,
            self.vapour_fraction,
            self.liquid,
            self.vapour,
            self.liquid_volume,
            self.vapour_volume,
            self.converged,
            iterations,
        )


def _incipient_vapour(
    terms: PhaseTerms, pressure: PointArray, log_activity: SpeciesArray, x: SpeciesArray
) -> SpeciesArray:
    """Return mole fractions of the vapour over a liquid if the vapour were ideal."""
    log_k = terms.log_k(pressure, log_activity, np.zeros_like(pressure) + 1e-9, x)
    log_y = log_k + np.log(np.maximum(x, 1e-300))
    y = np.exp(log_y - log_y.max(axis=0))
    mole_fractions: SpeciesArray = y / y.sum(axis=0)
    return mole_fractions


def _acceleration(change: SpeciesArray, previous: SpeciesArray, largest_eigenvalue: float) -> PointArray:
    """Return the factor 1/(1 - lambda) of the dominant eigenvalue lambda, bounded."""
    dot = (change * previous).sum(axis=0)
    norm = (previous * previous).sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        eigenvalue = np.where(norm > 0.0, dot / norm, 0.0)
    factor: PointArray = 1.0 / (1.0 - np.clip(eigenvalue, -0.9, largest_eigenvalue))
    return factor
