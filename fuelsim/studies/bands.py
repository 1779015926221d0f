"""How sure an answer is: inputs with low, middle and high value, run as corners, and which of them moves it most.

Corners are the car as it is, each input alone at its low and its high value, and all inputs together at their adverse
and at their favourable end: 2 n + 3 for n inputs. An answer that each input moves one way whatever the others are has
its least and its greatest value among them; others can lie beyond. Corners that differ in ratings of parts, in the
heat of bay and floor or in the vapour pressure of the fuel are one batch of operating points.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import check_fields, choice, takes
from fuelsim.band import Band
from fuelsim.car.car import Car
from fuelsim.car.climate import Climate
from fuelsim.car.rating_lists import may_be_listed
from fuelsim.errors import InputError
from fuelsim.interruption import whole
from fuelsim.kinds import KINDS
from fuelsim.parts.pump.pump import Pump
from fuelsim.shown import Shown, cut_short, html_of
from fuelsim.sources import cite, doubt, unknowns
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.transients.drive import drive
from fuelsim.transients.events import EventName
from fuelsim.transients.schedule import Schedule
from fuelsim.typing import FloatArray, FloatLike, Given, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd


__all__ = ["BandInput", "Banded", "band_inputs", "car_at", "event_band", "over_bands"]

FUEL = "fuel.vapour_pressure"
VAPOUR_PRESSURE_BAND = 7e3
"""Vapour pressure of what is sold in one place and season, either way, Pa [assumed]."""
MOST_SUPERHEAT = 5.0
"""Superheat before fuel at a pump's inlet boils, at most, K [assumed]."""
_RISES = {
    # In traffic 30 to 50 K with 35 in the middle, cruising 15 to 30 with 22; under the floor a guess.
    "surroundings.bay_rise": (5.0, 15.0),
    "surroundings.cruising_bay_rise": (7.0, 8.0),
    "surroundings.underfloor_rise": (5.0, 10.0),
    "surroundings.cruising_underfloor_rise": (5.0, 5.0),
}
"""By how much the air's rise may be less, and more, than that of the car, K."""
_TANK_CONDUCTANCE = (8.0 / 12.0, 25.0 / 12.0)
"""Conductance of a tank to the air, over that of the car."""


_KIND = choice(KINDS)


