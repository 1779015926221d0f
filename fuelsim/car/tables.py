"""The tables of a car file that belong to the car alone: tank, lines with their air, rail."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np

from fuelsim.arguments import VOLUME_FLOW, takes, unchecked
from fuelsim.car.walls import SOFT_WALLS, WALLS
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, choice, count, origin, quantity, table, text
from fuelsim.laws.friction import LineCoefficients
from fuelsim.liquid import Liquid
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.fittings import TypicalFitting
from fuelsim.parts.line import Line
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator
from fuelsim.parts.tank_parts import TankVent
from fuelsim.typing import FloatArray, FloatLike

__all__ = [
    "ZONES",
    "PlacedReducer",
    "PlacedRegulator",
    "PlumbedLine",
    "Rail",
    "Tank",
    "plain_table",
]

ZONES = ("tank", "underfloor", "bay")
"""Zones of the car whose air surrounds a part."""
REFERENCES = ("manifold", "atmosphere")


_Table = TypeVar("_Table", bound=Ratings)


def plain_table(table: _Table | None, key: str) -> _Table:
    """Return a plain table of a car that may be left out where the car has a plumbing of its own.

    Parameters
    ----------
    table : Ratings or None
        What the car has.
    key : str
        Key of the table, for the message.

    Returns
    -------
    Ratings
        The table.

    Raises
    ------
    InputError
        Where the car leaves it out.

    Examples
    --------
    >>> plain_table(None, "pump")
    Traceback (most recent call last):
    ...
    fuelsim.errors.InputError: key 'pump': the car has no plain table [pump]; accepted: a car with a table [pump]
    """
    if table is None:
        raise InputError(f"the car has no plain table [{key}]", accepted=f"a car with a table [{key}]", key=key)
    return table


@dataclass(frozen=True)
class Tank(Ratings):
    """The tank and the fuel in it; heights are above the tank's floor.

    Examples
    --------
    >>> Tank(volume="60 L", fuel_volume="15 L").fuel_level  # m, a quarter of the default depth
    0.0625
    """

    volume: Quantity = quantity("volume", "Volume of the full tank.", least=1e-3, most=0.5, example="60 L")
    fuel_volume: Quantity = quantity("volume", "Volume of the fuel in the tank.", least=1e-4, most=0.5, example="35 L")
    depth: Quantity = quantity(
        "length", "Depth of the fuel in a full tank.", least=0.02, most=1.5, default=0.25, example="0.25 m"
    )
    vapour_space_pressure: Quantity = quantity(
        "pressure difference",
        "Pressure of the vapour space above the atmosphere; left out, what the vent makes of it while the engine burns "
        "fuel and none evaporates, which is the worst for a pump.",
        least=-30e3,
        most=40e3,
        default=None,
        example="0 kPa",
    )
    heat_conductance: Quantity = quantity(
        "heat conductance",
        "Heat conductance from the fuel to the underfloor air.",
        least=0.0,
        most=200.0,
        default=12.0,
        example="12 W/K",
    )
    moving_heat_conductance: Quantity = quantity(
        "heat conductance",
        "Heat conductance from the fuel to the underfloor air at cruising speed; left out, twice that at rest. Per "
        "area 12 to 20 W/m2/K against 6 to 10 at rest (typical, from memory).",
        least=0.0,
        most=400.0,
        default=None,
        example="24 W/K",
    )
    radiated_heat: Quantity = quantity(
        "heat flow",
        "Heat flow that exhaust and hot parts near it radiate onto the tank while the engine runs.",
        least=0.0,
        most=2000.0,
        default=0.0,
        example="50 W",
    )
    sunlit_area: Quantity = quantity(
        "area",
        "Area on level ground of what the sun reaches of the tank, times the share of its light that ends in the fuel: "
        "0 under the floor, about half of the top of a tank that lies open.",
        least=0.0,
        most=3.0,
        default=0.0,
        example="0.1 m2",
    )
    road_facing_area: Quantity = quantity(
        "area",
        "Area of the tank that faces the road, times its emissivity, for the heat that a sunlit road radiates beyond "
        "the air under the floor: 0 behind a shield or an underbody panel.",
        least=0.0,
        most=3.0,
        default=0.0,
        example="0.4 m2",
    )
    vent: TankVent = table(
        TankVent, "Vent of the tank, through which air and vapour pass in and out.", default=TankVent()
    )
    pick_up_return_share: Quantity = quantity(
        "fraction",
        "Share of the returning fuel that the pick-up takes in again before it mixes with the tank, for drives.",
        least=0.0,
        most=1.0,
        default=0.0,
    )
    released_air: Quantity = quantity(
        "fraction",
        "Share of the dissolved air that leaves the fuel where the pressure is below the tank's: 1 is equilibrium, an "
        "upper bound that takes seconds to reach; 0 leaves the air out.",
        least=0.0,
        most=1.0,
        default=0.0,
        example="30 %",
    )

    def check(self) -> None:
        """Raise InputError if there is more fuel than room."""
        if np.any(np.asarray(self.fuel_volume) > self.volume):
            raise InputError("more fuel than the tank holds", given=f"{self.fuel_volume * 1e3:g} L", key="fuel_volume")

    @takes({"draw": VOLUME_FLOW})
    def gauge_pressure(self, draw: Quantity) -> FloatArray:
        """Return the pressure of the vapour space above the atmosphere, Pa.

        As given, else what the vent lets it become. No tank holds beyond 60 kPa either way.

        Parameters
        ----------
        draw : float, str or array
            Fuel that is burnt, m3/s.

        Returns
        -------
        array
            Pa, shaped like `draw`; negative where the vent throttles the air that replaces the fuel.

        Examples
        --------
        >>> float(Tank(volume="60 L", fuel_volume="30 L", vapour_space_pressure="2 kPa").gauge_pressure(1e-5))
        2000.0
        """
        if self.vapour_space_pressure is not None:
            return np.full(np.shape(draw), float(self.vapour_space_pressure))
        pressure: FloatArray = np.clip(unchecked(self.vent.gauge_pressure)(draw), -60e3, 60e3)
        return pressure

    @property
    def fuel_level(self) -> float:
        """Height of the fuel surface above the tank's floor, m, for a tank with upright walls."""
        level: float = self.depth * self.fuel_volume / self.volume
        return level


