"""The loop that finds liquid and vapour in equilibrium at many points; `flashes` says what is held.

Each round takes one Newton step of what is held and sought, then new activity coefficients. Points that stand still
leave. Those that do not after 60 rounds take shorter steps, lengthened now and then along their slow mode.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fuelsim.fuel.phase_equilibrium.phases import Mixture, PhaseTerms

__all__ = [
    "LEAST_LOG_PRESSURE",
    "LEAST_TEMPERATURE",
    "MOST_LOG_PRESSURE",
    "MOST_TEMPERATURE",
    "TOLERANCE",
    "Balance",
    "Equilibrium",
    "State",
    "arranged",
    "limited",
    "rachford_rice",
    "solve",
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


class Balance:
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


State = tuple[np.ndarray, np.ndarray, np.ndarray]  # temperature, pressure, vapour fraction
Step = Callable[[PhaseTerms, np.ndarray, np.ndarray, State, np.ndarray, np.ndarray], State]


def rachford_rice(z: np.ndarray, k: np.ndarray, fraction: np.ndarray) -> np.ndarray:
    """Return the vapour fraction that solves sum z(K-1)/(1+b(K-1)) = 0, clipped to one phase outside the two.

    Source: Rachford & Rice, J. Pet. Technol. 4 (1952) 19; Newton inside a bracket.

    Examples
    --------
    Two species in equal parts with K of 2 and 1/2: half is vapour.

    >>> k = np.array([[2.0], [0.5]])
    >>> round(float(rachford_rice(np.full((2, 1), 0.5), k, np.array([0.1]))[0]), 12)
    0.5
    """
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


def solve(
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
    """Run the loop on all points; those that stand still leave it.

    Parameters
    ----------
    mixture : Mixture
    feed : array (species, points)
        Mole fractions.
    temperature, pressure, fraction : array (points,)
        Start, K, Pa absolute, moles of vapour per mole; what `step` never moves is held.
    step : function
        One Newton step: (terms, feed, K, state, extra, mean root virial) -> new state.
    extra : array (held, points)
        What else is held, such as an enthalpy or a volume.
    follows_temperature : bool
        `step` moves the temperature, so what depends on it is formed anew in each round.
    tolerance : float
        Of ln K, ln p, T/10 K and the vapour fraction between two rounds.
    ends_as_vapour : bool
        A point that stays all vapour counts as found, although its first drop has not come to rest.
    """
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


def limited(move: np.ndarray, most: float) -> np.ndarray:
    """Return a move cut at a largest size.

    Examples
    --------
    >>> limited(np.array([-3.0, 0.5]), 1.0).tolist()
    [-1.0, 0.5]
    """
    return np.minimum(np.maximum(move, -most), most)


def arranged(feed: np.ndarray, *values: np.ndarray | float) -> tuple[np.ndarray, ...]:
    """Broadcast a feed ``(species, points or 1)`` and values ``(points,)`` to the same points.

    Examples
    --------
    >>> feed, pressure = arranged(np.ones((1, 1)), np.array([1e5, 2e5]))
    >>> feed.shape, pressure.shape
    ((1, 2), (2,))
    """
    arrays = np.broadcast_arrays(feed[0], *[np.asarray(value, dtype=float) for value in values])
    points = arrays[0].shape
    return (np.ascontiguousarray(np.broadcast_to(feed, (feed.shape[0], *points))), *[a.copy() for a in arrays[1:]])
