"""A car file to start from: what little is known of a car, filled up with typical parts of the right size."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

from fuelsim.car.car import Car
from fuelsim.car.file_format import starter_text
from fuelsim.car.layouts import layout_names, layouts
from fuelsim.car.plumbing_forms import PlumbingForm, plumbing_forms, with_comments
from fuelsim.car.read import read_table
from fuelsim.car.references import generic_parts
from fuelsim.car.tables import FuelChoice, PlacedRegulator
from fuelsim.car.write import written
from fuelsim.constants import L_PER_HOUR, STANDARD_ATMOSPHERE
from fuelsim.data_files import names
from fuelsim.declaration import declarations
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, choice, count, quantity, text
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.pump.pump import Pump
from fuelsim.typing import Given

__all__ = ["Known", "starter_file"]

POWER_PER_DISPLACEMENT = 45e3 / 1e-3
"""W/m3: an everyday naturally aspirated engine [assumed]."""
CONSUMPTION, BOOSTED_CONSUMPTION = "305 g/kWh", "365 g/kWh"
"""Middle of the ranges of trade guides: 274-304 and 304-353 naturally aspirated, 335-395 boosted."""
PUMP_MARGIN = 1.3
"""Pump flow over what the engine burns: 20-30 % [common_practice], 125 % of the flow in aircraft [cfr_14_23_955]."""
SIZING_DUTY = 0.80
"""Injector duty at peak power: 85 % is safe, 92 % static [injector_glossaries]."""
SIZING_VOLTAGE = 12.5
"""V at the pump of a car whose wiring is nothing special [assumed]."""

LIFT_PRESSURE = 30e3
"""Pressure at which a lift pump is sized, Pa: height, line and strainer of a pot beside the tank [assumed]."""
REDUCER_LOSS = 50e3
"""Pressure that a reducing regulator and the filter before it need above its set pressure, Pa [assumed]."""
RETURN = "return"
"""Standard layout whose regulator and return line forms with a return have."""

HEADING = """\
{name}: a car to start from. Replace what you know; parts of the catalogue are typical, so your own bench figures win.
Every value is text with its unit; a plain number is SI. Pressures are differences (gauge) unless they say absolute.
A key behind a comment sign shows its default or an example; remove the sign to set it. Then: fuelsim check FILE
Petrol burns and lines hold pressure: what this file computes is a design aid, never proof that a car is safe."""


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
        "Engine speed of the greatest power.",
        least=1000.0,
        most=15e3,
        default=5400.0,
        example="5400 rpm",
    )
    red_line: Quantity = quantity(
        "engine speed", "Highest engine speed in use.", least=1000.0, most=17e3, default=None, example="5800 rpm"
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
    fuel: str = text("Fuel of data/fuels.", default="summer_e10")
    climate: str | None = text("Place of data/climates.toml whose hot day it is.", default=None, example="phoenix")
    tank: Quantity = quantity("volume", "Volume of the tank.", least=5e-3, most=0.5, default=0.06, example="60 L")

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
    def engine_power(self) -> float:
        """Greatest power, W: as given, else typical of the displacement."""
        if self.power is not None:
            return float(self.power)
        return float((self.displacement or 2e-3) * POWER_PER_DISPLACEMENT * (1.0 + self.boost / STANDARD_ATMOSPHERE))

    @property
    def engine_displacement(self) -> float:
        """Displacement, m3: as given, else typical of the power, to a tenth of a litre."""
        if self.displacement is not None:
            return float(self.displacement)
        per = POWER_PER_DISPLACEMENT * (1.0 + self.boost / STANDARD_ATMOSPHERE)
        return float(max(round(self.engine_power / per * 1e4), 1) / 1e4)

    @property
    def engine_cylinders(self) -> int:
        """Number of cylinders: as given, else usual for the displacement."""
        if self.cylinders is not None:
            return self.cylinders
        return 4 if self.engine_displacement < 2.6e-3 else 6 if self.engine_displacement < 4e-3 else 8


def starter_file(known: Known) -> str:
    """Return the text of a commented car file that reads as a valid car.

    Parameters
    ----------
    known : Known
        What is known of the car.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    InputError
        Where what is known contradicts itself, such as a power that the displacement cannot give.

    Examples
    --------
    >>> text = starter_file(Known(power="225 kW", layout="return"))
    >>> "[rail_regulator]" in text.splitlines(), "[tank_regulator]" in text.splitlines()
    (True, False)
    """
    values = _engine(known) | _supply(known) | _delivery(known)
    heading, form = HEADING.format(name=known.name), known.form
    if form is not None:
        values = _formed(known, form, values)
        heading += f"\nPlumbing {form.name}: {form.about}."
    file_text = starter_text(Car, values, heading=heading, references=generic_parts)
    if form is not None:
        file_text = with_comments(file_text, form)
    read_table(Car, tomllib.loads(file_text))
    return file_text


def _formed(known: Known, form: PlumbingForm, standard: dict[str, Given]) -> dict[str, Given]:
    """Return what is written of a plumbing of its own, from what is of the standard layouts."""
    instead = {*form.instead, *(("suction",) if "strainer" in form.instead else ())}
    values = {key: value for key, value in standard.items() if key.partition(".")[0] not in instead}
    external = known.mounting == "external"
    for pump in form.pumps:
        values |= {
            f"pumps.{pump}.catalogue": known.pump or _fitting_pump(known, share=len(form.pumps)),
            f"pumps.{pump}.mounting": known.mounting,
        }
    if form.pump and known.pump is None:
        values["pump.catalogue"] = form.pump
    if form.pump_height:
        values["pump_height"] = form.pump_height
    if form.lift:
        values |= {f"pumps.{form.lift}.catalogue": _fitting_lift(known, form)}
    declared = declarations(Known)["set_pressure"]
    held = {
        "set_pressure": written(known.set_pressure or form.set_pressure, declared),
        "reference": "manifold" if form.reducer or known.boost else "atmosphere",
    }
    for table in ([f"reducers.{form.reducer}"] if form.reducer else []) + (["pump_control"] if form.control else []):
        values |= {f"{table}.{key}": value for key, value in held.items()}
    runs = form.runs_with("suction" if external and "strainer" not in form.instead else None)
    values |= form.values
    key = f"plumbing.{form.name}"
    values |= {f"{key}.title": form.title, f"{key}.runs": runs}
    for number, rail in enumerate(form.rails):
        # As equal as whole injectors can be.
        values[f"rails.{rail}.injectors"] = (known.engine_cylinders + number) // len(form.rails)
    return values


def _fitting_lift(known: Known, form: PlumbingForm) -> str:
    """Return the smallest lift pump that brings what the engine burns with a margin, or the largest."""
    needed = PUMP_MARGIN * _peak_fuel_flow(known)[1]
    for name in form.lifts:
        if float(Pump.named(name).at(supply_voltage=SIZING_VOLTAGE).flow(LIFT_PRESSURE)) >= needed:
            return name
    return form.lifts[-1]


def _engine(known: Known) -> dict[str, Given]:
    declared = declarations(Known)
    power_speed = known.power_speed
    red_line = known.red_line if known.red_line is not None else round(1.08 * power_speed, -2)
    values = {
        "name": known.name,
        "fuel.name": known.fuel,
        "engine.displacement": written(known.engine_displacement, declared["displacement"]),
        "engine.cylinders": known.engine_cylinders,
        "engine.red_line": written(red_line, declared["red_line"]),
        "engine.peak_power": written(known.engine_power, declared["power"]),
        "engine.peak_power_speed": written(power_speed, declared["power_speed"]),
        "engine.brake_specific_fuel_consumption": BOOSTED_CONSUMPTION if known.boost else CONSUMPTION,
        "engine.shape": "two_valve",
    }
    if known.boost:
        values |= {"engine.boost_pressure": written(known.boost, declared["boost"]), "engine.lambda_full_load": 0.8}
    return values


def _peak_fuel_flow(known: Known) -> tuple[float, float]:
    """Return mass and volume flow of the fuel at peak power, kg/s and m3/s."""
    per_work = (365.0 if known.boost else 305.0) / 3.6e9
    fuel = FuelChoice(name=known.fuel).fuel()
    mass = known.engine_power * per_work * 14.7 / float(fuel.stoichiometric_air_fuel_ratio)
    return mass, mass / float(fuel.density(293.15))


def _highest_set(known: Known) -> float:
    return float((known.set_pressure or 400e3) + known.boost)


def _supply(known: Known) -> dict[str, Given]:
    """Return tank, strainer, suction and pump."""
    external = known.mounting == "external"
    values: dict[str, Given] = {
        "tank.volume": written(known.tank, declarations(Known)["tank"]),
        "tank.fuel_volume": f"{known.tank * 500:.6g} L",
        "strainer.catalogue": "before_pump_wire_cloth" if external else "sock_small",
        "pump.catalogue": known.pump or _fitting_pump(known),
        "pump.mounting": known.mounting,
        "pump_height": "0.2 m" if external else "0.03 m",
    }
    if external:
        values |= {"suction.catalogue": "steel_tube 1/2 in", "suction.length": "1.5 m", "suction.loss_coefficient": 3.0}
    return values


def _fitting_pump(known: Known, share: int = 1) -> str:
    """Return the smallest pump for injection that suits the engine with so many like it, or the largest there is."""
    needed = PUMP_MARGIN * _peak_fuel_flow(known)[1] / share
    pressure = _highest_set(known) + (REDUCER_LOSS if known.form is not None and known.form.reducer else 0.0)
    flows = {}
    for name in catalogue_names("pumps"):
        pump = Pump.named(name)
        if pump.mounting == known.mounting and pump.speed is None and pump.dead_head_pressure > pressure:
            flows[name] = float(pump.at(supply_voltage=SIZING_VOLTAGE).flow(pressure))
    if not flows:
        raise InputError("no pump of the catalogue reaches that pressure", given=known.set_pressure, key="set_pressure")
    enough = {name: flow for name, flow in flows.items() if flow >= needed}
    return min(enough, key=lambda name: enough[name]) if enough else max(flows, key=lambda name: flows[name])


def _delivery(known: Known) -> dict[str, Given]:
    """Return wire, filter, lines, rail, injectors, regulators and weather."""
    large = _peak_fuel_flow(known)[1] / L_PER_HOUR > 150.0
    regulators = [name for name, item in declarations(Car).items() if item.part is PlacedRegulator]
    values: dict[str, Given] = {
        "wire.catalogue": "awg_8" if large else "awg_10",
        "filter.catalogue": "canister_large" if large else "canister_medium",
        "feed.catalogue": "steel_tube 1/2 in" if large else "steel_tube 3/8 in",
        "feed.length": "3.5 m",
        "feed.loss_coefficient": 3.0,
        "rail.length": "0.8 m" if known.engine_cylinders > 6 else "0.4 m",
        "rail.bore": "14 mm",
        "injectors.catalogue": _fitting_injectors(known),
        "injectors.count": known.engine_cylinders,
        "surroundings.air_temperature": "35 degC",
    }
    if known.climate:
        del values["surroundings.air_temperature"]
        values["surroundings.catalogue"] = known.climate
    declared = declarations(Known)["set_pressure"]
    for name in known.standard_layouts:
        needed = layouts()[name].needs
        has_return = "return_line" in needed
        for table in needed:
            if table not in regulators:
                continue
            values[f"{table}.catalogue"] = "carmaker_300" if has_return else "tank_module_400"
            values[f"{table}.reference"] = "manifold" if has_return else "atmosphere"
            if known.set_pressure is not None:
                values[f"{table}.set_pressure"] = written(known.set_pressure, declared)
        if has_return:
            values |= {
                "return_line.catalogue": "steel_tube 3/8 in" if large else "steel_tube 5/16 in",
                "return_line.length": "3.5 m",
                "return_line.loss_coefficient": 3.0,
            }
    return values


def _fitting_injectors(known: Known) -> str:
    """Return the smallest injector that gives the fuel of peak power at the sizing duty, or the largest there is."""
    needed = _peak_fuel_flow(known)[0] / known.engine_cylinders / SIZING_DUTY
    known_sizes = catalogue_names("injectors")
    pressure = float(known.set_pressure or 300e3)
    for name in known_sizes:
        one = Injectors.named(name)
        if float(one.static_volume_flow(pressure, 745.0)) * 745.0 >= needed:
            return name
    return known_sizes[-1]
