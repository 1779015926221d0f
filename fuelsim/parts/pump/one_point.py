"""A pump measured at one pressure for each voltage, as on most home benches: a curve from the nearest generic class."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.errors import InputError
from fuelsim.parts.catalogue_parts import catalogue_entry, catalogue_names
from fuelsim.parts.pump.pump_types import PUMP_TYPES
from fuelsim.typing import FloatArray, Given, PointArray

__all__ = ["CLASS_TOLERANCE", "completed", "is_one_point_per_voltage"]

CLASS_TOLERANCE = 0.10
"""Tolerance of the flow of a class of pumps [common_practice], which holds away from the pressure that was measured."""
_BENCH_VOLTAGE = 13.5
"""Voltage of rows that name none, as in `Pump`, V."""


class _ClassCurve(NamedTuple):
    """Bench rows of a generic class at its highest voltage, of rising pressure: flow, m3/s, and pressure rise, Pa."""

    flow: PointArray
    pressure: PointArray

    def at(self, pressure: float) -> float:
        """Return the flow at a pressure; NaN beyond the rows."""
        return float(np.interp(pressure, self.pressure, self.flow, left=np.nan, right=np.nan))


_KINDS = {"flow": "volume flow", "pressure": "pressure difference", "voltage": "voltage"}


def _column(columns: Mapping[str, Given], key: str) -> FloatArray:
    """Return a column of bench rows in SI."""
    values: FloatArray = np.asarray(units.convert(columns.get(key, _BENCH_VOLTAGE), _KINDS[key]), dtype=float)
    return values


def is_one_point_per_voltage(columns: Mapping[str, Given]) -> bool:
    """Return whether bench columns hold a single row for each voltage.

    Parameters
    ----------
    columns : mapping of str to list
        Columns ``flow``, ``pressure``, ``voltage`` and perhaps others, as a user writes them.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_one_point_per_voltage({"flow": ["150 L/h", "180 L/h"], "voltage": ["12 V", "13.5 V"]})
    True
    """
    if columns.get("speed") is not None:
        return False
    try:
        flow, voltage = (np.atleast_1d(value) for value in (_column(columns, "flow"), _column(columns, "voltage")))
    except InputError:
        return False  # the pump says what is wrong
    return len(flow) > 0 and len(np.unique(voltage)) == len(voltage) == len(flow)


def completed(columns: Mapping[str, Given], type: str) -> dict[str, list[float]]:
    """Return bench rows along typical curves through one measured point at each voltage.

    At the highest voltage the curve is that of the generic class of this kind whose flow at the measured pressure is
    nearest, its flows multiplied so that it runs through the point. At a lower one flow is lost as pumps of this kind
    lose it: the same at every pressure, or in proportion (`PumpType.proportional_share`).

    Parameters
    ----------
    columns : mapping of str to list
        Columns ``flow``, ``pressure`` and ``voltage``, one row for each voltage.
    type : str
        Kind of pump end.

    Returns
    -------
    dict of str to list
        ``flow``, m3/s, ``pressure``, Pa, and ``voltage``, V.

    Raises
    ------
    InputError
        For a pressure that no class of this kind delivers at, unequal lengths, or less flow at more voltage.

    Examples
    --------
    >>> rows = completed({"flow": ["150 L/h"], "pressure": ["3 bar"], "voltage": ["13.5 V"]}, "turbine")
    >>> round(float(np.interp(300e3, rows["pressure"][::-1], rows["flow"][::-1])) * 3.6e6, 6)
    150.0
    """
    flow, pressure, voltage = (np.atleast_1d(_column(columns, key)) for key in ("flow", "pressure", "voltage"))
    if len(pressure) != len(flow):
        raise InputError(f"{len(pressure)} pressures, but {len(flow)} flows", accepted="one of each", key="pressure")
    order = np.argsort(-voltage)
    flow, pressure, voltage = flow[order], pressure[order], voltage[order]
    curve = _nearest_class(float(flow[0]), float(pressure[0]), type)
    top = _ClassCurve(curve.flow * (flow[0] / curve.at(float(pressure[0]))), curve.pressure)
    rows: dict[str, list[float]] = {"flow": [], "pressure": [], "voltage": []}
    for q, p, volts in zip(flow.tolist(), pressure.tolist(), voltage.tolist(), strict=True):
        pressures = np.unique(np.append(top.pressure, p))
        flows = _flows_at(top, pressures, q, p, type)
        kept = flows > 0.0
        rows["flow"] += flows[kept][::-1].tolist()
        rows["pressure"] += pressures[kept][::-1].tolist()
        rows["voltage"] += [volts] * int(kept.sum())
    return rows


def _flows_at(top: _ClassCurve, pressures: PointArray, flow: float, pressure: float, type: str) -> FloatArray:
    """Return the flows, m3/s, along the curve through a point that lies below the one at the highest voltage."""
    at_top = np.interp(pressures, top.pressure, top.flow)
    there = top.at(pressure)
    if not there > 0.0:
        reached = f"no typical curve reaches {pressure:g} Pa"
        raise InputError(reached, accepted="at least two points at each voltage", key="pressure")
    if flow <= 0.0 or flow > there * (1.0 + 1e-9):
        accepted = "flows that rise with the voltage"
        raise InputError("more flow at less voltage, or none", given=f"{flow:g} m3/s", accepted=accepted, key="flow")
    share = PUMP_TYPES[type].proportional_share
    lost: FloatArray = (there - flow) * (share * at_top / there + 1.0 - share)
    return at_top - lost


def _nearest_class(flow: float, pressure: float, type: str) -> _ClassCurve:
    """Return the curve of the generic class of a kind whose flow at a pressure is nearest in proportion."""
    curves = []
    for name in catalogue_names("pumps"):
        values = catalogue_entry("pumps", name).values
        if values.get("type", "turbine") == type and "speed" not in values:
            flows, pressures = _column(values, "flow"), _column(values, "pressure")
            volts = np.broadcast_to(_column(values, "voltage"), flows.shape)
            rows = np.flatnonzero(volts == volts.max())
            rows = rows[np.argsort(pressures[rows])]
            curves.append(_ClassCurve(flows[rows], pressures[rows]))
    able = [curve for curve in curves if curve.at(pressure) > 0.0]
    if not able or not flow > 0.0:
        raise InputError(
            f"one point, and no generic {type} pump delivers at its pressure",
            given=f"{flow:g} m3/s at {pressure:g} Pa",
            accepted="at least two points at each voltage, or a flow above 0",
            key="flow",
        )
    return min(able, key=lambda curve: abs(np.log(curve.at(pressure) / flow)))
