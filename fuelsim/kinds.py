"""Kinds of values, each with its SI unit, the units it is shown in and the units a person may write.

An absolute pressure and a pressure difference are two kinds, and so are a temperature and a temperature difference.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["KINDS", "Kind"]


@dataclass(frozen=True)
class Kind:
    """A kind of value: what it measures and in which units it is written.

    Attributes
    ----------
    name : str
        The kind in words.
    unit : str
        The unit values have inside fuelsim (SI; revolutions per minute for engine speed).
    shown : tuple of str
        The units tables and plots use, one for each of `units.SYSTEMS`.
    examples : tuple of str
        Units a person may write, the likeliest first; used in messages and hints.
    """

    name: str
    unit: str
    shown: tuple[str, str, str]
    examples: tuple[str, ...]


def _kind(name: str, unit: str, shown: tuple[str, str, str], *examples: str) -> tuple[str, Kind]:
    return name, Kind(name, unit, shown, examples)


KINDS: dict[str, Kind] = dict(
    [
        _kind("length", "m", ("m", "m", "ft"), "mm", "m", "in", "ft"),
        _kind("bore", "m", ("mm", "mm", "in"), "mm", "in"),
        _kind("roughness", "m", ("µm", "µm", "µin"), "µm", "mm"),
        _kind("particle size", "m", ("µm", "µm", "µm"), "µm", "mm"),
        _kind("altitude", "m", ("m", "m", "ft"), "m", "ft"),
        _kind("area", "m2", ("m2", "mm2", "in2"), "mm2", "cm2", "m2"),
        _kind("volume", "m3", ("m3", "L", "gal"), "L", "mL", "gal"),
        _kind("mass", "kg", ("kg", "kg", "lb"), "kg", "g", "lb"),
        _kind("displacement", "m3", ("m3", "L", "in3"), "L", "cm3", "in3"),
        _kind("absolute pressure", "Pa", ("kPa", "kPa", "psi"), "kPa", "bar", "psi", "kPa absolute", "psia"),
        _kind("pressure difference", "Pa", ("kPa", "kPa", "psi"), "kPa", "bar", "psi"),
        _kind("pressure per flow", "Pa s/m3", ("Pa s/m3", "kPa h/L", "psi h/gal"), "kPa h/L", "psi h/gal"),
        _kind("temperature", "K", ("degC", "degC", "degF"), "degC", "degF", "K"),
        _kind("temperature difference", "K", ("K", "K", "delta_degF"), "K", "delta_degC", "delta_degF"),
        _kind("volume flow", "m3/s", ("m3/s", "L/h", "gph"), "L/h", "mL/min", "gph"),
        _kind("injector flow", "m3/s", ("m3/s", "mL/min", "mL/min"), "mL/min", "cc/min"),
        _kind("mass flow", "kg/s", ("kg/s", "kg/h", "lb/h"), "kg/h", "g/s", "lb/h"),
        _kind("mass flux", "kg/m2/s", ("g/m2/day", "g/m2/day", "g/m2/day"), "g/m2/day"),
        _kind("density", "kg/m3", ("kg/m3", "kg/m3", "lb/ft3"), "kg/m3", "g/cm3"),
        _kind("dynamic viscosity", "Pa s", ("mPa s", "mPa s", "cP"), "mPa s", "cP"),
        _kind("kinematic viscosity", "m2/s", ("mm2/s", "mm2/s", "cSt"), "mm2/s", "cSt"),
        _kind("voltage", "V", ("V", "V", "V"), "V"),
        _kind("current", "A", ("A", "A", "A"), "A"),
        _kind("resistance", "ohm", ("ohm", "mohm", "mohm"), "mohm", "ohm"),
        _kind("power", "W", ("W", "kW", "hp"), "kW", "W", "hp"),
        _kind("electrical power", "W", ("W", "W", "W"), "W", "kW"),
        _kind("heat flow", "W", ("W", "W", "W"), "W", "kW"),
        _kind("torque", "N m", ("N m", "N m", "lbf ft"), "N m", "lbf ft"),
        _kind("engine speed", "rpm", ("rpm", "rpm", "rpm"), "rpm"),
        _kind("specific fuel consumption", "kg/J", ("kg/J", "g/kWh", "lb/hp/h"), "g/kWh", "lb/hp/h"),
        _kind("time", "s", ("s", "s", "s"), "s", "ms", "min", "h"),
        _kind("pulse time", "s", ("s", "ms", "ms"), "ms", "s"),
        _kind("time per pressure", "s/Pa", ("s/Pa", "ms/bar", "ms/psi"), "ms/bar", "ms/psi"),
        _kind("fraction", "1", ("1", "1", "1"), "%"),
        _kind("number", "1", ("1", "1", "1")),
        _kind("angle", "rad", ("rad", "deg", "deg"), "deg", "rad"),
        _kind("speed", "m/s", ("m/s", "km/h", "mph"), "m/s", "km/h", "mph"),
        _kind("velocity", "m/s", ("m/s", "m/s", "ft/s"), "m/s", "ft/s"),
        _kind("acceleration", "m/s2", ("m/s2", "m/s2", "m/s2"), "m/s2"),
        _kind("heat conductance", "W/K", ("W/K", "W/K", "W/K"), "W/K"),
        _kind("heat conductance per length", "W/m/K", ("W/m/K", "W/m/K", "W/m/K"), "W/m/K"),
        _kind("heat transfer coefficient", "W/m2/K", ("W/m2/K", "W/m2/K", "W/m2/K"), "W/m2/K"),
        _kind("heat flux", "W/m2", ("W/m2", "W/m2", "W/m2"), "W/m2", "kW/m2"),
        _kind("energy", "J", ("J", "kJ", "kJ"), "kJ", "J"),
        _kind("specific energy", "J/kg", ("J/kg", "kJ/kg", "kJ/kg"), "kJ/kg"),
        _kind("specific heat capacity", "J/kg/K", ("J/kg/K", "kJ/kg/K", "kJ/kg/K"), "J/kg/K", "kJ/kg/K"),
        _kind("heat capacity", "J/K", ("J/K", "kJ/K", "kJ/K"), "kJ/K"),
        _kind("frequency", "Hz", ("Hz", "Hz", "Hz"), "Hz", "kHz"),
        _kind("compliance", "1/Pa", ("1/Pa", "1/MPa", "1/MPa"), "1/Pa", "1/MPa"),
        _kind("thermal expansion", "1/K", ("1/K", "1/K", "1/K"), "1/K"),
        _kind("surface tension", "N/m", ("N/m", "mN/m", "mN/m"), "mN/m", "N/m"),
        _kind("molar energy", "J/mol", ("J/mol", "kJ/mol", "kJ/mol"), "J/mol", "kJ/mol"),
        _kind("molar heat capacity", "J/mol/K", ("J/mol/K", "J/mol/K", "J/mol/K"), "J/mol/K"),
        _kind("molar mass", "kg/mol", ("kg/mol", "g/mol", "g/mol"), "g/mol"),
    ]
)
