"""Where tank, pick-up and rail lie in the car, seen from above."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.fields import Quantity, Ratings, quantity

__all__ = ["Plan"]


@dataclass(frozen=True)
class Plan(Ratings):
    """Where tank, pick-up and rail lie, seen from above; the tank is taken for a box of its volume and depth.

    Examples
    --------
    >>> import fuelsim as fs
    >>> plan = Plan(tank_length="0.6 m", pick_up_ahead="-0.2 m")
    >>> fs.Car.named("finch").with_plan(plan).plan.pick_up_ahead
    -0.2
    """

    tank_length: Quantity = quantity(
        "length", "Length of the tank along the car; its width follows from volume and depth.", least=0.05, most=3.0
    )
    pick_up_ahead: Quantity = quantity(
        "length",
        "Distance of the pick-up ahead of the tank's middle.",
        least=-1.5,
        most=1.5,
        default=0.0,
        example="-0.1 m",
    )
    pick_up_left: Quantity = quantity(
        "length",
        "Distance of the pick-up to the left of the tank's middle.",
        least=-1.5,
        most=1.5,
        default=0.0,
        example="0 m",
    )
    pick_up_height: Quantity = quantity(
        "length",
        "Height of the pick-up's mouth above the tank's floor.",
        least=0.0,
        most=0.5,
        default=0.01,
        example="10 mm",
    )
    rail_ahead: Quantity = quantity(
        "length", "Distance of the rail ahead of the pick-up.", least=-5.0, most=5.0, default=2.5, example="2.5 m"
    )
    rail_left: Quantity = quantity(
        "length", "Distance of the rail to the left of the pick-up.", least=-2.0, most=2.0, default=0.0, example="0 m"
    )
    baffle_volume: Quantity = quantity(
        "volume",
        "Volume of fuel that a baffle or swirl pot holds around the pick-up, into which the return flows.",
        least=1e-5,
        most=0.05,
        default=None,
        example="1.5 L",
    )
