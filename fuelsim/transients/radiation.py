"""What a tank absorbs from the sun and from the road under it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.laws.film import STEFAN_BOLTZMANN
from fuelsim.typing import FloatLike

if TYPE_CHECKING:
    from fuelsim.car.car import Car

__all__ = ["OntoTank", "onto_tank"]


class OntoTank(NamedTuple):
    """Heat that a tank absorbs, W.

    Attributes
    ----------
    sun : float or array
        From the sun.
    road : float or array
        From the road, less what a road at the temperature of the air under the floor would radiate.
    """

    sun: FloatLike
    road: FloatLike


def onto_tank(
    car: Car,
    sun: FloatLike,
    *,
    parked: bool,
    air_temperature: FloatLike,
    underfloor_temperature: FloatLike,
) -> OntoTank:
    """Return what the tank absorbs from sun and road.

    Parameters
    ----------
    car : Car
        The car, whose tank says what areas absorb, and whose surroundings say how strong the sun is.
    sun : float or array
        Sun over that of a clear noon, 0 to 1.
    parked : bool
        Whether the car shades the road under it.
    air_temperature, underfloor_temperature : float or array
        Temperature of the ambient air, and of the air under the floor, K.

    Notes
    -----
    Sun: ``A G`` with the area that absorbs it. Road: ``sigma A (T_road^4 - T_floor^4)`` (Stefan and Boltzmann), because
    the tank's conductance to the air under the floor holds the radiation of surroundings at that temperature already;
    nothing where the road is no warmer than that air. The road's rise follows the sun at once.

    Examples
    --------
    A road 25 K above air of 35 degC sends 59 W more onto 0.5 m2 than the air under the floor, at 45 degC, would:

    >>> import fuelsim as fs
    >>> car = fs.Car.named("finch").with_values({"tank.road_facing_area": "0.5 m2"})
    >>> heat = onto_tank(car, 1.0, parked=False, air_temperature=308.15, underfloor_temperature=318.15)
    >>> round(float(heat.road))
    59
    """
    around, tank = car.surroundings, car.tank
    road = air_temperature + sun * (around.parked_road_rise if parked else around.road_rise)
    beyond = np.maximum(road**4 - underfloor_temperature**4, 0.0)
    return OntoTank(tank.sunlit_area * around.solar_irradiance * sun, tank.road_facing_area * STEFAN_BOLTZMANN * beyond)
