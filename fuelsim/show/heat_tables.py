"""Tables of drives, soaks, margin maps and remedies, with the unit in each column's name."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fuelsim.declaration import declarations
from fuelsim.kinds import KINDS
from fuelsim.show.tables import Column, Entry, frame, marked
from fuelsim.system.conditions import Conditions
from fuelsim.units import SYSTEMS, from_si, shown, unit_system

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.drive_bands import DriveBand
    from fuelsim.studies.margins import MarginMap
    from fuelsim.studies.remedies import RemedyGains
    from fuelsim.studies.tank_difference import TankDifference
    from fuelsim.transients.drive_results import Drive, DriveSamples, HeatLedger
    from fuelsim.transients.soak import Soak

__all__ = [
    "axis_kind",
    "drive_samples_table",
    "drive_table",
    "event_range_table",
    "heat_ledger_table",
    "margin_table",
    "remedy_table",
    "soak_table",
    "tank_difference_table",
]


def drive_table(result: Drive, units: str | None = None) -> pd.DataFrame:
    """Return one row per time shown of a drive.

    Parameters
    ----------
    result : Drive
        The drive.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    table = frame(
        [
            Entry("time", "time", result.time),
            Column("phase", result.phase),
            Entry("air", "temperature", result.air_temperature),
            Entry("bay", "temperature", result.bay_temperature),
            Entry("altitude", "altitude", result.altitude),
            Entry("tank", "temperature", result.tank_temperature),
            Entry("pick_up", "temperature", result.supply_temperature),
            Entry("tank_boils_at", "temperature", result.boiling_temperature),
            Entry("tank", "pressure difference", result.tank_gauge_pressure, "gauge"),
            Entry("fuel", "mass", result.fuel_mass),
            Entry("vapour_lost", "mass", result.vapour_lost),
            Entry("rail", "pressure difference", result.rail_gauge_pressure, "gauge"),
            Entry("rail", "temperature", result.rail_temperature),
            Entry("pump_inlet_vapour_margin", "temperature difference", result.pump_margin),
            Entry("rail_vapour_margin", "temperature difference", result.rail_margin),
            Entry("pump_inlet_vapour_liquid_ratio", "number", result.pump_vapour),
            Entry("suction_margin", "pressure difference", result.suction_margin),
            Entry("bypass_flow", "volume flow", result.bypass_flow),
            Entry("heat_into_tank", "heat flow", result.tank_heat_flow),
            Column("engine_state", result.engine_state),
            Entry("mixture", "number", result.mixture),
            Column("over_vapour_limit", result.over_vapour_limit),
            Column("vapour_lock", result.vapour_lock),
        ],
        units,
    )
    return marked(table, result.completion)


def drive_samples_table(result: DriveSamples, units: str | None = None) -> pd.DataFrame:
    """Return one row per event of the samples of a drive, and one per figure; values carry their units.

    Parameters
    ----------
    result : DriveSamples
        The samples.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    names = ("at_5_percent", "at_50_percent", "at_95_percent")
    rows: list[dict[str, object]] = []
    for item in result.events:
        ends = ("happens_percent", "happens_low_percent", "happens_high_percent")
        shares = {name: round(100.0 * float(end), 1) for name, end in zip(ends, item.happens, strict=True)}
        what = f"{item.name}, {item.part}" if item.part else str(item.name)
        times = {name: f"{time / 60.0:.0f} min" for name, time in zip(names, item.times, strict=True)}
        rows.append({"what": what, **shares, **times})
    for band in result.figures:
        values = (shown(float(value), band.kind, units, digits=3) for value in band.quantiles)
        rows.append({"what": band.about, **dict(zip(names, values, strict=True))})
    for reason, count in result.failed.items():
        rows.append({"what": f"{count} samples not driven: {reason}"})
    return marked(pd.DataFrame(rows).fillna(""), result.completion)


def event_range_table(result: DriveBand, units: str | None = None) -> pd.DataFrame:
    """Return one row per event of a drive over bands: when it first happens at each side of them.

    Parameters
    ----------
    result : DriveBand
        The drive over the bands.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    events = result.events
    return frame(
        [
            Column("event", [str(item.name) for item in events]),
            Column("part", [item.part for item in events]),
            Entry("favourable", "time", [item.favourable for item in events]),
            Entry("middle", "time", [item.middle for item in events]),
            Entry("adverse", "time", [item.adverse for item in events]),
            Column("range", [item.when() for item in events]),
        ],
        units,
    )


