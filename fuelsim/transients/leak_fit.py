"""Which leak fits a gauge that was read after the pump had stopped."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener, units
from fuelsim.arguments import Quantity, number, takes
from fuelsim.errors import InputError
from fuelsim.shown import Shown
from fuelsim.system.conditions import ONE_CONDITION
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.transients.leak_down import leak_down
from fuelsim.transients.shut_in_course import LEAK_PRESSURE
from fuelsim.transients.shut_in_fuel import FEED_COOLING_TIME
from fuelsim.typing import FloatArray, Given, PointArray, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["LeakCause", "LeakFit", "leak_in_words", "which_leak"]

_TIME = number("time", 0.0, 604_800.0, example="10 min", flat=True)
_PRESSURE = number("pressure difference", -100e3, 2e6, example="359 kPa", flat=True)
TOLD_APART = 2.0
"""Chi-squared above the best below which causes are not told apart."""
MOST_READINGS = 10_000
_FIRST_SIZE = 0.1
"""Size of a cause with which its fit begins (numerical)."""


def leak_in_words(leak: float) -> str:
    """Return a leak as a workshop measures it, in mL/h or mL/min.

    Parameters
    ----------
    leak : float
        Volume flow, m3/s.

    Examples
    --------
    >>> leak_in_words(1.2e-10), leak_in_words(2e-8)
    ('0.43 mL/h', '1.2 mL/min')
    """
    an_hour = leak * 3.6e9
    return f"{an_hour:.2g} mL/h" if an_hour < 30.0 else f"{an_hour / 60.0:.2g} mL/min"


class LeakCause(NamedTuple):
    """One cause, fitted to the readings.

    Attributes
    ----------
    name : str
        ``"check_valve"``, ``"regulator"``, ``"injectors"``, ``"hole"`` or ``"cooling"``.
    leak : float
        Flow that it passes at 300 kPa, m3/s; 0 of cooling.
    cooled : float
        Kelvins by which the fuel cools, K; 0 of a leak.
    error : float
        Greatest difference of a reading from the fit, Pa.
    chi_squared : float
        Sum of squares of the differences over that of the gauge.
    """

    name: str
    leak: float
    cooled: float
    error: float
    chi_squared: float


@dataclass(frozen=True)
class LeakFit(Shown):
    """Causes of a falling pressure, those that fit best first.

    Attributes
    ----------
    causes : tuple of LeakCause
        Every cause that was tried.
    reseat_step : float
        Pressure that was lost at once as valves shut, Pa; NaN where the running pressure was not given.
    noise : float
        Standard error of a reading, Pa.
    readings : int
        Number of readings that were fitted.
    """

    causes: tuple[LeakCause, ...]
    reseat_step: float
    noise: float
    readings: int

    @property
    def group(self) -> tuple[str, ...]:
        """The best cause with those that the readings do not tell from it."""
        best = self.causes[0].chi_squared
        return tuple(cause.name for cause in self.causes if cause.chi_squared <= best + TOLD_APART)

    @property
    def fits(self) -> bool:
        """Whether the best cause explains the readings: no reading is off by more than three standard errors."""
        return self.causes[0].error <= 3.0 * self.noise

    @property
    def headline(self) -> str:
        """Return the cause or group, how large it is, and how to tell a group apart."""
        best, group = self.causes[0], self.group
        named = " or ".join(name.replace("_", " ") for name in group)
        size = f"cools by {best.cooled:.1f} K"
        if best.name != "cooling":
            size = f"{leak_in_words(best.leak)} at {shown(LEAK_PRESSURE, 'pressure difference')}"
        error = shown(best.error, "pressure difference", digits=2)
        text = f"{named}: {size}, within {error} of {self.readings} readings"
        if not self.fits:
            return f"no cause fits; nearest is {text}"
        if {"check_valve", "regulator", "injectors"} & set(group) and len(group) > 1:
            text += "; to tell them apart, read again with the feed clamped, then the return (pump off, engine cold)"
        return text

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per cause, the best first.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.leak_fit_table(self, units)


class _Readings(NamedTuple):
    """Readings of one stop: time, s, gauge pressure, Pa, and which leaks clamped hoses have ended."""

    time: PointArray
    pressure: PointArray
    clamped: tuple[str, ...]


@system_or_car
@takes(
    {
        "running_pressure": number("pressure difference", 1e3, 2e6, example="400 kPa", single=True),
        "noise": number("pressure difference", 1.0, 1e5, example="2 kPa", single=True),
        "temperature": ONE_CONDITION["air_temperature"],
    }
)
def which_leak(
    system: System,
    readings: Mapping[str, Given],
    *,
    feed_clamped: Mapping[str, Given] | None = None,
    return_clamped: Mapping[str, Given] | None = None,
    running_pressure: Quantity = None,
    noise: Quantity = 2e3,
    temperature: Quantity = None,
) -> LeakFit:
    """Fit each leak to the pressures that a gauge showed after the pump had stopped.

    Parameters
    ----------
    system : System
        The car in its layout, whose hoses, rails and dampers say how much a lost drop costs; or ``car, layout``.
    readings : mapping of time to pressure
        Such as ``{"0 min": "372 kPa", "10 min": "359 kPa"}``, gauge; the first is taken as the pressure after valves
        have shut.
    feed_clamped, return_clamped : mapping of time to pressure, optional
        The same with the hose clamped behind the check valve, and behind the regulator; times from the clamping.
    running_pressure : float or str, optional
        Gauge pressure before the stop, for the size of the step, Pa.
    noise : float or str
        Standard error of a reading, Pa.
    temperature : float or str, optional
        Temperature of a cold car, K; the car's own air if left out.

    Returns
    -------
    LeakFit

    Raises
    ------
    InputError
        For fewer than three readings in all, times that stand twice, or values that are no times or pressures.

    Notes
    -----
    With C the volume by which the system gives way per pressure: a seat passes in proportion to the pressure, so that
    p = p0 exp(-q t/(C 300 kPa)); a hole passes with its root, sqrt(p) = sqrt(p0) - q t/(2 C sqrt(300 kPa)); cooling
    takes kappa dT (1 - exp(-t/tau)) with kappa the pressure per kelvin and tau that of the feed line.

    Examples
    --------
    A good car by the manuals: one leak fits within 4 kPa, and the pressure alone does not tell which.

    >>> import fuelsim as fs
    >>> fit = fs.which_leak(fs.Car.named("plover"), "no_pot", {"0 min": "372 kPa", "10 min": "359 kPa",
    ...     "60 min": "310 kPa"}, running_pressure="400 kPa")
    >>> fit.fits, fit.group[:3], fit.causes[0].error < 4e3, round(fit.reseat_step)
    (True, ('check_valve', 'regulator', 'injectors'), True, 28000)
    """
    runs = [_read(readings, (), "readings")]
    if feed_clamped is not None:
        runs.append(_read(feed_clamped, ("check_valve",), "feed_clamped"))
    if return_clamped is not None:
        runs.append(_read(return_clamped, ("regulator",), "return_clamped"))
    count = sum(len(run.time) for run in runs)
    if count < 3:
        raise InputError("too few readings", given=count, accepted="three or more", key="readings")
    cold = leak_down(system, duration=60.0, temperature=temperature)
    causes = sorted(
        (_fitted(name, course, runs, float(noise), cold.elastic_volume, cold.pressure_per_kelvin)
         for name, course in _COURSES.items()),
        key=lambda cause: cause.chi_squared,
    )  # fmt: skip
    step = np.nan if running_pressure is None else float(running_pressure) - float(runs[0].pressure[0])
    return LeakFit(tuple(causes), step, float(noise), count)


def _read(given: Mapping[str, Given], clamped: tuple[str, ...], key: str) -> _Readings:
    """Return one series in order of time."""
    if not 0 < len(given) <= MOST_READINGS:
        raise InputError("no readings" if not given else "too many readings", accepted="one or more", key=key)
    try:
        time = np.array([float(np.squeeze(units.convert(each, "time"))) for each in given])
        _TIME.convert(time.tolist())
        pressure = np.asarray(_PRESSURE.convert(list(given.values())), dtype=float)
    except InputError as error:
        raise error.at(key=key) from None
    order = np.argsort(time)
    if np.any(np.diff(time[order]) <= 0.0):
        raise InputError("a time that stands twice", given=list(given), key=key)
    return _Readings(time[order] - time[order[0]], pressure[order], clamped)


def _past_seat(start: float, size: float, time: PointArray) -> FloatArray:
    """Pressure over time of a laminar leak, size the share that is lost per second."""
    return np.asarray(start * np.exp(-size * time))


def _through_hole(start: float, size: float, time: PointArray) -> FloatArray:
    """Pressure over time of a leak with the root of the pressure, size the share lost per second at 300 kPa."""
    root = np.sqrt(max(start, 0.0)) - 0.5 * size * np.sqrt(LEAK_PRESSURE) * time
    return np.asarray(np.maximum(root, 0.0) ** 2)


def _cooling(start: float, size: float, time: PointArray) -> FloatArray:
    """Pressure over time of fuel that cools, size the pressure that it loses in the end over 300 kPa."""
    return np.asarray(start + size * LEAK_PRESSURE * np.expm1(-time / FEED_COOLING_TIME), dtype=float)


_Course = Callable[[float, float, PointArray], FloatArray]
_COURSES: dict[str, _Course] = {
    "check_valve": _past_seat,
    "regulator": _past_seat,
    "injectors": _past_seat,
    "hole": _through_hole,
    "cooling": _cooling,
}


def _fitted(
    name: str, course: _Course, runs: list[_Readings], noise: float, elastic: float, per_kelvin: float
) -> LeakCause:
    """Return one cause, its size and the start of every run fitted by least squares."""
    from scipy.optimize import least_squares

    typical = 1.0 if course is _cooling else 1.0 / max(float(run.time[-1]) for run in runs if len(run.time))

    def differences(unknown: FloatArray) -> FloatArray:
        size = unknown[0] * typical
        fitted = [
            course(float(start), 0.0 if name in run.clamped else float(size), run.time)
            for start, run in zip(unknown[1:] * LEAK_PRESSURE, runs, strict=True)
        ]
        difference: FloatArray = (np.concatenate(fitted) - np.concatenate([run.pressure for run in runs])) / noise
        return difference

    start = [_FIRST_SIZE, *(float(run.pressure[0]) / LEAK_PRESSURE for run in runs)]
    best = least_squares(differences, start, bounds=([0.0, *(-np.inf for _ in runs)], np.inf))
    size = float(best.x[0]) * typical
    cools = course is _cooling
    return LeakCause(
        name=name,
        leak=0.0 if cools else size * elastic * LEAK_PRESSURE,
        cooled=size * LEAK_PRESSURE / per_kelvin if cools else 0.0,
        error=float(np.max(np.abs(best.fun))) * noise,
        chi_squared=float(np.sum(best.fun**2)),
    )
