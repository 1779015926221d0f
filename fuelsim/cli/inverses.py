"""Questions asked backwards on the command line: power, line, clogging, set-pressure, resistance, stay and idle."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.cli.cautioned import cautioned
from fuelsim.cli.console import say, wrapped
from fuelsim.cli.flags import Parser, add_car, add_common, car_given, command_parser, layout_given
from fuelsim.cli.json_text import json_text, table_rows
from fuelsim.errors import InputError
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.wire import Wire
from fuelsim.studies.longest_idle import longest_idle
from fuelsim.studies.old_parts import can_stay
from fuelsim.studies.part_inverses import clogging_of, line_for_loss, power_of_pump, set_pressure_for, tank_liquid
from fuelsim.typing import Given
from fuelsim.units import prefer_units, shown

if TYPE_CHECKING:
    import argparse

    import pandas as pd

__all__ = ["INVERSES"]

OF_PART = "layout of the car; of no effect where the answer does not depend on it"
ONE_LAYOUT = "the layout; left out, the first the car has the parts for"


def _power(arguments: Sequence[str]) -> None:
    """Print the engine power that a pump carries."""
    options = command_parser("fuelsim power", "The greatest engine power that a pump carries, over volts and pressure.")
    add_car(options)
    options.add_argument("--pump", metavar="NAME", help="pump of the catalogue; left out, the car's own")
    options.add_argument(
        "--set-pressure",
        action="append",
        metavar="P",
        help="may be repeated; left out, what the layout's regulator holds",
    )
    options.add_argument(
        "--volts", action="append", metavar="V", help="at the pump; may be repeated; left out, 12 and 13.5"
    )
    options.add_argument("--boost", default="0 kPa", metavar="P", help="boost pressure; left out, none")
    options.add_argument(
        "--loss", default="30 kPa", metavar="P", help="lost between pump and regulator; left out, 30 kPa"
    )
    options.add_argument("--margin", default="20 %", metavar="M", help="flow beyond what is burnt")
    options.add_argument(
        "--fuel", action="append", metavar="NAME", help="may be repeated; left out, summer_e10 and e85"
    )
    given = _parsed(options, arguments, ONE_LAYOUT)
    car = car_given(given.car)
    plumbing = car.system(layout_given(car, given.layout)).plumbing
    pump = plumbing.main_pump.part if given.pump is None else Pump.named(given.pump)
    held = given.set_pressure or [float(np.max(plumbing.held_pressure()))]
    volts = given.volts or ["12 V", "13.5 V"]
    fuels = given.fuel or ["summer_e10", "e85"]
    result = power_of_pump(
        pump, held, supply_voltage=volts, boost=given.boost, loss=given.loss, margin=given.margin, fuels=fuels
    )
    _print("power", given, result.headline, result.table())


def _line(arguments: Sequence[str]) -> None:
    """Print the bore and the sizes for a stated loss."""
    options = command_parser("fuelsim line", "The least bore that loses no more than stated, and the sizes to buy.")
    add_car(options)
    options.add_argument("--loss", required=True, metavar="P", help="pressure that may be lost, such as '10 kPa'")
    options.add_argument("--flow", required=True, metavar="Q", help="volume flow, such as '200 L/h'")
    options.add_argument("--length", required=True, metavar="L", help="length of the line, such as '4 m'")
    options.add_argument("--loss-coefficient", default="0", metavar="K", help="sum of the K of bends and fittings")
    given = _parsed(options, arguments, OF_PART)
    car = car_given(given.car)
    liquid = tank_liquid(car)
    result = line_for_loss(
        given.loss, given.flow, given.length, liquid=liquid, loss_coefficient=_number(given.loss_coefficient)
    )
    _print("line", given, result.headline, result.table())


def _clogging(arguments: Sequence[str]) -> None:
    """Print how clogged a filter is."""
    options = command_parser("fuelsim clogging", "How clogged a filter is, from a gauge before and a gauge after it.")
    add_car(options)
    options.add_argument("--filter", metavar="NAME", help="clean filter of the catalogue; left out, the car's own")
    options.add_argument("--flow", required=True, metavar="Q", help="flow through it, such as '120 L/h'")
    options.add_argument("--before", required=True, metavar="P", help="pressure before it")
    options.add_argument("--after", required=True, metavar="P", help="pressure after it")
    given = _parsed(options, arguments, OF_PART)
    car = car_given(given.car)
    clean = car.filter if given.filter is None else Filter.named(given.filter)
    if clean is None:
        raise InputError("the car has no filter", accepted="--filter NAME of the catalogue", key="--filter")
    liquid = tank_liquid(car)
    clogging = clogging_of(clean, given.flow, given.before, given.after, liquid=liquid)
    _print(
        "clogging", given, f"Clogged {clogging:.3g} times (1 clean, 4 old, 10 blocked)", None, {"clogging": clogging}
    )


def _set_pressure(arguments: Sequence[str]) -> None:
    """Print the set pressure for a wanted injector flow."""
    options = command_parser(
        "fuelsim set-pressure", "The pressure of rail over manifold at which an injector passes a wanted flow."
    )
    add_car(options)
    options.add_argument(
        "--flow", required=True, metavar="Q", help="static flow of one, such as '260 mL/min' or '24 lb/h'"
    )
    options.add_argument("--injectors", metavar="NAME", help="injectors of the catalogue; left out, the car's own")
    given = _parsed(options, arguments, OF_PART)
    injectors = car_given(given.car).injectors if given.injectors is None else Injectors.named(given.injectors)
    pressure = set_pressure_for(injectors, given.flow)
    told = f"{shown(pressure, 'pressure difference')} between rail and manifold; pump, lines and ratings must bear it"
    _print("set-pressure", given, told, None, {"pressure_Pa": pressure})


def _resistance(arguments: Sequence[str]) -> None:
    """Print the resistance of a pump's circuit."""
    options = command_parser("fuelsim resistance", "The resistance of a pump's circuit from the volts that it loses.")
    add_car(options)
    options.add_argument("--open", required=True, metavar="V", help="volts at the source, such as '13.6 V'")
    options.add_argument("--loaded", required=True, metavar="V", help="volts at the pump while it runs")
    options.add_argument("--current", required=True, metavar="I", help="current of the pump, such as '7 A'")
    given = _parsed(options, arguments, OF_PART)
    wire = Wire.from_measurement(given.open, given.loaded, given.current)
    resistance = float(wire.resistance)
    _print("resistance", given, f"{1e3 * resistance:.4g} mohm out and back", None, {"resistance_ohm": resistance})


