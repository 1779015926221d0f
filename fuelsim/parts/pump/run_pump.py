"""From the ratings of a pump and its conditions to the running pump."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fuelsim.arguments import FUEL_DENSITY, INLET_VAPOUR, VOLTAGE, number
from fuelsim.errors import InputError
from fuelsim.laws.motor import delivers, on_fluid, relief_limited_rise, running_curve
from fuelsim.laws.pump_curve import PumpTable, standing_table
from fuelsim.laws.pump_leakage import leaking_table
from fuelsim.numerics.cubic import falling_slopes
from fuelsim.parts.pump.running_pump import RunningPump, is_switched_on
from fuelsim.parts.pump.running_ratings import RunningRatings
from fuelsim.typing import FloatLike

__all__ = ["CONDITIONS", "run_pump"]

CONDITIONS = {
    "supply_voltage": replace(VOLTAGE, rows=True, optional=True),
    "wire_resistance": number("resistance", 0.0, 20.0, example="50 mohm", flat=True),
    "duty": number("fraction", 0.0, 1.0, example="80 %", flat=True),
    "speed": number("engine speed", 0.0, 60e3, example="6000 rpm", flat=True, optional=True),
    "wear": number("fraction", -0.3, 0.95, example="10 %", flat=True),
    "vapour_liquid_ratio": replace(INLET_VAPOUR, rows=True),
    "fuel_temperature": number("temperature", 200.0, 420.0, example="20 degC", flat=True),
    "fuel_density": replace(FUEL_DENSITY, rows=True, optional=True),
}
"""Declarations of the conditions of a pump."""


def run_pump(
    ratings: RunningRatings,
    *,
    supply_voltage: FloatLike | None,
    wire_resistance: FloatLike,
    duty: FloatLike,
    speed: FloatLike | None,
    wear: FloatLike,
    vapour_liquid_ratio: FloatLike,
    fuel_temperature: FloatLike,
    fuel_density: FloatLike | None,
) -> RunningPump:
    """Return a pump under its conditions.

    Parameters
    ----------
    ratings : RunningRatings
        Ratings of the pump.
    supply_voltage, wire_resistance, duty, speed, wear, vapour_liquid_ratio, fuel_temperature, fuel_density
        As `Pump.at`, which calls this.

    Returns
    -------
    RunningPump

    Raises
    ------
    InputError
        For a value outside its plausible range, a speed without speed control, or a duty with it.

    Examples
    --------
    >>> from fuelsim.parts.pump.pump import Pump
    >>> running = Pump.named("in_tank_220").at(supply_voltage="12 V")
    >>> round(float(running.flow("3 bar")) * 3.6e6)
    207
    """
    bench, density_ratio = ratings.bench, np.ones(())
    if fuel_density is not None and ratings.fluid_density is not None:
        # One map holds for all points: that of the mean density, in whose pressures the others are proportional.
        mean = float(np.mean(fuel_density))
        bench, density_ratio = on_fluid(bench, mean / ratings.fluid_density), np.asarray(fuel_density) / mean
    supply = ratings.bench_voltage if supply_voltage is None else supply_voltage
    controlled_speed: FloatLike | None = None
    if ratings.bench_speed is None:
        if speed is not None:
            raise InputError("this pump has no speed control", given=speed, accepted="duty", key="speed", part="Pump")
        largest, rise, slope = running_curve(bench, supply, wire_resistance, duty, ratings.knots)
    else:
        if np.any(np.asarray(duty) != 1.0):
            raise InputError("the controller sets the speed", given=duty, accepted="speed", key="duty", part="Pump")
        controlled_speed = ratings.bench_speed
        if speed is not None:
            controlled_speed = speed
        ceiling = ratings.speed_ceiling(supply, wire_resistance)
        if ceiling is not None:
            # The current of the bench grows with the speed of a table; at the ceiling it does not.
            largest, rise, slope = running_curve(
                bench._replace(current_per_drive=0.0),
                ceiling.at_no_current,
                ceiling.per_current,
                1.0,
                ratings.knots,
                controlled_speed,
            )
    rise, slope = rise * density_ratio, slope * density_ratio
    # A pump that delivers nothing even without a pressure rise hinders fuel that is pushed through it as one at rest.
    delivering = delivers(bench, largest)
    if ratings.relief_pressure is not None:
        rise, slope = relief_limited_rise(
            rise, slope, largest, ratings.relief_pressure, ratings.relief_band, ratings.bench.free_flow
        )
    secant = np.diff(rise, axis=0) * (len(rise) - 1) / largest
    slope = falling_slopes(slope, secant, (rise[-1] - rise[0]) / largest)
    if np.any(np.asarray(wear) > 0.0):
        largest, rise, slope = leaking_table(
            PumpTable(largest, rise, slope), ratings.worn_leak * np.maximum(np.asarray(wear), 0.0)
        )
        delivering = np.broadcast_to(delivering, largest.shape)
    on = delivering & is_switched_on(supply, duty, controlled_speed, ratings.cut_out_voltage)
    if not np.all(on):
        largest, rise, slope = (np.broadcast_to(x, (*x.shape[:-1], *on.shape)) for x in (largest, rise, slope))
        standing = standing_table(np.full(largest.shape, bench.free_flow), ratings.standing_loss, len(rise))
        largest, rise, slope = (
            np.where(on, own, at_rest) for own, at_rest in zip((largest, rise, slope), standing, strict=True)
        )
    return RunningPump(
        ratings=ratings,
        bench=bench,
        supply_voltage=supply,
        wire_resistance=wire_resistance,
        duty=duty,
        speed=controlled_speed,
        largest_flow=largest,
        rise=rise,
        slope=slope,
        vapour_handling=ratings.vapour_handling,
        wear=wear,
        vapour_liquid_ratio=vapour_liquid_ratio,
        fuel_temperature=fuel_temperature,
    )
