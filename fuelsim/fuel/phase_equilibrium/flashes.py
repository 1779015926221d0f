"""Vapour-liquid equilibrium of a blend, for arrays of points: bubble, dew and four kinds of flash.

One loop serves them all. It alternates activity coefficients with one Newton step of the *specification*: what is
held and what is sought. The unknowns among temperature, pressure and vapour fraction differ, the loop does not:

========================  ======================================  =================================
held                      sought                                  function
========================  ======================================  =================================
T and p                   vapour fraction                         `flash`
enthalpy and p            T and vapour fraction                   `adiabatic_flash`
T and a volume            p and vapour fraction                   `flash_to_volume`
p and a vapour volume     T and vapour fraction                   `temperature_at_vapour_volume`
T (or p), fraction        p (or T)                                `saturation_pressure`, `saturation_temperature`
========================  ======================================  =================================

The liquid is one phase throughout. Methanol with paraffins in the cold splits in two; then one liquid is assumed
nevertheless, which errs towards more vapour.

Accuracy: bubble pressure +-2 % near 38 degC for a fuel given by its composition, +-5 % at 80 degC and +-8 % from
100 to 120 degC, where no measured petrol curve exists to check against.
"""

from __future__ import annotations

import numpy as np

from fuelsim.fuel.molecules.species import GAS_CONSTANT
from fuelsim.fuel.phase_equilibrium.iteration import (
    LEAST_LOG_PRESSURE,
    LEAST_TEMPERATURE,
    MOST_LOG_PRESSURE,
    MOST_TEMPERATURE,
    TOLERANCE,
    Balance,
    Equilibrium,
    State,
    arranged,
    limited,
    rachford_rice,
    solve,
)
from fuelsim.fuel.phase_equilibrium.phases import (
    Mixture,
    PhaseTerms,
    heat_capacity,
    heat_of_vaporisation,
    liquid_enthalpy,
)

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
    feed: np.ndarray,
    temperature: np.ndarray,
    pressure: np.ndarray,
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
        Of ln K between two rounds; tables need less than single answers.

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
    z, t, p = arranged(feed, temperature, pressure)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        return state[0], state[1], rachford_rice(z, k, state[2])

    return solve(mixture, z, t, p, np.full_like(t, 0.5), step, np.empty((0, t.size)), False, tolerance, True)


