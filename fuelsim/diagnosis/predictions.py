"""What every gauge would show under each cause: one batched solution for all readings and all sizes of all causes."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from fuelsim.band import Band
from fuelsim.constants import ZERO_CELSIUS
from fuelsim.declaration import declarations
from fuelsim.diagnosis.causes import HOT, Cause, Effect
from fuelsim.diagnosis.leaks import LEAKS, left_after, pressure_left
from fuelsim.diagnosis.readings import Reading, quantity_named
from fuelsim.errors import InputError
from fuelsim.sources import cite
from fuelsim.studies.uncertain_inputs import UncertainInput, uncertain_inputs
from fuelsim.studies.uncertainty_samples import with_ratings
from fuelsim.system.conditions import Conditions
from fuelsim.system.heat_exchange import air_around
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, Given, PointArray

__all__ = ["Column", "Predictor", "tolerances_of"]

COOL = ZERO_CELSIUS + 20.0
"""Temperature at which a gauge was made to show right, K."""


@dataclass(frozen=True)
class Column:
    """Effects of some causes at given sizes: one column of predictions.

    Attributes
    ----------
    effects : tuple of (Effect, float)
        What is changed, and by what size.
    changes : tuple of (str, value)
        Keys that are not numbers.
    """

    effects: tuple[tuple[Effect, float], ...] = ()
    changes: tuple[tuple[str, Given], ...] = ()

    @classmethod
    def of(cls, causes: Sequence[tuple[Cause, float]]) -> Column:
        """Return the column of some causes at their sizes.

        Parameters
        ----------
        causes : list of (Cause, float)

        Returns
        -------
        Column

        Examples
        --------
        >>> worn = Cause("worn", "flow lost", "fraction", 0.0, 0.6, 0.0, (Effect("pump_wear", "added"),))
        >>> Column.of([(worn, 0.2)]).effects
        ((Effect(key='pump_wear', how='added', amount=0.0), 0.2),)
        """
        effects = tuple((effect, float(size)) for cause, size in causes for effect in cause.effects)
        changes = tuple(item for cause, _ in causes for item in cause.changes.items())
        return cls(effects, changes)

    def without(self, keys: Collection[str]) -> Column:
        """Return the column without its effects on some keys.

        Parameters
        ----------
        keys : collection of str

        Examples
        --------
        >>> Column(((Effect("pump_wear", "added"), 0.2),)).without(["pump_wear"])
        Column(effects=(), changes=())
        """
        return Column(tuple(item for item in self.effects if item[0].key not in keys), self.changes)

    @classmethod
    def of_input(cls, item: UncertainInput, share: float) -> Column:
        """Return the column of an input at a share of its distribution.

        Parameters
        ----------
        item : UncertainInput
        share : float
            From 0 to 1.

        Returns
        -------
        Column

        Examples
        --------
        >>> from fuelsim.band import Band
        >>> wire = UncertainInput("wire", "resistance", {"wire.other": Band(0.0, 0.1, 0.2)})
        >>> Column.of_input(wire, 0.5).effects
        ((Effect(key='wire.other', how='set', amount=0.0), 0.1),)
        """
        how = "added" if item.added else "set"
        return cls(tuple((Effect(key, how), float(value[0])) for key, value in item.at(share).items()))


@dataclass(frozen=True)
class Predictor:
    """Predicts readings of one car.

    Attributes
    ----------
    system : System
        The car in its layout, as it should be.
    readings : tuple of Reading
        Their values do not matter.
    """

    system: System
    readings: tuple[Reading, ...]

    @cached_property
    def _groups(self) -> dict[tuple[tuple[str, Given], ...], list[int]]:
        """Numbers of the readings by what was changed for them."""
        groups: dict[tuple[tuple[str, Given], ...], list[int]] = {}
        for number, reading in enumerate(self.readings):
            if number in self._left:
                continue
            groups.setdefault(tuple(sorted(reading.changes.items(), key=lambda item: item[0])), []).append(number)
        return groups

    def predict(self, columns: Sequence[Column]) -> FloatArray:
        """Return what the gauges would show, without their own faults.

        Parameters
        ----------
        columns : list of Column

        Returns
        -------
        array (readings, columns)
            SI; NaN where a point does not solve.

        Examples
        --------
        >>> from fuelsim.car.car import Car
        >>> readings = (Reading("rail_pressure", 3e5, at={"rpm": 3000}),)
        >>> predictor = Predictor(Car.named("finch").system("return"), readings)
        >>> predictor.predict([Column()]).round(-4).tolist()
        [[310000.0]]
        """
        shown = np.empty((len(self.readings), len(columns)))
        self._after_the_stop(columns, shown)
        steady = [column.without(LEAKS) for column in columns]
        alone = list(dict.fromkeys(steady))
        of_alone = self._running(alone)
        rows = [row for row in range(len(self.readings)) if row not in self._left]
        shown[rows] = of_alone[rows][:, [alone.index(column) for column in steady]]
        return shown

    @cached_property
    def _left(self) -> list[int]:
        """Numbers of the readings of the pressure left after a stop."""
        return [row for row, reading in enumerate(self.readings) if left_after(reading.quantity) is not None]

    def _after_the_stop(self, columns: Sequence[Column], shown: FloatArray) -> None:
        """Fill in the readings of the pressure left after a stop; what only moves the running car moves none."""
        if not self._left:
            return
        # Without flow a regulator's droop does not matter.
        held = {
            f"{holder.table}.{key}" for holder in self.system.plumbing.holders for key in ("set_pressure", "reference")
        }
        moved = held | set(LEAKS)
        found: dict[Column, FloatArray] = {}
        for number, column in enumerate(columns):
            moving = Column(
                tuple(item for item in column.effects if item[0].key in moved),
                tuple(item for item in column.changes if item[0] in moved),
            )
            if moving not in found:
                found[moving] = self._left_with(moving)
            shown[self._left, number] = found[moving]

    def _left_with(self, column: Column) -> FloatArray:
        values: dict[str, float] = {}
        for effect, size in column.effects:
            own = LEAKS[effect.key] if effect.key in LEAKS else float(self.system.car.value_of(effect.key) or 0.0)  # type: ignore[arg-type]  # a quantity, by its key
            values[effect.key] = float(effect.changed(values.get(effect.key, own), size))
        return pressure_left(
            self.system, [self.readings[row].quantity for row in self._left], dict(column.changes), values
        )

    def _running(self, columns: Sequence[Column]) -> FloatArray:
        """Return what the gauges show of a running car; NaN for readings after a stop."""
        shown = np.full((len(self.readings), len(columns)), np.nan)
        alike: dict[tuple[tuple[tuple[str, Given], ...], bool], list[int]] = {}
        asked = [self._apart(column) for column in columns]
        for number, column in enumerate(asked):
            # Another fuel is a petrol of that ethanol, which a fuel by name need not be quite: on its own.
            other_fuel = any(effect.key.startswith("fuel.") for effect, _ in column.effects)
            alike.setdefault((column.changes, other_fuel), []).append(number)
        for (changes, _), numbers in alike.items():
            for own, rows in self._groups.items():
                part = self._solved(dict(own) | dict(changes), rows, [asked[number] for number in numbers])
                shown[np.ix_(rows, numbers)] = part
        return shown

    def warmth(self) -> PointArray:
        """Return how far the engine bay is above 20 degC at each reading, at least 0, over `HOT`, (readings,)."""
        count, place, conditions = _points(self.system, self.readings)
        bay = np.broadcast_to(np.asarray(_own(self.system, conditions, "bay_temperature")), (count, 1))[:, 0]
        return np.maximum(bay[place] - COOL, 0.0) / HOT

    def _apart(self, column: Column) -> Column:
        """Return a column with its effects on bench rows, which cannot be lists over points, among its changes."""
        effects, changes = [], list(column.changes)
        for effect, size in column.effects:
            own = None if effect.key in declarations(Conditions) else self.system.car.value_of(effect.key)
            if np.ndim(own) == 0:  # type: ignore[arg-type]  # a quantity, by its key
                effects.append((effect, size))
            else:
                rows = effect.changed(np.asarray(own, dtype=float), size)
                changes.append((effect.key, tuple(rows.tolist())))
        return Column(tuple(effects), tuple(changes))

    def _solved(self, changes: Mapping[str, Given], rows: Sequence[int], columns: Sequence[Column]) -> FloatArray:
        """Return the predictions of some readings under causes that share what is no number."""
        system = self.system
        if changes:
            # Bench rows are one value of a car, as lists.
            whole = {key: list(value) if isinstance(value, tuple) else value for key, value in changes.items()}
            system = System(system.car.with_values(whole), system.layout, system.fuel_in_tank)
        count, place, conditions = _points(system, [self.readings[row] for row in rows])
        if conditions.vapour_space_pressure is None:
            at_rest = system.solve(conditions).gauge_pressure[system.plumbing.vessel]
            conditions = conditions.with_values({"vapour_space_pressure": at_rest})
        settings, ratings = _with_effects(system, conditions, columns)
        run = with_ratings(system, ratings).solve(conditions.with_values(settings))
        shape, shown = (count, len(columns)), []
        for row, point in zip(rows, place, strict=True):
            quantity = quantity_named(self.readings[row].quantity, system)
            shown.append(np.broadcast_to(quantity.of(system, run), shape)[point])
        return np.stack(shown)


class _Points(NamedTuple):
    """Operating points of readings, their number, the one of each reading, and their conditions (points, 1)."""

    number: int
    place: list[int]
    conditions: Conditions


def _points(system: System, readings: Sequence[Reading]) -> _Points:
    """Return the operating points of readings; what one of them leaves out is the car's own."""
    points: dict[tuple[tuple[str, object], ...], int] = {}
    place = [points.setdefault(tuple(sorted(reading.at.items())), len(points)) for reading in readings]
    at = [dict(point) for point in points]
    values: dict[str, FloatArray] = {"rpm": np.zeros((len(at), 1))}
    names = {name for point in at for name in point}
    for name in sorted(names, key=lambda name: any(name not in point for point in at)):
        declared = declarations(Conditions)[name]
        if any(name not in point for point in at):
            filled = _own(system, Conditions(rpm=0.0).with_values(values), name)
            if filled is None:
                accepted = f"'{name}' at every reading, or at none"
                raise InputError(f"readings with and without '{name}'", accepted=accepted, key="readings")
            own = np.broadcast_to(filled, (len(at), 1))[:, 0]
        else:
            own = np.zeros(len(at))
        values[name] = np.array(
            [declared.to_si(point[name]) if name in point else own[row] for row, point in enumerate(at)], dtype=float
        )[:, None]
    return _Points(len(at), place, system.filled(Conditions(rpm=0.0).with_values(values)))


