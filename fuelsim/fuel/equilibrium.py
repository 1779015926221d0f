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

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fuelsim.fuel.phases import Mixture, PhaseTerms, heat_capacity, heat_of_vaporisation, liquid_enthalpy
from fuelsim.fuel.species import GAS_CONSTANT

__all__ = [
    "Equilibrium",
    "adiabatic_flash",
    "flash",
    "flash_to_volume",
    "saturation_pressure",
    "saturation_temperature",
    "temperature_at_vapour_volume",
]

TOLERANCE = 1e-11  # of ln K, ln p, T/K and the vapour fraction between two rounds
LARGEST_COUNT = 320
DAMPED = ((60, 0.5), (120, 0.15))  # rounds and share of a step: liquids close to splitting in two oscillate
ACCELERATE_EVERY = 5  # 2 and 3 upset the slowest adiabatic flashes
# What a step may be lengthened for: damped steps creep, and a liquid close to splitting in two has a slow mode.
LARGEST_EIGENVALUE, LARGEST_DAMPED_EIGENVALUE = 0.9, 0.98
LEAST_TEMPERATURE, MOST_TEMPERATURE = 180.0, 520.0  # trial states stay inside
LEAST_LOG_PRESSURE, MOST_LOG_PRESSURE = np.log(1e-3), np.log(2e7)


@dataclass(frozen=True, eq=False)
class Equilibrium:
    """Liquid and vapour in equilibrium at each point.

    Attributes
    ----------
    temperature, pressure : array (points,)
        K, Pa absolute.
    vapour_fraction : array (points,)
        Moles of vapour per mole of feed, 0 to 1.
    liquid, vapour : array (species, points)
        Mole fractions (of the incipient phase where there is only one).
    liquid_volume, vapour_volume : array (points,)
        m3 per mole of that phase.
    converged : array (points,) of bool
    iterations : int
    """

    temperature: np.ndarray
    pressure: np.ndarray
    vapour_fraction: np.ndarray
    liquid: np.ndarray
    vapour: np.ndarray
    liquid_volume: np.ndarray
    vapour_volume: np.ndarray
    converged: np.ndarray
    iterations: int

    @property
    def found(self) -> np.ndarray:
        """Whether each point has an answer inside the range of the species correlations, ``(points,)`` of bool."""
        inside = (self.temperature > LEAST_TEMPERATURE) & (self.temperature < MOST_TEMPERATURE)
        log_p = np.log(self.pressure)
        return self.converged & inside & (log_p > LEAST_LOG_PRESSURE) & (log_p < MOST_LOG_PRESSURE)

    def reason(self, point: int) -> str:
        """Say in a sentence why a point has no answer; empty where it has one."""
        if self.found[point]:
            return ""
        if self.converged[point] or self.temperature[point] in (LEAST_TEMPERATURE, MOST_TEMPERATURE):
            return (
                f"the answer lies outside {LEAST_TEMPERATURE:.0f} to {MOST_TEMPERATURE:.0f} K, "
                "where the species table ends"
            )
        return (
            f"liquid and vapour did not come to rest in {self.iterations} rounds: the liquid is close to splitting in "
            "two (alcohol with paraffins in the cold), or the vapour is too dense for a second virial coefficient"
        )

    @property
    def vapour_liquid_ratio(self) -> np.ndarray:
        """Volume of vapour per volume of liquid that remains; infinite where nothing remains."""
        with np.errstate(divide="ignore"):
            return self.vapour_fraction * self.vapour_volume / ((1.0 - self.vapour_fraction) * self.liquid_volume)


class _Balance:
    """Sums of the flash equation at given K: residual G = ln(sum y) - ln(sum x) and its slopes."""

    def __init__(self, z: np.ndarray, k: np.ndarray, fraction: np.ndarray) -> None:
        self.k = k
        self.divisor = 1.0 + fraction * (k - 1.0)
        self.x = z / self.divisor
        self.y = k * self.x
        self.sum_x, self.sum_y = self.x.sum(axis=0), self.y.sum(axis=0)
        self.residual = np.log(self.sum_y / self.sum_x)
        self.weight = self.y / self.divisor * ((1.0 - fraction) / self.sum_y + fraction / self.sum_x)
        ratio = (k - 1.0) / self.divisor
        self.by_fraction = -(self.y * ratio).sum(axis=0) / self.sum_y + (self.x * ratio).sum(axis=0) / self.sum_x


