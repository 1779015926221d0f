"""Results as tables with the unit in each column's name; pressures say gauge or absolute."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.declaration import declarations
from fuelsim.interruption import Completion
from fuelsim.kinds import KINDS
from fuelsim.show.axes import axes_of
from fuelsim.system.conditions import Conditions
from fuelsim.typing import ArrayLike, FloatArray
from fuelsim.units import SYSTEMS, from_si, unit_system

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.network.state import State
    from fuelsim.system.run import Run

__all__ = [
    "STOPPED_EARLY",
    "Column",
    "Entry",
    "difference_kind",
    "frame",
    "heading",
    "marked",
    "run_table",
    "state_table",
]

STOPPED_EARLY = "stopped_early"
"""Column of a table whose study Ctrl-C ended early."""

_UNITS = tuple(
    (f"_{written}", printed)
    for written, printed in (
        ("kg_h", "kg/h"),
        ("kg_s", "kg/s"),
        ("lb_h", "lb/h"),
        ("m3_s", "m³/s"),
        ("L_h", "L/h"),
        ("degC", "°C"),
        ("degF", "°F"),
        ("percent", "%"),
        *((unit, unit) for unit in ("kPa", "psi", "gph", "rpm", "Pa")),
        *((unit, unit) for unit in ("V", "A", "K", "W")),
    )
)
"""Units at the end of a column's name, and how they are printed."""


class Column(NamedTuple):
    """A column as it is shown: name with its unit, and the values in that unit, flags or texts."""

    name: str
    values: ArrayLike


class Entry(NamedTuple):
    """One column of a table before its unit is chosen.

    Attributes
    ----------
    name : str
        Name of the column without its unit.
    kind : str
        A name of `units.KINDS`.
    values : array (rows,)
        Values in SI.
    suffix : str
        What follows the unit, such as ``"gauge"``.
    """

    name: str
    kind: str
    values: ArrayLike
    suffix: str = ""

    def column(self, units: str | None = None) -> Column:
        """Return the column in the units of a system.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; the preferred one, if left out.

        Examples
        --------
        >>> Entry("rail", "pressure difference", [300e3], "gauge").column("metric workshop")
        Column(name='rail_kPa_gauge', values=array([300.]))
        """
        unit = KINDS[self.kind].shown[SYSTEMS.index(unit_system(units))]
        words = [self.name]
        if unit != "1":
            words.append(re.sub(r"[^A-Za-z0-9µ]+", "_", unit.removeprefix("delta_")))
        if self.suffix:
            words.append(self.suffix)
        return Column("_".join(words), np.asarray(from_si(np.asarray(self.values), unit, self.kind)))


