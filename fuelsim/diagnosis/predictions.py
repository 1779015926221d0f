"""What every gauge would show under each cause: one batched solution for all readings and all sizes of all causes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fuelsim.declaration import declarations
from fuelsim.diagnosis.causes import Cause, Effect
from fuelsim.diagnosis.readings import Reading, quantity_named
from fuelsim.errors import InputError
from fuelsim.studies.uncertain_inputs import UncertainInput, uncertain_inputs
from fuelsim.system.conditions import Conditions
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, Given, PointArray

__all__ = ["Column", "Predictor", "tolerances_of"]


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
        ((Effect(key='pump_wear', how='added'), 0.2),)
        """
        effects = tuple((effect, float(size)) for cause, size in causes for effect in cause.effects)
        changes = tuple(item for cause, _ in causes for item in cause.changes.items())
        return cls(effects, changes)

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
        ((Effect(key='wire.other', how='set'), 0.1),)
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
        of_changes: dict[tuple[tuple[str, Given], ...], list[int]] = {}
        for number, column in enumerate(columns):
            of_changes.setdefault(column.changes, []).append(number)
        for changes, numbers in of_changes.items():
            for own, rows in self._groups.items():
                part = self._solved(dict(own) | dict(changes), rows, [columns[number] for number in numbers])
                shown[np.ix_(rows, numbers)] = part
        return shown

    def _solved(self, changes: Mapping[str, Given], rows: Sequence[int], columns: Sequence[Column]) -> FloatArray:
        """Return the predictions of some readings under causes that share what is no number."""
        system = self.system
        if changes:
            system = System(system.car.with_values(dict(changes)), system.layout, system.fuel_in_tank)
        points: dict[tuple[tuple[str, object], ...], int] = {}
        place = [points.setdefault(_point(self.readings[row]), len(points)) for row in rows]
        names = {name for point in points for name, _ in point}
        given = {name: [dict(point).get(name) for point in points] for name in names}
        conditions = system.filled(_conditions(given))
        if conditions.vapour_space_pressure is None:
            at_rest = system.solve(conditions).gauge_pressure[system.plumbing.vessel]
            conditions = conditions.with_values({"vapour_space_pressure": at_rest})
        settings, ratings = _with_effects(system, conditions, columns)
        car = system.car.with_values(ratings) if ratings else system.car
        run = System(car, system.layout, system.fuel_in_tank).solve(conditions.with_values(settings))
        shape, shown = (len(points), len(columns)), []
        for row, point in zip(rows, place, strict=True):
            quantity = quantity_named(self.readings[row].quantity, system)
            shown.append(np.broadcast_to(quantity.of(system, run), shape)[point])
        return np.stack(shown)


def _point(reading: Reading) -> tuple[tuple[str, object], ...]:
    return tuple(sorted(reading.at.items()))


def _conditions(given: Mapping[str, list[object]]) -> Conditions:
    """Return conditions (points, 1) from what readings give; what one of them leaves out is the car's own."""
    values: dict[str, FloatArray] = {"rpm": np.zeros((1, 1))}
    for name, listed in given.items():
        if any(value is None for value in listed):
            accepted = f"'{name}' at every reading, or at none"
            raise InputError(f"readings with and without '{name}'", accepted=accepted, key="readings")
        values[name] = np.array([declarations(Conditions)[name].to_si(value) for value in listed], dtype=float)[:, None]
    return Conditions(rpm=0.0).with_values(values)


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
                wide[:, number] = _changed(wide[:, number], effect.how, size)
                settings[effect.key] = wide
            else:
                if effect.key not in ratings:
                    base = float(system.car.value_of(effect.key) or 0.0)  # type: ignore[arg-type]  # a quantity, by its key
                    ratings[effect.key] = np.full(len(columns), base)
                ratings[effect.key][number] = _changed(ratings[effect.key][number], effect.how, size)
    return settings, ratings


def _changed(own: FloatArray, how: str, size: float) -> FloatArray:
    if how == "added":
        return np.asarray(own + size)
    return np.asarray(own * size if how == "times" else np.full(np.shape(own), size))


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
    return tuple(made)
