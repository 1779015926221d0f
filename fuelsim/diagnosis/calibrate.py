"""A car with values fitted to readings: bounded least squares, with intervals from the curvature at the fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats
from scipy.optimize import least_squares

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.rating_lists import may_be_listed
from fuelsim.declaration import Declaration
from fuelsim.diagnosis.causes import Effect
from fuelsim.diagnosis.predictions import Column, Predictor
from fuelsim.diagnosis.readings import Reading, readings_asked
from fuelsim.errors import InputError, SolveError
from fuelsim.shown import Shown
from fuelsim.studies.vary import declaration_of
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, PointArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Calibration", "calibrate"]

STEP = 1e-3
"""Step of the slopes, over the value or its range."""
FROM_BOUND = 0.01
"""Distance of the start from the ends of the range, over the value or its range."""
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Calibration(Shown):
    """A car fitted to readings.

    Attributes
    ----------
    car : Car
        With the fitted values.
    keys : tuple of str
        Dotted keys that were fitted.
    kinds : tuple of str
        Kind of each one's unit.
    before, values : array (keys,)
        Before and after, SI.
    low, high : array (keys,)
        Interval of 95 % confidence, SI.
    readings : tuple of Reading
    predicted : array (readings,)
        What the gauges would show of the fitted car, SI.
    chi_squared : float
        Squared misfits in standard deviations, summed; about the number of readings less that of the keys.
    """

    car: Car
    keys: tuple[str, ...]
    kinds: tuple[str, ...]
    before: PointArray
    values: PointArray
    low: PointArray
    high: PointArray
    readings: tuple[Reading, ...]
    predicted: PointArray
    chi_squared: float

    @property
    def headline(self) -> str:
        """Return how well it fits."""
        free = len(self.readings) - len(self.keys)
        fitted = f"{len(self.keys)} values fitted to {len(self.readings)} readings"
        return f"{fitted}, chi-squared {self.chi_squared:.3g} of {free}"

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per fitted key: before, fitted, interval.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            Values carry their units.

        Examples
        --------
        >>> import fuelsim as fs
        >>> table = {"rpm": [3000, 6000], "pump_voltage [V]": [12.9, 12.9], "supply_voltage [V]": [13.9, 13.9]}
        >>> fs.calibrate(fs.Car.named("finch"), "return", table, ["wire.other"]).table()["key"].tolist()
        ['wire.other']
        """
        return opener.calibration_table(self, units)


@system_or_car
@takes()
def calibrate(system: System, readings: object, keys: Sequence[str]) -> Calibration:
    """Return a car whose values fit readings of gauges.

    Parameters
    ----------
    system : System
        The car in its layout; or a car, and the name of a layout after it.
    readings : list of Reading, mapping, DataFrame or path
        As `diagnose` takes them.
    keys : list of str
        Dotted keys of numbers to fit, such as ``"wire.other"`` and ``"filter.clogging"``.

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        For an unknown key, one that is no number, or fewer readings than keys.
    SolveError
        Where a reading cannot be computed.

    Notes
    -----
    Trust-region reflective least squares within the plausible ranges (`scipy.optimize.least_squares`); intervals by
    Student's t from the covariance at the fit, with the gauges' stated uncertainties.

    Examples
    --------
    >>> table = {"rpm": [3000, 6000], "pump_voltage [V]": [12.9, 12.9], "supply_voltage [V]": [13.9, 13.9]}
    >>> fitted = calibrate(Car.named("finch"), "return", table, ["wire.other"])
    >>> bool(fitted.low[0] < fitted.car.wire.other < fitted.high[0])
    True
    """
    asked = readings_asked(readings, system)
    if not keys or len(asked) < len(keys):
        raise InputError(
            f"{len(asked)} readings for {len(keys)} keys", accepted="at least one key, and as many readings", key="keys"
        )
    declared = [_declared(key) for key in keys]
    start = np.array([float(system.car.value_of(key) or 0.0) for key in keys])  # type: ignore[arg-type]
    low = np.array([item.least for item in declared])
    high = np.array([item.most for item in declared])
    scale = np.where(start != 0.0, np.abs(start), np.minimum(high - low, 1.0))
    predictor = Predictor(system, asked)
    values = np.array([reading.number for reading in asked])
    spread = np.array([reading.sigma for reading in asked])

    def column(sizes: PointArray) -> Column:
        return Column(tuple((Effect(key, "set"), float(size)) for key, size in zip(keys, sizes, strict=True)))

    def misfits(sizes: PointArray) -> PointArray:
        return np.asarray((_known(predictor.predict([column(sizes)]))[:, 0] - values) / spread)

    def slopes(sizes: PointArray) -> FloatArray:
        # Inward where a step outward would leave the range.
        step = np.where(sizes + STEP * scale <= high, STEP, -STEP) * scale
        moved = [column(sizes), *(column(sizes + step * unit) for unit in np.eye(len(keys)))]
        shown = _known(predictor.predict(moved))
        return np.asarray((shown[:, 1:] - shown[:, :1]) / step / spread[:, None])

    # The first step is as long as the distance from the origin, so that a start at 0 would end where it begins.
    inside = np.clip(start, low + FROM_BOUND * scale, high - FROM_BOUND * scale)
    found = least_squares(misfits, inside, slopes, bounds=(low, high), x_scale=scale, max_nfev=60)
    at_fit = slopes(found.x)
    free = max(len(asked) - len(keys), 1)
    error = np.sqrt(np.diag(np.linalg.pinv(at_fit.T @ at_fit))) * stats.t.ppf(0.5 + 0.5 * CONFIDENCE, free)
    return Calibration(
        car=system.car.with_values(dict(zip(keys, found.x.tolist(), strict=True))),
        keys=tuple(keys),
        kinds=tuple(item.kind for item in declared),
        before=start,
        values=found.x,
        low=np.maximum(found.x - error, low),
        high=np.minimum(found.x + error, high),
        readings=asked,
        predicted=found.fun * spread + values,
        chi_squared=float(np.sum(found.fun**2)),
    )


def _declared(key: str) -> Declaration:
    item = declaration_of(key)
    if item is None or item.form != "quantity" or "." not in key or not may_be_listed(key):
        accepted = (
            "dotted keys of numbers of lines, pumps, wires, filters, regulators or injectors, such as 'wire.other'"
        )
        raise InputError("no key to fit", given=key, accepted=accepted, key="keys")
    return item


def _known(shown: FloatArray) -> FloatArray:
    if not np.all(np.isfinite(shown)):
        raise SolveError("a reading that the car cannot be computed at", None)
    return shown
