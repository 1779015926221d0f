"""Climate: how hot a place gets on its hottest days, hour by hour, how thin its air is, and what petrol it sells."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes
from fuelsim.data_files import data_path, read_toml
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, quantity, text
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.typing import FloatLike, PlotAxes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["Climate", "hot_day", "places"]

# Share of the daily range by which the air is cooler than the day's highest, at 1, 2, ... 24 h solar time. Source:
# ASHRAE Handbook of Fundamentals, fraction of the daily temperature range [ashrae_2021_ch14].
_MORNING = (0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13)
_AFTERNOON = (0.05, 0.00, 0.00, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82)
_FRACTION_BELOW_HIGHEST = np.array([*_MORNING, *_AFTERNOON])
_DAY = 86400.0


@dataclass(frozen=True)
class Climate(Ratings):
    """A hot day at one place.

    Examples
    --------
    >>> day = hot_day("riyadh")
    >>> [round(float(day.air_temperature(hour)) - 273.15, 1) for hour in ("5 h", "14 h", "20 h")]
    [30.2, 44.2, 37.2]
    >>> round(day.pressure / 1000, 1)
    94.2
    """

    design_temperature: Quantity = quantity(
        "temperature", "Highest air temperature of the day.", least=223.15, most=333.15, example="43 degC"
    )
    altitude: Quantity = quantity(
        "altitude", "Altitude of the place above sea level.", least=-450.0, most=6000.0, default=0.0, example="600 m"
    )
    daily_range: Quantity = quantity(
        "temperature difference",
        "Temperature range of the day, its highest less its lowest.",
        least=0.0,
        most=30.0,
        default=11.0,
        example="12 K",
    )
    summer_vapour_pressure: Quantity = quantity(
        "absolute pressure",
        "Dry vapour pressure equivalent (DVPE) of the petrol sold there in summer, absolute; left out, the car's own.",
        least=10e3,
        most=150e3,
        default=None,
        example="60 kPa",
    )
    winter_vapour_pressure: Quantity = quantity(
        "absolute pressure",
        "Dry vapour pressure equivalent (DVPE) of the petrol sold there in winter, absolute.",
        least=10e3,
        most=150e3,
        default=None,
        example="85 kPa",
    )
    label: str = text("Name of the place in words.", default="")

    @property
    def pressure(self) -> float:
        """Pressure of the standard atmosphere at the place's altitude, Pa absolute."""
        return float(standard_pressure(self.altitude))

    @takes({"time_of_day": number("time", -3.2e7, 3.2e7, example="14 h")})
    def air_temperature(self, time_of_day: Quantity) -> FloatLike:
        """Return the temperature of the air.

        Parameters
        ----------
        time_of_day : float, str or array
            Solar time since midnight, s or text with a unit; days repeat.

        Returns
        -------
        float or array
            K, shaped like `time_of_day`.

        Notes
        -----
        Straight between the hours of the profile; source as stated in the module.

        Examples
        --------
        >>> day = hot_day("riyadh")
        >>> round(float(day.air_temperature("14 h")) - 273.15, 1)  # two hours after noon it is hottest
        44.2
        """
        hour = np.mod(np.asarray(time_of_day), _DAY) / 3600.0
        below = np.interp(hour, np.arange(1.0, 25.0), _FRACTION_BELOW_HIGHEST, period=24.0)
        temperature: FloatLike = self.design_temperature - self.daily_range * below
        return temperature

    @takes()
    def plot(self, *others: Climate, ax: PlotAxes | None = None) -> Figure:
        """Draw the temperature of the air over the day, beside that of other places.

        Parameters
        ----------
        *others : Climate
            Further days, a line each.
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure

        Examples
        --------
        >>> hot_day("phoenix").plot(hot_day("london")).axes[0].get_xlabel()
        'solar time, h'
        """
        return opener.climate_day_figure([self, *others], ax)


@cache
def _climates() -> dict[str, Climate]:
    path = data_path("climates.toml")
    climates = {}
    for name, ratings in read_toml(path).items():
        try:
            unknown = set(ratings) - set(declarations(Climate)) - {"source", "sources"}
            if unknown:
                raise InputError("unknown key", given=sorted(unknown)[0], accepted="design_temperature, altitude, ...")
            figures = {key: value for key, value in ratings.items() if key not in ("source", "sources")}
            climates[name] = Climate(**figures)
        except InputError as error:
            raise error.at(key=name, file=str(path)) from None
        except TypeError as error:
            raise InputError(f"incomplete or no table ({error})", key=name, file=str(path)) from None
    return climates


def places() -> list[str]:
    """Return the names `hot_day` takes, the hottest first."""
    return sorted(_climates(), key=lambda name: -_climates()[name].design_temperature)


@takes()
def hot_day(place: str) -> Climate:
    """Return the design day of a place in ``data/climates.toml``.

    Parameters
    ----------
    place : str
        Such as ``"phoenix"``; capitals and spaces do not matter.

    Returns
    -------
    Climate

    Raises
    ------
    InputError
        For an unknown place, with the nearest known name.

    Examples
    --------
    >>> round(hot_day("kuwait").design_temperature - 273.15, 1)
    47.9
    """
    known = _climates()
    name = str(place).strip().lower().replace(" ", "_")
    if name not in known:
        raise InputError("no such place in data/climates.toml", given=place, accepted=nearest(name, known))
    return known[name]
