"""What keeps the fuel of a drive liquid: the greatest vapour pressure, and the hottest tank, that no station boils at.

Below its boiling point a fuel's volatility does not act on temperatures and pressures, so the drive is run once with a
fuel that hardly boils. For each petrol the tank alone is integrated anew, because a volatile one loses light ends
before it boils; where it would begin to boil is read from its bubble pressure.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.errors import InputError
from fuelsim.fuel.fuel import Fuel
from fuelsim.interruption import whole
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.studies.margins import calm_fuel
from fuelsim.system.plumbing import Plumbing
from fuelsim.system.run import System
from fuelsim.transients.drive import drive
from fuelsim.transients.drive_results import Drive
from fuelsim.transients.events import NEARLY_BOILING
from fuelsim.transients.other_fuel import OtherFuel, with_other_fuel
from fuelsim.transients.schedule import Schedule
from fuelsim.transients.tank_fuel import TankFuel, tank_fuel
from fuelsim.typing import ActivityModel, PointArray

if TYPE_CHECKING:
    from fuelsim.car.car import Car
    from fuelsim.car.climate import Climate
    from fuelsim.car.tables import Tank

__all__ = ["BoilingLimit", "boiling_limit"]

VAPOUR_PRESSURES = tuple(np.arange(24e3, 121e3, 4e3).tolist())
"""DVPE of the petrols tried, Pa; between them the least margin is interpolated."""


class BoilingLimit(NamedTuple):
    """Where a drive's fuel would boil first.

    Attributes
    ----------
    vapour_pressure : float
        Greatest DVPE of a petrol with the car's ethanol that boils at no station, Pa; infinite where the most volatile
        of `VAPOUR_PRESSURES` does not, zero where the least volatile of them that can be blended does.
    station : str
        Station at which a more volatile one boils first.
    time : float
        When, s from the start.
    tank_temperature : float
        Temperature of the tank at which the fuel of the day begins to boil at that station, K: the station is warmer
        than the tank by as much as in the drive at that time.
    margin : float
        Least temperature to boiling of the fuel of the day at any station with the rails at the equal set pressure, K;
        negative by how much hotter it would become if it did not boil.
    pressure_margin : float
        Least pressure above its bubble pressure at that station likewise, Pa.
    margin_station : str
        Station of that least margin.
    set_pressure : float
        The equal set pressure, Pa; NaN where nothing holds the rails' pressure.
    """

    vapour_pressure: float
    station: str
    time: float
    tank_temperature: float
    margin: float
    pressure_margin: float
    margin_station: str
    set_pressure: float


def boiling_limit(
    car: Car, layout: str, schedule: Schedule, climate: Climate, set_pressure: float = np.nan
) -> BoilingLimit | None:
    """Return where and at which vapour pressure the fuel of a drive begins to boil.

    Parameters
    ----------
    car : Car
        With the fuel of the day.
    layout : str
        One of the car's own layouts.
    schedule : Schedule
        The phases of the drive.
    climate : Climate
        Weather of the day.
    set_pressure : float
        Set pressure at which margins are compared, Pa: rail pressures are taken lower, or higher, by the difference
        to the layout's own, at unchanged temperatures. That of the layout, if left out.

    Returns
    -------
    BoilingLimit or None
        None where no petrol with the car's ethanol can be blended.

    Raises
    ------
    InputError
        For an unknown layout.

    Examples
    --------
    >>> import fuelsim as fs
    >>> from fuelsim.transients.schedule import typical_phase
    >>> car = fs.Car.named("finch")
    >>> limit = boiling_limit(car, "return", Schedule.of([typical_phase("jam", "1 h", car)]), fs.hot_day("kuwait"))
    >>> bool(45e3 < limit.vapour_pressure < 75e3), limit.station
    (True, 'tank')
    """
    fuel = car.fuel.fuel()
    try:
        calm = calm_fuel(fuel.ethanol)
    except InputError:
        return None
    with_calm = car.with_values({"fuel": car.fuel.with_vapour_pressure(float(calm.dvpe()))})
    plumbing = System(with_calm, layout).plumbing
    result = whole(drive(with_calm, layout, schedule, climate=climate, output_step="2 min"))
    liquid = _Liquid(result, plumbing, car.tank)
    greatest, first = _greatest(liquid, _petrols(fuel.ethanol, car.fuel.activity_model))
    of_day = tank_fuel(fuel)
    other = with_other_fuel(liquid.drive, car.tank, of_day)
    holders = plumbing.holders
    own = float(holders[0].set_pressure) if holders else np.nan
    compared = set_pressure if np.isfinite(set_pressure) else own
    nearest = liquid.nearest(of_day, other, own - compared if np.isfinite(own) else 0.0)
    return BoilingLimit(
        vapour_pressure=greatest,
        station=first.station,
        time=first.time,
        tank_temperature=liquid.nearest(of_day, other, station=first.station).boiling_tank,
        margin=nearest.hottest,
        pressure_margin=nearest.pressure,
        margin_station=nearest.station,
        set_pressure=compared,
    )


class _Nearest(NamedTuple):
    """State of one fuel that is nearest to boiling: where and when, s, and its margins.

    Attributes
    ----------
    boils : float
        Temperature to boiling beyond that within which a tank counts as boiling, K: what it is, cooled by its vapour.
    hottest : float
        Temperature to boiling if it did not boil, K.
    pressure : float
        Pressure above the bubble pressure at that temperature, Pa.
    boiling_tank : float
        Temperature of the tank at which it begins to boil there, K.
    """

    station: str
    time: float
    boils: float
    hottest: float
    pressure: float
    boiling_tank: float


@dataclass(frozen=True)
class _Liquid:
    """A drive with a fuel that hardly boils, its plumbing and the car's tank."""

    drive: Drive
    plumbing: Plumbing
    tank: Tank

    @property
    def rails(self) -> tuple[str, ...]:
        """The rails and their inlets."""
        return (*(rail.inlet.upstream for rail in self.plumbing.planned_rails), *self.plumbing.rails)

    @property
    def stations(self) -> list[str]:
        """The tank, the pots, the pumps' inlets and the rails."""
        inlets = [pump.upstream for pump in self.plumbing.pumps]
        names = dict.fromkeys((self.plumbing.vessel, *self.plumbing.pots, *inlets, *self.rails))
        return list(names)

    @property
    def fresh(self) -> OtherFuel:
        """The tank with a fuel that loses nothing."""
        result = self.drive
        outside = np.asarray(standard_pressure(result.altitude))
        nothing = np.zeros(result.time.shape)
        return OtherFuel(result.tank_temperature, nothing, result.tank_gauge_pressure + outside)

    def nearest(self, fuel: TankFuel, other: OtherFuel, lowered: float = 0.0, station: str = "") -> _Nearest:
        """Return where a fuel is nearest to boiling, with the rails' pressure lowered by so much, Pa.

        Of one station only, if one is named.
        """
        result, running = self.drive, self.drive.running
        outside = np.asarray(standard_pressure(result.altitude))
        time, found = result.time[running], []
        for name in [station] if station else self.stations:
            if name == self.plumbing.vessel:
                excess, pressure = np.zeros(result.time.shape), other.pressure
            else:
                excess = result.temperature[name] - result.tank_temperature
                pressure = result.gauge_pressure[name] + outside - (lowered if name in self.rails else 0.0)
            shown = _Shown(*(values[running] for values in (excess, pressure, other.temperature, other.evaporated)))
            boiling = fuel.boiling_temperatures(np.maximum(shown.pressure, 1e3), shown.evaporated)
            cooled = boiling - shown.temperature - shown.excess
            at = int(np.argmin(cooled))
            hottest = boiling - result.tank_temperature[running] - shown.excess
            hot = int(np.argmin(hottest))
            warm = float(result.tank_temperature[running][hot] + shown.excess[hot])
            bubble = fuel.bubble_pressure(warm, float(shown.evaporated[hot])).pressure
            nearly = NEARLY_BOILING if name == self.plumbing.vessel else 0.0
            found.append(
                _Nearest(
                    name,
                    float(time[at]),
                    float(cooled[at]) - nearly,
                    float(hottest[hot]),
                    float(shown.pressure[hot]) - bubble,
                    float(boiling[at] - shown.excess[at]),
                )
            )
        return min(found, key=lambda item: item.boils)


