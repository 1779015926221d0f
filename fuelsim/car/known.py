"""What is known of a car before its file is written, what follows from it, and what has to be assumed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from fuelsim.car.car import Car
from fuelsim.car.engine_demand import usual_power_speed_share
from fuelsim.car.layouts import layout_names, layouts
from fuelsim.car.plumbing_forms import PlumbingForm, plumbing_forms
from fuelsim.car.references import generic_parts
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.data_files import names
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, choice, count, quantity, text
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.units import shown

__all__ = ["Assumption", "Known"]

POWER_PER_DISPLACEMENT = 45e3 / 1e-3
"""W/m3: an everyday naturally aspirated engine [assumed]."""
POWER_SPEED = 5400.0
"""Engine speed of the greatest power of an everyday engine, rpm [assumed]."""
PRESSURE_AT_PEAK_POWER = 1.2e6
"""Greatest mean effective pressure at peak power that is assumed of a naturally aspirated engine, Pa: a smaller engine
of the same power makes it at a higher speed [assumed]."""
FOUR_VALVE_POWER_SPEED = 6000.0
"""Engine speed of the greatest power from which four valves a cylinder are assumed, rpm [assumed]."""
FASTEST_POWER_SPEED = 8000.0
"""Greatest speed of peak power that is assumed, rpm [assumed]."""
STEP = 100.0
"""Rounding of assumed engine speeds, rpm."""

RETURN = "return"
"""Standard layout whose regulator and return line forms with a return have."""


class Assumption(NamedTuple):
    """One figure that was chosen because nothing was said about it.

    Attributes
    ----------
    key : str
        Key of `Known` that says otherwise.
    text : str
        The figure, and in brackets why.
    """

    key: str
    text: str


@dataclass(frozen=True)
class Known(Ratings):
    """What is known of a car before its file is written; everything else is chosen to fit."""

    name: str = text("Name of the car.", default="My car")
    displacement: Quantity = quantity(
        "displacement", "Displacement of the engine.", least=1e-4, most=0.02, default=None, example="4.9 L"
    )
    cylinders: int | None = count("Number of cylinders.", least=1, most=16, default=None, example="8")
    power: Quantity = quantity(
        "power", "Greatest power of the engine.", least=5e3, most=1.5e6, default=None, example="225 kW"
    )
    power_speed: Quantity = quantity(
        "engine speed",
        "Engine speed of the greatest power; left out, a usual share of the red line.",
        least=1000.0,
        most=15e3,
        default=None,
        example="5400 rpm",
    )
    red_line: Quantity = quantity(
        "engine speed", "Highest engine speed in use.", least=1000.0, most=17e3, default=None, example="5800 rpm"
    )
    shape: str | None = choice(
        ("two_valve", "four_valve"), "Shape of the volumetric efficiency over speed.", default=None
    )
    boost: Quantity = quantity(
        "pressure difference",
        "Boost pressure above the atmosphere.",
        least=0.0,
        most=300e3,
        default=0.0,
        example="60 kPa",
    )
    layout: str | None = choice(
        layout_names(), "Layout to plumb the car in; left out, every standard one.", default=None
    )
    plumbing: str | None = choice(
        (*plumbing_forms(), *layout_names()),
        "Usual way to plumb the car, written as runs of its own; of a standard layout, as with layout.",
        default=None,
    )
    set_pressure: Quantity = quantity(
        "pressure difference", "Set pressure of the regulator.", least=30e3, most=1e6, default=None, example="300 kPa"
    )
    pump: str | None = text("Pump of data/catalogue/pumps.toml; left out, one that suits the power.", default=None)
    pump_mounting: str = choice(("in_tank", "external"), "Mounting of the pump.", default="in_tank")
    pump_height: Quantity = quantity(
        "length", "Height of the pump above the tank's floor.", least=-1.0, most=2.0, default=None, example="-0.2 m"
    )
    fuel: str = text("Fuel of data/fuels.", default="summer_e10")
    climate: str | None = text("Place of data/climates.toml whose hot day it is.", default=None, example="phoenix")
    air_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the ambient air; left out, that of the climate.",
        least=223.15,
        most=333.15,
        default=None,
        example="35 degC",
    )
    tank_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the fuel in the tank; left out, that of the air.",
        least=233.15,
        most=373.15,
        default=None,
        example="45 degC",
    )
    altitude: Quantity = quantity(
        "altitude",
        "Altitude above sea level; left out, that of the climate.",
        least=-450.0,
        most=6000.0,
        default=None,
        example="600 m",
    )
    tank: Quantity = quantity("volume", "Volume of the tank.", least=5e-3, most=0.5, default=None, example="60 L")

    def check(self) -> None:
        """Raise InputError for a name that is not there, or two ways to plumb the car."""
        if None not in (self.layout, self.plumbing) and self.layout != self.plumbing:
            raise InputError(
                "a layout and a plumbing", given=f"{self.layout} and {self.plumbing}", accepted="one", key="plumbing"
            )
        climates = generic_parts(declarations(Car)["surroundings"].part or Car)
        for key, known in (("pump", catalogue_names("pumps")), ("fuel", names("fuels")), ("climate", climates)):
            given = getattr(self, key)
            if given is not None and given not in known:
                raise InputError("no such name", given=given, accepted=nearest(given, known), key=key)

    @property
    def form(self) -> PlumbingForm | None:
        """The plumbing of its own that is written; None for standard layouts."""
        return plumbing_forms().get(self.plumbing or "")

    @property
    def standard_layouts(self) -> list[str]:
        """Standard layouts whose regulators and return are written; of a form with a return those of the first."""
        if self.form is not None:
            return [RETURN] if self.form.regulator else []
        one = self.layout or self.plumbing
        return [one] if one else list(layout_names())

    @property
    def mounting(self) -> str:
        """Mounting of the main pumps."""
        return self.pump_mounting if self.form is None else self.form.mounting or self.pump_mounting

    @property
    def height(self) -> float:
        """Height of the pump above the tank's floor, m: as given, else by its mounting [assumed]."""
        if self.pump_height is not None:
            return float(self.pump_height)
        return 0.2 if self.mounting == "external" else 0.03

    @property
    def tank_volume(self) -> float:
        """Volume of the tank, m3."""
        return float(0.06 if self.tank is None else self.tank)

    @property
    def _boosted_density(self) -> float:
        """Density of the boosted air over that of the atmosphere."""
        return float(1.0 + self.boost / STANDARD_ATMOSPHERE)

    @property
    def engine_power(self) -> float:
        """Greatest power, W: as given, else typical of the displacement."""
        if self.power is not None:
            return float(self.power)
        return float((self.displacement or 2e-3) * POWER_PER_DISPLACEMENT * self._boosted_density)

    @property
    def engine_displacement(self) -> float:
        """Displacement, m3: as given, else typical of the power, to a tenth of a litre."""
        if self.displacement is not None:
            return float(self.displacement)
        return float(max(round(self.engine_power / (POWER_PER_DISPLACEMENT * self._boosted_density) * 1e4), 1) / 1e4)

    @property
    def engine_cylinders(self) -> int:
        """Number of cylinders: as given, else usual for the displacement."""
        if self.cylinders is not None:
            return self.cylinders
        return 4 if self.engine_displacement < 2.6e-3 else 6 if self.engine_displacement < 4e-3 else 8

    @property
    def engine_shape(self) -> str:
        """Shape of the volumetric efficiency: as given, else of four valves for an engine of high speed."""
        if self.shape is not None:
            return self.shape
        return "four_valve" if self._first_power_speed >= FOUR_VALVE_POWER_SPEED else "two_valve"

    @property
    def power_speed_share(self) -> float:
        """Engine speed of the greatest power as a share of the red line that is usual for such an engine."""
        return usual_power_speed_share(self.engine_shape, boosted=bool(self.boost))

    @property
    def engine_power_speed(self) -> float:
        """Engine speed of the greatest power, rpm: as given, else a share of the red line, else by the power."""
        if self.power_speed is None and self.red_line is not None:
            return float(round(self.power_speed_share * self.red_line / STEP) * STEP)
        return self._first_power_speed

    @property
    def engine_red_line(self) -> float:
        """Highest engine speed in use, rpm: as given, else by the speed of the greatest power."""
        if self.red_line is not None:
            return float(self.red_line)
        return float(round(self.engine_power_speed / self.power_speed_share / STEP) * STEP)

    @property
    def _first_power_speed(self) -> float:
        """Engine speed of the greatest power before the kind of engine is known, rpm."""
        if self.power_speed is not None:
            return float(self.power_speed)
        if self.red_line is not None:
            return float(usual_power_speed_share("two_valve", boosted=bool(self.boost)) * self.red_line)
        return min(max(POWER_SPEED, self._speed_for_power), FASTEST_POWER_SPEED)

    @property
    def _speed_for_power(self) -> float:
        """Least engine speed at which the power is plausible for the displacement, rpm: four strokes, two turns."""
        work = PRESSURE_AT_PEAK_POWER * self._boosted_density * self.engine_displacement
        return float(round(self.engine_power / work * 120.0 / STEP) * STEP)

    def assumptions(self) -> list[Assumption]:
        """Return everything that was chosen because nothing was said about it.

        Returns
        -------
        list of Assumption
            By the key that says otherwise, in the order of the keys.

        Examples
        --------
        >>> known = Known(power="150 kW", displacement="4.9 L", red_line="4800 rpm")
        >>> for assumption in known.assumptions()[:3]:
        ...     print(f"{assumption.key}: {assumption.text}")
        cylinders: 8 (usual for the displacement)
        power_speed: 4300 rpm (90 % of the red line, usual for two valves a cylinder)
        shape: two_valve (by the speed of peak power)
        """
        volume = shown(self.tank_volume, "volume")
        texts = {
            "displacement": f"{shown(self.engine_displacement, 'displacement')} (usual for the power)",
            "cylinders": f"{self.engine_cylinders} (usual for the displacement)",
            "power": f"{shown(self.engine_power, 'power')} (usual for the displacement)",
            "power_speed": f"{self.engine_power_speed:.0f} rpm ({self._why_power_speed})",
            "red_line": f"{self.engine_red_line:.0f} rpm ({self._usual_share} of it is the speed of peak power)",
            "shape": f"{self.engine_shape} (by the speed of peak power)",
            "boost": "none",
            "set_pressure": self._assumed_set_pressure,
            "pump": "the smallest of the catalogue with 30 % more flow than is burnt at peak power",
            "pump_mounting": "in the tank",
            "pump_height": f"{shown(self.height, 'length')} above the tank's floor",
            "fuel": self.fuel,
            "air_temperature": "35 degC",
            "tank_temperature": "that of the air; after an hour in traffic it is above it",
            "altitude": "sea level",
            "tank": f"{volume}, half full",
        }
        stated = {key for key in texts if getattr(self, key) != declarations(Known)[key].default}
        if self.climate is not None:
            stated |= {"air_temperature", "altitude"}
        if self.form is not None and self.form.pump_height:
            stated |= {"pump_height"}
        if self.form is not None and self.form.mounting:
            stated |= {"pump_mounting"}
        return [Assumption(key, told) for key, told in texts.items() if key not in stated]

    @property
    def _usual_share(self) -> str:
        return f"{100.0 * self.power_speed_share:.0f} %"

    @property
    def _why_power_speed(self) -> str:
        """Return where the assumed speed of the greatest power comes from."""
        if self.red_line is not None:
            kind = "a boosted engine" if self.boost else f"{self.engine_shape.partition('_')[0]} valves a cylinder"
            return f"{self._usual_share} of the red line, usual for {kind}"
        if self.engine_power_speed > POWER_SPEED:
            pressure = shown(PRESSURE_AT_PEAK_POWER * self._boosted_density, "absolute pressure")
            return f"so much power takes that speed at a mean effective pressure of {pressure}"
        return "usual for an everyday engine"

    @property
    def _assumed_set_pressure(self) -> str:
        """Return the set pressure that is written where none is given."""
        if self.form is not None and not self.form.regulator:
            return shown(self.form.set_pressure, "pressure difference")
        returns = {"return_line" in layouts()[name].needs for name in self.standard_layouts}
        if len(returns) == 1:
            return "300 kPa" if True in returns else "400 kPa"
        return "300 kPa at the rail or in the bay, 400 kPa at the tank"