@dataclass(frozen=True, repr=False)
class BandInput:
    """An input that is not known better than by its band.

    Attributes
    ----------
    name : str
        What it is, in words.
    kind : str
        Kind of its unit, a name of `units.KINDS`.
    values : mapping of str to Band
        Dotted keys of the car file that it sets together, each to its band, SI; the middle is that of the car.
    adverse : str
        End of the band that is worse for a hot car, ``"low"`` or ``"high"``.
    source : str
        Where the band comes from.
    measure : str
        What to measure so that the band shrinks.

    Examples
    --------
    >>> BandInput("clean filter", "pressure difference", {"filter.rated_drop": Band(5e3, 8e3, 12e3)}, "high",
    ...           "own measurement").favourable
    'low'
    """

    name: str
    kind: str
    values: Mapping[str, Band]
    adverse: str
    source: str
    measure: str = ""

    def __post_init__(self) -> None:
        check_fields(self, {"kind": _KIND, "adverse": choice(("low", "high"))})
        if not self.values:
            raise InputError(
                "no keys", accepted="keys of the car file, each with its Band", part="BandInput", key="values"
            )

    def __repr__(self) -> str:
        low, middle, high = (shown(value, self.kind, digits=3) for value in self.band)
        return f"<BandInput: {cut_short(f'{self.name}, {low} to {high}, {middle} in the middle; {self.source}')}>"

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the band and where it comes from."""
        return html_of(repr(self)[1:-1], None)

    @property
    def band(self) -> Band:
        """Band of the first of its keys."""
        return next(iter(self.values.values()))

    @property
    def favourable(self) -> str:
        """The other end."""
        return "low" if self.adverse == "high" else "high"


@dataclass(frozen=True)
class Banded(Shown):
    """An answer with its band.

    Attributes
    ----------
    inputs : tuple of BandInput
        What was varied.
    kind : str
        Kind of the answer's unit.
    middle : array (...)
        The answer for the car as it is, SI.
    at_low, at_high : array (inputs, ...)
        The answer with each input alone at an end of its band.
    adverse, favourable : array (...)
        The answer with all inputs at that end together.
    """

    inputs: tuple[BandInput, ...]
    kind: str
    middle: FloatArray
    at_low: FloatArray
    at_high: FloatArray
    adverse: FloatArray
    favourable: FloatArray

    @property
    def headline(self) -> str:
        """Return the answer with its band."""
        if np.ndim(self.middle) == 0:
            return self.sentence()
        return f"{np.size(self.middle)} values over the bands of {len(self.inputs)} inputs"

    @property
    def answers(self) -> FloatArray:
        """The answer at every corner, (corners, ...)."""
        together = np.stack([self.middle, self.adverse, self.favourable])
        return np.concatenate([together, self.at_low, self.at_high])

    @property
    def low(self) -> FloatArray:
        """Least answer of all corners."""
        return np.asarray(np.min(self.answers, axis=0))

    @property
    def high(self) -> FloatArray:
        """Greatest answer of all corners."""
        return np.asarray(np.max(self.answers, axis=0))

    @property
    def agrees(self) -> FloatArray:
        """Whether the answer is the same at every corner; 1 or 0."""
        return np.asarray(np.all(self.answers == self.middle, axis=0), dtype=float)

    @property
    def spans(self) -> FloatArray:
        """By how much each input alone moves the answer, (inputs, ...); infinite where the answer comes or goes."""
        three = np.stack([self.at_low, np.broadcast_to(self.middle, self.at_low.shape), self.at_high])
        least, most = three.min(axis=0), three.max(axis=0)
        return np.where(most == least, 0.0, most - np.where(most == least, 0.0, least))

    @property
    def moves_most(self) -> BandInput | None:
        """Input that alone moves the answer most; None where none does. Of several answers that of the first moved."""
        if not self.inputs:
            return None
        spans = self.spans.reshape(len(self.inputs), -1)
        moved = np.flatnonzero(np.any(spans > 0.0, axis=0))
        return self.inputs[int(np.argmax(spans[:, moved[0]]))] if moved.size else None

    def shown(self, answer: FloatLike, never: str = "never", units: str | None = None) -> str:
        """Return one answer in a unit of that system; times of a drive in minutes.

        Parameters
        ----------
        answer : float
            SI.
        never : str
            What an infinite answer means.
        units : str, optional
            System of units; the preferred one, if left out.

        Returns
        -------
        str

        Examples
        --------
        >>> nothing = np.empty(0)
        >>> Banded((), "time", nothing, nothing, nothing, nothing, nothing).shown(1860.0)
        '31 min'
        """
        if not np.isfinite(answer):
            return never
        if self.kind == "time":
            return f"{float(answer) / 60.0:.0f} min"
        return shown(float(answer), self.kind, units, digits=3)

    def sentence(self, never: str = "never") -> str:
        """Return the band of one answer in words.

        Parameters
        ----------
        never : str
            What an infinite answer means.

        Returns
        -------
        str

        Examples
        --------
        >>> between = Banded((), "time", np.array(35 * 60.0), np.empty(0), np.empty(0), np.array(31 * 60.0),
        ...                  np.array(44 * 60.0))
        >>> between.sentence()
        'between 31 min and 44 min, 35 min in the middle'
        """
        low, middle, high = (self.shown(value, never) for value in (self.low, self.middle, self.high))
        if low == high:
            return f"{low} over all bands"
        most = self.moves_most
        by = "" if most is None else f"; moved most by {most.name}"
        return f"between {low} and {high}, {middle} in the middle{by}"

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per input: its band, where that comes from, and the answer at its ends.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame
            The last rows are all inputs at their adverse and at their favourable end. Values carry their units.

        Examples
        --------
        >>> result = over_bands(Car.named("finch"), [], lambda car: 300.0, kind="temperature")
        >>> result.table()["at_low"].tolist()
        ['26.9 °C', '26.9 °C']
        """
        return opener.band_table(self, units)


class _Corner(NamedTuple):
    """Ends of inputs by their numbers; an input that is not there has its middle."""

    ends: tuple[tuple[int, str], ...]


class _Group(NamedTuple):
    """What corners of one call share: changes that cannot be lists, and whether they keep the car's fuel by name."""

    apart: tuple[tuple[str, float], ...]
    keeps_fuel: bool


