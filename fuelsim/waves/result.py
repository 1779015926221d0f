"""What became of a network over time: pressures, flows, vapour, and how it was computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.finding import Finding, FindingList, Severity
from fuelsim.shown import Shown
from fuelsim.typing import FloatArray, FloatLike, PlotAxes, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["LineWave", "Transient"]


_ROUNDING = 1e-9
"""Share by which a wave speed differs from itself by rounding."""


class LineWave(NamedTuple):
    """How a line was computed.

    Attributes
    ----------
    wave_speed : float
        Wave speed of the line, m/s.
    used : float
        The one it was computed with, moved by at most 1 % so that a whole number of steps crosses the line, m/s; NaN
        for a lumped line.
    reaches : int
        Reaches into which it was cut; 0 for a line too short for the step, which is one piece of inertia and
        compliance.
    """

    wave_speed: float
    used: float
    reaches: int


@dataclass(frozen=True)
class Transient(Shown):
    """Pressures and flows of a network over time.

    Arrays are (times,) where all that was given were single values, else (times, points).

    Attributes
    ----------
    time : array (times,)
        Time since the steady start, s.
    pressure : mapping of str to array
        Pressure of each node, Pa absolute; never below the vapour pressure.
    gauge_pressure : mapping of str to array
        The same over the atmosphere, Pa.
    flow, outflow : mapping of str to array
        Flow of each link at its upstream and at its downstream end, m3/s.
    highest_pressure, lowest_pressure : mapping of str to float or array (points,)
        Extremes along each line that carries waves, at any step, Pa absolute.
    vapour_volume : array
        Volume of all vapour cavities, m3.
    largest_cavity : mapping of str to float or array (points,)
        Largest volume of vapour in each line and at each node that ever holds any, m3.
    first_vapour : float or array (points,)
        Time at which the first cavity opens, s; NaN where none does.
    vapour_pressure : float
        Vapour pressure of the liquid, Pa absolute.
    lines : mapping of str to LineWave
        Wave speed and reaches of each line.
    step : float
        Time step, s.
    mass_error : float or array (points,)
        What came in less what went out less what is held more, over the volume held and passed.
    unsolved : tuple of int
        Points at which the equation of a link was not met at some step; their values are NaN.
    """

    time: FloatArray
    pressure: Mapping[str, FloatArray]
    gauge_pressure: Mapping[str, FloatArray]
    flow: Mapping[str, FloatArray]
    outflow: Mapping[str, FloatArray]
    highest_pressure: Mapping[str, FloatLike]
    lowest_pressure: Mapping[str, FloatLike]
    vapour_volume: FloatArray
    largest_cavity: Mapping[str, FloatLike]
    first_vapour: FloatLike
    vapour_pressure: float
    lines: Mapping[str, LineWave]
    step: float
    mass_error: FloatLike
    unsolved: tuple[int, ...]

    @property
    def headline(self) -> str:
        """Return length and step of the run, the greatest rise and where, and whether the liquid boils."""
        parts = [f"{self.time[-1] * 1e3:.4g} ms in steps of {self.step * 1e3:.3g} ms"]
        moved = max(abs(line.used / line.wave_speed - 1.0) for line in self.lines.values() if line.reaches)
        if moved > _ROUNDING:
            parts.append(f"wave speeds moved by at most {100.0 * moved:.2g} %")
        lumped = [name for name, line in self.lines.items() if not line.reaches]
        if lumped:
            parts.append(f"{', '.join(lumped)} lumped")
        peaks = {name: np.nanmax(values) for name, values in self.pressure.items() if np.isfinite(values).any()}
        if peaks:
            name = max(peaks, key=lambda each: float(peaks[each]))
            low = min(float(np.nanmin(self.pressure[each])) for each in peaks)
            parts.append(
                f"highest pressure {shown(float(peaks[name]), 'absolute pressure')} at {name}, "
                f"lowest {shown(low, 'absolute pressure')}, both absolute"
            )
        return "; ".join([*parts, *(str(finding.statement) for finding in self.findings())])

    @takes()
    def findings(self) -> FindingList:
        """Return what must be known of the run: whether the liquid boils, points without result, lumped lines.

        Returns
        -------
        list of Finding
            Empty where there is nothing to say.
        """
        found = FindingList()
        if self.largest_cavity:
            name = max(self.largest_cavity, key=lambda each: float(np.max(self.largest_cavity[each])))
            largest = float(np.max(self.largest_cavity[name]))
            first = float(np.nanmin(self.first_vapour))
            pressure = shown(float(self.vapour_pressure), "absolute pressure")
            found.append(
                Finding(
                    Severity.WARNING,
                    name,
                    f"the liquid boils at {pressure} absolute from {first * 1e3:.3g} ms on, "
                    f"at most {largest * 1e9:.3g} mm3 at {name}",
                    "read pressure peaks after a cavity has collapsed as a band, not as figures",
                )
            )
        if self.unsolved:
            points = ", ".join(map(str, self.unsolved[:5]))
            found.append(Finding(Severity.FAILURE, "network", f"no result at points {points}"))
        return found

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per time, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        DataFrame
            In metric workshop units columns ``time_ms``, ``<node>_kPa_gauge``, ``<link>_L_h`` and
            ``vapour_mm3``; of several points each with its number.
        """
        return opener.transient_table(self, units)

    @takes()
    def to_xarray(self) -> xr.Dataset:
        """Return the result with an axis of time, in SI with units; needs xarray.

        Returns
        -------
        xarray.Dataset

        Raises
        ------
        InputError
            Where xarray is not installed.
        """
        return opener.transient_dataset(self)

    @takes()
    def plot(self, stations: Sequence[str] | None = None, *, point: int = 0, ax: PlotAxes | None = None) -> Figure:
        """Draw pressure against time.

        Parameters
        ----------
        stations : list of str, optional
            Nodes to draw; up to seven that swing most, if left out.
        point : int, optional
            Which point, where there are several.
        ax : Axes, optional
            Axes of your own, for the pressures alone.

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        InputError
            For an unknown node or point.
        """
        return opener.transient_figure(self, stations, point, ax)

    @takes()
    def lines_table(self) -> pd.DataFrame:
        """Return how each line was computed: wave speed, the one used, by how much it was moved, reaches.

        Returns
        -------
        DataFrame
            One row per line, by its name.
        """
        import pandas as pd

        rows = {
            name: {
                "wave_speed_m_s": line.wave_speed,
                "used_m_s": line.used,
                "moved_percent": 100.0 * (line.used / line.wave_speed - 1.0),
                "reaches": line.reaches,
            }
            for name, line in self.lines.items()
        }
        return pd.DataFrame.from_dict(rows, orient="index").rename_axis("line")
