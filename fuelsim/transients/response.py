"""What the plumbing answers to the state of the tank: many networks solved at once, then looked up while time runs.

The answer is tabulated against the kelvins by which the supply is below the boiling point of the tank, because that is
where it bends, against the pressure in the tank, the share of the fuel that has evaporated, and time within a phase.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.system.conditions import Conditions

if TYPE_CHECKING:
    from fuelsim.system.run import Run, System
    from fuelsim.transients.schedule import World
    from fuelsim.transients.tank import TankFuel

__all__ = ["OUTPUTS", "Response", "conditions_of", "joined", "locked_points", "respond"]

OUTPUTS = ("supply", "returned", "return_heat", "rail_gauge_pressure", "vapour_lock")
"""kg/s out of the tank, kg/s back, W that comes back above the supply's temperature, Pa, and 1 where the pump is
vapour-locked (between 0 and 1 where only a part of the grid points around is)."""

_NEAR = np.concatenate([np.arange(-0.3, 1.5, 0.1), np.arange(1.5, 3.0, 0.25), np.arange(3.0, 6.0, 0.5)])
_FAR = np.concatenate([np.arange(6.0, 10.0, 1.0), np.arange(10.0, 30.0, 4.0), [30.0, 45.0, 70.0]])
MARGINS = np.concatenate([_NEAR, _FAR])
"""Kelvins below the boiling point of the tank at which the networks are solved."""
STEP, FIRST_STEPS = 3600.0, (0.0, 150.0, 450.0, 1000.0)
"""Times within a phase at which they are solved, s: close while the air around the parts settles, then less often."""
LEAST_TEMPERATURE, MOST_TEMPERATURE = 238.0, 372.0


def conditions_of(world: dict[str, Any], tank_temperature: Any, vapour_space_pressure: Any) -> Conditions:
    """Return operating conditions from the world at some moments and the state of the tank there."""
    values = {name: value for name, value in world.items() if name != "atmospheric_pressure"}
    return Conditions(tank_temperature=tank_temperature, vapour_space_pressure=vapour_space_pressure, **values)


def outputs_of(run: Run) -> Any:
    """Return `OUTPUTS` of a run, ``(outputs, ...)``."""
    supply = np.asarray(run.mass_flow["pump"])
    returned = supply - np.asarray(run.mass_flow["injectors"])
    locked = locked_points(run).astype(float)
    return np.stack([supply, returned, run.tank_heat_flow, run.gauge_pressure["rail"], locked])


def locked_points(run: Run) -> Any:
    """Return where a run's outcome speaks of vapour lock, or did not solve."""
    reasons = np.asarray(run.outcome.reason)
    spoken = np.array([str(text).startswith("vapour lock") for text in reasons.ravel()], dtype=bool)
    return spoken.reshape(reasons.shape) | ~run.outcome.converged


@dataclass(frozen=True, eq=False)
class Response:
    """Answers of the plumbing within one phase.

    Attributes
    ----------
    times, pressures, evaporated : list of float
        Grid: s since the phase began, Pa gauge in the tank, mass fraction evaporated.
    boiling : array (times, evaporated, pressures)
        Boiling temperature of the tank, K.
    values : array (times, evaporated, pressures, margins, outputs)
    """

    times: list[float]
    pressures: list[float]
    evaporated: list[float]
    boiling: Any
    values: Any

    def at(self, time: float, temperature: float, pressure: float, evaporated: float) -> Any:
        """Return `OUTPUTS` at one moment, ``(outputs,)``.

        Parameters
        ----------
        time : float
            Since the phase began, s.
        temperature : float
            Of the supply, K.
        pressure : float
            In the tank, Pa above the atmosphere.
        evaporated : float
            Mass fraction.
        """
        corners = [
            (i, j, k, share_t * share_w * share_p)
            for i, share_t in _corners(self.times, time)
            for j, share_w in _corners(self.evaporated, evaporated)
            for k, share_p in _corners(self.pressures, pressure)
        ]
        # Corners answer alike at an equal distance to boiling, not at an equal temperature.
        margin = sum(weight * float(self.boiling[i, j, k]) for i, j, k, weight in corners) - temperature
        here = min(max(bisect_right(_MARGIN_LIST, margin) - 1, 0), len(_MARGIN_LIST) - 2)
        low, high = _MARGIN_LIST[here], _MARGIN_LIST[here + 1]
        share = min(max((margin - low) / (high - low), 0.0), 1.0)
        found: Any = 0.0
        for i, j, k, weight in corners:
            values = self.values[i, j, k]
            found = found + weight * (values[here] + share * (values[here + 1] - values[here]))
        return found


