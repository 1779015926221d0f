"""Which layout gets through a traffic jam on the hot day of which place, on the petrol that is sold there.

What happens in one drive is a verdict. A cell, which is a car in a layout at a place, has one only where it is the same
with all inputs at the favourable and at the adverse end of their bands (`bands.band_inputs`: vapour tolerance and
superheat of the pump, heat of bay and floor, vapour pressure of the fuel); else the cell says what it depends on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.car.climate import Climate, hot_day
from fuelsim.errors import InputError
from fuelsim.interruption import WHOLE, Completion, Executor, Interruptible, run_steps, whole
from fuelsim.numerics.sampling import SETS, Interval, share_interval
from fuelsim.parts.tank_parts import TankVent
from fuelsim.shown import Shown
from fuelsim.studies.bands import band_inputs, car_at
from fuelsim.studies.climate_limits import BoilingLimit, boiling_limit
from fuelsim.studies.drive_samples import drive_cost, drive_inputs, sampled_cars
from fuelsim.system.run import System
from fuelsim.transients.drive import drive
from fuelsim.transients.events import EventName
from fuelsim.transients.schedule import Schedule, typical_phase
from fuelsim.transients.tank_fuel import tank_fuel
from fuelsim.transients.world import World
from fuelsim.typing import PointArray, UncertaintyAsked, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure


__all__ = ["ClimateRow", "ClimateTable", "DayResult", "Survival", "Verdict", "over_climates", "traffic_day"]

PLACES = ("kuwait", "phoenix", "delhi", "seville", "madrid", "denver", "mexico_city", "london")


class Verdict(IntEnum):
    """The worst that happens to a car on one day, from good to bad.

    A vapour lock is an engine that stops with vapour at a pump's inlet as the cause; other stops are a verdict apart.
    """

    STAYS_LIQUID = 0
    SHORT_OF_NPSH = 1
    VAPOUR_IN_RAIL = 2
    VAPOUR_AT_PUMP = 3
    PUMP_OVER_LIMIT = 4
    TANK_BOILS = 5
    RUNS_LEAN = 6
    ENGINE_STOPS = 7
    VAPOUR_LOCK = 8


class Survival(IntEnum):
    """Class of a verdict: what the driver notices, from good to bad.

    The fuel stays liquid; there is vapour somewhere and the engine runs; the tank boils off fuel and the engine runs;
    the engine runs lean or stops.

    Examples
    --------
    >>> Survival.of(Verdict.PUMP_OVER_LIMIT).name
    'VAPOUR'
    """

    LIQUID = 0
    VAPOUR = 1
    TANK_BOILS = 2
    FAILS = 3

    @classmethod
    def of(cls, verdict: Verdict) -> Survival:
        """Return the class of a verdict.

        Parameters
        ----------
        verdict : Verdict
            What happened.

        Returns
        -------
        Survival

        Examples
        --------
        >>> Survival.of(Verdict.VAPOUR_LOCK).name
        'FAILS'
        """
        bounds = (
            (Verdict.VAPOUR_IN_RAIL, cls.LIQUID),
            (Verdict.TANK_BOILS, cls.VAPOUR),
            (Verdict.RUNS_LEAN, cls.TANK_BOILS),
        )
        return next((survival for bound, survival in bounds if verdict < bound), cls.FAILS)


_VERDICT_OF_EVENT = {
    EventName.NOISE: Verdict.SHORT_OF_NPSH,
    EventName.RAIL_MARGIN_GONE: Verdict.VAPOUR_IN_RAIL,
    EventName.PUMP_MARGIN_GONE: Verdict.VAPOUR_AT_PUMP,
    EventName.OVER_VAPOUR_LIMIT: Verdict.PUMP_OVER_LIMIT,
    EventName.TANK_BOILS: Verdict.TANK_BOILS,
    EventName.LEAN: Verdict.RUNS_LEAN,
    EventName.ENGINE_STOPS: Verdict.ENGINE_STOPS,
    EventName.VAPOUR_LOCK: Verdict.VAPOUR_LOCK,
}


@dataclass(frozen=True)
class DayResult:
    """One car in one layout on one hot day.

    Attributes
    ----------
    vapour_pressure : float
        DVPE of the fuel, Pa.
    hottest_tank : float
        Highest temperature of the tank, K.
    least_pump_margin, least_rail_margin : float
        Least temperature to boiling at the pump's inlet and in the rail while the engine runs, K; negative where fuel
        boils.
    vapour_lost : float
        Mass of vapour that left by the vent, kg.
    times : dict of Verdict to float
        When each thing first happened, s from the start; 0 for a tank that boils before the engine is started, whose
        other figures are NaN.
    """

    vapour_pressure: float
    hottest_tank: float
    least_pump_margin: float
    least_rail_margin: float
    vapour_lost: float
    times: dict[Verdict, float]

    @property
    def verdict(self) -> Verdict:
        """The worst that happened."""
        return max(self.times, default=Verdict.STAYS_LIQUID)

    @property
    def survival(self) -> Survival:
        """Class of the verdict."""
        return Survival.of(self.verdict)

    @property
    def verdict_time(self) -> float:
        """When that began, s from the start; infinite where the fuel stays liquid."""
        return self.times.get(self.verdict, np.inf)


@dataclass(frozen=True)
class ClimateRow:
    """One cell: a car in a layout at a place.

    Attributes
    ----------
    place, car, layout : str
        Names.
    hottest_air : float
        Highest temperature of the ambient air, K.
    middle : DayResult
        The day as it is.
    favourable, adverse : DayResult or None
        The day with all inputs at that end of their bands; None without bands.
    wrong_fuel : DayResult or None
        The day with what is sold there in winter, in a tank with a free vent; None where that was not asked for.
    limit : BoilingLimit or None
        At which vapour pressure, and at which station, fuel begins to boil.
    samples : tuple of DayResult
        The day over the distributions of what is not known; empty unless `uncertainty` was asked for.
    """

    place: str
    car: str
    layout: str
    hottest_air: float
    middle: DayResult
    favourable: DayResult | None = None
    adverse: DayResult | None = None
    wrong_fuel: DayResult | None = None
    limit: BoilingLimit | None = None
    samples: tuple[DayResult, ...] = ()

    @property
    def sides(self) -> list[DayResult]:
        """The day at each side of the bands that was run, from the favourable one."""
        return [day for day in (self.favourable, self.middle, self.adverse) if day is not None]

    @property
    def decided(self) -> bool:
        """Whether the class of the verdict is the same over the bands."""
        return len({day.survival for day in self.sides}) == 1

    @property
    def verdict(self) -> Verdict:
        """The worst that happens on the day as it is; it holds over the bands where the cell is `decided`."""
        return self.middle.verdict

    @property
    def survival(self) -> Survival:
        """Class of that verdict."""
        return self.middle.survival

    @property
    def verdict_time(self) -> float:
        """When that begins, s from the start; infinite where the fuel stays liquid."""
        return self.middle.verdict_time

    @property
    def lock_time(self) -> float:
        """Time from the start until vapour lock on the day as it is, s; infinite if there is none."""
        return self.middle.times.get(Verdict.VAPOUR_LOCK, np.inf)

    def share_of(self, survival: Survival) -> Interval:
        """Return in which share of the samples the day ends in that class or a worse one, with 95 % confidence.

        Parameters
        ----------
        survival : Survival
            Class of a verdict.

        Returns
        -------
        Interval
            Of NaN where there are no samples.

        Examples
        --------
        >>> times = [{}] * 12 + [{Verdict.RUNS_LEAN: 9.0}] * 4
        >>> days = [DayResult(60e3, 320.0, -1.0, 5.0, 0.1, each) for each in times]
        >>> row = ClimateRow("kuwait", "Finch", "return", 321.0, days[0], samples=tuple(days))
        >>> float(row.share_of(Survival.FAILS).value)
        0.25
        """
        if not self.samples:
            return Interval(*[np.asarray(np.nan)] * 3)
        return share_interval(np.array([float(day.survival >= survival) for day in self.samples]), SETS)

    def range_of(self, verdict: Verdict) -> tuple[float, float]:
        """Return the earliest and the latest time at which something first happens, s; infinite where it does not.

        Parameters
        ----------
        verdict : Verdict
            What happens.

        Returns
        -------
        tuple of float

        Examples
        --------
        >>> days = [DayResult(60e3, 320.0, -1.0, 5.0, 0.1, {Verdict.TANK_BOILS: time}) for time in (1860.0, 2640.0)]
        >>> row = ClimateRow("kuwait", "Finch", "return", 321.0, days[0], favourable=days[1])
        >>> row.range_of(Verdict.TANK_BOILS)
        (1860.0, 2640.0)
        """
        times = [day.times.get(verdict, np.inf) for day in self.sides]
        return min(times), max(times)


class Cell(NamedTuple):
    """What a cell is of: place, car and layout."""

    place: str
    car: Car
    layout: str


@dataclass(frozen=True)
class ClimateTable(Interruptible, Shown):
    """Cars and layouts over places.

    Attributes
    ----------
    rows : list of ClimateRow
        One per place, car and layout that is finished.
    completion : Completion
        How many cells are finished, and whether Ctrl-C ended the work early.
    missing : list of tuple of str
        Place, car and layout of the cells that are not finished.
    """

    rows: list[ClimateRow]
    completion: Completion = WHOLE
    missing: list[tuple[str, str, str]] = field(default_factory=list)

    @property
    def headline(self) -> str:
        """Return in how many cells the engine fails, and how many are decided."""
        fails = sum(row.survival is Survival.FAILS for row in self.rows)
        decided = sum(row.decided for row in self.rows)
        return f"engine lean or stopped in {fails} of {len(self.rows)} cells, {decided} the same over the bands"

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per place, car and layout; a cell that an interruption left out says so.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> finch = fs.Car.named("finch")
        >>> len(over_climates([finch], ["london"], ["return"], bands=False, wrong_fuel=False).table("SI"))
        1
        """
        return opener.climate_table(self, units)

    def sentences(self) -> list[str]:
        """Return the verdict on each cell in words, or what it depends on.

        Returns
        -------
        list of str
        """
        return opener.climate_sentences(self)

    def plot(self) -> Figure:
        """Draw what becomes of every car and layout at every place."""
        return opener.climate_figure(self)


