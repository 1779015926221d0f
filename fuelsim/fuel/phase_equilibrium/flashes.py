"""Vapour-liquid equilibrium of a blend, for arrays of points: bubble, dew and four kinds of flash.

One iteration (`iteration.solve`) serves them all. Each function supplies its specification: a Newton step that holds
some of temperature, pressure and vapour fraction and seeks the others:

========================  ======================================  =================================
held                      sought                                  function
========================  ======================================  =================================
T and p                   vapour fraction                         `flash`
enthalpy and p            T and vapour fraction                   `adiabatic_flash`
T and a volume            p and vapour fraction                   `flash_to_volume`
p and a vapour volume     T and vapour fraction                   `temperature_at_vapour_volume`
T (or p), fraction        p (or T)                                `saturation_pressure`, `saturation_temperature`
========================  ======================================  =================================

The liquid is one phase throughout. Methanol with paraffins splits in two when cold; one liquid is assumed all the
same, which overstates the vapour.

Accuracy: bubble pressure +-2 % near 38 degC for a fuel given by its composition, +-5 % at 80 degC and +-8 % from
100 to 120 degC, where no measured petrol curve exists to check against.
"""

from __future__ import annotations

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.errors import InputError
from fuelsim.fuel.phase_equilibrium.balance import (
    FlashBalance,
    clipped_pressure,
    clipped_temperature,
    limited,
    rachford_rice,
    to_points,
)
from fuelsim.fuel.phase_equilibrium.equilibrium import Equilibrium, FlashState
from fuelsim.fuel.phase_equilibrium.iteration import TOLERANCE, Iterate, Specification, solve
from fuelsim.fuel.phase_equilibrium.phases import (
    Mixture,
    heat_capacity,
    heat_of_vaporisation,
    liquid_enthalpy,
)
from fuelsim.typing import PointArray, SpeciesArray

__all__ = [
    "adiabatic_flash",
    "flash",
    "flash_to_volume",
    "saturation_pressure",
    "saturation_temperature",
    "temperature_at_vapour_volume",
]


def flash(
    mixture: Mixture,
    feed: SpeciesArray,
    temperature: PointArray,
    pressure: PointArray,
    tolerance: float = TOLERANCE,
) -> Equilibrium:
    """Equilibrium at given temperature and pressure.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points or 1)
        Mole fractions, summing to one.
    temperature, pressure : array (points,)
        K, Pa absolute.
    tolerance : float
        Largest change between two iterations (`iteration.TOLERANCE`); tables need less than single answers.

    Returns
    -------
    Equilibrium

    Examples
    --------
    n-Pentane and n-octane, half each: the moles of each species balance.

    >>> from fuelsim.fuel.molecules.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = flash(two, half, np.array([340.0]), np.array([1e5]))
    >>> b = state.vapour_fraction
    >>> bool(0.0 < b[0] < 1.0), bool(abs(b * state.vapour + (1.0 - b) * state.liquid - 0.5).max() < 1e-10)
    (True, True)
    """
    z, t, p = to_points(feed, temperature, pressure)

    def step(now: Iterate) -> FlashState:
        return now.state._replace(vapour_fraction=rachford_rice(now.feed, now.k, now.state.vapour_fraction))

    start = FlashState(t, p, np.full_like(t, 0.5))
    return solve(mixture, z, start, Specification(step, vapour_suffices=True), tolerance=tolerance)


def saturation_pressure(
    mixture: Mixture, feed: SpeciesArray, temperature: PointArray, fraction: float = 0.0
) -> Equilibrium:
    """Bubble pressure (`fraction` 0), dew pressure (1) or the pressure at any molar vapour fraction between.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points or 1)
    temperature : array (points,)
        K.
    fraction : float
        Moles of vapour per mole of feed.

    Returns
    -------
    Equilibrium

    Examples
    --------
    n-Pentane at 37.78 degC (CoolProp 107.5 kPa):

    >>> from fuelsim.fuel.molecules.species import species
    >>> pentane = Mixture(species().take(("n-pentane",)))
    >>> round(float(saturation_pressure(pentane, np.ones((1, 1)), np.array([310.93])).pressure[0]) / 1e3)
    107
    """
    z, t = to_points(feed, temperature)

    def step(now: Iterate) -> FlashState:
        balance = FlashBalance(now.feed, now.k, now.state.vapour_fraction)
        change = limited(balance.residual / balance.weight.sum(axis=0), 5.0)
        return now.state._replace(pressure=clipped_pressure(np.log(now.state.pressure) + change))

    start = FlashState(t, _raoult_pressure(mixture, z, t), np.full_like(t, fraction))
    return solve(mixture, z, start, Specification(step))