def saturation_pressure(
    mixture: Mixture, feed: np.ndarray, temperature: np.ndarray, fraction: float = 0.0
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

    Examples
    --------
    n-Pentane at 37.78 degC (CoolProp 107.5 kPa):

    >>> from fuelsim.fuel.molecules.species import species
    >>> pentane = Mixture(species().take(("n-pentane",)))
    >>> round(float(saturation_pressure(pentane, np.ones((1, 1)), np.array([310.93])).pressure[0]) / 1e3)
    107
    """
    z, t = arranged(feed, temperature)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        balance = Balance(z, k, state[2])
        log_p = np.log(state[1]) + limited(balance.residual / balance.weight.sum(axis=0), 5.0)
        return state[0], np.exp(np.clip(log_p, LEAST_LOG_PRESSURE, MOST_LOG_PRESSURE)), state[2]

    start = _raoult_pressure(mixture, z, t)
    return solve(mixture, z, t, start, np.full_like(t, fraction), step, np.empty((0, t.size)), False)


def saturation_temperature(
    mixture: Mixture,
    feed: np.ndarray,
    pressure: np.ndarray,
    fraction: float = 0.0,
    start: np.ndarray | float = 330.0,
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
        A temperature to start from, K.
    tolerance : float
        Of ln K and T/10 K between two rounds.

    Examples
    --------
    n-Heptane boils at 98.4 degC (CoolProp):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane = Mixture(species().take(("n-heptane",)))
    >>> state = saturation_temperature(heptane, np.ones((1, 1)), np.array([101325.0]))
    >>> round(float(state.temperature[0]) - 273.15, 1)
    98.4
    """
    z, p, first = arranged(feed, pressure, start)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        t = state[0]
        balance = Balance(z, k, state[2])
        slope = (balance.weight * heat_of_vaporisation(mixture, t)).sum(axis=0) / (GAS_CONSTANT * t**2)
        # Newton in 1/T, in which ln K is nearly straight
        inverse = 1.0 / t + limited(balance.residual / (slope * t**2), 6e-4)
        return np.clip(1.0 / inverse, LEAST_TEMPERATURE, MOST_TEMPERATURE), state[1], state[2]

    return solve(mixture, z, first, p, np.full_like(p, fraction), step, np.empty((0, p.size)), True, tolerance)


def _raoult_pressure(mixture: Mixture, z: np.ndarray, temperature: np.ndarray) -> np.ndarray:
    fuel = z[:-1] if mixture.air else z
    return (fuel * np.exp(mixture.species.log_vapour_pressure(temperature))).sum(axis=0)


def flash_to_volume(
    mixture: Mixture,
    feed: np.ndarray,
    temperature: np.ndarray,
    *,
    total_volume: np.ndarray | None = None,
    vapour_liquid_ratio: np.ndarray | None = None,
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

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = flash_to_volume(two, half, np.array([310.93]), vapour_liquid_ratio=np.array([4.0]))
    >>> round(float(state.vapour_liquid_ratio[0]), 9)
    4.0
    """
    ratio_held = vapour_liquid_ratio is not None
    z, t, held = arranged(feed, temperature, vapour_liquid_ratio if ratio_held else total_volume)  # type: ignore[arg-type]

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        _, p, b = state
        balance = Balance(z, k, b)
        liquid = terms.liquid_volume(balance.x / balance.sum_x)
        vapour = terms.vapour_volume(p, root)
        if ratio_held:
            parts = held[0] * liquid / vapour
            b = parts / (1.0 + parts)
            by_log_pressure = b * (1.0 - b)
        else:
            gap = np.maximum(vapour - liquid, 1e-9)
            b = np.clip((held[0] - liquid) / gap, 1e-9, 1.0)
            by_log_pressure = np.minimum(b * vapour / gap, 1.0)
        balance = Balance(z, k, b)
        slope = balance.weight.sum(axis=0) - balance.by_fraction * by_log_pressure
        move = limited(balance.residual / slope, 1.0)
        new = np.clip(np.log(p) + move, LEAST_LOG_PRESSURE, MOST_LOG_PRESSURE)
        return state[0], np.exp(new), np.clip(b + by_log_pressure * move, 0.0, 1.0)

    start = _raoult_pressure(mixture, z, t)
    return solve(mixture, z, t, start, np.full_like(t, 0.01), step, held[None], False)


def temperature_at_vapour_volume(
    mixture: Mixture, feed: np.ndarray, pressure: np.ndarray, vapour_volume: np.ndarray
) -> Equilibrium:
    """Temperature at which a given volume of vapour has formed under a given pressure.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points or 1)
    pressure : array (points,)
        Pa absolute.
    vapour_volume : array (points,)
        m3 of vapour per mole of feed.

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = temperature_at_vapour_volume(two, half, np.array([1e5]), np.array([2e-3]))
    >>> round(float(1e3 * state.vapour_fraction[0] * state.vapour_volume[0]), 9)
    2.0
    """
    z, p, held = arranged(feed, pressure, vapour_volume)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        t, p, b = state
        b = np.clip(held[0] / terms.vapour_volume(p, root), 0.0, 1.0)
        balance = Balance(z, k, b)
        slope = (balance.weight * heat_of_vaporisation(mixture, t)).sum(axis=0) / (GAS_CONSTANT * t**2)
        slope = slope - balance.by_fraction * b / t
        inverse = 1.0 / t + limited(balance.residual / (slope * t**2), 4e-4)
        return np.clip(1.0 / inverse, LEAST_TEMPERATURE, MOST_TEMPERATURE), p, b

    start = np.full_like(p, 330.0)
    return solve(mixture, z, start, p, np.full_like(p, 0.05), step, held[None], True)


def adiabatic_flash(
    mixture: Mixture,
    feed: np.ndarray,
    liquid_temperature: np.ndarray,
    pressure: np.ndarray,
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
        Of ln K and T/10 K between two rounds.

    Notes
    -----
    Enthalpy: ideal mixing, the pressure term of the liquid left out (it warms petrol by 0.04 K per 100 kPa dropped).

    Examples
    --------
    n-Heptane of 110 degC let down to the atmosphere cools to its boiling point, 98.4 degC (CoolProp):

    >>> from fuelsim.fuel.molecules.species import species
    >>> heptane = Mixture(species().take(("n-heptane",)))
    >>> state = adiabatic_flash(heptane, np.ones((1, 1)), np.array([383.15]), np.array([101325.0]))
    >>> round(float(state.temperature[0]) - 273.15, 1)
    98.4
    """
    z, t0, p = arranged(feed, liquid_temperature, pressure)
    start_enthalpy = (z * liquid_enthalpy(mixture, t0)).sum(axis=0)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        t, p, b = state
        latent = heat_of_vaporisation(mixture, t)
        capacity = heat_capacity(mixture, t)
        balance = Balance(z, k, b)
        by_temperature = (balance.weight * latent).sum(axis=0) / (GAS_CONSTANT * t**2)
        boiled = balance.y / balance.sum_y
        surplus = (z * liquid_enthalpy(mixture, t)).sum(axis=0) + b * (boiled * latent).sum(axis=0) - held[0]
        divided = balance.y / balance.divisor
        h_fraction = (divided * latent).sum(axis=0)
        h_temperature = (z * capacity).sum(axis=0) + b * (1.0 - b) * (divided * latent**2).sum(axis=0) / (
            GAS_CONSTANT * t**2
        )
        determinant = balance.by_fraction * h_temperature - by_temperature * h_fraction
        move_b = (-balance.residual * h_temperature + surplus * by_temperature) / determinant
        b_new = np.clip(b + limited(move_b, 0.3), 0.0, 1.0)
        move_t = -(surplus + h_fraction * (b_new - b)) / h_temperature
        t_new = np.clip(t + limited(move_t, 20.0), LEAST_TEMPERATURE, MOST_TEMPERATURE)
        return t_new, p, b_new

    start = np.zeros_like(t0)
    return solve(mixture, z, t0, p, start, step, start_enthalpy[None], True, tolerance)
