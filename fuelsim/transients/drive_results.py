"""What a drive brings: states over time, events, and where the heat went."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.interruption import WHOLE, Completion, Interruptible
from fuelsim.network.state import ByName
from fuelsim.numerics.sampling import SETS, Interval, share_interval
from fuelsim.shown import Shown
from fuelsim.transients.events import Event, EventName
from fuelsim.transients.heat_sources import HeatSources
from fuelsim.typing import BoolArray, FloatArray, PointArray, TextArray, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["Drive", "DriveSamples", "EventShare", "FigureBand", "HeatLedger"]

SHARES = (0.05, 0.5, 0.95)
"""Quantiles shown."""


@dataclass(frozen=True)
class HeatLedger:
    """Where the heat of tank and pots went over a drive, all in J.

    Attributes
    ----------
    wall, returned, radiated, lift : float
        Heat that came in through the walls of tank and pots, with the returning fuel, by radiation of the exhaust and
        by a lift pump.
    sun, road : float
        Heat that the tank took from the sun, and from the road beyond what its walls exchange with the air.
    pump_heat, rail_heat, bay_heat, line_heat, burnt_heat : float
        What the returning fuel's heat is made of, as `HeatSources`; `burnt_heat` is taken along by the burnt fuel.
    evaporation : float
        Heat that went into vapour.
    carried : float
        Enthalpy of the fuel that left, above 315 K.
    stored : float
        Gain of the fuel's enthalpy above 315 K.
    """

    wall: float
    returned: float
    radiated: float
    lift: float
    sun: float
    road: float
    pump_heat: float
    rail_heat: float
    bay_heat: float
    line_heat: float
    burnt_heat: float
    evaporation: float
    carried: float
    stored: float

    @property
    def warming(self) -> float:
        """Heat that warmed the fuel in tank and pots, J: what they gained with what left them at their temperature."""
        return self.stored + self.carried

    @property
    def by_source(self) -> float:
        """Heat that the returning fuel brought by the sum of its sources, J; beside it stands `returned`."""
        return self.pump_heat + self.rail_heat + self.bay_heat + self.line_heat - self.burnt_heat

    @property
    def moved(self) -> float:
        """All heat that moved, J."""
        moved = abs(self.wall) + abs(self.returned) + self.radiated + self.lift + self.sun + abs(self.road)
        return max(moved + abs(self.evaporation), 1.0)

    @property
    def error(self) -> float:
        """What is missing in the balance, as a share of all heat that moved."""
        gained = self.wall + self.returned + self.radiated + self.lift + self.sun + self.road
        return abs(gained - self.evaporation - self.warming) / self.moved

    @property
    def source_error(self) -> float:
        """What the sources miss of the heat that came back, as a share of all heat that moved.

        Beside rounding there is none, but with pots: there the sources are those of the plumbing solved at the times
        shown, while the returning fuel's heat is that of its table, and the heat through the pots' walls is missing.
        """
        return abs(self.by_source - self.returned) / self.moved


@dataclass(frozen=True)
class Drive(Interruptible, Shown):
    """A drive's results; every array is (times,), NaN for the plumbing while the engine is stopped.

    Only rails and pots keep a temperature then: they soak. What a restart takes is a question for `hot_soak`.

    An engine that stops of itself stands, with its pumps cut, until the plumbing would feed it again: at the first
    time shown at which the networks, solved with the pump standing in vapour, give it the mixture asked for within
    1 %, in that phase or at the start of a later one. Between a running and a stopped state nothing is interpolated.

    Attributes
    ----------
    layout : str
        Name of the layout.
    time : array
        Time since the start, s.
    phase : array of str
        Name of the phase.
    running : bool array
        Whether the engine runs: neither switched off, nor stopped of itself, nor out of fuel.
    air_temperature, bay_temperature, underfloor_temperature, altitude : array
        The world, K and m.
    tank_temperature, supply_temperature : array
        Temperature in the tank, and of the fuel that the main pump draws: at the pick-up or in its pot, K.
    boiling_temperature : array
        Temperature at which the tank's fuel, as it is by then, boils under the tank's pressure, K.
    tank_gauge_pressure : array
        Pressure of the vapour space above the atmosphere, Pa.
    fuel_mass, vapour_lost : array
        Mass of fuel in tank and pots, and of vapour that left by the vent, kg.
    evaporated : array
        Mass fraction of the fuel that has evaporated: its light ends.
    temperature, gauge_pressure, vapour_margin, pressure_margin, vapour_liquid_ratio : mapping of station to array
        As in `Run`.
    flow : mapping of link to array
        Volume flow, m3/s.
    suction_margin, bypass_flow, injector_duty, tank_heat_flow, pump_power : array
        Pressure margin at the pump's inlet beyond the NPSH required, Pa; flow through the regulator back to the tank,
        m3/s; fraction of the time an injector is open; heat that the returning fuel brings, W; electrical power, W.
    heat_sources : HeatSources
        What that heat is made of, W.
    rail_gauge_pressure, rail_temperature : array
        Pressure of the rail that has least, Pa, and temperature of the hottest rail, K.
    pump_margin, rail_margin, pump_vapour : array
        Temperature to boiling at the inlet of the pump and in the rail that have least, K; V/L at the inlet of the pump
        that has most.
    pot_level, pot_temperature : mapping of pot to array
        Fuel in each pot over its volume, and its temperature, K; no pots in the standard layouts.
    out_of_fuel : bool array
        Whether a pot has run empty, and the engine stands until the phase is over; the plumbing is NaN then.
    engine_state : array of str
        ``"fed"``, ``"lean"`` or ``"stopped"`` (of itself), as in `Run`; empty where the engine is switched off or the
        point failed.
    mixture : array
        Air-fuel ratio over the one asked for, of the leanest rail.
    vapour_lock : bool array
        Whether the engine is stopped and vapour at a pump's inlet was the cause.
    over_vapour_limit : bool array
        Whether a pump of the running engine takes in more vapour than it tolerates.
    events : list of Event
        What happened, in order of time.
    ledger : HeatLedger
        Balance of heat in tank and pots.
    mass_error : float
        Fuel unaccounted for, as a share of the fuel at the start.
    interpolation_error : float
        Largest error of the rail pressure interpolated in the table of the plumbing, as a share of the pressure solved
        for, while the engine is fed and no pump is over its vapour limit, there and at the grid points beside it:
        where the rail collapses within a tenth of a kelvin a grid says nothing, and only the pressures solved for,
        which are those shown, count.
    completion : Completion
        How many minutes were driven, or samples finished, before the end or before Ctrl-C.
    samples : DriveSamples or None
        The drive over the distributions of what is not known, where that was asked for.
    """

    layout: str
    time: PointArray
    phase: TextArray
    running: BoolArray
    air_temperature: PointArray
    bay_temperature: PointArray
    underfloor_temperature: PointArray
    altitude: PointArray
    tank_temperature: PointArray
    supply_temperature: PointArray
    boiling_temperature: PointArray
    tank_gauge_pressure: PointArray
    fuel_mass: PointArray
    vapour_lost: PointArray
    evaporated: PointArray
    temperature: ByName[PointArray]
    gauge_pressure: ByName[PointArray]
    vapour_margin: ByName[PointArray]
    pressure_margin: ByName[PointArray]
    vapour_liquid_ratio: ByName[PointArray]
    flow: ByName[PointArray]
    suction_margin: PointArray
    bypass_flow: PointArray
    injector_duty: PointArray
    tank_heat_flow: PointArray
    heat_sources: HeatSources
    pump_power: PointArray
    rail_gauge_pressure: PointArray
    rail_temperature: PointArray
    pump_margin: PointArray
    rail_margin: PointArray
    pump_vapour: PointArray
    pot_level: ByName[PointArray]
    pot_temperature: ByName[PointArray]
    out_of_fuel: BoolArray
    engine_state: TextArray
    mixture: PointArray
    vapour_lock: BoolArray
    over_vapour_limit: BoolArray
    events: list[Event]
    ledger: HeatLedger
    mass_error: float
    interpolation_error: float
    completion: Completion = WHOLE
    samples: DriveSamples | None = None

    @property
    def headline(self) -> str:
        """Return what happens in the drive."""
        events = ", ".join(f"{event.name} after {shown(event.time, 'time', digits=2)}" for event in self.events[:4])
        length, end = shown(float(self.time[-1]), "time", digits=2), float(self.tank_temperature[-1])
        happens = events or "nothing happens"
        sure = "" if self.samples is None else f"; {self.samples.headline}"
        return f"'{self.layout}', {length}: {happens}; tank ends at {shown(end, 'temperature', digits=3)}{sure}"

    @property
    def tank_rise(self) -> float:
        """How far the tank ends above the ambient air, K."""
        return float(self.tank_temperature[-1] - self.air_temperature[-1])

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
        return opener.dataset_over_time(self)

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per time shown, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.
        """
        return opener.drive_table(self, units)

    def heat_table(self, *others: Drive, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return where heat came from and went, this drive beside others: return beside returnless, for one.

        Parameters
        ----------
        *others : Drive
            Further drives, a column each.
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame
            One row per source, in energy over the whole drive and in mean heat flow, columns named after the layouts.
        """
        return opener.heat_ledger_table([self, *others], units)

    @takes()
    def plot(self, *others: Drive) -> Figure:
        """Draw tank, rail and margins against time with the events marked, this drive beside others.

        Parameters
        ----------
        *others : Drive
            Further drives over the same schedule, such as those of other layouts, a line each.

        Returns
        -------
        matplotlib.figure.Figure
        """
        return opener.drive_figure([self, *others])

    @takes()
    def animate(self, *others: Drive) -> opener.Animation:
        """Return the picture of the drive growing with time, which plays itself in a notebook.

        Parameters
        ----------
        *others : Drive
            Further drives over the same schedule, a line each.

        Returns
        -------
        Animation
            `save` writes it as ``.gif`` or ``.html``.
        """
        return opener.drive_animation([self, *others])


class EventShare(NamedTuple):
    """How often an event happens, and when.

    Attributes
    ----------
    name : EventName
    part : str
        Part that it happens to; '' for the car.
    happens : Interval
        Share of the samples in which it happens, with its interval of 95 % confidence.
    times : array (3,)
        Times since the start before which it first happened in 5, 50 and 95 % of the samples in which it does, s.
    """

    name: EventName
    part: str
    happens: Interval
    times: PointArray


class FigureBand(NamedTuple):
    """A figure of a drive over the samples.

    Attributes
    ----------
    about : str
        What it is, in words.
    kind : str
        Kind of its unit.
    quantiles : array (3,)
        Values below which 5, 50 and 95 % of the samples lie, SI.
    """

    about: str
    kind: str
    quantiles: PointArray


@dataclass(frozen=True)
class DriveSamples(Interruptible, Shown):
    """Samples of a drive.

    Attributes
    ----------
    inputs : tuple of str
        What was varied, in words.
    drives : tuple of Drive
        The samples that could be driven.
    failed : dict of str to int
        Why the others could not, and how many of each; none of the events counts as happened in them.
    completion : Completion
        How many samples there are, and whether Ctrl-C ended them early.
    """

    inputs: tuple[str, ...]
    drives: tuple[Drive, ...]
    failed: dict[str, int]
    completion: Completion

    @property
    def samples(self) -> int:
        """Number of samples, those that could not be driven too."""
        return len(self.drives) + sum(self.failed.values())

    @property
    def headline(self) -> str:
        """Return how often each event happens, and when."""
        told = [
            f"{item.name} in {_percent(item.happens)} of the samples, {_minutes(item.times)}" for item in self.events
        ]
        failed = "".join(f"; {count} not driven: {reason}" for reason, count in self.failed.items())
        return f"{self.samples} samples of {len(self.inputs)} inputs: {'; '.join(told) or 'no events'}{failed}"

    @property
    def events(self) -> tuple[EventShare, ...]:
        """Every event that happens in any sample, at each part, the earliest first."""
        first: list[dict[tuple[EventName, str], float]] = []
        for result in self.drives:
            times: dict[tuple[EventName, str], float] = {}
            for event in result.events:
                times.setdefault((event.name, event.part), event.time)
            first.append(times)
        keys = dict.fromkeys(key for times in first for key in times)
        made = []
        for key in keys:
            when = np.array([times[key] for times in first if key in times])
            happens = np.zeros(self.samples)
            happens[: len(first)] = [key in times for times in first]
            made.append(EventShare(*key, share_interval(happens, SETS), np.quantile(when, SHARES, method="hazen")))
        return tuple(sorted(made, key=lambda item: float(item.times[1])))

    @property
    def figures(self) -> tuple[FigureBand, ...]:
        """What every drive has: hottest tank, least margins to boiling, least rail pressure (gauge), vapour lost."""
        wanted: tuple[tuple[str, str, Callable[[Drive], float]], ...] = (
            ("hottest tank", "temperature", lambda each: float(np.max(each.tank_temperature))),
            ("least margin to boiling at the pump", "temperature difference", lambda each: _least(each.pump_margin)),
            ("least margin to boiling in the rail", "temperature difference", lambda each: _least(each.rail_margin)),
            ("least rail pressure (gauge)", "pressure difference", lambda each: _least(each.rail_gauge_pressure)),
            ("vapour lost", "mass", lambda each: float(each.vapour_lost[-1])),
        )
        made = []
        for about, kind, of in wanted:
            values = np.array([of(each) for each in self.drives])
            known = values[np.isfinite(values)]
            if known.size:
                made.append(FigureBand(about, kind, np.quantile(known, SHARES, method="hazen")))
        return tuple(made)

    def tank_temperatures(self, times: PointArray) -> FloatArray:
        """Return the quantiles of the tank's temperature.

        Parameters
        ----------
        times : array (times,)
            Since the start, s.

        Returns
        -------
        array (3, times)
            Temperatures below which 5, 50 and 95 % of the samples lie, K.
        """
        warmed = [np.interp(times, each.time, each.tank_temperature) for each in self.drives]
        return np.quantile(warmed, SHARES, axis=0, method="hazen")

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per event: how often it happens, and when; and one per figure with its band.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame
            Values carry their units; times are of the samples in which the event happens.

        Examples
        --------
        >>> import fuelsim as fs
        >>> from fuelsim.transients.schedule import Phase, Schedule
        >>> idle = Schedule.of([Phase(name="idle", duration="1 min")])
        >>> given = {"tank_temperature": "20 degC", "uncertainty": 8, "progress": False}
        >>> short = fs.drive(fs.Car.named("finch"), "return", idle, **given)
        >>> short.samples.table()["what"].iloc[0]
        'hottest tank'
        """
        return opener.drive_samples_table(self, units)


def _percent(share: Interval) -> str:
    value, low, high = (f"{100.0 * float(end):.0f}" for end in share)
    return f"{value} % ({low} to {high})"


def _minutes(times: PointArray) -> str:
    first, last = (f"{time / 60.0:.0f}" for time in times[[0, -1]])
    return f"after {first} min" if first == last else f"after {first} to {last} min"


def _least(values: PointArray) -> float:
    return float(np.nanmin(values)) if np.any(np.isfinite(values)) else np.nan