@takes()
def band_inputs(car: Car, *, warming: bool = False) -> tuple[BandInput, ...]:
    """Return the inputs on which answers about hot fuel rest most, each around the figure of the car.

    What was measured has no band: a tolerance of vapour that the car file gives, and one with a table of hot fuel.

    Parameters
    ----------
    car : Car
    warming : bool
        Whether the tank warms, as in a drive: its conductance to the air is then an input too.

    Returns
    -------
    tuple of BandInput

    Examples
    --------
    >>> [item.name for item in band_inputs(Car.named("finch"))][:2]
    ['vapour tolerance of the pump', 'superheat at the pump']
    """
    pumps = {f"{key}.": pump for key, pump in _pumps(car)}
    assumed = cite("assumed")
    inputs = []
    tolerances = {
        f"{key}vapour_tolerance": pump.kind.vapour_tolerance
        for key, pump in pumps.items()
        if pump.vapour_tolerance is None and pump.hot_flow_share is None
    }
    if tolerances:
        inputs.append(_unknown("vapour tolerance of the pump", "number", tolerances, "low", "allowed_vapour"))
    superheats = {
        f"{key}inlet_superheat": Band(0.0, float(pump.inlet_superheat), MOST_SUPERHEAT)
        for key, pump in pumps.items()
        if np.ndim(pump.inlet_superheat) == 0
    }
    boils = "temperature and pressure at the pump's inlet at which its flow begins to fall"
    inputs.append(BandInput("superheat at the pump", "temperature difference", superheats, "low", assumed, boils))
    inputs.append(_heat(car))
    fuel = car.fuel.fuel()
    middle = float(fuel.dvpe()) if car.fuel.name is not None else float(car.fuel.vapour_pressure)
    pressures = {FUEL: Band(middle - VAPOUR_PRESSURE_BAND, middle, middle + VAPOUR_PRESSURE_BAND)}
    laboratory = "vapour pressure (DVPE) of the fuel in the tank, in a laboratory"
    inputs.append(BandInput("vapour pressure of the fuel", "absolute pressure", pressures, "high", assumed, laboratory))
    if warming:
        own = float(car.tank.heat_conductance)
        band = Band(own * _TANK_CONDUCTANCE[0], own, own * _TANK_CONDUCTANCE[1])
        values = {"tank.heat_conductance": band}
        inputs.append(_unknown("conductance of the tank", "heat conductance", values, "low", "tank_heat"))
    return tuple(inputs)


def car_at(car: Car, inputs: Sequence[BandInput], side: str) -> Car:
    """Return a car with all inputs together at one side of their bands.

    Parameters
    ----------
    car : Car
    inputs : list of BandInput
        Such as `band_inputs`.
    side : str
        ``"favourable"``, ``"middle"`` or ``"adverse"``.

    Returns
    -------
    Car

    Examples
    --------
    >>> car = Car.named("finch")
    >>> [car_at(car, band_inputs(car), side).pump.inlet_superheat for side in ("favourable", "middle", "adverse")]
    [5.0, 0.0, 0.0]
    """
    if side == "middle":
        return car
    every = tuple((number, getattr(item, side)) for number, item in enumerate(inputs))
    return _changed(car, _values(inputs, _Corner(every)))


@takes({"kind": _KIND})
def over_bands(
    car: Car,
    inputs: Sequence[BandInput],
    answer: Callable[[Car], FloatLike],
    *,
    kind: str,
    batched: bool = False,
) -> Banded:
    """Return an answer about a car over the bands of its inputs.

    Parameters
    ----------
    car : Car
    inputs : list of BandInput
        Such as `band_inputs`.
    answer : function
        Takes a car and returns a number or an array; infinite for what never happens.
    kind : str
        Kind of the answer's unit, a name of `units.KINDS`.
    batched : bool
        Whether the answer takes a car with lists of ratings, one value per corner, and returns the corners on the last
        axis, as `System.solve` does: far faster. A fuel by name is asked for apart from other vapour pressures.

    Returns
    -------
    Banded

    Raises
    ------
    InputError
        For a value outside its plausible range.

    Examples
    --------
    >>> car = Car.named("finch")
    >>> result = over_bands(car, band_inputs(car)[:3], kind="volume flow", batched=True,
    ...     answer=lambda car: car.system("return").solve(rpm=2500, tank_temperature="49 degC").flow["pump"])
    >>> bool(result.low <= result.middle <= result.high)
    True
    """
    ends = ("low", "high")
    numbers = range(len(inputs))
    corners = [_Corner(())]
    corners += [_Corner(((number, end),)) for end in ends for number in numbers]
    corners += [_Corner(tuple((number, getattr(inputs[number], side)) for number in numbers)) for side in _SIDES]
    answers = np.stack(_answers(car, inputs, corners, answer, batched=batched))
    count = len(inputs)
    return Banded(
        inputs=tuple(inputs),
        kind=kind,
        middle=answers[0],
        at_low=answers[1 : 1 + count],
        at_high=answers[1 + count : 1 + 2 * count],
        adverse=answers[-2],
        favourable=answers[-1],
    )