_MARGIN_LIST = MARGINS.tolist()


def _corners(grid: list[float], place: float) -> list[tuple[int, float]]:
    """Return the two grid points around a place with their weights; the nearest end beyond the grid."""
    if len(grid) == 1 or place <= grid[0]:
        return [(0, 1.0)]
    if place >= grid[-1]:
        return [(len(grid) - 1, 1.0)]
    low = bisect_right(grid, place) - 1
    share = (place - grid[low]) / (grid[low + 1] - grid[low])
    return [(low, 1.0 - share), (low + 1, share)]


def times_within(duration: float) -> Any:
    """Return the grid of times for a phase, s."""
    first = [time for time in FIRST_STEPS if time < 0.9 * duration]
    count = int(np.ceil(max(duration - first[-1], 1.0) / STEP))
    return np.unique(np.concatenate([first, np.linspace(first[-1], duration, count + 1)]))


def respond(
    system: System, evaporated: float, fuel: TankFuel, world: World, pressures: list[float]
) -> list[Response | None]:
    """Solve the networks of every phase in one batch, for the fuel at one stage of evaporation.

    Parameters
    ----------
    system : System
        The plumbing with the fuel as it is then.
    evaporated : float
        Mass fraction.
    fuel : TankFuel
    world : World
    pressures : list of float
        Pa above the atmosphere in the tank.

    Returns
    -------
    list of Response or None
        One per phase; None where the engine stands.
    """
    found: list[Response | None] = [None] * len(world.schedule.phases)
    running = [i for i, phase in enumerate(world.schedule.phases) if phase.engine == "running"]
    if not running:
        return found
    grids = {i: times_within(world.schedule.phases[i].duration) for i in running}
    boiling, batches = {}, []
    gauge = np.array(pressures)
    for i in running:
        here = world.at(i, grids[i])
        boiling[i] = fuel.boiling_temperature(here["atmospheric_pressure"][:, None] + gauge, evaporated)
        temperature = np.clip(boiling[i][:, :, None] - MARGINS, LEAST_TEMPERATURE, MOST_TEMPERATURE)
        batch = {name: np.broadcast_to(value[:, None, None], temperature.shape) for name, value in here.items()}
        batch |= {"tank": temperature, "gauge": np.broadcast_to(gauge[None, :, None], temperature.shape)}
        batches.append(batch)
    flat = {name: np.concatenate([batch[name].ravel() for batch in batches]) for name in batches[0]}
    tank, tank_gauge = flat.pop("tank"), flat.pop("gauge")
    run = system.solve(conditions_of(flat, tank, tank_gauge))
    ends = np.cumsum([batch["tank"].size for batch in batches])[:-1]
    for i, part in zip(running, np.split(outputs_of(run), ends, axis=1), strict=True):
        shape = (len(grids[i]), len(pressures), len(MARGINS))
        values = _without_gaps(np.moveaxis(part.reshape(-1, *shape), 0, -1))
        found[i] = Response(grids[i].tolist(), list(pressures), [evaporated], boiling[i][:, None], values[:, None])
    return found


def joined(first: list[Response | None], second: list[Response | None]) -> list[Response | None]:
    """Return the answers for two stages of evaporation, the first less evaporated, as one."""
    found: list[Response | None] = []
    for a, b in zip(first, second, strict=True):
        if a is None or b is None:
            found.append(None)
            continue
        found.append(
            Response(
                a.times,
                a.pressures,
                a.evaporated + b.evaporated,
                np.concatenate([a.boiling, b.boiling], axis=1),
                np.concatenate([a.values, b.values], axis=1),
            )
        )
    return found


def _without_gaps(values: Any) -> Any:
    """Give points that did not solve the answer of the nearest cooler one that did, (times, pressures, margins, n)."""
    for index in range(values.shape[2] - 2, -1, -1):
        gap = ~np.isfinite(values[:, :, index])
        values[:, :, index] = np.where(gap, values[:, :, index + 1], values[:, :, index])
    return np.nan_to_num(values)
