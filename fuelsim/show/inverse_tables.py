"""Answers to inverse questions as tables and sentences: power of a pump, line for a loss, old parts, longest idle."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.constants import GRAVITY
from fuelsim.show.tables import Column, Entry, frame, marked
from fuelsim.typing import UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.longest_idle import LongestIdle
    from fuelsim.studies.old_parts import CanStay
    from fuelsim.studies.part_inverses import LineForLoss, PumpPower

__all__ = ["can_stay_sentence", "can_stay_table", "line_for_loss_table", "longest_idle_table", "pump_power_table"]


def pump_power_table(result: PumpPower, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per voltage and set pressure."""
    import pandas as pd

    volts, pressures = (each.ravel() for each in np.meshgrid(result.supply_voltage, result.set_pressure, indexing="ij"))
    axes = frame(
        [Entry("supply_voltage", "voltage", volts), Entry("set_pressure", "pressure difference", pressures)], units
    )
    columns = [Entry("pump", "volume flow", result.flow.ravel())]
    columns += [Entry(name, "power", one.ravel()) for name, one in zip(result.fuels, result.power, strict=True)]
    return frame(columns, units).set_axis(pd.MultiIndex.from_frame(axes), axis="index")


def line_for_loss_table(result: LineForLoss, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per family: its smallest size that loses no more."""
    import pandas as pd

    velocity = result.flow / (0.25 * np.pi * result.size_bores**2)
    columns = [
        Entry("bore", "bore", result.size_bores),
        Entry("loss", "pressure difference", result.size_losses),
        Entry("velocity", "velocity", velocity),
    ]
    return frame(columns, units).set_axis(pd.Index(result.sizes, name="size"), axis="index")


def can_stay_table(result: CanStay, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per limit of an old part; of a tank its least fill."""
    if result.use == "tank":
        return frame([Entry("least_fill", "volume", [result.least_fill])], units)
    columns: list[Entry | Column] = [
        Column("limit", [each.limit for each in result.limits]),
        Entry("flow", "volume flow", [each.flow for each in result.limits]),
        Entry("power", "power", [each.power for each in result.limits]),
        Entry("bypass", "volume flow", [each.bypass for each in result.limits]),
    ]
    return frame(columns, units).dropna(axis="columns", how="all")


def can_stay_sentence(result: CanStay) -> str:
    """Return what an old part bears, and what the car asks of it."""
    if result.use == "tank":
        corner = f"a steady corner of {result.cornering / GRAVITY:.2g} g"
        if np.isnan(result.least_fill):
            return f"{result.part}: its pick-up is bare in {corner} even when full"
        return (
            f"{result.part}: its pick-up stays covered in {corner} from {shown(result.least_fill, 'volume')} of fuel on"
        )
    told = []
    for each in result.limits:
        figure = f"up to {shown(each.flow, 'volume flow', digits=3)}"
        if np.isfinite(each.power):
            figure += f" or {shown(each.power, 'power', digits=3)}"
        told.append(f"{figure} before {each.limit}" if "velocity" not in each.limit else f"{figure} at {each.limit}")
    asked = f"the car asks {shown(result.demand, 'volume flow', digits=3)}"
    pump = f"; largest pump of the catalogue: {result.pump}" if result.pump else ""
    if not result.pump and result.use in ("feed", "suction", "return"):
        pump = "; no pump of the catalogue is within flow and rating"
    return f"{result.part}: {'; '.join(told)}; {asked}{pump}"


def longest_idle_table(result: LongestIdle, units: UnitSystem | None = None) -> pd.DataFrame:
    """Return one row per air temperature and fill: minutes until each event."""
    columns: list[Entry | Column] = [
        Entry("air", "temperature", [row.air_temperature for row in result.rows]),
        Column("fill_percent", [100.0 * row.fill for row in result.rows]),
        Entry("hottest_tank", "temperature", [row.hottest_tank for row in result.rows]),
    ]
    names = list(result.rows[0].times)
    columns += [Column(f"{name}_min", [row.times[name] / 60.0 for row in result.rows]) for name in names]
    return marked(frame(columns, units), result.completion)