def heat_ledger_table(drives: Sequence[Drive], units: str | None = None) -> pd.DataFrame:
    """Return where the heat of several drives came from and went, one row per source, a column per drive.

    The first rows sum to what the returning fuel brought, the rows up to the vapour to what warmed the fuel.

    Parameters
    ----------
    drives : sequence of Drive
        At least one.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    rows: list[tuple[str, Callable[[HeatLedger], float]]] = [
        ("pumps", lambda ledger: ledger.pump_heat),
        ("rails", lambda ledger: ledger.rail_heat),
        ("lines in the bay", lambda ledger: ledger.bay_heat),
        ("other lines", lambda ledger: ledger.line_heat),
        ("burnt fuel took along", lambda ledger: -ledger.burnt_heat),
        ("= returning fuel", lambda ledger: ledger.returned),
        ("walls of the tank", lambda ledger: ledger.wall),
        ("exhaust", lambda ledger: ledger.radiated),
        ("sun", lambda ledger: ledger.sun),
        ("road", lambda ledger: ledger.road),
        ("lift pump", lambda ledger: ledger.lift),
        ("went into vapour", lambda ledger: -ledger.evaporation),
        ("= warmed the fuel", lambda ledger: ledger.warming),
        ("unaccounted for", lambda ledger: (ledger.error + ledger.source_error) * ledger.moved),
    ]
    names = [drive.layout for drive in drives]
    labels = [name if names.count(name) == 1 else f"{name}_{number}" for number, name in enumerate(names, start=1)]
    columns: list[Entry | Column] = [Column("heat", [name for name, _ in rows])]
    for label, drive in zip(labels, drives, strict=True):
        energy = np.array([value(drive.ledger) for _, value in rows])
        columns.append(Entry(label, "energy", energy))
        columns.append(Entry(f"{label}_mean", "heat flow", energy / max(float(drive.time[-1]), 1.0)))
    return frame(columns, units).set_index("heat")


def soak_table(soak: Soak, units: str | None = None) -> pd.DataFrame:
    """Return one row per time of a soak.

    Parameters
    ----------
    soak : Soak
        The soak.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    restart = soak.restart
    table = frame(
        [
            Entry("time", "time", soak.time),
            Entry("bay", "temperature", soak.bay_temperature),
            Entry("rail", "temperature", soak.rail_temperature),
            Entry("rail", "pressure difference", soak.rail_gauge_pressure, "gauge"),
            Entry("needed_against_boiling", "pressure difference", soak.pressure_needed, "gauge"),
            Entry("vapour", "volume", soak.vapour_volume),
            Entry("key_on_to_pressure", "time", restart.seconds_to_pressure),
            Entry("key_on_to_liquid", "time", restart.seconds_to_liquid),
        ],
        units,
    )
    return marked(table, soak.completion)


def axis_kind(name: str) -> str:
    """Return the kind of unit of an axis of a margin map.

    Parameters
    ----------
    name : str
        Name of a condition, or ``"vapour_pressure"`` of the fuel.

    Examples
    --------
    >>> axis_kind("altitude"), axis_kind("vapour_pressure")
    ('altitude', 'absolute pressure')
    """
    return "absolute pressure" if name == "vapour_pressure" else declarations(Conditions)[name].kind


def margin_table(result: MarginMap, units: str | None = None) -> pd.DataFrame:
    """Return one row per point of a margin map, its values on the axes as index: the limit of each station.

    Parameters
    ----------
    result : MarginMap
        The map.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    points = np.array(list(itertools.product(*(np.asarray(values).tolist() for values in result.axes.values()))))
    limited = "tank" if result.limited == "tank_temperature" else "air"
    axes = [Entry(name, axis_kind(name), values) for name, values in zip(result.axes, points.T, strict=True)]
    table = frame(
        [
            *axes,
            *(
                Entry(f"{limited}_limit_for_{station}", "temperature", np.asarray(limit).reshape(-1))
                for station, limit in result.limit.items()
            ),
        ],
        units,
    ).set_index([axis.column(units).name for axis in axes])
    return marked(table, result.completion)


def remedy_table(result: RemedyGains, units: str | None = None) -> pd.DataFrame:
    """Return one row per remedy; gains are differences of margin.

    Parameters
    ----------
    result : RemedyGains
        The remedies.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    rows = result.remedies
    table = frame(
        [
            Column("remedy", [row.name for row in rows]),
            *(
                Entry(name, "temperature difference", values)
                for name, values in (
                    ("pump_inlet_gain", [row.pump_gain for row in rows]),
                    ("rail_gain", [row.rail_gain for row in rows]),
                    ("pump_inlet_gain_at_once", [row.pump_gain_at_once for row in rows]),
                    ("rail_gain_at_once", [row.rail_gain_at_once for row in rows]),
                    ("tank_change", [row.tank_change for row in rows]),
                )
            ),
            Column("note", [row.note for row in rows]),
        ],
        units,
    )
    return marked(table, result.completion)


def tank_difference_table(result: TankDifference, units: str | None = None) -> pd.DataFrame:
    """Return one row per input of a study of the tank's difference, each in a unit of its own, which stands beside it.

    Parameters
    ----------
    result : TankDifference
        The study.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    own_units = [KINDS[item.kind].shown[SYSTEMS.index(unit_system(units))] for item in result.inputs]

    def shown_in_its_unit(values: Sequence[float]) -> list[float]:
        return [
            float(from_si(value, unit, item.kind))
            for value, unit, item in zip(values, own_units, result.inputs, strict=True)
        ]

    inputs = result.inputs
    targets = list(inputs[0].needed) if inputs else []
    return frame(
        [
            Column("input", [item.name for item in inputs]),
            Column("unit", [unit.removeprefix("delta_") for unit in own_units]),
            Column("own", shown_in_its_unit([item.own for item in inputs])),
            *(
                Column(_target_label(target, units), shown_in_its_unit([item.needed[target] for item in inputs]))
                for target in targets
            ),
            Column("least", shown_in_its_unit([item.least for item in inputs])),
            Entry("difference_at_least", "temperature difference", [item.difference_at_least for item in inputs]),
            Column("most", shown_in_its_unit([item.most for item in inputs])),
            Entry("difference_at_most", "temperature difference", [item.difference_at_most for item in inputs]),
        ],
        units,
    ).set_index("input")


def _target_label(target: float, units: str | None) -> str:
    """Return the name of the column of what each input would have to be for a difference of the tank, K."""
    name, values = Entry("at", "temperature difference", [target]).column(units)
    return name.replace("at_", f"at_{float(np.ravel(values)[0]):g}_", 1)
