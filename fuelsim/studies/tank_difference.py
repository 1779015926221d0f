"""How much warmer a return makes the tank than a returnless layout, and what an input would have to be for more of it.

Conversions are said to gain 5 to 10 K by a returnless layout; one input at a time is changed until a drive shows that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.car.climate import Climate
from fuelsim.errors import InputError, nearest
from fuelsim.interruption import whole
from fuelsim.numerics.bracket import illinois
from fuelsim.shown import Shown
from fuelsim.transients.drive import drive
from fuelsim.transients.drive_results import Drive
from fuelsim.transients.schedule import Schedule
from fuelsim.typing import FloatArray, Given, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd


__all__ = ["NeededInput", "TankDifference", "tank_difference"]

_TARGETS = number("temperature difference", 0.01, 100.0, example="5 K", flat=True)
TARGETS = (5.0, 10.0)
"""Differences that conversions are said to bring, K [common_practice]."""
_GRID = 5
"""Values at which an input is tried on either side of its own before its crossing is bisected."""
_STEPS = 12
"""Greatest number of values tried between two of them."""
TOLERANCE = 0.02
"""Error of the difference at an input that is told, K, or of the input as a share of the distance between two tried."""


class _Tried(NamedTuple):
    """Both cars, the first with the return, and the share of time that the pump of the second is switched on."""

    returned: Car
    returnless: Car
    pump_duty: float


class _Input(NamedTuple):
    """An input that is tried: kind of its unit, least and most, its own value, and the cars with another value."""

    name: str
    kind: str
    least: float
    most: float
    own: float
    tried: Callable[[float], _Tried]


@dataclass(frozen=True)
class NeededInput:
    """What one input would have to be.

    Attributes
    ----------
    name : str
        The input, by its key in a car file or in words.
    kind : str
        Kind of its unit, a name of `units.KINDS`.
    own : float
        Its value in the car, SI.
    least, most : float
        Range in which it was tried, SI.
    difference_at_least, difference_at_most : float
        Difference of the tanks at the ends of that range, K.
    needed : dict of float to float
        Value at each target, the one nearest to its own, SI; NaN where none in the range brings it.
    """

    name: str
    kind: str
    own: float
    least: float
    most: float
    difference_at_least: float
    difference_at_most: float
    needed: dict[float, float]


@dataclass(frozen=True)
class TankDifference(Shown):
    """Two layouts of one car over one drive, and what would make their tanks differ more.

    Attributes
    ----------
    drives : tuple of Drive
        With the return, and without.
    inputs : list of NeededInput
        One per input tried.
    """

    drives: tuple[Drive, Drive]
    inputs: list[NeededInput]

    @property
    def headline(self) -> str:
        """Return by how much the tanks differ."""
        returned, returnless = self.drives
        warmer = shown(self.difference, "temperature difference", digits=2)
        return f"tank {warmer} warmer with '{returned.layout}' than with '{returnless.layout}'"

    @property
    def difference(self) -> float:
        """Temperature by which the tank with the return ends warmer, K."""
        returned, returnless = self.drives
        return float(returned.tank_temperature[-1] - returnless.tank_temperature[-1])

    def heat_table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return where the heat of both drives came from and went, as `Drive.heat_table`.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame
            One row per source of heat.

        Examples
        --------
        >>> import fuelsim as fs
        >>> from fuelsim.transients.schedule import typical_phase
        >>> car = fs.Car.named("finch")
        >>> result = tank_difference(car, Schedule.of([typical_phase("jam", "10 min", car)]), inputs=[])
        >>> list(result.heat_table().columns[::2])
        ['return_kJ', 'returnless_tank_kJ']
        """
        return self.drives[0].heat_table(self.drives[1], units=units)

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per input: what it is, what it would have to be, and how far it reaches in its range.

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
        >>> car = fs.Car.named("finch")
        >>> jam = fs.Schedule.of([fs.typical_phase("jam", "10 min", car)])
        >>> len(fs.tank_difference(car, jam, inputs=[]).table("US workshop"))
        0
        """
        return opener.tank_difference_table(self, units)


@takes()
def tank_difference(
    car: Car,
    schedule: Schedule,
    *,
    layouts: tuple[str, str] = ("return", "returnless_tank"),
    targets: Sequence[Given] = TARGETS,
    inputs: Sequence[str] | None = None,
    climate: Climate | None = None,
    tank_temperature: Given | None = None,
) -> TankDifference:
    """Return by how much a tank with a return ends warmer, and what one input would have to be for some difference.

    Tried are, one at a time: the rise of the bay's air at rest, the rail's conductance to the engine's metal and to the
    bay's air, the tank's conductance to the air, the current of the pump in both layouts (and so its heat; the drop in
    its wire grows too), and the share of the time that the pump of the returnless layout is switched on.

    Parameters
    ----------
    car : Car
        With one rail and one pump in tables of their own.
    schedule : Schedule
        The drive.
    layouts : tuple of str
        The layout with the return, and the one without.
    targets : sequence of float or str
        Differences of the tanks at the end of the drive, K.
    inputs : sequence of str, optional
        Names of the inputs to try, as in the table; all, if left out.
    climate : Climate, optional
        Weather of the day; the car's own air temperature if left out.
    tank_temperature : float or str, optional
        Temperature of the fuel at the start, K; that of the air if left out.

    Returns
    -------
    TankDifference

    Raises
    ------
    InputError
        For an unknown layout or input, or a start above the fuel's boiling point.

    Notes
    -----
    Each input is tried at five values on either side of its own; between the two nearest ones that hold a target,
    regula falsi finds it. A tank that boils cannot become warmer: where both do, no input makes a difference.

    Examples
    --------
    A jam of ten minutes makes little difference, whatever the bay does:

    >>> import fuelsim as fs
    >>> from fuelsim.transients.schedule import typical_phase
    >>> car = fs.Car.named("finch")
    >>> jam = Schedule.of([typical_phase("jam", "10 min", car)])
    >>> result = tank_difference(car, jam, targets=["10 K"], inputs=["surroundings.bay_rise"])
    >>> bool(abs(result.difference) < 1.0), bool(result.table()["at_10_K"].isna().all())
    (True, True)
    """
    if len(layouts) != 2:
        raise InputError("not two layouts", given=layouts, accepted="two", part="tank_difference", key="layouts")
    if len(targets) == 0:
        raise InputError(
            "no targets", accepted="differences, as ['5 K', '10 K']", part="tank_difference", key="targets"
        )
    known = {item.name: item for item in _inputs(car)}
    for name in inputs or ():
        if name not in known:
            raise InputError("no such input", given=name, accepted=nearest(name, known), part="tank_difference")
    chosen = list(known.values()) if inputs is None else [known[name] for name in inputs]
    wanted = np.atleast_1d(_TARGETS.to_si(list(targets))).tolist()

    def driven(tried: _Tried) -> tuple[Drive, Drive]:
        switched = replace(
            schedule, phases=tuple(phase.with_values({"pump_duty": tried.pump_duty}) for phase in schedule.phases)
        )
        cars, schedules = (
            (tried.returned, tried.returnless),
            (schedule, schedule if tried.pump_duty == 1.0 else switched),
        )
        returned, returnless = (
            whole(drive(one, layout, each, climate=climate, tank_temperature=tank_temperature, output_step="10 min"))
            for one, layout, each in zip(cars, layouts, schedules, strict=True)
        )
        return returned, returnless

    def difference(tried: _Tried) -> float:
        return TankDifference(driven(tried), []).difference

    base = driven(_Tried(car, car, 1.0))
    here = TankDifference(base, []).difference
    return TankDifference(base, [_needed(item, here, wanted, difference) for item in chosen])


def _inputs(car: Car) -> list[_Input]:
    """Return the inputs that are tried."""
    inputs = []

    def add(key: str, kind: str, least: float, most: float, own: float) -> None:
        def tried(value: float) -> _Tried:
            changed = car.with_values({key: value})
            return _Tried(changed, changed, 1.0)

        inputs.append(_Input(key, kind, least, most, own, tried))

    add("surroundings.bay_rise", "temperature difference", 0.0, 120.0, float(car.surroundings.bay_rise))
    if car.rail is not None:
        engine, air = float(car.rail.engine_conductance), float(car.rail.air_conductance)
        add("rail.engine_conductance", "heat conductance", 0.0, 20.0, engine)
        add("rail.air_conductance", "heat conductance", 0.0, 20.0, air)
    add("tank.heat_conductance", "heat conductance", 0.0, 60.0, float(car.tank.heat_conductance))
    pump = car.pump
    if pump is not None:
        current = np.asarray(pump.current, dtype=float)

        def with_current(factor: float) -> _Tried:
            changed = car.with_values({"pump.current": (factor * current).tolist()})
            return _Tried(changed, changed, 1.0)

        inputs.append(_Input("pump.current times", "number", 0.3, 4.0, 1.0, with_current))
        inputs.append(
            _Input("pump_duty without return", "fraction", 0.2, 1.0, 1.0, lambda share: _Tried(car, car, share))
        )
    return inputs


def _needed(item: _Input, here: float, targets: Sequence[float], difference: Callable[[_Tried], float]) -> NeededInput:
    """Return the values of an input at which the difference reaches each target."""
    below = np.linspace(item.own, item.least, _GRID + 1) if item.own > item.least else np.array([item.own])
    above = np.linspace(item.own, item.most, _GRID + 1) if item.own < item.most else np.array([item.own])
    known: dict[float, float] = {item.own: here}

    def at(value: float) -> float:
        if value not in known:
            known[value] = difference(item.tried(value))
        return known[value]

    needed = {target: _nearest_crossing(item.own, (below, above), target, at) for target in targets}
    return NeededInput(
        name=item.name,
        kind=item.kind,
        own=item.own,
        least=float(below[-1]),
        most=float(above[-1]),
        difference_at_least=at(float(below[-1])),
        difference_at_most=at(float(above[-1])),
        needed=needed,
    )


def _nearest_crossing(
    own: float, sides: tuple[FloatArray, FloatArray], target: float, at: Callable[[float], float]
) -> float:
    """Return the value nearest to an input's own at which the difference crosses a target; NaN for none."""
    found = []
    for values in sides:
        for low, high in zip(values[:-1].tolist(), values[1:].tolist(), strict=True):
            first, last = at(low) - target, at(high) - target
            if np.isfinite(first + last) and first * last <= 0.0:
                found.append(_crossing(low, high, _rising(at, target, 1.0 if last > first else -1.0)))
                break
    return min(found, key=lambda value: abs(value - own), default=np.nan)


def _rising(at: Callable[[float], float], target: float, sign: float) -> Callable[[float], float]:
    """Return the difference above a target, turned so that it rises."""
    return lambda value: sign * (at(value) - target)


def _crossing(low: float, high: float, rising: Callable[[float], float]) -> float:
    """Return where a rising function of a value between two others is zero."""

    def over_positions(position: FloatArray) -> FloatArray:
        return np.array([rising(low + share * (high - low)) for share in position.tolist()])

    ends = np.zeros(1), np.ones(1)
    position = illinois(over_positions, *ends, steps=_STEPS, tolerance=TOLERANCE)
    return low + float(position[0]) * (high - low)