@dataclass(frozen=True)
class PlumbedLine(Line):
    """A line with its fittings and the air around it.

    Examples
    --------
    >>> line = PlumbedLine(length="3 m", bore="8 mm", loss_coefficient=1.0, fittings="2 bend_90_swept, quick_connector")
    >>> round(line.fittings_loss, 2)  # 2 x 0.45 + 1.0 on top of the loss coefficient
    1.9
    """

    fittings: str = text(
        "Typical fittings of data/catalogue/fittings.toml, each with how many there are; their K adds to "
        "loss_coefficient.",
        default="",
        example="2 bend_90_swept, quick_connector",
    )
    zone: str = choice(ZONES, "Zone whose air surrounds the line.", default="underfloor")
    material: str = choice(
        tuple(WALLS), "Material of the line's wall, from which its heat conductance is computed.", default="steel"
    )
    wall_thickness: Quantity = quantity(
        "bore",
        "Thickness of the wall; left out, what is usual for the material.",
        least=1e-4,
        most=2e-2,
        default=None,
        example="3 mm",
    )
    heat_conductance: Quantity = quantity(
        "heat conductance per length",
        "Heat conductance to the air per metre at any speed, instead of the computed one; 0.3 to 0.5 in still air, "
        "1.2 to 1.8 moving.",
        least=0.0,
        most=50.0,
        default=None,
        example="0.4 W/m/K",
    )
    exhaust_flux: Quantity = quantity(
        "heat flux",
        "Heat flux radiated by the exhaust onto the side of the line that faces it, without a shield; beside an "
        "exhaust 0.5 to 3 kW/m2 (typical, from memory).",
        least=0.0,
        most=20e3,
        default=0.0,
        example="1.5 kW/m2",
    )
    exhaust_shields: int = count("Number of foil shields between exhaust and line.", least=0, most=5, default=0)
    shield_emissivity: Quantity = quantity(
        "number",
        "Emissivity of the foil as a number from 0 to 1: 0.04 new, 0.2 after some service, 0.8 and more when "
        "weathered.",
        least=0.02,
        most=1.0,
        default=0.2,
    )
    working_pressure: Quantity = quantity(
        "pressure difference",
        "Working pressure of line and joints, gauge, at temperature.",
        least=0.0,
        most=50e6,
        default=None,
        example="690 kPa",
    )
    compliance: Quantity = quantity(
        "compliance",
        "Growth of the line's contents for each pascal, as a share of them; that of the material if left out.",
        least=0.0,
        most=1e-6,
        default=None,
        example="0.02 1/MPa",
    )
    continuous_temperature: Quantity = quantity(
        "temperature",
        "Temperature that the wall bears for long.",
        least=273.15,
        most=573.15,
        default=None,
        example="90 degC",
    )
    peak_temperature: Quantity = quantity(
        "temperature",
        "Temperature that the wall bears for a short while, as in a hot soak.",
        least=273.15,
        most=573.15,
        default=None,
        example="115 degC",
    )
    permeation: Quantity = quantity(
        "mass flux",
        "Mass flux of fuel that passes through the wall, per area of its inside; left out, none through metal, and not "
        "known of other walls.",
        least=0.0,
        most=1e-4,
        default=None,
        example="15 g/m2/day",
    )
    catalogue: str | None = origin("Name of the generic size that the ratings were taken from.")

    def check(self) -> None:
        """Raise InputError for a fitting that the catalogue does not hold."""
        known = catalogue_names("fittings") if self.fittings else []
        for how_many, name in self.listed_fittings:
            if name not in known:
                raise InputError("no such typical fitting", given=name, accepted=nearest(name, known), key="fittings")
            if not 1 <= how_many <= 100:
                raise InputError("not a number of fittings", given=how_many, accepted="1 to 100", key="fittings")

    @property
    def listed_fittings(self) -> list[tuple[int, str]]:
        """How many there are of each typical fitting, and its name."""
        listed = []
        for item in filter(None, (item.strip() for item in self.fittings.split(","))):
            number, _, name = item.partition(" ")
            listed.append((int(number), name.strip()) if number.isascii() and number.isdecimal() else (1, item))
        return listed

    @property
    def wall_compliance(self) -> FloatLike:
        """Growth of the contents for each pascal, 1/Pa: as given, else that of the material."""
        return WALLS[self.material].compliance if self.compliance is None else self.compliance

    @property
    def permeated(self) -> FloatLike:
        """Mass flow of fuel that passes through the wall, kg/s; NaN where it is not known."""
        flux = (np.nan if self.material in SOFT_WALLS else 0.0) if self.permeation is None else self.permeation
        permeated: FloatLike = flux * np.pi * self.bore * self.length
        return permeated

    @property
    def fittings_loss(self) -> float:
        """Sum of the loss coefficients K of the fittings, the middle of each class."""
        return float(sum(how_many * TypicalFitting.named(name).middle for how_many, name in self.listed_fittings))

    @takes()
    def coefficients(self, liquid: Liquid) -> LineCoefficients:
        """Return the coefficients of the line law, fittings included."""
        return self._bare.coefficients(liquid) if self.fittings else super().coefficients(liquid)

    @cached_property
    def _bare(self) -> PlumbedLine:
        """The line with the loss of its fittings in its own coefficient."""
        return dataclasses.replace(self, fittings="", loss_coefficient=self.loss_coefficient + self.fittings_loss)


