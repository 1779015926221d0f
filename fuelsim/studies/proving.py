"""The operating points on which a car is proved, and one operating point in words."""

from __future__ import annotations

import numpy as np

from fuelsim import units
from fuelsim.arguments import takes, whole
from fuelsim.car.car import Car
from fuelsim.car.engine import Engine
from fuelsim.system.conditions import ONE_CONDITION, Conditions
from fuelsim.typing import FloatArray, FloatLike, Given

__all__ = ["OLD_FILTER", "WORN_PUMP", "altitude_in_words", "full_load_speeds", "point_in_words", "proving_conditions"]

WORN_PUMP = 0.10
"""Fraction of its flow that a worn pump has lost, at a third of its dead-head pressure."""
OLD_FILTER = 4.0
"""Factor on the viscous resistance of an old filter."""


@takes(
    {
        "speeds": whole(2, 1000),
        "cold": ONE_CONDITION["tank_temperature"],
        "mild": ONE_CONDITION["tank_temperature"],
        "pump_wear": ONE_CONDITION["pump_wear"],
        "filter_clogging": ONE_CONDITION["filter_clogging"],
        "supply_voltage": ONE_CONDITION["supply_voltage"],
        "altitude": ONE_CONDITION["altitude"],
    }
)
def proving_conditions(
    car: Car,
    *,
    speeds: int = 10,
    cold: Given = "-10 degC",
    mild: Given = "20 degC",
    pump_wear: Given = WORN_PUMP,
    filter_clogging: Given = OLD_FILTER,
    supply_voltage: Given | None = None,
    altitude: Given | None = None,
) -> Conditions:
    """Return the operating points a car is proved on: idle to red line, cold, mild and hot, new and worn.

    They are at the car's own altitude, with its own air and tank temperatures as the hot day.

    Parameters
    ----------
    car : Car
        The car.
    speeds : int
        Number of engine speeds: idle, and the others at full load up to the red line.
    cold, mild : float or str
        Temperature of air and tank on the cold and the mild day, K.
    pump_wear : float or str
        Fraction of its flow that the worn pump has lost, at a third of its dead-head pressure: tolerance of a class
        [memory].
    filter_clogging : float or str
        Factor on the viscous resistance of the old filter, 1 to 10 [memory].
    supply_voltage : float or str, optional
        Voltage of battery or alternator, V; left out, the car's own.
    altitude : float or str, optional
        Altitude above sea level, m; left out, the car's own. Lower down the engine burns more fuel, higher up fuel
        boils sooner: a car that is driven at both is proved at both.

    Returns
    -------
    Conditions
        Shape (speeds, 3, 2); 60 points by default.

    Raises
    ------
    InputError
        For a value that is not plausible.

    Examples
    --------
    >>> proving_conditions(Car.named("finch")).shape
    (10, 3, 2)
    """
    engine, around = car.engine, car.surroundings
    full_load = full_load_speeds(engine, speeds - 1)
    cold_day, mild_day = (float(units.convert(value, "temperature")) for value in (cold, mild))
    air = float(around.air_temperature)
    tank = float(around.fuel_temperature)
    return Conditions(
        rpm=np.concatenate([[engine.idle_speed], full_load])[:, None, None],
        load=np.concatenate([[0.0], np.ones(speeds - 1)])[:, None, None],
        air_temperature=np.array([cold_day, mild_day, air])[:, None],
        tank_temperature=np.array([cold_day, mild_day, tank])[:, None],
        pump_wear=np.array([0.0, float(units.convert(pump_wear, "fraction"))]),
        filter_clogging=np.array([1.0, float(units.convert(filter_clogging, "number"))]),
        supply_voltage=supply_voltage,
        altitude=altitude,
    )


def full_load_speeds(engine: Engine, count: int) -> FloatArray:
    """Return engine speeds at which full load is tried, from well above idle to the red line.

    Parameters
    ----------
    engine : Engine
    count : int
        Number of speeds.

    Returns
    -------
    array (count,)
        rpm.

    Examples
    --------
    >>> full_load_speeds(Car.named("finch").engine, 2).tolist()
    [1500.0, 6500.0]
    """
    return np.linspace(max(1500.0, 1.2 * engine.idle_speed), engine.red_line, count)


def point_in_words(conditions: Conditions, index: int) -> str:
    """Return one operating point in words; the altitude where it is not sea level.

    Parameters
    ----------
    conditions : Conditions
        Filled in, as a run has them.
    index : int
        Number of the point in the flattened batch.

    Returns
    -------
    str

    Examples
    --------
    >>> point_in_words(Conditions(rpm=[900.0, 6000.0], tank_temperature="40 degC", pump_wear=0.1), 1)
    '6000 rpm, full load, tank at 40 °C, pump worn 10 %'
    >>> point_in_words(Conditions(rpm=900.0, load=0.0, tank_temperature="40 degC", altitude="2300 m"), 0)
    '900 rpm, idle, tank at 40 °C, at 2300 m'
    """
    point = {name: float(values[index]) for name, values in conditions.points().items()}
    load = point["load"]
    load_in_words = {0.0: "idle", 1.0: "full load"}.get(load, f"load {100.0 * load:.0f} %")
    tank = units.shown(point["tank_temperature"], "temperature", digits=3)
    words = [f"{point['rpm']:.0f} rpm", load_in_words, f"tank at {tank}"]
    if point.get("altitude", 0.0):
        words.append(altitude_in_words(point["altitude"]))
    if point["pump_wear"]:
        words.append(f"pump worn {100.0 * point['pump_wear']:.0f} %")
    if point.get("filter_clogging", 1.0) != 1.0:
        words.append("old filter")
    return ", ".join(words)


def altitude_in_words(altitude: FloatLike) -> str:
    """Return where one or many operating points are.

    Parameters
    ----------
    altitude : float or array
        Altitude above sea level, m.

    Returns
    -------
    str

    Examples
    --------
    >>> altitude_in_words(0.0), altitude_in_words(2300.0), altitude_in_words(np.array([0.0, 2300.0]))
    ('at sea level', 'at 2300 m', 'from 0 m to 2300 m')
    """
    least, greatest = float(np.min(altitude)), float(np.max(altitude))
    lower, upper = (units.shown(value, "altitude", digits=4) for value in (least, greatest))
    if least < greatest:
        return f"from {lower} to {upper}"
    return f"at {upper}" if greatest else "at sea level"
