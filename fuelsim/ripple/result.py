"""What a pulsation is told as: ripple of each rail and station, fuel of each injector, over the engine speed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes
from fuelsim.finding import Finding, FindingList, Severity
from fuelsim.interruption import WHOLE, Completion, Interruptible
from fuelsim.shown import Shown
from fuelsim.typing import FloatArray, Given, PlotAxes, PointArray, UnitSystem
from fuelsim.units import shown
from fuelsim.waves.result import LineWave

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["CRANK_ANGLE", "Pulsation", "RailPulsation"]

CRANK_ANGLE: FloatArray = np.linspace(0.0, 720.0, 361)
"""Angles of two turns of the crankshaft at which a cycle is kept, deg."""
_MOST_ORDERS = 40
"""Half orders that are told apart: 0.5 to 20 swings in each turn."""
_SOME_VAPOUR = 1e-12
"""Volume of vapour that is nothing but rounding, m3."""


@dataclass(frozen=True)
class RailPulsation(Shown):
    """One rail; arrays are (points,), one point for each engine speed, NaN where the engine does not run.

    Attributes
    ----------
    ripple : array (points,)
        Swing of its pressure over a cycle from peak to peak, Pa.
    ripple_by_transfer : array (points,)
        The same for small swings by exact lines in the domain of frequencies, without the pumps' ripple, Pa.
    mean_pressure, highest_pressure, lowest_pressure : array (points,)
        Over whole cycles, Pa absolute.
    steady_pressure : array (points,)
        That of the steady flow from which it started, Pa absolute.
    injected : array (injectors, points)
        Mean flow of each of its injectors, in their order along the rail, m3/s.
    asked : array (injectors, points)
        The same in the steady flow.
    cycle : array (angles, points)
        Pressure over the last two turns of the crankshaft, at `Pulsation.crank_angle`, Pa absolute.
    """

    ripple: PointArray
    ripple_by_transfer: PointArray
    mean_pressure: PointArray
    highest_pressure: PointArray
    lowest_pressure: PointArray
    steady_pressure: PointArray
    injected: FloatArray
    asked: FloatArray
    cycle: FloatArray

    @property
    def headline(self) -> str:
        """Return the greatest ripple."""
        if not np.isfinite(self.ripple).any():
            return "no result"
        return f"ripple of at most {shown(float(np.nanmax(self.ripple)), 'pressure difference', digits=3)} peak to peak"

    @property
    def amplitude(self) -> FloatArray:
        """Amplitude of each half order, 0.5 to 20 swings in each turn, (orders, points), Pa."""
        spectrum = np.abs(np.fft.rfft(self.cycle[:-1], axis=0)) * 2.0 / (len(self.cycle) - 1)
        amplitude: FloatArray = spectrum[1 : _MOST_ORDERS + 1]
        return amplitude


@dataclass(frozen=True)
class Pulsation(Interruptible, Shown):
    """Pulsation of a fuel system over the engine speed.

    Attributes
    ----------
    car, layout : str
        What pulsates.
    rpm : array (points,)
        Engine speed, rpm.
    rails : mapping of str to RailPulsation
        Each rail.
    ripple : mapping of str to array (points,)
        Swing of the pressure at every station from peak to peak, Pa.
    crank_angle : array (angles,)
        Angles of the cycle that is kept, deg.
    vapour_volume : array (points,)
        Largest volume of vapour in all lines and stations, m3.
    boils : tuple of str
        Stations at which the steady flow has vapour or is within 2 % of it; there the waves are those of liquid.
    step : float
        Time step, s.
    lines : mapping of str to LineWave
        Wave speed and reaches of each line, of the first speeds computed together.
    mass_error : array (points,)
        What came in less what went out less what is held more, over the volume that passed.
    completion : Completion
        How many groups of engine speeds were computed before the end or before Ctrl-C.
    """

    car: str
    layout: str
    rpm: PointArray
    rails: Mapping[str, RailPulsation]
    ripple: Mapping[str, PointArray]
    crank_angle: FloatArray
    vapour_volume: PointArray
    boils: tuple[str, ...]
    step: float
    lines: Mapping[str, LineWave]
    mass_error: PointArray
    completion: Completion = WHOLE

    @property
    def injected(self) -> FloatArray:
        """Mean flow of every injector, in the order of the rails, (injectors, points), m3/s."""
        return np.concatenate([rail.injected for rail in self.rails.values()])

    @property
    def spread(self) -> PointArray:
        """Fuel of the injector that gets most less that of the one that gets least, over the mean, (points,)."""
        injected = self.injected
        spread: PointArray = np.ptp(injected, axis=0) / injected.mean(axis=0)
        return spread

    @property
    def spread_between_rails(self) -> PointArray:
        """The same of the means of the rails, for each injector of theirs, (points,); 0 with one rail."""
        means = np.stack([rail.injected.mean(axis=0) for rail in self.rails.values()])
        spread: PointArray = np.ptp(means, axis=0) / self.injected.mean(axis=0)
        return spread

    @takes()
    def resonances(self, rail: str | None = None) -> PointArray:
        """Return the engine speeds at which a rail ripples more than at the ones beside them.

        Parameters
        ----------
        rail : str, optional
            The one that ripples most, if left out.

        Returns
        -------
        array (resonances,)
            Strongest first, rpm.
        """
        ripple = self.rails[self.worst_rail if rail is None else rail].ripple
        top = np.flatnonzero((ripple[1:-1] > ripple[:-2]) & (ripple[1:-1] >= ripple[2:])) + 1
        found: PointArray = self.rpm[top[np.argsort(-ripple[top], kind="stable")]]
        return found

    @property
    def worst_rail(self) -> str:
        """Name of the rail that ripples most."""
        return max(self.rails, key=lambda name: float(np.nanmax(np.append(self.rails[name].ripple, 0.0))))

    @property
    def headline(self) -> str:
        """Return the greatest ripple, where the strongest resonance is, and how evenly fuel is delivered."""
        rail = self.rails[self.worst_rail]
        if not np.isfinite(rail.ripple).any():
            return f"'{self.layout}': no result"
        at = int(np.nanargmax(rail.ripple))
        text = (
            f"'{self.layout}': {self.worst_rail} ripples by up to "
            f"{shown(float(rail.ripple[at]), 'pressure difference', digits=3)} peak to peak, "
            f"at {self.rpm[at]:.0f} rpm; injectors differ by up to {100.0 * float(np.nanmax(self.spread)):.2g} %"
        )
        return "; ".join([text, *(str(finding.statement) for finding in self.findings())])

    @takes()
    def findings(self) -> FindingList:
        """Return what must be known of the run: vapour, stations where fuel boils in the steady flow.

        Returns
        -------
        list of Finding
            Empty where there is nothing to say.
        """
        found = FindingList()
        if self.boils:
            found.append(
                Finding(
                    Severity.WARNING,
                    self.boils[0],
                    f"fuel boils, or nearly, in the steady flow at {', '.join(self.boils)}",
                    "take the waves there as those of liquid, which vapour would damp",
                )
            )
        vapour = float(np.nanmax(np.append(self.vapour_volume, 0.0)))
        if vapour > _SOME_VAPOUR:
            at = int(np.nanargmax(self.vapour_volume))
            found.append(
                Finding(
                    Severity.WARNING,
                    "lines",
                    f"waves pull fuel apart: at most {vapour * 1e9:.2g} mm3 of vapour, at {self.rpm[at]:.0f} rpm",
                    "read pressure peaks in the line where it collapses as a band, not as figures",
                )
            )
        return found

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per engine speed, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        DataFrame
            In metric workshop units ``rpm``, for each rail ``<rail>_ripple_kPa``, ``<rail>_ripple_by_transfer_kPa`` and
            ``<rail>_mean_kPa_absolute``; ``spread_percent`` and ``spread_between_rails_percent``.
        """
        return opener.pulsation_table(self, units)

    @takes()
    def injectors_table(self) -> pd.DataFrame:
        """Return one row per engine speed and one column per injector: its fuel over the mean of all, less 1, in %."""
        return opener.injectors_table(self)

    @takes()
    def plot(self) -> Figure:
        """Draw the ripple of each rail by both methods, and the spread of delivered fuel, against engine speed."""
        return opener.pulsation_figure(self)

    @takes()
    def waterfall(self, rail: str | None = None, *, ax: PlotAxes | None = None) -> Figure:
        """Draw the spectrum of a rail's pressure, one line for each engine speed, one above the other.

        Parameters
        ----------
        rail : str, optional
            The one that ripples most, if left out.
        ax : matplotlib.axes.Axes, optional
            Axes of your own; left out, it has a figure of its own.
        """
        return opener.waterfall_figure(self, self.worst_rail if rail is None else rail, ax)

    @takes({"rpm": number("engine speed", 0.0, 25_000.0, example="3000 rpm", flat=True, optional=True)})
    def plot_cycle(self, rpm: Given | None = None) -> Figure:
        """Draw the pressure of each rail over two turns of the crankshaft.

        Parameters
        ----------
        rpm : list of quantity, optional
            Engine speeds, the nearest of which are drawn; idle, the worst and the fastest, if left out.
        """
        return opener.cycle_figure(self, None if rpm is None else np.atleast_1d(np.asarray(rpm, dtype=float)).tolist())