def saturation_temperature(
    mixture: Mixture,
    feed: SpeciesArray,
    pressure: PointArray,
    fraction: float = 0.0,
    start: PointArray | float = 330.0,
    tolerance: float = TOLERANCE,
) -> Equilibrium:
    """Bubble temperature (`fraction` 0), dew temperature (1) or the temperature at a molar vapour fraction between.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points or 1)
    pressure : array (points,)
        Pa absolute.
    fraction : float
        Moles of vapour per mole of feed.
    start : float or array (points,)
        Temperature to start from, K.
    tolerance : float
        Largest change of ln K and T/(10 K) between two iterations.

    Returns
    -------
    Equilibrium

    Examples
    --------
    n-Heptane boils at 98.4 degC (CoolProp):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane = Mixture(species().take(("n-heptane",)))
    >>> state = saturation_temperature(heptane, np.ones((1, 1)), np.array([101325.0]))
    >>> round(float(state.temperature[0]) - 273.15, 1)
    98.4
    """
    z, p, t = to_points(feed, pressure, start)

    def step(now: Iterate) -> FlashState:
        t = now.state.temperature
        balance = FlashBalance(now.feed, now.k, now.state.vapour_fraction)
        slope = (balance.weight * heat_of_vaporisation(mixture, t)).sum(axis=0) / (GAS_CONSTANT * t**2)
        # Newton's step in 1/T, in which ln K is nearly linear
        inverse = 1.0 / t + limited(balance.residual / (slope * t**2), 6e-4)
        return now.state._replace(temperature=clipped_temperature(1.0 / inverse))

    first = FlashState(t, p, np.full_like(p, fraction))
    return solve(mixture, z, first, Specification(step, moves_temperature=True), tolerance=tolerance)


def _raoult_pressure(mixture: Mixture, z: SpeciesArray, temperature: PointArray) -> PointArray:
    """Return the bubble pressure of an ideal solution under an ideal vapour, Pa: a first value."""
    fuel = z[:-1] if mixture.air else z
    pressure: PointArray = (fuel * np.exp(mixture.species.log_vapour_pressure(temperature))).sum(axis=0)
    return pressure


def flash_to_volume(
    mixture: Mixture,
    feed: SpeciesArray,
    temperature: PointArray,
    *,
    total_volume: PointArray | None = None,
    vapour_liquid_ratio: PointArray | None = None,
) -> Equilibrium:
    """Equilibrium at given temperature in a closed chamber, or at a given ratio of vapour to remaining liquid.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points or 1)
    temperature : array (points,)
        K.
    total_volume : array (points,), optional
        Volume of the chamber per mole of feed, m3/mol; larger than that of the liquid.
    vapour_liquid_ratio : array (points,), optional
        Volume of vapour per volume of remaining liquid. Give one of the two.

    Returns
    -------
    Equilibrium

    Raises
    ------
    InputError
        If not exactly one of the two is given.

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = flash_to_volume(two, half, np.array([310.93]), vapour_liquid_ratio=np.array([4.0]))
    >>> round(float(state.vapour_liquid_ratio[0]), 9)
    4.0
    """
    given = total_volume if vapour_liquid_ratio is None else vapour_liquid_ratio
    if given is None or (total_volume is not None and vapour_liquid_ratio is not None):
        raise InputError("a chamber's volume or a vapour-liquid ratio is wanted", accepted="one of the two")
    ratio_held = vapour_liquid_ratio is not None
    z, t, held = to_points(feed, temperature, given)

    def step(now: Iterate) -> FlashState:
        t, p, b = now.state
        balance = FlashBalance(now.feed, now.k, b)
        liquid = now.terms.liquid_volume(balance.x / balance.sum_x)
        vapour = now.terms.vapour_volume(p, now.sqrt_virial)
        if ratio_held:
            moles_ratio = now.held * liquid / vapour
            b = moles_ratio / (1.0 + moles_ratio)
            by_log_pressure = b * (1.0 - b)
        else:
            difference = np.maximum(vapour - liquid, 1e-9)
            b = np.clip((now.held - liquid) / difference, 1e-9, 1.0)
            by_log_pressure = np.minimum(b * vapour / difference, 1.0)
        balance = FlashBalance(now.feed, now.k, b)
        slope = balance.weight.sum(axis=0) - balance.by_fraction * by_log_pressure
        change = limited(balance.residual / slope, 1.0)
        return FlashState(t, clipped_pressure(np.log(p) + change), np.clip(b + by_log_pressure * change, 0.0, 1.0))

    start = FlashState(t, _raoult_pressure(mixture, z, t), np.full_like(t, 0.01))
    return solve(mixture, z, start, Specification(step), held)


