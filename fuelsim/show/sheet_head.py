"""The head of the sheet to hand over: the car in short, the verdict, and the injectors' dead times."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.engine import Engine
from fuelsim.car.layouts import layout_title
from fuelsim.car.peak_power import given_peak_power
from fuelsim.finding import Severity
from fuelsim.sources import doubt
from fuelsim.studies.commissioning import FULL_LOAD, IDLE
from fuelsim.studies.proving import altitude_in_words
from fuelsim.typing import FloatArray
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.studies.commissioning import HandOver

__all__ = ["DeadTimes", "Fact", "dead_times", "facts", "summary", "weather"]

DEAD_TIME_VOLTAGES = np.array([9.0, 10.0, 11.0, 12.0, 13.0, 13.5, 14.0, 15.0])
"""Voltages of the dead-time table, V: from cranking to charging."""


class Fact(NamedTuple):
    """One fact at the head of the sheet, with its name."""

    name: str
    text: str


class DeadTimes(NamedTuple):
    """Dead time of the injectors over voltage, at the pressures of this car.

    Attributes
    ----------
    headings : list of str
        Voltage, then one pressure over the manifold each.
    rows : list of list of str
        Voltage and dead times in words.
    source : str
        Whose figures they are.
    """

    headings: list[str]
    rows: list[list[str]]
    source: str


def facts(sheet: HandOver) -> list[Fact]:
    """Return engine, power, boost, layout, fuel, weather, altitude and verdict, each in a few words.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.

    Examples
    --------
    >>> import fuelsim as fs
    >>> [fact.text for fact in facts(fs.hand_over(fs.Car.named("heron"))) if fact.name in ("Engine", "Power", "Boost")]
    ['8 cylinders, 4.9 L, red line 5600 rpm', '225 kW at 5400 rpm', 'none']
    """
    engine = sheet.car.engine
    boost = float(np.max(engine.boost_pressure))
    size = shown(float(engine.displacement), "displacement", digits=3)
    return [
        Fact("Engine", f"{engine.cylinders} cylinders, {size}, red line {float(engine.red_line):.0f} rpm"),
        Fact("Power", _power(engine)),
        Fact("Boost", shown(boost, "pressure difference", digits=3) if boost else "none"),
        Fact("Fuel", _fuel(sheet)),
        Fact("Layout", layout_title(sheet.system.layout, sheet.car)),
        Fact("Car's weather", weather(sheet)),
        Fact("Workshop", f"air and tank {shown(sheet.workshop_temperature, 'temperature', digits=3)}"),
        Fact("Findings", sheet.findings.headline.partition(": ")[2] or "none"),
    ]


def _power(engine: Engine) -> str:
    """Return the greatest power that the engine's own figures give, in words."""
    peak = given_peak_power(engine)
    if peak is None:
        return "not given: computed from volumetric efficiency"
    return f"{shown(peak.power, 'power', digits=3)} at {peak.speed:.0f} rpm"


def dead_times(sheet: HandOver) -> DeadTimes:
    """Return the dead times over voltage at the pressures over the manifold at idle and at full load.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.

    Examples
    --------
    >>> import fuelsim as fs
    >>> table = dead_times(fs.hand_over(fs.Car.named("finch")))
    >>> table.headings[0], table.rows[3][0]
    ('volts at the injectors', '12 V')
    """
    injectors = sheet.car.injectors
    running = np.asarray(sheet.run.before_stop.injector_pressure_difference)
    named = [(name, float(running[sheet.points.index(name)])) for name in (IDLE, FULL_LOAD)]
    named = [(name, pressure) for name, pressure in named if np.isfinite(pressure) and pressure > 0.0]
    named = [("rated", float(np.max(injectors.rated_pressure))), *named]
    columns: list[FloatArray] = [
        unchecked(injectors.opening_loss)(DEAD_TIME_VOLTAGES, pressure) for _, pressure in named
    ]
    typical = np.array_equal(injectors.dead_time, type(injectors)(count=1).dead_time)
    source = (
        f"Typical, not those of these injectors, whose own replace them; {doubt('dead_time')}."
        if typical
        else "From the injectors' own table."
    )
    return DeadTimes(
        ["volts at the injectors", *(f"{name}: {shown(at, 'pressure difference', digits=3)}" for name, at in named)],
        [
            [
                shown(float(volts), "voltage", digits=3),
                *(shown(float(column[row]), "pulse time", digits=3) for column in columns),
            ]
            for row, volts in enumerate(DEAD_TIME_VOLTAGES)
        ],
        source,
    )


def summary(sheet: HandOver) -> str:
    """Return in two sentences which requirements are not met.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    """
    missed = [item.rule for item in sheet.assessment.items if item.met is False]
    failures = [rule.measure.about for rule in missed if rule.severity is Severity.FAILURE]
    warnings = [rule.measure.about for rule in missed if rule.severity is Severity.WARNING]
    points = int(np.size(sheet.assessment.run.outcome.code))
    altitude = sheet.assessment.run.conditions.altitude
    judged = (
        f"{len(sheet.assessment.items)} requirements on {points} operating points, cold to hot, new to worn,"
        f" {altitude_in_words(altitude)}"
    )
    met = f"not met: {'; '.join(failures)}." if failures else "every mandatory requirement is met in the computation."
    recommended = f" Recommended but not met: {'; '.join(warnings)}." if warnings else ""
    below = " Lower down the engine burns more fuel: judge it there too." if np.min(altitude) > 0.0 else ""
    return f"Judged by {judged}: {met}{recommended}{below}"


def weather(sheet: HandOver) -> str:
    """Return the car's own weather, for which the sheet is computed.

    Parameters
    ----------
    sheet : HandOver
        What is handed over.
    """
    air = shown(sheet.car.surroundings.air_temperature, "temperature", digits=3)
    tank = shown(float(np.ravel(sheet.run.conditions.tank_temperature)[0]), "temperature", digits=3)
    return f"air {air}, tank {tank}, {altitude_in_words(sheet.car.surroundings.altitude)}"


def _fuel(sheet: HandOver) -> str:
    name = sheet.car.fuel.name or "petrol"
    pressure = shown(float(sheet.system.fuel.dvpe()), "absolute pressure", digits=3)
    return f"{name.replace('_', ' ')}, vapour pressure (DVPE) {pressure} absolute"