@dataclass(frozen=True)
class Rail(Ratings):
    """Fuel rail with its heat exchange.

    Examples
    --------
    >>> Rail(length="0.4 m", bore="14 mm").height
    0.5
    """

    length: Quantity = quantity(
        "length", "Length of the bore, all rails in series.", least=0.02, most=5.0, example="0.4 m"
    )
    bore: Quantity = quantity("bore", "Inside diameter of the rail.", least=2e-3, most=0.06, example="14 mm")
    height: Quantity = quantity(
        "length", "Height of the rail above the tank's floor.", least=-2.0, most=3.0, default=0.5, example="0.5 m"
    )
    air_conductance: Quantity = quantity(
        "heat conductance", "Heat conductance to the bay's air.", least=0.0, most=50.0, default=0.5, example="0.5 W/K"
    )
    engine_conductance: Quantity = quantity(
        "heat conductance",
        "Heat conductance to the engine's metal through injectors and brackets.",
        least=0.0,
        most=50.0,
        default=0.3,
        example="0.3 W/K",
    )

    heat_capacity: Quantity = quantity(
        "heat capacity",
        "Heat capacity of the rail itself, without fuel, for soaks; 0.5 kg of aluminium have 0.45 kJ/K.",
        least=0.0,
        most=20e3,
        default=450.0,
        example="0.45 kJ/K",
    )
    elastic_volume: Quantity = quantity(
        "volume",
        "Volume of fuel that the rail takes in for each 100 kPa of pressure, by its rubber pieces and the regulator's "
        "diaphragm; a damper has a table of its own. Half a metre of rubber hose of 8 mm takes in 0.1 mL.",
        least=0.0,
        most=1e-5,
        default=1e-7,
        example="0.1 mL",
    )
    injectors: int | None = count(
        "Number of the engine's injectors on this rail; left out, an equal share of those that no other rail names.",
        least=1,
        most=48,
        default=None,
        example="4",
    )

    @property
    def compliance(self) -> FloatLike:
        """Fuel taken in for each pascal beside that which its own compression takes, m3/Pa."""
        compliance: FloatLike = self.elastic_volume / 1e5
        return compliance

    def line(self) -> Line:
        """Return the rail's bore as a line.

        Returns
        -------
        Line
            Of the whole length.

        Examples
        --------
        >>> Rail(length="0.4 m", bore="14 mm").line().length
        0.4
        """
        return Line(length=self.length, bore=self.bore)


@dataclass(frozen=True)
class PlacedRegulator(ReturnRegulator):
    """A return regulator and the reference above which it holds its set pressure.

    Examples
    --------
    >>> PlacedRegulator(set_pressure="300 kPa", reference="manifold").reference
    'manifold'
    """

    reference: str = choice(REFERENCES, "Reference above which the set pressure is held.", default="atmosphere")


@dataclass(frozen=True)
class PlacedReducer(ReducingRegulator):
    """A reducing regulator, which lets through what is drawn behind it, and the reference of its set pressure.

    Examples
    --------
    >>> PlacedReducer(set_pressure="25 kPa", reference="manifold").reference
    'manifold'
    """

    reference: str = choice(REFERENCES, "Reference above which the set pressure is held.", default="atmosphere")