Array = np.ndarray
State = tuple[np.ndarray, np.ndarray, np.ndarray]  # temperature, pressure, vapour fraction
Step = Callable[[PhaseTerms, np.ndarray, np.ndarray, State, np.ndarray, np.ndarray], State]


def _rachford_rice(z: np.ndarray, k: np.ndarray, fraction: np.ndarray) -> np.ndarray:
    """Return the vapour fraction that solves sum z(K-1)/(1+b(K-1)) = 0, clipped to one phase outside the two."""
    low, high = np.zeros(z.shape[1]), np.ones(z.shape[1])
    surplus = k - 1.0
    zs = z * surplus
    liquid = zs.sum(axis=0) <= 0.0
    vapour = (zs / k).sum(axis=0) >= 0.0
    b = np.clip(fraction, 1e-6, 1.0 - 1e-6)
    for _ in range(60):
        term = surplus / (1.0 + b * surplus)
        weighted = z * term
        value = weighted.sum(axis=0)
        slope = (weighted * term).sum(axis=0)
        positive = value > 0.0
        low = np.where(positive, b, low)
        high = np.where(positive, high, b)
        with np.errstate(divide="ignore", invalid="ignore"):
            new = b + value / slope
        new = np.where((new > low) & (new < high), new, 0.5 * (low + high))
        change = np.abs(new - b)
        b = new
        if np.all((change < 1e-15) | liquid | vapour):
            break
    return np.where(liquid, 0.0, np.where(vapour, 1.0, b))


def _solve(
    mixture: Mixture,
    feed: np.ndarray,
    temperature: np.ndarray,
    pressure: np.ndarray,
    fraction: np.ndarray,
    step: Step,
    extra: np.ndarray,
    follows_temperature: bool,
    tolerance: float = TOLERANCE,
    ends_as_vapour: bool = False,
) -> Equilibrium:
    """Run the loop on all points; those that stand still leave it."""
    count = feed.shape[1]
    out_t, out_p, out_b = temperature.copy(), pressure.copy(), fraction.copy()
    out_x, out_y = feed.copy(), feed.copy()
    out_vl, out_vv = np.empty(count), np.empty(count)
    converged = np.zeros(count, dtype=bool)
    active = np.arange(count)
    z, t, p, b, held = feed, temperature, pressure, fraction, extra
    terms = PhaseTerms(mixture, t)
    x = z
    activity = terms.log_activity(x)
    root = terms.mean_root(_incipient(terms, p, activity, x))
    log_k = terms.log_k(p, activity, root, x)
    previous_change = np.zeros_like(activity)
    t_move = np.zeros_like(t)
    iteration = 0
    for iteration in range(1, LARGEST_COUNT + 1):
        share = next((share for rounds, share in reversed(DAMPED) if iteration > rounds), 1.0)
        t_new, p_new, b_new = step(terms, z, np.exp(np.clip(log_k, -300.0, 300.0)), (t, p, b), held, root)
        if follows_temperature:
            swings = (t_new - t) * t_move < 0.0  # between two bounds of the step; others keep their full pace
            pace = np.where(swings, share, 1.0)
            t_new, b_new = t + pace * (t_new - t), b + pace * (b_new - b)
            t_move = t_new - t
            terms = PhaseTerms(mixture, t_new)
        k = np.exp(np.clip(log_k, -300.0, 300.0))
        x = z / (1.0 + b_new * (k - 1.0))
        y = k * x
        x = x / x.sum(axis=0)
        activity_new = terms.log_activity(x)
        change = share * (activity_new - activity)
        if iteration % ACCELERATE_EVERY == 0:
            most = LARGEST_EIGENVALUE if share == 1.0 else LARGEST_DAMPED_EIGENVALUE
            change = change * _acceleration(change, previous_change, most)
        previous_change = change
        activity = activity + change
        root = terms.mean_root(y / y.sum(axis=0))
        log_k_new = terms.log_k(p_new, activity, root, x)
        moved = np.abs(log_k_new - log_k).max(axis=0)
        moved = np.maximum(moved, np.abs(b_new - b))
        moved = np.maximum(moved, np.abs(t_new - t) / 10.0 + np.abs(np.log(p_new / p)))
        done = moved < tolerance
        if ends_as_vapour and iteration > DAMPED[0][0]:
            done |= (b >= 1.0) & (b_new >= 1.0)  # all vapour: what the first drop would hold is beside the point
        t, p, b, log_k = t_new, p_new, b_new, log_k_new
        if done.any() or iteration == LARGEST_COUNT:
            leave = done if iteration < LARGEST_COUNT else np.ones_like(done)
            where = active[leave]
            k = np.exp(np.clip(log_k[:, leave], -300.0, 300.0))
            xs = z[:, leave] / (1.0 + b[leave] * (k - 1.0))
            ys = k * xs
            out_t[where], out_p[where], out_b[where] = t[leave], p[leave], b[leave]
            single = (b[leave] <= 0.0) | (b[leave] >= 1.0)
            out_x[:, where] = np.where(single, xs / xs.sum(axis=0), xs)
            out_y[:, where] = np.where(single, ys / ys.sum(axis=0), ys)
            out_vl[where] = terms.liquid_volume(x)[leave]
            out_vv[where] = terms.vapour_volume(p, root)[leave]
            converged[where] = done[leave]
            stay = ~leave
            active = active[stay]
            if active.size == 0:
                break
            z, t, p, b, root = z[:, stay], t[stay], p[stay], b[stay], root[stay]
            held, t_move = held[..., stay], t_move[stay]
            activity, previous_change, log_k = activity[:, stay], previous_change[:, stay], log_k[:, stay]
            terms = PhaseTerms(mixture, t) if follows_temperature else terms.take(stay)
    return Equilibrium(out_t, out_p, out_b, out_x, out_y, out_vl, out_vv, converged, iteration)