def _stay(arguments: Sequence[str]) -> None:
    """Print what old parts bear."""
    options = command_parser(
        "fuelsim stay", "What an old feed, suction or return line, vent or tank bears: power, bypass, pump, least fill."
    )
    options.add_argument("car", help="car file (TOML) with the old parts")
    options.add_argument(
        "--part", action="append", metavar="KEY", help="feed, return_line, tank.vent, tank ...; left out, all lines"
    )
    options.add_argument(
        "--cornering", default="0.8 g", metavar="A", help="steady corner for the tank; left out, 0.8 g"
    )
    given = _parsed(options, arguments, ONE_LAYOUT)
    car = car_given(given.car)
    system = car.system(layout_given(car, given.layout))
    lines = dict.fromkeys(link.table for link in system.plumbing.lines)
    results = [can_stay(system, part, cornering=given.cornering) for part in given.part or lines]
    if given.json:
        rows = {result.part: {"sentence": result.headline, "limits": table_rows(result.table())} for result in results}
        say(json_text("stay", {"car": car.name, "layout": system.layout, "parts": rows}))
        return
    say(cautioned([_paragraph(result.headline) for result in results]))


def _idle(arguments: Sequence[str]) -> None:
    """Print how long a car idles in traffic."""
    options = command_parser(
        "fuelsim idle", "How long a car idles in traffic before its pump gets loud, it runs lean or stops."
    )
    add_car(options)
    options.add_argument("--air-temperature", action="append", metavar="T", help="may be repeated; left out, the car's")
    options.add_argument("--fill", action="append", metavar="F", help="of the tank, such as '25 %%'; may be repeated")
    options.add_argument("--longest", default="3 h", metavar="TIME", help="when to give up; left out, 3 h")
    given = _parsed(options, arguments, ONE_LAYOUT)
    car = car_given(given.car)
    air = given.air_temperature or [float(np.max(car.surroundings.air_temperature))]
    layout = layout_given(car, given.layout)
    result = longest_idle(car, layout, air, fill=given.fill or ["25 %", "75 %"], longest=given.longest)
    _print("idle", given, result.headline, result.table())


INVERSES: dict[str, Callable[[Sequence[str]], None]] = {
    "power": _power,
    "line": _line,
    "clogging": _clogging,
    "set-pressure": _set_pressure,
    "resistance": _resistance,
    "stay": _stay,
    "idle": _idle,
}
"""Subcommands by name."""


def _parsed(options: Parser, arguments: Sequence[str], layout: str) -> argparse.Namespace:
    """Return the flags that were given, with the units preferred from now on."""
    add_common(options, layout=layout)
    given = options.parse_args(arguments)
    prefer_units(given.units)
    return given


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError("not a number", given=text, accepted="a number, such as 3", key="--loss-coefficient") from None


def _print(
    command: str,
    given: argparse.Namespace,
    sentence: str,
    table: pd.DataFrame | None,
    figures: Mapping[str, Given] | None = None,
) -> None:
    """Print a sentence and a table, or all as JSON."""
    rows = [] if table is None else table_rows(table)
    if given.json:
        say(json_text(command, {"sentence": sentence, **(figures or {}), "rows": rows}))
        return
    parts = [_paragraph(sentence)]
    if table is not None:
        parts.append(table.map(_cell).to_string())
    say(cautioned(parts))


def _cell(cell: str | float) -> str:
    """Return a figure of a table as text; a dash where it does not happen."""
    if isinstance(cell, str):
        return cell
    return f"{cell:.4g}" if np.isfinite(cell) else "-"


def _paragraph(text: str) -> str:
    return "\n".join(wrapped(text))