class _Shown(NamedTuple):
    """Excess of a station over the tank, K, its pressure, Pa, the tank's temperature, K, and fraction evaporated."""

    excess: PointArray
    pressure: PointArray
    temperature: PointArray
    evaporated: PointArray


def _greatest(liquid: _Liquid, petrols: tuple[_Petrol, ...]) -> tuple[float, _Nearest]:
    """Return the greatest DVPE that boils at no station, Pa, and where the next more volatile one boils."""
    start = float(liquid.drive.tank_temperature[0])
    pressure = float(standard_pressure(liquid.drive.altitude[0]))

    def fresh(petrol: _Petrol) -> _Nearest:
        return liquid.nearest(petrol.fuel, liquid.fresh)

    def weathered(petrol: _Petrol) -> _Nearest:
        boils = petrol.fuel.boiling_temperature(pressure, 0.0)
        if boils - start < 2.0 * NEARLY_BOILING:
            return _Nearest(liquid.plumbing.vessel, 0.0, boils - start - NEARLY_BOILING, np.nan, np.nan, boils)
        return liquid.nearest(petrol.fuel, with_other_fuel(liquid.drive, liquid.tank, petrol.fuel))

    # Light ends that leave can only raise the limit: from where a petrol that keeps them boils it is sought upwards.
    low = max(bisect_left(petrols, True, key=lambda petrol: fresh(petrol).boils <= 0.0) - 1, 0)
    of_low = weathered(petrols[low])
    if of_low.boils <= 0.0:
        return 0.0, of_low
    for petrol in petrols[low + 1 :]:
        of_high = weathered(petrol)
        if of_high.boils <= 0.0:
            between = of_low.boils / (of_low.boils - of_high.boils)
            mild, volatile = petrols[low].vapour_pressure, petrol.vapour_pressure
            return mild + between * (volatile - mild), of_high
        low, of_low = low + 1, of_high
    return np.inf, of_low


class _Petrol(NamedTuple):
    """A petrol as the tank sees it, and its DVPE, Pa."""

    vapour_pressure: float
    fuel: TankFuel


@lru_cache(maxsize=16)
def _petrols(ethanol: float, activity_model: ActivityModel) -> tuple[_Petrol, ...]:
    """Return the petrols that can be blended, of rising DVPE."""
    petrols = []
    for pressure in VAPOUR_PRESSURES:
        try:
            petrols.append(_Petrol(pressure, TankFuel(Fuel.petrol(pressure, ethanol, activity_model=activity_model))))
        except InputError:
            continue
    return tuple(petrols)
