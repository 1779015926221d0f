"""A car file to start from: what little is known of a car, filled up with typical parts of the right size."""

from __future__ import annotations

import tomllib

from fuelsim.car.car import Car
from fuelsim.car.file_format import starter_text
from fuelsim.car.fuel_choice import FuelChoice
from fuelsim.car.known import Known
from fuelsim.car.layouts import layouts
from fuelsim.car.plumbing_forms import PlumbingForm, with_comments
from fuelsim.car.read import read_table
from fuelsim.car.references import generic_parts
from fuelsim.car.tables import PlacedRegulator
from fuelsim.car.write import written
from fuelsim.constants import L_PER_HOUR
from fuelsim.declaration import declarations
from fuelsim.errors import InputError
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.pump.pump import Pump
from fuelsim.typing import Given

__all__ = ["starter_file"]

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
HEADING = """\
{name}: a car to start from. Replace what you know; parts of the catalogue are typical, so your own bench figures win.
Every value is text with its unit; a plain number is SI. Pressures are differences (gauge) unless they say absolute.
{keys} Then: fuelsim check FILE
Petrol burns and lines hold pressure: what this file computes is a design aid, never proof that a car is safe."""


EVERY_KEY = "A key behind a comment sign shows its default or an example; remove the sign to set it."
SHORT = "For every key with its meaning, range and default: fuelsim new FILE --every-key."
ASSUMED = "Assumed, because nothing was said: "


def starter_file(known: Known, *, every_key: bool = False) -> str:
    """Return the text of a commented car file that reads as a valid car.

    Parameters
    ----------
    known : Known
        What is known of the car.
    every_key : bool
        Whether every key is written, behind a comment sign where it may be left out; else only its name.

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
    >>> len(text.splitlines()) < 200 < 500 < len(starter_file(Known(), every_key=True).splitlines())
    True
    """
    values = _engine(known) | _supply(known) | _delivery(known) | _weather(known)
    heading, form = HEADING.format(name=known.name, keys=EVERY_KEY if every_key else SHORT), known.form
    heading += f"\n{ASSUMED}{'; '.join(f'{each.key} {each.text}' for each in known.assumptions())}."
    if form is not None:
        values = _formed(known, form, values)
        heading += f"\nPlumbing {form.name}: {form.about}."
    file_text = starter_text(Car, values, heading=heading, references=generic_parts, every_key=every_key)
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
    if form.pump_height and known.pump_height is None:
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
    values = {
        "name": known.name,
        "fuel.name": known.fuel,
        "engine.displacement": written(known.engine_displacement, declared["displacement"]),
        "engine.cylinders": known.engine_cylinders,
        "engine.red_line": written(known.engine_red_line, declared["red_line"]),
        "engine.peak_power": written(known.engine_power, declared["power"]),
        "engine.peak_power_speed": written(known.engine_power_speed, declared["power_speed"]),
        "engine.brake_specific_fuel_consumption": BOOSTED_CONSUMPTION if known.boost else CONSUMPTION,
        "engine.shape": known.engine_shape,
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
        "tank.volume": written(known.tank_volume, declarations(Known)["tank"]),
        "tank.fuel_volume": f"{known.tank_volume * 500:.6g} L",
        "strainer.catalogue": "before_pump_wire_cloth" if external else "sock_small",
        "pump.catalogue": known.pump or _fitting_pump(known),
        "pump.mounting": known.mounting,
        "pump_height": written(known.height, declarations(Known)["pump_height"]),
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


def _weather(known: Known) -> dict[str, Given]:
    """Return what stands in the table of the surroundings."""
    values: dict[str, Given] = {"surroundings.catalogue": known.climate} if known.climate else {}
    for key in ("air_temperature", "tank_temperature", "altitude"):
        if getattr(known, key) is not None:
            values[f"surroundings.{key}"] = written(getattr(known, key), declarations(Known)[key])
    return values or {"surroundings.air_temperature": "35 degC"}


def _delivery(known: Known) -> dict[str, Given]:
    """Return wire, filter, lines, rail, injectors and regulators."""
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
    }
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
