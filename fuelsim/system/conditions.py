"""Operating conditions: what the driver, the weather and the alternator do at each operating point."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace

import numpy as np

from fuelsim.arguments import takes
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest, shortened
from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.typing import FloatArray, Given, PointArray

__all__ = ["CONDITIONS", "MOST_POINTS", "ONE_CONDITION", "STAGINGS", "Conditions"]

MOST_POINTS = 500_000
"""Operating points of one call."""
STAGINGS = ("rising", "falling")
"""Histories of pumps that are staged."""


@dataclass(frozen=True)
class Conditions(Ratings):
    """Operating conditions; every value is a number or an array, and all broadcast like numpy.

    Raises
    ------
    InputError
        For values of another kind, outside their plausible range, or shapes that do not broadcast.

    Examples
    --------
    >>> Conditions(rpm=[1000, 2000], tank_temperature="45 degC").shape
    (2,)
    >>> Conditions.grid(rpm=[1000, 2000, 3000], tank_temperature=["20 degC", "45 degC"]).shape
    (3, 2)
    """

    rpm: Quantity = quantity("engine speed", "Engine speed.", least=0.0, most=25_000.0, example="5400 rpm")
    load: Quantity = quantity(
        "fraction",
        "Fraction of the full-load air charge at that speed; at 0 the throttle is closed and the idle flow is burnt.",
        least=0.0,
        most=1.0,
        default=1.0,
    )
    tank_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the fuel in the tank; left out, the car's own.",
        least=233.15,
        most=373.15,
        default=None,
        example="45 degC",
    )
    air_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the ambient air; left out, the car's own.",
        least=223.15,
        most=333.15,
        default=None,
        example="35 degC",
    )
    altitude: Quantity = quantity(
        "altitude",
        "Altitude above sea level, in the standard atmosphere; left out, the car's own.",
        least=-450.0,
        most=6000.0,
        default=None,
        example="600 m",
    )
    supply_voltage: Quantity = quantity(
        "voltage",
        "Voltage of battery or alternator; left out, the car's own.",
        least=0.0,
        most=60.0,
        default=None,
        example="13.5 V",
    )
    vehicle_speed: Quantity = quantity(
        "speed",
        "Speed of the car, which decides how much air passes tank and lines; 0 is a car at rest, in traffic or idling.",
        least=0.0,
        most=120.0,
        default=0.0,
    )
    pump_duty: Quantity = quantity(
        "fraction", "Share of the time the pump is switched on by its controller.", least=0.05, most=1.0, default=1.0
    )
    pump_wear: Quantity = quantity(
        "fraction",
        "Share of its flow at a third of its dead-head pressure that the pump loses through worn clearances; negative "
        "for one better than its table at every pressure.",
        least=-0.3,
        most=0.95,
        default=0.0,
        example="10 %",
    )
    fuel_demand: Quantity = quantity(
        "fraction",
        "Share of the fuel by its ratings that the engine asks for.",
        least=0.2,
        most=3.0,
        default=1.0,
        example="110 %",
    )
    filter_clogging: Quantity = quantity(
        "number",
        "Factor on the viscous resistance of the filter after the pump, 1 clean; left out, the car's own.",
        least=1.0,
        most=1e6,
        default=None,
    )
    vapour_space_pressure: Quantity = quantity(
        "pressure difference",
        "Pressure of the tank's vapour space above the atmosphere; left out, the car's own.",
        least=-60e3,
        most=60e3,
        default=None,
    )
    bay_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the air in the engine bay; left out, by the air temperature and the car's own rise.",
        least=223.15,
        most=473.15,
        default=None,
        example="80 degC",
    )
    underfloor_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the air under the floor; left out, by the air temperature and the car's own rise.",
        least=223.15,
        most=423.15,
        default=None,
        example="55 degC",
    )
    engine_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the engine's metal and coolant; left out, the car's own.",
        least=223.15,
        most=423.15,
        default=None,
        example="-20 degC",
    )
    axes: tuple[str, ...] = field(
        default=(), repr=False, metadata={"doc": "Names of the axes of the batch, in order, as `grid` sets them."}
    )

    staging: str = field(
        default="rising",
        metadata={
            "doc": "History of pumps that are staged, which decides between their thresholds: 'rising', off until what"
            " switches them on, or 'falling', on until what switches them off."
        },
    )

    def check(self) -> None:
        """Raise InputError, naming two inputs, where shapes do not broadcast."""
        if self.staging not in STAGINGS:
            raise InputError(
                "no history of staged pumps",
                given=self.staging,
                accepted=nearest(str(self.staging), STAGINGS),
                key="staging",
            )
        given = [(name, np.shape(getattr(self, name))) for name in declarations(type(self))]
        for index, (name, shape) in enumerate(given):
            for other, other_shape in given[:index]:
                try:
                    np.broadcast_shapes(shape, other_shape)
                except ValueError:
                    raise InputError(
                        f"{other} of shape {other_shape} and {name} of shape {shape} do not broadcast",
                        accepted="equal lengths, or Conditions.grid(...) for every combination",
                        key=name,
                    ) from None
        points = math.prod(self.shape)
        if points > MOST_POINTS:
            accepted = f"at most {MOST_POINTS:,} in one call; ask for fewer values on an axis, or for some at a time"
            raise InputError("too many operating points", given=f"{points:,}", accepted=accepted)

    @classmethod
    def grid(cls, **axes: Given) -> Conditions:
        """Return the outer product of named axes; the shape follows the order in which they are given.

        Parameters
        ----------
        **axes : float, str or list of these
            Values for the parameters of `Conditions`, in their units, each a number or a one-dimensional list.

        Returns
        -------
        Conditions

        Raises
        ------
        InputError
            For an unknown axis, with the nearest known one.
        """
        known = declarations(cls)
        for name in axes:
            if name not in known:
                raise InputError("unknown axis", given=name, accepted=nearest(name, known), part="Conditions.grid")
        long: list[str] = []
        values: dict[str, Quantity] = {}
        for name, value in axes.items():
            try:
                values[name] = known[name].convert(value)
            except InputError as error:
                raise error.at(part="Conditions", key=name) from None
            if np.ndim(values[name]) > 1:
                raise InputError("an axis has one dimension", given=value, part="Conditions.grid", key=name)
            if np.ndim(values[name]) == 1:
                long.append(name)
        for position, name in enumerate(long):
            shape = [1] * len(long)
            shape[position] = -1
            values[name] = np.reshape(values[name], shape)
        return cls(axes=tuple(long), **values)

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the batch of operating points."""
        return np.broadcast_shapes(*(np.shape(getattr(self, name)) for name in declarations(type(self))))

    @takes()
    def filled(self, defaults: Mapping[str, Given]) -> Conditions:
        """Return a copy in which every condition that was left out has a default.

        Parameters
        ----------
        defaults : mapping of str to object
            Values by the name of the condition; one that is not among them stays left out.

        Returns
        -------
        Conditions

        Raises
        ------
        InputError
            For a name that is no condition.
        """
        for name in defaults:
            if name not in CONDITIONS:
                raise InputError("no such condition", accepted=nearest(name, CONDITIONS), key=shortened(name))
        values = {item.name: getattr(self, item.name) for item in fields(self)}
        for name, value in values.items():
            if value is None:
                values[name] = defaults.get(name)
        return Conditions(**values)

    @takes()
    def spread(self, shape: tuple[int, ...]) -> Conditions:
        """Return a copy whose batch of operating points has a larger shape.

        Parameters
        ----------
        shape : tuple of int
            The shape, to which the present one broadcasts.

        Returns
        -------
        Conditions

        Raises
        ------
        InputError
            For a shape to which it does not broadcast.
        """
        if shape == self.shape:
            return self
        try:
            return replace(self, rpm=np.broadcast_to(self.rpm, shape))
        except ValueError as error:
            if isinstance(error, InputError):
                raise
            accepted = f"a shape to which {self.shape} broadcasts"
            raise InputError("no such shape", given=shape, accepted=accepted, part="Conditions", key="shape") from None

    def points(self) -> dict[str, PointArray]:
        """Return each condition as a flat array with one entry per operating point.

        Returns
        -------
        dict of str to array (points,)
            In SI, by the name of the condition; those that were left out are missing.
        """
        shape = self.shape
        return {name: np.broadcast_to(values, shape).reshape(-1) for name, values in self.given.items()}

    @property
    def given(self) -> dict[str, FloatArray]:
        """Each condition that was not left out, in SI, by its name; as given, not broadcast."""
        return {
            name: np.asarray(value, dtype=float)
            for name in declarations(type(self))
            if (value := getattr(self, name)) is not None
        }


CONDITIONS = {name: replace(item, optional=True) for name, item in declarations(Conditions).items()}
ONE_CONDITION = {name: replace(item, single=True) for name, item in CONDITIONS.items()}
"""Declarations of the conditions as arguments that may be left out; the latter take one value and no list."""
