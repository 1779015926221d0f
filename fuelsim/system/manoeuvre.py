"""The car while it launches, brakes or corners: pressure along the line, fuel at the pick-up, time a pot covers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

import numpy as np

from fuelsim import units
from fuelsim.arguments import number, takes
from fuelsim.car.car import Car
from fuelsim.car.floor_plan import Plan
from fuelsim.constants import GRAVITY
from fuelsim.errors import InputError, nearest
from fuelsim.laws.tank import (
    acceleration_pressure,
    cover_time,
    tilted_level,
    uncovering_acceleration,
)
from fuelsim.shown import Shown
from fuelsim.system.run import Run
from fuelsim.typing import BoolArray, FloatLike, Given
from fuelsim.units import shown

__all__ = ["MANOEUVRES", "Manoeuvre", "manoeuvre", "pot_cover", "uncovering_accelerations"]

ManoeuvreName: TypeAlias = Literal["launch", "braking", "left", "right"]
"""A way in which the car is pushed."""
MANOEUVRES = get_args(ManoeuvreName)
"""Launch and braking, and corners to the left and to the right: the way the car is pushed."""

_SIGNS = {"launch": 1.0, "braking": -1.0, "left": 1.0, "right": -1.0}


@dataclass(frozen=True)
class Manoeuvre(Shown):
    """What a steady acceleration does; every array has the shape of the accelerations.

    Attributes
    ----------
    name : str
        One of `MANOEUVRES`.
    acceleration : float or array
        Steady acceleration, m/s2.
    tilt : float or array
        Angle of the fuel's surface to the level, rad.
    line_pressure : float or array
        Pressure lost from the pick-up to the rail beyond friction and height, Pa; negative while braking.
    pick_up_depth : float or array
        Depth of the fuel above the tank's floor at the pick-up, m.
    uncovered : bool or array
        Whether the pick-up's mouth is bare.
    """

    name: str
    acceleration: FloatLike
    tilt: FloatLike
    line_pressure: FloatLike
    pick_up_depth: FloatLike
    uncovered: bool | BoolArray

    @property
    def headline(self) -> str:
        """Return what is driven."""
        return f"{self.name} at {shown(float(np.max(self.acceleration)), 'acceleration', digits=2)}"


@takes({"acceleration": number("acceleration", -100.0, 100.0, example="0.9 g")})
def manoeuvre(car: Car, name: ManoeuvreName, acceleration: Given, *, fuel_volume: Given | None = None) -> Manoeuvre:
    """Return what a steady acceleration does to the fuel in the tank and in the line.

    Parameters
    ----------
    car : Car
        With a table ``[plan]``.
    name : str
        One of `MANOEUVRES`.
    acceleration : float, str or array
        Acceleration, m/s2, not negative, or text as in ``"0.9 g"``.
    fuel_volume : float or str, optional
        Volume of fuel in the tank, m3; the car's own, if left out.

    Returns
    -------
    Manoeuvre
        With arrays in the shape of the acceleration.

    Raises
    ------
    InputError
        Without a plan, for an unknown manoeuvre, or more fuel than the tank holds.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron").with_plan(fs.Plan(tank_length="0.8 m", rail_ahead="0.4 m"))
    >>> launch = manoeuvre(car, "launch", "1 g")
    >>> round(float(np.degrees(launch.tilt))), round(float(launch.line_pressure), -2)
    (45, 2800.0)
    """
    plan, sign, push = _plan(car), _sign(name), np.asarray(units.convert(acceleration, "acceleration"), dtype=float)
    if np.any(push < 0.0):
        raise InputError("the acceleration is negative", given=acceleration, accepted=f"one of {MANOEUVRES} instead")
    length, width, place, distance = _along(car, plan, name)
    fuel = car.fuel.fuel()
    at_rest = car.surroundings.fuel_temperature
    depth = tilted_level(_volume(car, fuel_volume), length, width, car.tank.depth, sign * place, push)
    return Manoeuvre(
        name=name,
        acceleration=push[()],
        tilt=np.arctan(push / GRAVITY)[()],
        line_pressure=acceleration_pressure(fuel.density(at_rest), push, sign * distance)[()],
        pick_up_depth=depth[()],
        uncovered=(depth <= plan.pick_up_height)[()],
    )


def uncovering_accelerations(car: Car, *, fuel_volume: Given | None = None) -> dict[str, float]:
    """Return the least steady acceleration of each manoeuvre that uncovers the pick-up, m/s2.

    Infinite where 5 g do not; a real tank with baffles holds out longer in short corners, never longer in long ones.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron").with_plan(fs.Plan(tank_length="0.8 m", pick_up_ahead="0.3 m"))
    >>> found = uncovering_accelerations(car, fuel_volume="10 L")
    >>> bool(found["launch"] < found["left"] < found["braking"])
    True
    """
    plan, found = _plan(car), {}
    for name in MANOEUVRES:
        length, width, place, _ = _along(car, plan, name)
        limit = uncovering_acceleration(
            _volume(car, fuel_volume), length, width, car.tank.depth, _SIGNS[name] * place, plan.pick_up_height
        )
        found[name] = float(limit)
    return found


@takes()
def pot_cover(car: Car, run: Run) -> FloatLike:
    """Return how long the surge pot, or a baffle, feeds the pump while the pick-up is bare, s.

    What returns flows back into it, so it empties at the rate the engine burns.

    Parameters
    ----------
    car : Car
        With a surge pot or a baffle.
    run : Run
        Results of that car, whose injectors say what the engine burns.

    Returns
    -------
    float or array
        Time, s, in the shape of the conditions of the run.

    Raises
    ------
    InputError
        For a car with neither ``[surge_pot]`` nor ``plan.baffle_volume``.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_plan(fs.Plan(tank_length="0.8 m", baffle_volume="1 L"))
    >>> run = car.system("returnless_tank").solve(rpm=[1000, 6000])
    >>> idle, full_power = pot_cover(car, run)
    >>> bool(idle > full_power > 20.0)  # s
    True
    """
    volume = car.surge_pot.volume if car.surge_pot is not None else car.plan and car.plan.baffle_volume
    if volume is None:
        raise InputError(
            "the car has neither surge pot nor baffle",
            accepted="a table [surge_pot], or plan.baffle_volume",
            key="surge_pot",
            file=car.file,
        )
    seconds: FloatLike = cover_time(np.asarray(volume, dtype=float), run.burnt_flow)
    return seconds


def _plan(car: Car) -> Plan:
    if car.plan is None:
        raise InputError("where tank and rail lie is not known", accepted="a table [plan]", key="plan", file=car.file)
    return car.plan


def _sign(name: str) -> float:
    if name not in _SIGNS:
        raise InputError("no such manoeuvre", given=name, accepted=nearest(name, MANOEUVRES))
    return _SIGNS[name]


def _along(car: Car, plan: Plan, name: str) -> tuple[FloatLike, FloatLike, FloatLike, FloatLike]:
    """Return the tank's length along and width across the push, pick-up's place and rail's distance along it."""
    width = car.tank.volume / (car.tank.depth * plan.tank_length)
    if name in ("launch", "braking"):
        return plan.tank_length, width, plan.pick_up_ahead, plan.rail_ahead
    return width, plan.tank_length, plan.pick_up_left, plan.rail_left


def _volume(car: Car, fuel_volume: Given | None) -> float:
    if fuel_volume is None:
        return float(car.tank.fuel_volume)
    return float(car.tank.with_values({"fuel_volume": fuel_volume}).fuel_volume)