def temperature_at_vapour_volume(
    mixture: Mixture, feed: SpeciesArray, pressure: PointArray, vapour_volume: PointArray
) -> Equilibrium:
    """Temperature at which a given volume of vapour has formed under a given pressure.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points or 1)
    pressure : array (points,)
        Pa absolute.
    vapour_volume : array (points,)
        Volume of vapour per mole of feed, m3/mol.

    Returns
    -------
    Equilibrium

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = temperature_at_vapour_volume(two, half, np.array([1e5]), np.array([2e-3]))
    >>> round(float(1e3 * state.vapour_fraction[0] * state.vapour_volume[0]), 9)
    2.0
    """
    z, p, held = to_points(feed, pressure, vapour_volume)

    def step(now: Iterate) -> FlashState:
        t, p, _ = now.state
        b = np.clip(now.held / now.terms.vapour_volume(p, now.sqrt_virial), 0.0, 1.0)
        balance = FlashBalance(now.feed, now.k, b)
        slope = (balance.weight * heat_of_vaporisation(mixture, t)).sum(axis=0) / (GAS_CONSTANT * t**2)
        slope = slope - balance.by_fraction * b / t
        inverse = 1.0 / t + limited(balance.residual / (slope * t**2), 4e-4)
        return FlashState(clipped_temperature(1.0 / inverse), p, b)

    start = FlashState(np.full_like(p, 330.0), p, np.full_like(p, 0.05))
    return solve(mixture, z, start, Specification(step, moves_temperature=True), held)


def adiabatic_flash(
    mixture: Mixture,
    feed: SpeciesArray,
    liquid_temperature: PointArray,
    pressure: PointArray,
    tolerance: float = TOLERANCE,
) -> Equilibrium:
    """Equilibrium after an all-liquid fuel drops to a pressure without exchanging heat or work.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points or 1)
    liquid_temperature : array (points,)
        Temperature of the fuel while it was all liquid, K.
    pressure : array (points,)
        Pressure it drops to, Pa absolute.
    tolerance : float
        Largest change of ln K and T/(10 K) between two iterations.

    Returns
    -------
    Equilibrium

    Notes
    -----
    Enthalpy mixes ideally, and its dependence on pressure in the liquid is neglected: 0.04 K per 100 kPa of drop.

    Examples
    --------
    n-Heptane of 110 degC let down to the atmosphere cools to its boiling point, 98.4 degC (CoolProp):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane = Mixture(species().take(("n-heptane",)))
    >>> state = adiabatic_flash(heptane, np.ones((1, 1)), np.array([383.15]), np.array([101325.0]))
    >>> round(float(state.temperature[0]) - 273.15, 1)
    98.4
    """
    z, t0, p = to_points(feed, liquid_temperature, pressure)
    start_enthalpy = (z * liquid_enthalpy(mixture, t0)).sum(axis=0)

    def step(now: Iterate) -> FlashState:
        t, p, b = now.state
        z = now.feed
        latent = heat_of_vaporisation(mixture, t)
        capacity = heat_capacity(mixture, t)
        balance = FlashBalance(z, now.k, b)
        by_temperature = (balance.weight * latent).sum(axis=0) / (GAS_CONSTANT * t**2)
        vapour = balance.y / balance.sum_y
        surplus = (z * liquid_enthalpy(mixture, t)).sum(axis=0) + b * (vapour * latent).sum(axis=0) - now.held
        weighted = balance.y / balance.divisor
        enthalpy_by_fraction = (weighted * latent).sum(axis=0)
        enthalpy_by_temperature = (z * capacity).sum(axis=0) + b * (1.0 - b) * (weighted * latent**2).sum(axis=0) / (
            GAS_CONSTANT * t**2
        )
        # Newton's step of the two equations; then T follows from the enthalpy at the limited change of b
        determinant = balance.by_fraction * enthalpy_by_temperature - by_temperature * enthalpy_by_fraction
        change_b = (-balance.residual * enthalpy_by_temperature + surplus * by_temperature) / determinant
        b_new = np.clip(b + limited(change_b, 0.3), 0.0, 1.0)
        change_t = -(surplus + enthalpy_by_fraction * (b_new - b)) / enthalpy_by_temperature
        return FlashState(clipped_temperature(t + limited(change_t, 20.0)), p, b_new)

    start = FlashState(t0, p, np.zeros_like(t0))
    return solve(mixture, z, start, Specification(step, moves_temperature=True), start_enthalpy, tolerance)