def frame(columns: Iterable[Entry | Column], units: str | None = None) -> pd.DataFrame:
    """Return a table with the unit in each column's name.

    Parameters
    ----------
    columns : iterable of Entry or Column
        The columns; those that have their unit already are taken as they are.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    return pd.DataFrame(dict(each.column(units) if isinstance(each, Entry) else each for each in columns))


def marked(table: pd.DataFrame, completion: Completion) -> pd.DataFrame:
    """Return a table with a column that says how much of its study is finished, if Ctrl-C ended that early.

    Parameters
    ----------
    table : pandas.DataFrame
        What is finished.
    completion : Completion
        How much of the study that is.
    """
    return table.assign(**{STOPPED_EARLY: str(completion)}) if completion.interrupted else table


def difference_kind(kind: str) -> str:
    """Return the kind of a difference between two values of a kind.

    Parameters
    ----------
    kind : str
        A name of `units.KINDS`.

    Examples
    --------
    >>> difference_kind("temperature"), difference_kind("volume flow")
    ('temperature difference', 'volume flow')
    """
    return "temperature difference" if kind == "temperature" else kind


def heading(name: str) -> str:
    """Return a column's name as a heading: words, and the unit as it is printed.

    Parameters
    ----------
    name : str
        Name of a column with its unit.

    Examples
    --------
    >>> heading("bypass_new_L_h"), heading("rail_degC"), heading("rail_V_L")
    ('bypass new, L/h', 'rail, °C', 'rail V/L')
    """
    if name.endswith("_V_L"):
        return f"{name.removesuffix('_V_L').replace('_', ' ')} V/L"
    for written, printed in _UNITS:
        if name.endswith(written) or f"{written}_" in name:
            words, _, suffix = name.partition(written)
            return f"{words.replace('_', ' ')}, {printed} {suffix.strip('_')}".rstrip()
    return name.replace("_", " ")


def run_table(run: Run, units: str | None = None) -> pd.DataFrame:
    """Return one row per operating point of a run; where it has several axes they are the table's index.

    Parameters
    ----------
    run : Run
        The results.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    conditions = run.conditions
    asked = {
        "rpm": Entry("engine", "engine speed", conditions.rpm),
        "load": Entry("load", "fraction", conditions.load),
        "tank_temperature": Entry("tank", "temperature", conditions.tank_temperature),
        "air_temperature": Entry("air", "temperature", conditions.air_temperature),
        "altitude": Entry("altitude", "altitude", conditions.altitude),
        "supply_voltage": Entry("supply", "voltage", conditions.supply_voltage),
    }
    axes = _axis_entries(conditions, asked) if len(conditions.shape) > 1 else []
    index = [entry.column(units).name for entry in axes]
    entries = [
        *axes,
        *(entry for entry in asked.values() if entry.column(units).name not in index),
        *(Entry(name, "pressure difference", value, "gauge") for name, value in run.gauge_pressure.items()),
        *(Entry(f"{name}_flow", "volume flow", value) for name, value in run.flow.items()),
        *(Entry(name, "temperature", value) for name, value in run.temperature.items()),
        *(Entry(f"{name}_vapour_margin", "temperature difference", value) for name, value in run.vapour_margin.items()),
        *(Entry(f"{name}_vapour_margin", "pressure difference", value) for name, value in run.pressure_margin.items()),
        *(Entry(f"{name}_vapour_liquid_ratio", "number", value) for name, value in run.vapour_liquid_ratio.items()),
        Entry("injector_pressure_difference", "pressure difference", run.injector_pressure_difference),
        Entry("injector_duty", "fraction", run.injector_duty),
        Entry("trim", "fraction", run.trim),
        Entry("mixture", "number", run.mixture),
        *(Entry(f"{name}_terminals", "voltage", value) for name, value in run.pump_voltage.items()),
        *(Entry(name, "current", value) for name, value in run.pump_current.items()),
        Entry("suction_margin", "pressure difference", run.suction_margin),
        Entry("pump_flow_lost", "fraction", run.pump_flow_lost),
        *_rail_entries(run),
        *(Entry(f"{pot}_overflow", "volume flow", flow) for pot, flow in run.pot_overflow.items()),
        *(Entry(f"{pot}_empty_after", "time", seconds) for pot, seconds in run.pot_time.items()),
    ]
    shape = conditions.shape

    def flat(values: ArrayLike) -> FloatArray:
        return np.broadcast_to(np.asarray(values), shape).reshape(-1)

    table = frame([entry._replace(values=flat(entry.values)) for entry in entries], units)
    for link, regime in run.regime.items():
        table[f"{link}_regime"] = flat(regime)
    table["engine_state"] = flat(run.engine_state)
    table["solved"] = flat(run.outcome.converged)
    return table.set_index(index) if index else table


def _axis_entries(conditions: Conditions, shown: Mapping[str, Entry]) -> list[Entry]:
    """Return the values along each axis at every point; `shown` are those that the table holds anyhow, by condition."""
    names, coordinates = axes_of(conditions)
    entries = []
    for axis, name in enumerate(names):
        kind = declarations(Conditions)[name].kind if name in coordinates else "number"
        values = coordinates[name][1] if name in coordinates else np.arange(conditions.shape[axis])
        shape = [-1 if other == axis else 1 for other in range(len(names))]
        entries.append(shown.get(name, Entry(name, kind, values))._replace(values=np.reshape(values, shape)))
    return entries


def state_table(state: State, units: str | None = None) -> pd.DataFrame:
    """Return one row per operating point of a network.

    Parameters
    ----------
    state : State
        Its solution.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    pressures = [
        Entry(name, "pressure difference", np.atleast_1d(values), "gauge")
        for name, values in state.gauge_pressure.items()
    ]
    flows = [Entry(name, "volume flow", np.atleast_1d(values)) for name, values in state.flow.items()]
    regimes = [
        Column(f"{name}_regime", np.atleast_1d(words))
        for name, words in state.regime.items()
        if np.any(np.asarray(words) != "flowing")
    ]
    outcome = state.outcome
    points = [()] if np.ndim(outcome.code) == 0 else [(point,) for point in range(np.size(outcome.code))]
    return frame([*pressures, *flows, *regimes, Column("outcome", [outcome.sentence(*at) for at in points])], units)


def _rail_entries(run: Run) -> list[Entry]:
    """Return what each rail has for itself, and by how much rails differ, where there are several."""
    if len(run.by_rail) == 1:
        return []
    entries = [Entry("rail_spread", "pressure difference", run.rail_spread)]
    for name, rail in run.by_rail.items():
        entries += [
            Entry(f"{name}_over_manifold", "pressure difference", rail.pressure_difference),
            Entry(f"{name}_duty", "fraction", rail.injector_duty),
        ]
    return entries
