"""The result of comparing layouts and variants of a car: runs by layout, and the figures that summarise them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.finding import FindingList
from fuelsim.interruption import WHOLE, Completion, Interruptible
from fuelsim.shown import Shown
from fuelsim.studies.decision import Decision, decide
from fuelsim.studies.extremes import greatest, least
from fuelsim.studies.findings import verdict
from fuelsim.studies.measures import MEASURES
from fuelsim.studies.proving import proving_conditions
from fuelsim.studies.uncertainty import Uncertainty
from fuelsim.system.plumbing_paths import regulator_groups
from fuelsim.system.run import Run, System
from fuelsim.typing import FloatArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["Comparison", "LayoutSummary", "SuctionLimits"]

WEATHER = ("air_temperature", "tank_temperature", "altitude")
"""Conditions of a comparison that replace the car's own weather where its requirements are judged."""


@dataclass(frozen=True)
class LayoutSummary:
    """What one layout does, over the rev range at the car's own tank temperature.

    Attributes
    ----------
    layout : str
        Name of the layout.
    least_rail_pressure : float
        Least rail pressure at full load, Pa above the atmosphere.
    least_rail_pressure_speed : float
        Engine speed at which it occurs, rpm.
    least_pressure_difference : float
        Least rail pressure less manifold pressure at full load, Pa.
    idle_rail_pressure : float
        Rail pressure at idle, Pa above the atmosphere.
    idle_pressure_difference : float
        Rail pressure less manifold pressure at idle, Pa.
    least_bypass_flow, idle_bypass_flow : float
        Flow through the regulator, m3/s.
    shut_speed : float
        Lowest engine speed at which the regulator is shut at full load, rpm; NaN if it never is.
    greatest_duty : float
        Greatest duty of the injectors, a fraction.
    least_pump_voltage : float
        Least voltage at a pump's terminals, V.
    greatest_pump_current : float
        Greatest current of a pump, A.
    tank_heat_flow : float
        Heat carried back into the tank at idle, W.
    idle_rail_temperature : float
        Temperature of the fuel in the rail at idle, K.

    Examples
    --------
    >>> import fuelsim as fs
    >>> result = fs.compare(fs.Car.named("finch"), ["return"], rpm=[1000, 6000], tank_temperature=["20 degC"])
    >>> summary = result.summary("return")
    >>> summary.least_bypass_flow < summary.idle_bypass_flow
    True
    """

    layout: str
    least_rail_pressure: float
    least_rail_pressure_speed: float
    least_pressure_difference: float
    idle_rail_pressure: float
    idle_pressure_difference: float
    least_bypass_flow: float
    idle_bypass_flow: float
    shut_speed: float
    greatest_duty: float
    least_pump_voltage: float
    greatest_pump_current: float
    tank_heat_flow: float
    idle_rail_temperature: float


class SuctionLimits(NamedTuple):
    """Tank temperatures up to which a layout's pump has what it needs at its inlet.

    Attributes
    ----------
    noise : float
        Temperature above which the pump has less than the NPSH it requires, K; NaN if it never does in the range.
    vapour : float
        Temperature above which the pump loses flow to vapour, K; NaN if it never does in the range.

    Examples
    --------
    >>> limits = SuctionLimits(noise=318.0, vapour=323.0)
    >>> limits.noise < limits.vapour
    True
    """

    noise: float
    vapour: float


