"""Bench tables of pumps: reading them from files, and fitting a smooth form to scattered rows."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import units
from fuelsim.constants import L_PER_HOUR
from fuelsim.data_files import read_text, read_toml
from fuelsim.errors import InputError, nearest

if TYPE_CHECKING:
    from fuelsim.parts.pump.pump import Pump

__all__ = ["BenchFit", "fit_bench", "joined_tables", "read_bench"]

_COLUMNS = ("flow", "pressure", "current", "voltage", "speed")
_FITTED_ROWS = 13
_DEAD_HEAD_WEIGHT = 100.0


@dataclass(frozen=True)
class BenchFit:
    """A falling, concave form fitted to scattered bench rows.

    Attributes
    ----------
    pump : Pump
        The pump of the fitted form.
    residual : array (rows,)
        Fitted less measured flow, m3/s.
    rms_error, worst_error : float
        m3/s.
    flow_per_drive : float
        m3/s per V or per rpm.
    plane_rms_error : float
        Of the best plane Q = A V - B p - C through the same rows, m3/s.
    plane_dead_head : float
        Where that plane reaches no flow at the highest voltage or speed, Pa: usually far beyond the truth.
    """

    pump: Pump
    residual: np.ndarray
    rms_error: float
    worst_error: float
    flow_per_drive: float
    plane_rms_error: float
    plane_dead_head: float

    def __str__(self) -> str:
        hour = 1.0 / L_PER_HOUR
        return (
            f"concave fit {self.rms_error * hour:.1f} L/h rms, {self.worst_error * hour:.1f} L/h at worst "
            f"(plane {self.plane_rms_error * hour:.1f} L/h rms, dead-head {self.plane_dead_head / 1e3:.0f} kPa); "
            f"dead-head {self.pump.dead_head_pressure / 1e3:.0f} kPa, {self.pump.dead_head_source}"
        )


def fit_bench(
    flow: Any,
    pressure: Any,
    voltage: Any = "13.5 V",
    current: Any = None,
    *,
    speed: Any = None,
    dead_head_pressure: Any = None,
    relief_pressure: Any = None,
    type: str = "turbine",
    mounting: str = "in_tank",
) -> BenchFit:
    """Fit Q = Q0 + A (V - V_max) - b1 p - b2 p^2 with A, b1 and b2 not negative, and I = I0 + k p.

    `Pump.from_curve` runs through every row; this is for rows that scatter.

    Parameters
    ----------
    flow, pressure, current : list (rows,)
        m3/s, Pa and A, or strings; any order.
    voltage, speed : float, str or list (rows,)
        V; rpm for a speed-controlled pump.
    dead_head_pressure : float or str, optional
        Measured at the highest voltage or speed, Pa.
    relief_pressure, type, mounting
        As `Pump`.

    Returns
    -------
    BenchFit

    Raises
    ------
    InputError
        For fewer than three rows, or rows that do not fall with pressure at all.

    Examples
    --------
    >>> fit = fit_bench(["300 L/h", "250 L/h", "246 L/h", "200 L/h"], ["1 bar", "2.9 bar", "3.1 bar", "4.5 bar"])
    >>> round(fit.worst_error * 3.6e6, 1)
    1.0
    """
    from scipy.optimize import nnls

    from fuelsim.parts.pump.pump import Pump

    q = np.atleast_1d(units.convert(flow, "volume flow"))
    p = np.atleast_1d(units.convert(pressure, "pressure difference"))
    controlled = speed is not None
    drive = units.convert(speed, "engine speed") if controlled else units.convert(voltage, "voltage")
    if len(q) != len(p) or (np.ndim(drive) == 1 and len(drive) != len(q)):
        raise InputError(
            "columns of unequal length", given=[len(q), len(p)], accepted="one length", key="pressure", part="Pump"
        )
    if len(q) < 3:
        raise InputError("too few rows to fit", given=len(q), accepted="at least three", key="flow", part="Pump")
    drives = np.broadcast_to(drive, q.shape)
    top, scale = float(drives.max()), float(p.max())
    if scale <= 0.0:
        raise InputError("no bench row has a pressure rise", given=p.tolist(), key="pressure", part="Pump")
    x, v = p / scale, drives / top - 1.0
    several = bool(np.any(v != 0.0))
    columns = [np.ones_like(q), -x, -(x * x)] + ([-v] if several else [])
    rows, right = np.column_stack(columns), q.copy()
    if several:
        rows[:, 3] = v
    if dead_head_pressure is not None:
        at = float(units.convert(dead_head_pressure, "pressure difference")) / scale
        extra = np.array([[1.0, -at, -at * at] + [0.0] * several])
        rows = np.vstack([rows, _DEAD_HEAD_WEIGHT * extra])
        right = np.append(right, 0.0)
    found = np.append(nnls(rows / q.max(), right / q.max())[0], [0.0] * (not several))
    q0, b1, b2, a = found
    if b1 + b2 <= 0.0 or q0 <= 0.0:
        raise InputError("the flow does not fall as the pressure grows", given=q.tolist(), key="flow", part="Pump")
    fitted = q0 - b1 * x - b2 * x * x + a * v
    plane = np.column_stack([np.ones_like(q), x] + ([v] if several else []))
    plane_found = np.linalg.lstsq(plane, q, rcond=None)[0]
    plane_residual = plane @ plane_found - q

    table: dict[str, list[float]] = {"flow": [], "pressure": [], "drive": [], "current": []}
    amps = None if current is None else np.atleast_1d(units.convert(current, "current"))
    line = None if amps is None else np.polyfit(x, amps, 1)
    for value in np.unique(drives):
        free = q0 + a * (value / top - 1.0)
        dead = (-b1 + np.sqrt(b1 * b1 + 4.0 * b2 * free)) / (2.0 * b2) if b2 > 0.0 else free / b1
        # An unmeasured dead-head stays unknown: the rows end where the bench did.
        measured = dead_head_pressure is not None or dead <= 1.0
        at_x = np.linspace(dead if measured else 1.0, 0.0, _FITTED_ROWS)
        flows = free - b1 * at_x - b2 * at_x * at_x
        if measured:
            flows[0] = 0.0
        table["flow"] += flows.tolist()
        table["pressure"] += (at_x * scale).tolist()
        table["drive"] += [float(value)] * _FITTED_ROWS
        if line is not None:
            table["current"] += np.maximum(np.polyval(line, at_x), 0.0).tolist()
    relief = None if relief_pressure is None else float(units.convert(relief_pressure, "pressure difference"))
    if relief is not None:
        keep = np.array(table["pressure"]) <= relief
        table = {key: np.array(column)[keep].tolist() for key, column in table.items() if column}
    pump = Pump(
        flow=table["flow"],
        pressure=table["pressure"],
        current=table.get("current") or None,
        voltage=units.convert(voltage, "voltage") if controlled else table["drive"],
        speed=table["drive"] if controlled else None,
        relief_pressure=relief,
        type=type,
        mounting=mounting,
    )
    residual = fitted - q
    return BenchFit(
        pump=pump,
        residual=residual,
        rms_error=float(np.sqrt(np.mean(residual**2))),
        worst_error=float(np.max(np.abs(residual))),
        flow_per_drive=float(a / top),
        plane_rms_error=float(np.sqrt(np.mean(plane_residual**2))),
        plane_dead_head=float(-plane_found[0] / plane_found[1] * scale) if plane_found[1] < 0.0 else np.inf,
    )


def joined_tables(tables: Mapping[Any, Mapping[str, Sequence[Any]]]) -> dict[str, Any]:
    """Return one list of bench rows from a table for each voltage.

    Parameters
    ----------
    tables : mapping
        Voltage to columns ``flow``, ``pressure`` and perhaps ``current``.

    Returns
    -------
    dict
        Columns ``flow``, ``pressure``, ``voltage`` and, if given, ``current``.

    Raises
    ------
    InputError
        For an unknown column or columns of unequal length.

    Examples
    --------
    >>> joined_tables({12.0: {"flow": [1e-5, 2e-5], "pressure": [4e5, 3e5]}})
    {'flow': [1e-05, 2e-05], 'pressure': [400000.0, 300000.0], 'voltage': [12.0, 12.0]}
    """
    rows: dict[str, list[Any]] = {"flow": [], "pressure": [], "current": [], "voltage": []}
    for voltage, table in tables.items():
        for key in table:
            if key not in ("flow", "pressure", "current"):
                raise InputError("unknown key", given=key, accepted="flow, pressure, current", key=str(voltage))
        lengths = {key: len(column) for key, column in table.items()}
        if len(set(lengths.values())) != 1 or "flow" not in table or "pressure" not in table:
            raise InputError(
                "columns of unequal length, or a column missing",
                given=lengths,
                accepted="flow and pressure, and perhaps current, of one length",
                key=str(voltage),
            )
        for key, column in table.items():
            rows[key] += list(column)
        rows["voltage"] += [voltage] * lengths["flow"]
    return {key: column for key, column in rows.items() if column}


def read_bench(path: Path | str) -> dict[str, Any]:
    """Return the columns of a bench table in a file.

    Parameters
    ----------
    path : path
        A ``.csv`` file whose header names flow, pressure and perhaps current, voltage and speed, each with its unit in
        brackets, as in ``flow [L/h],pressure [kPa],voltage [V]``; or a ``.toml`` file with lists of these names.

    Returns
    -------
    dict
        Name to SI values (CSV) or to the values as they stand (TOML).

    Raises
    ------
    InputError
        For an unreadable file, an unknown column or a cell that is no number, naming file and column.
    """
    path = Path(path)
    try:
        table = read_toml(path) if path.suffix == ".toml" else _read_columns(read_text(path))
        for key in table:
            if key not in _COLUMNS:
                raise InputError("unknown column", accepted=nearest(key, _COLUMNS), key=key)
        for key in ("flow", "pressure"):
            if key not in table:
                raise InputError("missing column", accepted="flow and pressure at least", key=key)
    except InputError as error:
        raise error.at(file=str(path)) from None
    return dict(table)


def _read_columns(text: str) -> Mapping[str, list[Any]]:
    kinds = {
        "flow": "volume flow",
        "pressure": "pressure difference",
        "current": "current",
        "voltage": "voltage",
        "speed": "engine speed",
    }
    rows = [row for row in csv.reader(text.splitlines()) if row and not row[0].lstrip().startswith("#")]
    if len(rows) < 3:
        raise InputError("too few rows", given=len(rows), accepted="a header and at least two rows")
    header = [cell.strip() for cell in rows[0]]
    columns: dict[str, list[Any]] = {}
    for place, title in enumerate(header):
        name, _, rest = title.partition("[")
        name, unit = name.strip(), rest.rstrip("] ").strip()
        if name not in kinds:
            raise InputError("unknown column", accepted=nearest(name, _COLUMNS), key=name)
        values = []
        for number, row in enumerate(rows[1:], start=2):
            if len(row) != len(header):
                raise InputError(
                    f"row {number} has {len(row)} cells", given=",".join(row), accepted=f"{len(header)} cells", key=name
                )
            try:
                values.append(units.convert(f"{row[place].strip()} {unit}".strip(), kinds[name]))
            except InputError as error:
                raise InputError(
                    f"row {number}: {error.problem}", given=error.given, accepted=error.accepted, key=name
                ) from None
        columns[name] = values
    return columns