def traffic_day(car: Car) -> Schedule:
    """Return half an hour of motorway, two hours of traffic jam at the hottest of the day and half an hour of city.

    Parameters
    ----------
    car : Car
        The car, whose engine says what idle and red line are.

    Returns
    -------
    Schedule

    Examples
    --------
    >>> import fuelsim as fs
    >>> [phase.name for phase in traffic_day(fs.Car.named("finch")).phases]
    ['motorway', 'jam', 'city']
    """
    return Schedule.of(
        [
            typical_phase("motorway", "30 min", car),
            typical_phase("jam", "2 h", car),
            typical_phase("city", "30 min", car),
        ],
        start_time="13 h",
    )


@takes()
def over_climates(
    cars: Sequence[Car],
    places: Sequence[str] = PLACES,
    layouts: Sequence[str] | None = None,
    *,
    bands: bool = True,
    wrong_fuel: bool = True,
    uncertainty: UncertaintyAsked = False,
    progress: bool | None = None,
    executor: Executor | None = None,
) -> ClimateTable:
    """Run each car and layout through `traffic_day` on the hot day of each place.

    The fuel is the place's summer petrol with the ethanol of the car's own, the tank's vent that of the car.

    Parameters
    ----------
    cars : sequence of Car
        The cars.
    places : sequence of str
        Names that `hot_day` takes.
    layouts : sequence of str, optional
        Names of layouts; those each car has the parts for, if left out.
    bands : bool, optional
        Whether each cell is run at both ends of the bands too, three drives in place of one, and the limits of boiling
        are sought.
    wrong_fuel : bool, optional
        Whether the place's winter petrol in a tank with a free vent is run beside it.
    uncertainty : bool, int or mapping, optional
        Whether each cell is also run over samples of what is not known, each a drive of its own: True for 16, or as
        `drive` takes it. The cost is printed before they start.
    progress : bool, optional
        Whether to show a bar; left out, on a terminal only.
    executor : Executor, optional
        Any executor of `concurrent.futures`, or a client of dask, which works on the cells; the numbers are the same.

    Returns
    -------
    ClimateTable
        On Ctrl-C the cells that are finished, with `interrupted` set.

    Raises
    ------
    InputError
        For an unknown place or layout, or samples that do not suit.
    KeyboardInterrupt
        On Ctrl-C before any cell is finished.

    Examples
    --------
    >>> import fuelsim as fs
    >>> row = over_climates([fs.Car.named("finch")], ["london"], ["returnless_tank"], wrong_fuel=False).rows[0]
    >>> row.verdict.name, row.limit.station
    ('STAYS_LIQUID', 'tank')
    """
    from tqdm import tqdm

    if not cars or not places or (layouts is not None and not layouts):
        raise InputError("nothing to run", accepted="at least one car, place and layout", part="over_climates")
    for place in places:
        hot_day(place)
    cells = [
        Cell(place, car, layout)
        for place in places
        for car in cars
        for layout in (car.layouts() if layouts is None else layouts)
    ]
    for cell in cells[: len(cells) // max(len(places), 1)]:
        System(cell.car, cell.layout)
    if uncertainty is not False:
        _, samples = drive_inputs(cells[0].car, cells[0].layout, uncertainty)
        if progress is not False:
            tqdm.write(f"how sure: {drive_cost(samples * len(cells))}")
    work = partial(_row, bands=bands, wrong_fuel=wrong_fuel, uncertainty=uncertainty)
    rows, completion = run_steps(cells, work, doing="climates", of="cells", progress=progress, executor=executor)
    if completion.interrupted and not rows:
        raise KeyboardInterrupt
    finished = {(row.place, row.car, row.layout) for row in rows}
    asked = [(cell.place, cell.car.name, cell.layout) for cell in cells]
    return ClimateTable(rows, completion, [cell for cell in asked if cell not in finished])


def _row(cell: Cell, *, bands: bool, wrong_fuel: bool, uncertainty: UncertaintyAsked) -> ClimateRow:
    """Return the finished cell."""
    place, car, layout = cell
    climate = hot_day(place)
    here = car
    if climate.summer_vapour_pressure is not None:
        here = car.with_values({"fuel": car.fuel.with_vapour_pressure(float(climate.summer_vapour_pressure))})
    inputs = band_inputs(here)
    ends = [_day(car_at(here, inputs, side), layout, climate) if bands else None for side in ("favourable", "adverse")]
    schedule = traffic_day(car)
    world = World(car, schedule, climate)
    air = np.concatenate(
        [
            world.at(number, np.linspace(0.0, phase.duration, 61)).air_temperature
            for number, phase in enumerate(schedule.phases)
        ]
    )
    wrong = None
    if wrong_fuel and climate.winter_vapour_pressure is not None:
        winter = car.fuel.with_vapour_pressure(float(climate.winter_vapour_pressure))
        wrong = _day(car.with_values({"fuel": winter, "tank.vent": TankVent()}), layout, climate)
    return ClimateRow(
        place=place,
        car=car.name,
        layout=layout,
        hottest_air=float(np.max(air)),
        middle=_day(here, layout, climate),
        favourable=ends[0],
        adverse=ends[1],
        wrong_fuel=wrong,
        limit=boiling_limit(here, layout, schedule, climate, _least_set_pressure(car)) if bands else None,
        samples=() if uncertainty is False else _sampled_days(here, layout, climate, uncertainty),
    )


def _sampled_days(car: Car, layout: str, climate: Climate, asked: UncertaintyAsked) -> tuple[DayResult, ...]:
    """Return what becomes of samples of a car on one day."""
    inputs, samples = drive_inputs(car, layout, asked)
    return tuple(_day(each, layout, climate) for each in sampled_cars(car, layout, inputs, samples))


def _least_set_pressure(car: Car) -> float:
    """Return the least pressure at which a layout of the car holds its rails, Pa; NaN where none does."""
    holders = [System(car, layout).plumbing.holders for layout in car.layouts()]
    return min((float(each[0].set_pressure) for each in holders if each), default=np.nan)


def _day(car: Car, layout: str, climate: Climate) -> DayResult:
    """Return what becomes of a car on one day."""
    fuel, schedule = car.fuel.fuel(), traffic_day(car)
    vapour_pressure = float(fuel.dvpe())
    start = float(World(car, schedule, climate).at(0, np.zeros(1)).air_temperature[0])
    if start > tank_fuel(fuel).boiling_temperature(climate.pressure, 0.0) - 0.1:
        nan = np.nan
        return DayResult(vapour_pressure, nan, nan, nan, nan, {Verdict.TANK_BOILS: 0.0})
    result = whole(drive(car, layout, schedule, climate=climate, output_step="2 min"))
    times: dict[Verdict, float] = {}
    for event in result.events:
        if event.name in _VERDICT_OF_EVENT:
            times.setdefault(_VERDICT_OF_EVENT[event.name], event.time)
    return DayResult(
        vapour_pressure=vapour_pressure,
        hottest_tank=float(np.max(result.tank_temperature)),
        least_pump_margin=_least(result.pump_margin),
        least_rail_margin=_least(result.rail_margin),
        vapour_lost=float(result.vapour_lost[-1]),
        times=times,
    )


def _least(margin: PointArray) -> float:
    return float(np.nanmin(margin)) if np.any(np.isfinite(margin)) else np.nan