@system_or_car
@takes()
def event_band(
    car: Car,
    layout: str,
    schedule: Schedule,
    event: EventName,
    inputs: Sequence[BandInput] | None = None,
    *,
    climate: Climate | None = None,
    tank_temperature: Given | None = None,
) -> Banded:
    """Return when an event first happens in a drive, over the bands of the inputs.

    Parameters
    ----------
    car : Car
    layout : str
    schedule : Schedule
        The phases of the drive.
    event : EventName
        Kind of event, at whatever part.
    inputs : list of BandInput, optional
        `band_inputs` of a car that warms, if left out; each corner is a drive.
    climate, tank_temperature : optional
        As `drive` takes them.

    Returns
    -------
    Banded
        Times, s; infinite where it does not happen.

    Raises
    ------
    InputError
        For an unknown layout, or a start above the fuel's boiling point.

    Examples
    --------
    >>> from fuelsim.transients.schedule import typical_phase
    >>> car = Car.named("finch")
    >>> jam = Schedule.of([typical_phase("jam", "2 min", car)])
    >>> event_band(car, "return", jam, EventName.TANK_BOILS, band_inputs(car)[:1]).sentence()
    'never over all bands'
    """

    def first_time(changed: Car) -> float:
        events = whole(drive(changed, layout, schedule, climate=climate, tank_temperature=tank_temperature)).events
        return min((item.time for item in events if item.name == event), default=np.inf)

    return over_bands(
        car, band_inputs(car, warming=True) if inputs is None else inputs, first_time, kind="time", batched=False
    )


_SIDES = ("adverse", "favourable")


def _pumps(car: Car) -> Iterator[tuple[str, Pump]]:
    """Yield key and ratings of each pump of a car."""
    if car.pump is not None:
        yield "pump", car.pump
    for name, pump in car.pumps.items():
        yield f"pumps.{name}", pump


def _heat(car: Car) -> BandInput:
    """Return the band of what warms the air in the bay and under the floor."""
    bands = {}
    for key, (less, more) in _RISES.items():
        own = float(car.value_of(key))  # type: ignore[arg-type]  # a quantity, by its key
        bands[key] = Band(max(own - less, 0.0), own, own + more)
    return _unknown("rise of bay and floor air", "temperature difference", bands, "high", "bay_temperature")


def _unknown(name: str, kind: str, values: Mapping[str, Band], adverse: str, figure: str) -> BandInput:
    """Return an input whose band is that of a figure without a public source."""
    unknown = unknowns()[figure]
    return BandInput(name, kind, values, adverse, f"{unknown.band}; {doubt(figure)}", unknown.measure)


def _answers(
    car: Car,
    inputs: Sequence[BandInput],
    corners: Sequence[_Corner],
    answer: Callable[[Car], FloatLike],
    *,
    batched: bool,
) -> list[FloatArray]:
    """Return the answer at each corner; corners that differ in what may be a list are one call where it is batched."""
    keys = [key for item in inputs for key in item.values]
    listed = [key for key in keys if may_be_listed(key)] if batched else []
    values = [_values(inputs, corner) for corner in corners]
    groups: dict[_Group, list[int]] = {}
    for number, changes in enumerate(values):
        apart = tuple(sorted((key, value) for key, value in changes.items() if key not in listed))
        # The middle of a fuel by name is that fuel, which a petrol of its vapour pressure need not be.
        keeps_fuel = FUEL in listed and FUEL not in changes and car.fuel.name is not None
        # Without lists every corner is a call of its own; equal ones are asked once.
        groups.setdefault(_Group(apart, keeps_fuel), []).append(number)
    answers: list[FloatArray] = [np.empty(0)] * len(corners)
    middles = {key: band.middle for item in inputs for key, band in item.values.items()}
    for (apart, keeps_fuel), numbers in groups.items():
        changed = _changed(car, dict(apart))
        if listed:
            lists = {
                key: np.array([values[number].get(key, middles[key]) for number in numbers])
                for key in listed
                if not (keeps_fuel and key == FUEL)
            }
            together = np.asarray(answer(_changed(changed, lists)), dtype=float)
            for position, number in enumerate(numbers):
                answers[number] = together[..., position]
        else:
            alone = np.asarray(answer(changed), dtype=float)
            for number in numbers:
                answers[number] = alone
    return answers


def _values(inputs: Sequence[BandInput], corner: _Corner) -> dict[str, float]:
    """Return what a corner changes in a car: dotted keys to values."""
    return {
        key: float(getattr(band, end)) for number, end in corner.ends for key, band in inputs[number].values.items()
    }


def _changed(car: Car, changes: Mapping[str, FloatLike]) -> Car:
    """Return a car with some values changed; another vapour pressure is another petrol of the same ethanol."""
    others = {key: value for key, value in changes.items() if key != FUEL}
    changed = car.with_values(others) if others else car
    if FUEL not in changes:
        return changed
    return changed.with_values({"fuel": car.fuel.with_vapour_pressure(changes[FUEL])})
