"""Operating conditions: what the driver, the weather and the alternator do at each operating point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, declarations, quantity
from fuelsim.typing import FloatLike, Given, PointArray

__all__ = ["Conditions"]


@dataclass(frozen=True)
class Conditions(Ratings):
    """Operating conditions; every value is a number or an array, and all broadcast like numpy.

    Attributes
    ----------
    rpm : float or array
        Engine speed, revolutions per minute.
    load : float or array
        Fraction of the full-load air charge at that speed; 0 is a closed throttle, where the idle flow is burnt.
    tank_temperature, air_temperature : float, array or None
        K; None takes the car's own value.
    altitude : float, array or None
        m above sea level, standard atmosphere; None takes the car's own value.
    supply_voltage : float, array or None
        V at the battery or alternator, None for the car's own value.
    vehicle_speed : float or array
        m/s; 0 is a car that stands, in traffic or idling.
    pump_duty : float or array
        Share of the time the pump is switched on.
    pump_wear : float or array
        Share of its flow that the pump has lost at every pressure; negative for one better than its table.
    filter_clogging : float, array or None
        Multiplies the viscous resistance of the filter after the pump, 1 is clean; None takes the car's own value.
    vapour_space_pressure : float, array or None
        Pa above the atmosphere in the tank; None takes the car's own value.
    bay_temperature, underfloor_temperature : float, array or None
        K; None follows from the air temperature and the car's own rises.

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
        "fraction", "Fraction of the full-load air charge at that speed.", least=0.0, most=1.0, default=1.0
    )
    tank_temperature: Quantity = quantity(
        "temperature", "Fuel in the tank.", least=233.15, most=373.15, default=None, example="45 degC"
    )
    air_temperature: Quantity = quantity(
        "temperature", "Ambient air.", least=223.15, most=333.15, default=None, example="35 degC"
    )
    altitude: Quantity = quantity(
        "altitude", "Height above sea level.", least=-450.0, most=6000.0, default=None, example="600 m"
    )
    supply_voltage: Quantity = quantity(
        "voltage", "Voltage of battery or alternator.", least=0.0, most=60.0, default=None, example="13.5 V"
    )
    vehicle_speed: Quantity = quantity(
        "speed", "Speed of the car: how much air passes tank and lines.", least=0.0, most=120.0, default=0.0
    )
    pump_duty: Quantity = quantity(
        "fraction", "Share of the time the pump is switched on by its controller.", least=0.05, most=1.0, default=1.0
    )
    pump_wear: Quantity = quantity(
        "fraction", "Share of its flow that the pump has lost.", least=-0.3, most=0.95, default=0.0, example="10 %"
    )
    filter_clogging: Quantity = quantity(
        "number", "Multiplies the filter's viscous resistance; 1 is clean.", least=1.0, most=1e6, default=None
    )
    vapour_space_pressure: Quantity = quantity(
        "pressure difference", "Pressure in the tank above the atmosphere.", least=-60e3, most=60e3, default=None
    )
    bay_temperature: Quantity = quantity(
        "temperature", "Air in the engine bay.", least=223.15, most=473.15, default=None, example="80 degC"
    )
    underfloor_temperature: Quantity = quantity(
        "temperature", "Air under the floor.", least=223.15, most=423.15, default=None, example="55 degC"
    )
    axes: tuple[str, ...] = field(default=(), repr=False)

    def check(self) -> None:
        """Raise InputError, naming two inputs, where shapes do not broadcast."""
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

    @classmethod
    def grid(cls, **axes: Given) -> Conditions:
        """Return the outer product of named axes; the shape follows the order in which they are given.

        Parameters
        ----------
        **axes
            Values for the attributes of `Conditions`, each a number or a one-dimensional list.

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

    def filled(self, defaults: Mapping[str, FloatLike]) -> Conditions:
        """Return a copy in which every None is replaced by the value of that name in `defaults`."""
        values = {item.name: getattr(self, item.name) for item in fields(self)}
        for name, value in values.items():
            if value is None:
                values[name] = defaults.get(name)
        return Conditions(**values)

    def spread(self, shape: tuple[int, ...]) -> Conditions:
        """Return a copy whose batch of operating points has a larger shape."""
        return self if shape == self.shape else replace(self, rpm=np.broadcast_to(self.rpm, shape))

    def points(self) -> dict[str, PointArray]:
        """Return each condition as a flat array with one entry per operating point."""
        shape = self.shape
        return {
            name: np.broadcast_to(np.asarray(getattr(self, name), dtype=float), shape).reshape(-1)
            for name in declarations(type(self))
            if getattr(self, name) is not None
        }
