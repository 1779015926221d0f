"""Petrol fitted to a specification: volume fractions of the palette change as little as meets every target at once.

Least squares on the logarithms of the volume fractions, with bounds and a weak regularisation towards the palette,
which decides what the targets leave open. Targets that contradict each other leave residuals; those are reported, and
large ones are an error.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fuelsim.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.fuel import petrol
from fuelsim.fuel.molecules.species import Species, species
from fuelsim.fuel.phase_equilibrium import laboratory
from fuelsim.fuel.phase_equilibrium.distillation import EVAPORATED, Distillation, distil
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.typing import FloatArray, PointArray, SpeciesArray

__all__ = ["TARGETS", "Calibration", "Target", "fitted"]

LARGEST_CHANGE = 3.0
"""Largest change of the logarithm of a volume fraction."""
REGULARISATION = 0.05
"""Weight of the squared changes beside the squared residuals, which are in units of their resolution."""
MOST_ITERATIONS = 12
DAMPINGS = (0.0, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 0.1)
"""Levenberg-Marquardt dampings tried at once, relative to the largest diagonal element."""
STEP_LENGTHS = (1.0, 0.5, 0.2)
"""Lengths of the undamped step tried at once."""
DIFFERENCE = 0.02
"""Change of a logarithm in the differences that give slopes."""


@dataclass(frozen=True)
class Target:
    """A quantity to which a petrol can be fitted.

    Attributes
    ----------
    unit : str
        SI unit of the quantity.
    resolution : float
        Residual at which the target counts as met.
    tolerance : float
        Residual beyond which the targets contradict each other.
    shown : str
        Name in messages.
    """

    unit: str
    resolution: float
    tolerance: float
    shown: str


TARGETS: dict[str, Target] = {
    "vapour_pressure": Target("Pa", 100.0, 1000.0, "DVPE"),
    "density": Target("kg/m3", 0.5, 4.0, "density at 15 degC"),
    "t10": Target("K", 0.5, 3.0, "T10"),
    "t50": Target("K", 0.5, 3.0, "T50"),
    "t90": Target("K", 0.5, 3.0, "T90"),
    "e70": Target("1", 0.004, 0.02, "E70"),
    "e100": Target("1", 0.004, 0.02, "E100"),
    "e150": Target("1", 0.004, 0.02, "E150"),
    "vapour_liquid_temperature": Target("K", 0.3, 1.5, "T(V/L=20)"),
    "aromatics": Target("1", 0.003, 0.02, "aromatics"),
}
_DISTILLED = {"t10": 0.10, "t50": 0.50, "t90": 0.90}
_EVAPORATED = {"e70": 70.0 + ZERO_CELSIUS, "e100": 100.0 + ZERO_CELSIUS, "e150": 150.0 + ZERO_CELSIUS}


@dataclass(frozen=True)
class Calibration:
    """Targets of a fitted petrol and the values it reached, in SI.

    Attributes
    ----------
    targets : tuple of str
        Keys of `TARGETS`.
    wanted, reached : tuple of float
        Values asked for, and values of the petrol.
    """

    targets: tuple[str, ...]
    wanted: tuple[float, ...]
    reached: tuple[float, ...]

    @property
    def residuals(self) -> dict[str, float]:
        """Reached minus wanted, SI, by target."""
        return {name: r - w for name, w, r in zip(self.targets, self.wanted, self.reached, strict=True)}

    def sentences(self) -> list[str]:
        """Return a sentence for each target: the value wanted and the value reached.

        Examples
        --------
        >>> Calibration(("density",), (745.0,), (745.2,)).sentences()
        ['density at 15 degC: wanted 745.0 kg/m3, reached 745.2 kg/m3']
        """
        return [
            f"{TARGETS[name].shown}: wanted {_text(name, w)}, reached {_text(name, r)}"
            for name, w, r in zip(self.targets, self.wanted, self.reached, strict=True)
        ]

    def contradiction(self) -> str | None:
        """Return the target with the largest residual if that exceeds its tolerance, or None.

        Examples
        --------
        >>> Calibration(("density",), (745.0,), (755.0,)).contradiction()
        'density'
        """
        misses = {name: abs(residual) / TARGETS[name].tolerance for name, residual in self.residuals.items()}
        worst = max(misses, key=lambda name: misses[name], default=None)
        return worst if worst is not None and misses[worst] > 1.0 else None


def _text(name: str, value: float) -> str:
    unit = TARGETS[name].unit
    if unit == "Pa":
        return f"{value / 1e3:.1f} kPa"
    if unit == "K":
        return f"{value - ZERO_CELSIUS:.1f} degC"
    return f"{value:.1%}" if unit == "1" else f"{value:.1f} {unit}"


def _grid(names: tuple[str, ...]) -> FloatArray:
    """Return the evaporated fractions at which to distil: no further than the targets need."""
    if any(name in _EVAPORATED for name in names):
        return EVAPORATED
    furthest = max(_DISTILLED[name] for name in names if name in _DISTILLED)
    return EVAPORATED[: int(np.searchsorted(EVAPORATED, furthest)) + 1]


def _quantities(table: Species, volumes: SpeciesArray, names: tuple[str, ...]) -> FloatArray:
    """Return the quantities ``(targets, fuels)`` of blends given by volume fractions ``(species, fuels)``."""
    moles = volumes / table.volume_at_15[:, None]
    x = moles / moles.sum(axis=0)
    mixture = Mixture(table)
    curves = None
    if any(name in _DISTILLED or name in _EVAPORATED for name in names):
        grid = _grid(names)
        temperatures = distil(mixture, x, evaporated=grid)
        curves = [Distillation(grid, column) for column in temperatures.T]
    rows = []
    for name in names:
        if name == "vapour_pressure":
            rows.append(laboratory.dry_vapour_pressure_equivalent(mixture, x))
        elif name == "density":
            rows.append(laboratory.density_at_15(mixture, x))
        elif name == "vapour_liquid_temperature":
            rows.append(laboratory.vapour_liquid_temperature(mixture, x, 20.0, STANDARD_ATMOSPHERE))
        elif name == "aromatics":
            rows.append(volumes[table.is_family("aromatic")].sum(axis=0))
        elif curves is not None and name in _DISTILLED:
            rows.append(np.array([curve.temperature_at(_DISTILLED[name]) for curve in curves]))
        elif curves is not None:
            rows.append(np.array([curve.evaporated_at(_EVAPORATED[name]) for curve in curves]))
    return np.array(rows)


def _check_order(targets: Mapping[str, float]) -> None:
    for keys in (("t10", "t50", "t90"), ("e70", "e100", "e150")):
        given = [(key, targets[key]) for key in keys if key in targets]
        for (first, low), (second, high) in pairwise(given):
            if low >= high:
                raise InputError(
                    f"{TARGETS[first].shown} must lie below {TARGETS[second].shown}",
                    given=f"{_text(first, low)} and {_text(second, high)}",
                    key=first,
                )


def fitted(
    targets: Mapping[str, float],
    oxygenates: Mapping[str, float],
    palette: Mapping[str, float],
    activity_model: str = "unifac",
) -> tuple[dict[str, float], Calibration]:
    """Return volume fractions that meet the targets as well as the palette can, with the values reached.

    Parameters
    ----------
    targets : mapping
        Keys of `TARGETS` to SI values.
    oxygenates : mapping
        Species to volume fraction of the finished fuel; these are not changed.
    palette : mapping
        Species to volume fraction of the hydrocarbon part, where the search starts.
    activity_model : {"unifac", "dortmund"}
        Model of the activity coefficients.

    Raises
    ------
    InputError
        If the targets contradict each other; the message lists the values wanted and those of the nearest petrol.

    Examples
    --------
    >>> volumes, calibration = fitted({"vapour_pressure": 58e3, "density": 745.0}, {}, petrol.PALETTE)
    >>> round(sum(volumes.values()), 12), calibration.contradiction() is None
    (1.0, True)
    """
    _check_order(targets)
    names = tuple(targets)
    wanted = np.array([targets[name] for name in names])
    resolution = np.array([TARGETS[name].resolution for name in names])
    table = species().take((*palette, *oxygenates), activity_model)
    start = np.array(list(palette.values()))
    held = np.array(list(oxygenates.values()))

    def volumes(change: FloatArray) -> SpeciesArray:
        hydrocarbons = start[:, None] * np.exp(change)
        hydrocarbons = hydrocarbons / hydrocarbons.sum(axis=0) * (1.0 - held.sum())
        return np.concatenate([hydrocarbons, np.repeat(held[:, None], change.shape[1], axis=1)])

    def residuals(change: FloatArray) -> FloatArray:
        residual: FloatArray = (_quantities(table, volumes(change), names) - wanted[:, None]) / resolution[:, None]
        return residual

    change = np.log(_started(targets, oxygenates, palette, activity_model) / start)[:, None]
    change = _least_squares(residuals, change)
    residual = residuals(change)
    reached = wanted + residual[:, 0] * resolution
    calibration = Calibration(names, tuple(wanted.tolist()), tuple(reached.tolist()))
    worst = calibration.contradiction()
    if worst is not None:
        raise InputError(
            "no petrol of the palette meets these targets together; " + "; ".join(calibration.sentences()),
            accepted="targets nearer to the values reached; "
            f"{TARGETS[worst].shown} has the largest residual, relax it first",
            key=worst,
        )
    shares = volumes(change)[:, 0]
    return dict(zip(table.names, shares.tolist(), strict=True)), calibration


def _started(
    targets: Mapping[str, float], oxygenates: Mapping[str, float], palette: Mapping[str, float], activity_model: str
) -> FloatArray:
    """Return volume fractions to start from: those that meet the vapour pressure, where that can be met."""
    shares: FloatArray = np.array(list(palette.values()))
    if "vapour_pressure" in targets:
        try:
            blend = petrol.with_vapour_pressure(
                targets["vapour_pressure"], dict(oxygenates), dict(palette), activity_model
            )
        except InputError:
            return shares
        shares = np.maximum(
            np.array([blend[name] for name in palette]) / (1.0 - sum(oxygenates.values())), 0.1 * shares
        )
    shares /= shares.sum()
    return shares


def _least_squares(residuals: Callable[[FloatArray], FloatArray], change: FloatArray) -> FloatArray:
    """Minimise the squared residuals and changes by Levenberg's and Marquardt's method, several dampings at once."""
    identity = np.eye(change.size)

    def cost(change: FloatArray, residual: FloatArray) -> PointArray:
        total: PointArray = (residual**2).sum(axis=0) + REGULARISATION * (change**2).sum(axis=0)
        return total

    for _ in range(MOST_ITERATIONS):
        around = residuals(np.concatenate([change, change + DIFFERENCE * identity], axis=1))
        residual = around[:, :1]
        jacobian = (around[:, 1:] - residual) / DIFFERENCE
        normal = jacobian.T @ jacobian + REGULARISATION * identity
        slope = jacobian.T @ residual + REGULARISATION * change
        largest = float(normal.diagonal().max())
        steps = [-np.linalg.solve(normal + more * largest * identity, slope) for more in DAMPINGS]
        steps = [steps[0] * factor for factor in STEP_LENGTHS] + steps[1:]
        steps = [step * min(1.0, 1.5 / max(float(np.abs(step).max()), 1e-9)) for step in steps]
        tries = np.clip(change + np.concatenate(steps, axis=1), -LARGEST_CHANGE, LARGEST_CHANGE)
        residuals_tried = residuals(tries)
        costs = cost(tries, residuals_tried)
        best = int(np.nanargmin(costs))
        before = float(cost(change, residual)[0])
        if not costs[best] < before:
            break
        change = tries[:, best : best + 1]
        if np.abs(residuals_tried[:, best]).max() < 0.2 or before - costs[best] < 3e-3 * before:
            break
    return change
