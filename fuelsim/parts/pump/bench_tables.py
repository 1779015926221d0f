"""Bench tables of pumps: reading them from files, and fitting a smooth form to scattered rows."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np

from fuelsim import units
from fuelsim.constants import L_PER_HOUR
from fuelsim.data_files import read_text, read_toml
from fuelsim.errors import InputError, nearest
from fuelsim.typing import FloatArray, Given, PointArray

__all__ = ["BenchFit", "fit_bench", "joined_tables", "read_bench"]

_KINDS = {
    "flow": "volume flow",
    "pressure": "pressure difference",
    "current": "current",
    "voltage": "voltage",
    "speed": "engine speed",
}
_COLUMNS = tuple(_KINDS)
_FITTED_ROWS = 13
_DEAD_HEAD_WEIGHT = 100.0
"""Numerical setting: weight of a measured dead-head pressure against one bench row; any large one holds it."""


@dataclass(frozen=True)
class BenchFit:
    """A falling, concave form fitted to scattered bench rows; `Pump.from_fit` makes a pump of it.

    Attributes
    ----------
    columns : mapping
        Rows of the fitted form in SI: ``flow``, ``pressure``, ``voltage`` and, where given, ``current`` and ``speed``.
    relief_pressure : float or None
        Pressure rise at which the relief valve opens, Pa; the rows end below it.
    residual : array (rows,)
        Fitted less measured flow, m3/s.
    rms_error, worst_error : float
        Root mean square and greatest size of the residual, m3/s.
    flow_per_drive : float
        Flow gained per volt or per rpm, m3/s.
    dead_head_pressure : float
        Pressure rise at which the form has no flow at the highest voltage or speed, Pa.
    dead_head_measured : bool
        Whether a dead-head pressure was given or lies within the rows.
    plane_rms_error : float
        Root mean square error of the best plane Q = A V - B p - C through the same rows, m3/s.
    plane_dead_head : float
        Pressure at which that plane has no flow at the highest voltage or speed, Pa: usually far beyond the truth.
    """

    columns: Mapping[str, list[float]]
    relief_pressure: float | None
    residual: FloatArray
    rms_error: float
    worst_error: float
    flow_per_drive: float
    dead_head_pressure: float
    dead_head_measured: bool
    plane_rms_error: float
    plane_dead_head: float

    def __str__(self) -> str:
        hour = 1.0 / L_PER_HOUR
        return (
            f"concave fit {self.rms_error * hour:.1f} L/h rms, {self.worst_error * hour:.1f} L/h at worst "
            f"(plane {self.plane_rms_error * hour:.1f} L/h rms, dead-head {self.plane_dead_head / 1e3:.0f} kPa); "
            f"dead-head of the curve {self.dead_head_pressure / 1e3:.0f} kPa, "
            f"{'measured' if self.dead_head_measured else 'extrapolated'}"
        )


class _Rows(NamedTuple):
    """Bench rows in SI.

    Attributes
    ----------
    flow, pressure, drive : array (rows,)
        m3/s, Pa, and V or rpm.
    current : array (rows,) or None
        A.
    """

    flow: PointArray
    pressure: PointArray
    drive: PointArray
    current: PointArray | None


class _Form(NamedTuple):
    """Q = q0 - b1 x - b2 x^2 + a (V/V_max - 1) with x = p/p_max, m3/s; see `fit_bench`."""

    q0: float
    b1: float
    b2: float
    a: float

    def flow(self, x: FloatArray, relative_drive: FloatArray | float) -> FloatArray:
        """Return the flow, m3/s, at pressures over p_max and drives over V_max."""
        return np.asarray(self.q0 - self.b1 * x - self.b2 * x * x + self.a * (np.asarray(relative_drive) - 1.0))

    def dead_head(self, relative_drive: float) -> float:
        """Return the pressure without flow, over p_max: the positive root of the parabola."""
        free = self.q0 + self.a * (relative_drive - 1.0)
        # Not the usual form of the root: a straight line has b2 = 0, or next to it after the fit.
        return float(2.0 * free / (self.b1 + np.sqrt(self.b1**2 + 4.0 * self.b2 * free)))


def fit_bench(
    flow: Given,
    pressure: Given,
    voltage: Given = "13.5 V",
    current: Given = None,
    *,
    speed: Given = None,
    dead_head_pressure: Given = None,
    relief_pressure: Given = None,
) -> BenchFit:
    """Fit Q = Q0 + A (V - V_max) - b1 p - b2 p^2 with A, b1 and b2 not negative, and I = I0 + k p.

    `Pump.from_curve` runs through every row; this is for rows that scatter. `Pump.from_fit` takes the result.

    Parameters
    ----------
    flow, pressure, current : list (rows,)
        Flow, m3/s, pressure rise, Pa, and current, A, or texts with units; in any order.
    voltage, speed : float, str or list (rows,)
        Voltage, V; speed of a speed-controlled pump, rpm.
    dead_head_pressure : float or str, optional
        Pressure rise without flow, measured at the highest voltage or speed, Pa.
    relief_pressure : float or str, optional
        Pressure rise at which the pump's relief valve opens, Pa.

    Returns
    -------
    BenchFit

    Raises
    ------
    InputError
        For columns of unequal length, fewer than three rows, or rows that do not fall with pressure at all.

    Examples
    --------
    >>> fit = fit_bench(["300 L/h", "250 L/h", "246 L/h", "200 L/h"], ["1 bar", "2.9 bar", "3.1 bar", "4.5 bar"])
    >>> round(fit.worst_error * 3.6e6, 1)
    1.0
    """
    rows = _converted_rows(flow, pressure, speed if speed is not None else voltage, current, speed is not None)
    dead_head = None if dead_head_pressure is None else _number(dead_head_pressure, "pressure difference")
    relief = None if relief_pressure is None else _number(relief_pressure, "pressure difference")
    top, scale = float(rows.drive.max()), float(rows.pressure.max())
    form = _fitted_form(rows, None if dead_head is None else dead_head / scale)
    residual = form.flow(rows.pressure / scale, rows.drive / top) - rows.flow
    columns = _columns_of(form, rows, dead_head is not None, relief)
    if speed is not None:
        columns["speed"] = columns.pop("drive")
        columns["voltage"] = [_number(voltage, "voltage")] * len(columns["flow"])
    else:
        columns["voltage"] = columns.pop("drive")
    plane_rms_error, plane_dead_head = _plane(rows)
    return BenchFit(
        columns=columns,
        relief_pressure=relief,
        residual=residual,
        rms_error=float(np.sqrt(np.mean(residual**2))),
        worst_error=float(np.max(np.abs(residual))),
        flow_per_drive=form.a / top,
        dead_head_pressure=form.dead_head(1.0) * scale,
        dead_head_measured=dead_head is not None or form.dead_head(1.0) <= 1.0,
        plane_rms_error=plane_rms_error,
        plane_dead_head=plane_dead_head,
    )


def _number(value: Given, kind: str) -> float:
    return float(units.convert(value, kind))


def _converted_rows(flow: Given, pressure: Given, drive: Given, current: Given, controlled: bool) -> _Rows:
    """Return the rows in SI, checked."""
    q, p = (np.atleast_1d(units.convert(x, _KINDS[key])) for x, key in ((flow, "flow"), (pressure, "pressure")))
    v = np.asarray(units.convert(drive, _KINDS["speed" if controlled else "voltage"]), dtype=float)
    amps = None if current is None else np.atleast_1d(units.convert(current, _KINDS["current"]))
    lengths = [len(column) for column in (q, p, v, amps) if column is not None and column.ndim > 0]
    if len(set(lengths)) != 1:
        raise InputError("columns of unequal length", given=lengths, accepted="one length", key="pressure", part="Pump")
    if len(q) < 3:
        raise InputError("too few rows to fit", given=len(q), accepted="at least three", key="flow", part="Pump")
    if p.max() <= 0.0:
        raise InputError("no bench row has a pressure rise", given=p.tolist(), key="pressure", part="Pump")
    return _Rows(q, p, np.broadcast_to(v, q.shape), amps)


def _fitted_form(rows: _Rows, dead_head: float | None) -> _Form:
    """Return the form by least squares with coefficients that are not negative; `dead_head` is over p_max."""
    from scipy.optimize import nnls

    q, x = rows.flow, rows.pressure / rows.pressure.max()
    v = rows.drive / rows.drive.max() - 1.0
    matrix, right = np.column_stack([np.ones_like(q), -x, -(x * x), v]), q.copy()
    if dead_head is not None:
        row = np.array([[1.0, -dead_head, -(dead_head**2), 0.0]])
        matrix, right = np.vstack([matrix, _DEAD_HEAD_WEIGHT * row]), np.append(right, 0.0)
    solved = nnls(matrix / q.max(), right / q.max())[0]
    form = _Form(*(float(value) for value in solved))
    if form.b1 + form.b2 <= 0.0 or form.q0 <= 0.0:
        raise InputError("the flow does not fall as the pressure grows", given=q.tolist(), key="flow", part="Pump")
    return form


def _columns_of(form: _Form, rows: _Rows, dead_head_measured: bool, relief: float | None) -> dict[str, list[float]]:
    """Return evenly spaced rows of a form at every drive tested, those above the relief pressure left out."""
    top, scale = float(rows.drive.max()), float(rows.pressure.max())
    current_line = None if rows.current is None else np.polyfit(rows.pressure / scale, rows.current, 1)
    columns: dict[str, list[float]] = {"flow": [], "pressure": [], "drive": []}
    if current_line is not None:
        columns["current"] = []
    for drive in np.unique(rows.drive):
        dead = form.dead_head(drive / top)
        # A dead-head pressure that was not measured stays unknown: the rows end where the bench did.
        measured = dead_head_measured or dead <= 1.0
        x = np.linspace(dead if measured else 1.0, 0.0, _FITTED_ROWS)
        flows = form.flow(x, drive / top)
        if measured:
            flows[0] = 0.0
        columns["flow"] += flows.tolist()
        columns["pressure"] += (x * scale).tolist()
        columns["drive"] += [float(drive)] * _FITTED_ROWS
        if current_line is not None:
            columns["current"] += np.maximum(np.polyval(current_line, x), 0.0).tolist()
    if relief is None:
        return columns
    kept = np.array(columns["pressure"]) <= relief
    return {key: np.array(column)[kept].tolist() for key, column in columns.items()}


def _plane(rows: _Rows) -> tuple[float, float]:
    """Return root mean square error, m3/s, and dead-head pressure, Pa, of the best plane through the rows."""
    v = rows.drive / rows.drive.max() - 1.0
    scale = float(rows.pressure.max())
    matrix = np.column_stack([np.ones_like(v), rows.pressure / scale, v])
    solved = np.linalg.lstsq(matrix, rows.flow, rcond=None)[0]
    error = matrix @ solved - rows.flow
    dead_head = float(-solved[0] / solved[1] * scale) if solved[1] < 0.0 else np.inf
    return float(np.sqrt(np.mean(error**2))), dead_head


def joined_tables(tables: Mapping[Given, Mapping[str, Sequence[Given]]]) -> dict[str, list[Given]]:
    """Return one list of bench rows from a table for each voltage.

    Parameters
    ----------
    tables : mapping
        Voltage to columns ``flow``, ``pressure`` and perhaps ``current``.

    Returns
    -------
    dict
        Columns ``flow``, ``pressure``, ``voltage`` and, if given, ``current``, as they were given.

    Raises
    ------
    InputError
        For an unknown column or columns of unequal length.

    Examples
    --------
    >>> joined_tables({12.0: {"flow": [1e-5, 2e-5], "pressure": [4e5, 3e5]}})
    {'flow': [1e-05, 2e-05], 'pressure': [400000.0, 300000.0], 'voltage': [12.0, 12.0]}
    """
    rows: dict[str, list[Given]] = {"flow": [], "pressure": [], "current": [], "voltage": []}
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


def read_bench(path: Path | str) -> dict[str, Given]:
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

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "bench.csv"
    >>> _ = path.write_text("flow [L/h],pressure [kPa]\\n180,400\\n207,300\\n")
    >>> read_bench(path)["pressure"]
    [400000.0, 300000.0]
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


def _read_columns(text: str) -> Mapping[str, list[float]]:
    rows = [row for row in csv.reader(text.splitlines()) if row and not row[0].lstrip().startswith("#")]
    if len(rows) < 2:
        raise InputError("too few rows", given=len(rows), accepted="a header and at least one row")
    header = [cell.strip() for cell in rows[0]]
    columns: dict[str, list[float]] = {}
    for position, title in enumerate(header):
        name, _, rest = title.partition("[")
        name, unit = name.strip(), rest.rstrip("] ").strip()
        if name not in _KINDS:
            raise InputError("unknown column", accepted=nearest(name, _COLUMNS), key=name)
        values = []
        for number, row in enumerate(rows[1:], start=2):
            if len(row) != len(header):
                raise InputError(
                    f"row {number} has {len(row)} cells", given=",".join(row), accepted=f"{len(header)} cells", key=name
                )
            try:
                values.append(float(units.convert(f"{row[position].strip()} {unit}".strip(), _KINDS[name])))
            except InputError as error:
                raise InputError(
                    f"row {number}: {error.problem}", given=error.given, accepted=error.accepted, key=name
                ) from None
        columns[name] = values
    return columns