def _own(system: System, conditions: Conditions, name: str) -> FloatArray | None:
    """Return a condition as given, or the car's own; None where it has none."""
    filled = system.filled(conditions)
    given = getattr(filled, name)
    if given is None and name in ("bay_temperature", "underfloor_temperature"):
        air = np.asarray(filled.air_temperature, dtype=float)
        tank, speed = (np.asarray(value, dtype=float) for value in (filled.tank_temperature, filled.vehicle_speed))
        given = air_around(system.car, air, tank, speed)[name.removesuffix("_temperature")]
    return None if given is None else np.asarray(given, dtype=float)


def _with_effects(
    system: System, conditions: Conditions, columns: Sequence[Column]
) -> tuple[dict[str, FloatArray], dict[str, PointArray]]:
    """Return conditions (points, columns) and ratings (columns,) that effects change."""
    names = declarations(Conditions)
    settings = conditions.given
    ratings: dict[str, PointArray] = {}
    for number, column in enumerate(columns):
        for effect, size in column.effects:
            if effect.key in names:
                own = settings.get(effect.key, np.zeros(()))
                wide = np.array(np.broadcast_to(own, np.broadcast_shapes(own.shape, (1, len(columns)))))
                wide[:, number] = effect.changed(wide[:, number], size)
                settings[effect.key] = wide
            else:
                if effect.key not in ratings:
                    base = float(system.car.value_of(effect.key) or 0.0)  # type: ignore[arg-type]  # a quantity, by its key
                    ratings[effect.key] = np.full(len(columns), base)
                ratings[effect.key][number] = effect.changed(ratings[effect.key][number], size)
    return settings, ratings