def _incipient(terms: PhaseTerms, pressure: np.ndarray, activity: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Return a first vapour composition, from an ideal vapour over the liquid."""
    log_k = terms.log_k(pressure, activity, np.zeros_like(pressure) + 1e-9, x)
    log_y = log_k + np.log(np.maximum(x, 1e-300))
    y = np.exp(log_y - log_y.max(axis=0))
    return y / y.sum(axis=0)


def _acceleration(change: np.ndarray, previous: np.ndarray, most: float) -> np.ndarray:
    """Return the factor by which the dominant eigenvalue, at most `most`, lengthens a step (Orbach & Crowe 1971)."""
    dot = (change * previous).sum(axis=0)
    norm = (previous * previous).sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        eigenvalue = np.where(norm > 0.0, dot / norm, 0.0)
    return 1.0 / (1.0 - np.clip(eigenvalue, -0.9, most))


def _limited(move: np.ndarray, most: float) -> np.ndarray:
    return np.minimum(np.maximum(move, -most), most)


def _arranged(feed: np.ndarray, *values: np.ndarray | float) -> tuple[np.ndarray, ...]:
    """Broadcast a feed ``(species, points or 1)`` and values ``(points,)`` to the same points."""
    arrays = np.broadcast_arrays(feed[0], *[np.asarray(value, dtype=float) for value in values])
    points = arrays[0].shape
    return (np.ascontiguousarray(np.broadcast_to(feed, (feed.shape[0], *points))), *[a.copy() for a in arrays[1:]])


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

    >>> from fuelsim.fuel.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = flash(two, half, np.array([340.0]), np.array([1e5]))
    >>> b = state.vapour_fraction
    >>> bool(0.0 < b[0] < 1.0), bool(abs(b * state.vapour + (1.0 - b) * state.liquid - 0.5).max() < 1e-10)
    (True, True)
    """
    z, t, p = _arranged(feed, temperature, pressure)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        return state[0], state[1], _rachford_rice(z, k, state[2])

    return _solve(mixture, z, t, p, np.full_like(t, 0.5), step, np.empty((0, t.size)), False, tolerance, True)


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

    >>> from fuelsim.fuel.species import species
    >>> pentane = Mixture(species().take(("n-pentane",)))
    >>> round(float(saturation_pressure(pentane, np.ones((1, 1)), np.array([310.93])).pressure[0]) / 1e3)
    107
    """
    z, t = _arranged(feed, temperature)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        balance = _Balance(z, k, state[2])
        log_p = np.log(state[1]) + _limited(balance.residual / balance.weight.sum(axis=0), 5.0)
        return state[0], np.exp(np.clip(log_p, LEAST_LOG_PRESSURE, MOST_LOG_PRESSURE)), state[2]

    start = _raoult_pressure(mixture, z, t)
    return _solve(mixture, z, t, start, np.full_like(t, fraction), step, np.empty((0, t.size)), False)


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

    >>> from fuelsim.fuel.species import species
    >>> heptane = Mixture(species().take(("n-heptane",)))
    >>> state = saturation_temperature(heptane, np.ones((1, 1)), np.array([101325.0]))
    >>> round(float(state.temperature[0]) - 273.15, 1)
    98.4
    """
    z, p, first = _arranged(feed, pressure, start)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        t = state[0]
        balance = _Balance(z, k, state[2])
        slope = (balance.weight * heat_of_vaporisation(mixture, t)).sum(axis=0) / (GAS_CONSTANT * t**2)
        # Newton in 1/T, in which ln K is nearly straight
        inverse = 1.0 / t + _limited(balance.residual / (slope * t**2), 6e-4)
        return np.clip(1.0 / inverse, LEAST_TEMPERATURE, MOST_TEMPERATURE), state[1], state[2]

    return _solve(mixture, z, first, p, np.full_like(p, fraction), step, np.empty((0, p.size)), True, tolerance)


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
    >>> from fuelsim.fuel.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = flash_to_volume(two, half, np.array([310.93]), vapour_liquid_ratio=np.array([4.0]))
    >>> round(float(state.vapour_liquid_ratio[0]), 9)
    4.0
    """
    ratio_held = vapour_liquid_ratio is not None
    z, t, held = _arranged(feed, temperature, vapour_liquid_ratio if ratio_held else total_volume)  # type: ignore[arg-type]

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        _, p, b = state
        balance = _Balance(z, k, b)
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
        balance = _Balance(z, k, b)
        slope = balance.weight.sum(axis=0) - balance.by_fraction * by_log_pressure
        move = _limited(balance.residual / slope, 1.0)
        new = np.clip(np.log(p) + move, LEAST_LOG_PRESSURE, MOST_LOG_PRESSURE)
        return state[0], np.exp(new), np.clip(b + by_log_pressure * move, 0.0, 1.0)

    start = _raoult_pressure(mixture, z, t)
    return _solve(mixture, z, t, start, np.full_like(t, 0.01), step, held[None], False)


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
    >>> from fuelsim.fuel.species import species
    >>> two, half = Mixture(species().take(("n-pentane", "n-octane"))), np.full((2, 1), 0.5)
    >>> state = temperature_at_vapour_volume(two, half, np.array([1e5]), np.array([2e-3]))
    >>> round(float(1e3 * state.vapour_fraction[0] * state.vapour_volume[0]), 9)
    2.0
    """
    z, p, held = _arranged(feed, pressure, vapour_volume)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        t, p, b = state
        b = np.clip(held[0] / terms.vapour_volume(p, root), 0.0, 1.0)
        balance = _Balance(z, k, b)
        slope = (balance.weight * heat_of_vaporisation(mixture, t)).sum(axis=0) / (GAS_CONSTANT * t**2)
        slope = slope - balance.by_fraction * b / t
        inverse = 1.0 / t + _limited(balance.residual / (slope * t**2), 4e-4)
        return np.clip(1.0 / inverse, LEAST_TEMPERATURE, MOST_TEMPERATURE), p, b

    start = np.full_like(p, 330.0)
    return _solve(mixture, z, start, p, np.full_like(p, 0.05), step, held[None], True)


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

    >>> from fuelsim.fuel.species import species
    >>> heptane = Mixture(species().take(("n-heptane",)))
    >>> state = adiabatic_flash(heptane, np.ones((1, 1)), np.array([383.15]), np.array([101325.0]))
    >>> round(float(state.temperature[0]) - 273.15, 1)
    98.4
    """
    z, t0, p = _arranged(feed, liquid_temperature, pressure)
    start_enthalpy = (z * liquid_enthalpy(mixture, t0)).sum(axis=0)

    def step(
        terms: PhaseTerms, z: np.ndarray, k: np.ndarray, state: State, held: np.ndarray, root: np.ndarray
    ) -> State:
        t, p, b = state
        latent = heat_of_vaporisation(mixture, t)
        capacity = heat_capacity(mixture, t)
        balance = _Balance(z, k, b)
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
        b_new = np.clip(b + _limited(move_b, 0.3), 0.0, 1.0)
        move_t = -(surplus + h_fraction * (b_new - b)) / h_temperature
        t_new = np.clip(t + _limited(move_t, 20.0), LEAST_TEMPERATURE, MOST_TEMPERATURE)
        return t_new, p, b_new

    start = np.zeros_like(t0)
    return _solve(mixture, z, t0, p, start, step, start_enthalpy[None], True, tolerance)