@dataclass(frozen=True)
class Comparison(Interruptible, Shown):
    """Layouts of one car on the same operating points.

    Attributes
    ----------
    car : Car
        The car.
    systems : dict of str to System
        What was compared, by name: the layout, the variant, or both.
    full_load : dict of str to Run
        By layout; shape (speeds, tank temperatures), load 1.
    idle : dict of str to Run
        By layout; shape (tank temperatures,), idle speed, closed throttle.
    at_car : dict of str to Run
        By layout; shape (speeds + 1,): idle, then full load, at the car's own tank temperature.
    rpm : array (speeds,)
        Engine speeds, rpm.
    tank_temperature : array (tank temperatures,)
        Temperatures of the tank, K.
    samples : dict of str to Uncertainty
        By layout; shape (samples, speeds + 1), on the points of `at_car`; empty unless `uncertainty` was asked for.
    completion : Completion
        How many systems were run before the end or before Ctrl-C; those that are there are whole.

    Examples
    --------
    >>> import fuelsim as fs
    >>> tank = ["20 degC", "45 degC"]
    >>> result = fs.compare(fs.Car.named("finch"), ["return"], rpm=[1000, 6000], tank_temperature=tank)
    >>> result.full_load["return"].bypass_flow.shape
    (2, 2)
    """

    car: Car
    systems: dict[str, System]
    full_load: dict[str, Run]
    idle: dict[str, Run]
    at_car: dict[str, Run]
    rpm: FloatArray
    tank_temperature: FloatArray
    samples: dict[str, Uncertainty] = field(default_factory=dict)
    completion: Completion = WHOLE

    @property
    def headline(self) -> str:
        """Return what is compared, and where."""
        points = f"{self.rpm.size} speeds and {self.tank_temperature.size} tank temperatures"
        return f"{self.car.name}: {', '.join(self.layouts)} at {points}"

    @property
    def layouts(self) -> tuple[str, ...]:
        """Names of what is compared: layouts, variants, or both."""
        return tuple(self.full_load)

    def summary(self, layout: str) -> LayoutSummary:
        """Return the figures of one layout at the car's own tank temperature.

        Parameters
        ----------
        layout : str
            One of `layouts`.

        Returns
        -------
        LayoutSummary

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> summary = result.summary("return")
        >>> summary.least_bypass_flow < summary.idle_bypass_flow
        True
        """
        system, run = self.systems[layout], self.at_car[layout]
        rail = MEASURES["rail_pressure"].at_points(system, run)
        at_full_load = rail[1:]
        lowest = int(np.nanargmin(at_full_load)) if np.any(np.isfinite(at_full_load)) else 0
        shut = np.zeros(len(self.rpm), dtype=bool)
        for group in regulator_groups(system.plumbing):
            shut |= np.all([run.regime[link.name][1:] == "shut" for link in group], axis=0)
        measured = MEASURES["bypass"].of(system, run)
        bypass = run.bypass_flow if measured is None else np.asarray(measured)
        return LayoutSummary(
            layout=layout,
            least_rail_pressure=float(at_full_load[lowest]),
            least_rail_pressure_speed=float(self.rpm[lowest]),
            least_pressure_difference=least(run.injector_pressure_difference[1:]),
            idle_rail_pressure=float(rail[0]),
            idle_pressure_difference=float(run.injector_pressure_difference[0]),
            least_bypass_flow=least(bypass),
            idle_bypass_flow=float(bypass[0]),
            shut_speed=float(self.rpm[np.argmax(shut)]) if shut.any() else np.nan,
            greatest_duty=greatest(run.injector_duty),
            least_pump_voltage=least(MEASURES["pump_voltage"].of(system, run)),
            greatest_pump_current=greatest(MEASURES["pump_current"].of(system, run)),
            tank_heat_flow=float(run.tank_heat_flow[0]),
            idle_rail_temperature=float(MEASURES["rail_temperature"].at_points(system, run)[0]),
        )

    def to_xarray(self) -> xr.Dataset:
        """Return the runs at full load over layouts, speeds and tank temperatures, in SI with units; needs xarray.

        Returns
        -------
        xarray.Dataset

        Raises
        ------
        InputError
            Where xarray is not installed.
        """
        return opener.comparison_dataset(self)

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per layout: pressures, bypass, duty, volts and amps at the car's own tank temperature.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> list(result.table().index)
        ['return', 'returnless_tank', 'returnless_bay']
        """
        return opener.layout_table(self, units)

    def differences(self, reference: str | None = None, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return what each row of `table` has more than the reference.

        Parameters
        ----------
        reference : str, optional
            One of `layouts`; left out, the first.
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        InputError
            For a reference that was not compared.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> list(result.differences().index)
        ['returnless_tank', 'returnless_bay']
        """
        return opener.difference_table(self, reference or self.layouts[0], units)

    @takes()
    def uncertainty_table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per requirement: of each layout the band of its worst value, and how often it is met.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            Bands hold 90 % of the samples; all of a layout's figures are in ``samples[layout].table()``.

        Raises
        ------
        InputError
            Where no samples were asked for.

        Examples
        --------
        >>> import fuelsim as fs
        >>> asked = {"rpm": [1000, 6000], "tank_temperature": ["20 degC"], "uncertainty": 16}
        >>> result = fs.compare(fs.Car.named("finch"), ["return", "returnless_tank"], **asked)
        >>> result.uncertainty_table().columns.tolist()[2:4]
        ['return', 'return_met_percent']
        """
        return opener.compared_uncertainty_table(self, units)

    def vapour_table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per layout and tank temperature: margins, vapour, noise and flow loss.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> len(result.vapour_table())
        6
        """
        return opener.vapour_table(self, units)

    @cached_property
    def decision(self) -> Decision:
        """The preferred layout, the two figures that decide it, their cost, what would reverse it, and how sure it is.

        Solved when first asked for: every layout over the bands of `fuelsim.studies.bands`.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), ["return"], rpm=[6000], tank_temperature=["20 degC"])
        >>> print(result.decision)
        return: the only layout compared, nothing to decide.
        """
        return decide(self.systems, self.idle, self.full_load)

    def sentences(self) -> list[str]:
        """Return in a sentence or two per layout what limits it.

        Returns
        -------
        list of str
            In the order of `layouts`.
        """
        return [opener.limits_sentence(self, layout) for layout in self.layouts]

    def findings(self, layout: str) -> FindingList:
        """Return what checks and requirements object to in one layout, in the weather of the comparison.

        The checks judge idle and full load over the compared speeds, the requirements `proving_conditions`.

        Parameters
        ----------
        layout : str
            One of `layouts`.

        Returns
        -------
        list of Finding
            The gravest first.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> severities = [finding.severity for finding in result.findings("return")]
        >>> severities == sorted(severities, reverse=True)
        True
        """
        system, run = self.systems[layout], self.at_car[layout]
        weather = {name: float(np.ravel(getattr(run.conditions, name))[0]) for name in WEATHER}
        around = system.car.with_values({f"surroundings.{name}": value for name, value in weather.items()})
        return verdict(system, run, conditions=proving_conditions(around)).findings

    def plot(self) -> Figure:
        """Draw rail pressure and bypass over the rev range, and vapour margins over the tank's temperature.

        Returns
        -------
        matplotlib.figure.Figure
        """
        return opener.comparison_figure(self)

    def report(self, path: Path | str) -> Path:
        """Write one self-contained HTML file; it appears whole or not at all.

        Parameters
        ----------
        path : path
            The HTML file.

        Returns
        -------
        Path
            The HTML file.

        Raises
        ------
        InputError
            Where the file cannot be written.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     result.report(Path(folder) / "comparison.html").name
        'comparison.html'
        """
        return opener.write_report(self, path)

    def limit_temperature(self, margins: FloatArray) -> float:
        """Return the tank temperature at which a margin first falls below zero.

        Parameters
        ----------
        margins : array (tank temperatures,)
            In any unit.

        Returns
        -------
        float
            K, linear between the temperatures compared; NaN if the margin never is negative, the first temperature if
            it is negative from the start.

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> round(result.limit_temperature(np.array([3.0, -4.0])) - 273.15, 1)
        35.0
        """
        margins = np.asarray(margins, dtype=float)
        negative = np.flatnonzero(margins < 0.0)
        if negative.size == 0:
            return np.nan
        after = int(negative[0])
        if after == 0:
            return float(self.tank_temperature[0])
        fraction = margins[after - 1] / (margins[after - 1] - margins[after])
        low, high = self.tank_temperature[after - 1], self.tank_temperature[after]
        return float(low + fraction * (high - low))

    @property
    def tank_boiling_temperature(self) -> float:
        """Temperature at which the fuel in the tank boils under the pressure of the tank's vapour space, K."""
        system, run = self.systems[self.layouts[0]], self.at_car[self.layouts[0]]
        pressure = float(np.ravel(run.pressure[system.plumbing.vessel])[0])
        return float(system.fuel.bubble_temperature(pressure))

    def suction_limits(self, layout: str) -> SuctionLimits:
        """Return the tank temperatures above which the pump is noisy, and above which it loses flow to vapour.

        Parameters
        ----------
        layout : str
            One of `layouts`.

        Returns
        -------
        SuctionLimits

        Examples
        --------
        >>> import fuelsim as fs
        >>> result = fs.compare(fs.Car.named("finch"), rpm=[1000, 6000], tank_temperature=["20 degC", "55 degC"])
        >>> noise, vapour = result.suction_limits("return")
        >>> bool(noise <= vapour or np.isnan(vapour))
        True
        """
        system = self.systems[layout]
        limits = []
        for name in ("suction_margin", "inlet_vapour_margin"):
            full_load, idle = (
                # A pump that vapour stops has less than no margin, not an unknown one.
                MEASURES[name].at_points(system, run.before_stop)
                for run in (self.full_load[layout], self.idle[layout])
            )
            limits.append(self.limit_temperature(np.fmin(np.fmin.reduce(full_load, axis=0), idle)))
        return SuctionLimits(*limits)