def tolerances_of(system: System) -> tuple[UncertainInput, ...]:
    """Return the tolerances of a healthy car that matter to readings while it runs on liquid fuel.

    Parameters
    ----------
    system : System

    Returns
    -------
    tuple of UncertainInput
        Those of `uncertain_inputs` but fuel, heat and vapour.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> "flow of the pump" in [item.name for item in tolerances_of(Car.named("finch").system("return"))]
    True
    """
    conditions, made = declarations(Conditions), []
    for item in uncertain_inputs(system):
        values = dict(item.values)
        clogging = values.pop("filter_clogging", None)
        if clogging is not None:
            # By the filters' own keys, beside which causes change them.
            values |= {f"{link.table}.clogging": clogging for link in system.plumbing.filters}
        values = {
            key: value
            for key, value in values.items()
            if key in conditions or (not key.startswith("fuel.") and system.car.value_of(key) is not None)
        }
        if values:
            made.append(replace(item, values=values))
    key, sound = "leak_down.check_valve_leak", LEAKS["leak_down.check_valve_leak"]
    made.append(UncertainInput("leak of a sound check valve", "volume flow", {key: Band(0.0, sound, 2.0 * sound)},
                               cite("assumed"), "pressure left 20 min after a stop"))  # fmt: skip
    return tuple(made)
