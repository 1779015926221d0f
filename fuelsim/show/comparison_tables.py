"""The comparison of layouts as tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.show.stations import greatest_over, least_over, pump_inlets
from fuelsim.show.tables import Column, Entry, difference_kind, frame, marked
from fuelsim.typing import ArrayLike, PointArray

if TYPE_CHECKING:
    import pandas as pd

    from fuelsim.studies.comparison import Comparison, LayoutSummary
    from fuelsim.system.run import Run

__all__ = ["difference_table", "layout_table", "vapour_table"]


class _Figure(NamedTuple):
    """One figure of a layout's summary: attribute, name of its column, kind of unit, and what follows the unit."""

    attribute: str
    name: str
    kind: str
    suffix: str = ""


_FIGURES = (
    _Figure("least_rail_pressure", "least_rail", "pressure difference", "gauge"),
    _Figure("least_rail_pressure_speed", "at", "engine speed"),
    _Figure("least_pressure_difference", "least_injector_difference", "pressure difference"),
    _Figure("idle_rail_pressure", "idle_rail", "pressure difference", "gauge"),
    _Figure("least_bypass_flow", "least_bypass", "volume flow"),
    _Figure("idle_bypass_flow", "idle_bypass", "volume flow"),
    _Figure("shut_speed", "regulator_shuts_at", "engine speed"),
    _Figure("greatest_duty", "greatest_duty", "fraction"),
    _Figure("least_pump_voltage", "least_pump", "voltage"),
    _Figure("greatest_pump_current", "greatest_pump", "current"),
    _Figure("tank_heat_flow", "idle_heat_to_tank", "heat flow"),
    _Figure("idle_rail_temperature", "idle_rail", "temperature"),
)


def layout_table(result: Comparison, units: str | None = None) -> pd.DataFrame:
    """Return one row per layout at the car's own tank temperature.

    Parameters
    ----------
    result : Comparison
        What was compared.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    summaries = [result.summary(layout) for layout in result.layouts]
    entries = [
        Entry(each.name, each.kind, [_value(summary, each) for summary in summaries], each.suffix) for each in _FIGURES
    ]
    table = frame(entries, units).set_axis(pd.Index(result.layouts, name="layout"), axis="index")
    return marked(table, result.completion)


def difference_table(result: Comparison, reference: str, units: str | None = None) -> pd.DataFrame:
    """Return what each layout or variant has more than the reference, one row each.

    Parameters
    ----------
    result : Comparison
        What was compared.
    reference : str
        Name of one of them; its own row is left out.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.

    Raises
    ------
    InputError
        If the reference was not compared.
    """
    import pandas as pd

    if reference not in result.layouts:
        raise InputError("not compared", given=reference, accepted=nearest(reference, result.layouts), key="reference")
    base = result.summary(reference)
    names = [name for name in result.layouts if name != reference]
    summaries = [result.summary(name) for name in names]
    entries = [
        Entry(
            each.name,
            difference_kind(each.kind),
            [_value(summary, each) - _value(base, each) for summary in summaries],
        )
        for each in _FIGURES
    ]
    table = frame(entries, units).set_axis(pd.Index(names, name=f"against {reference}"), axis="index")
    return marked(table, result.completion)


def _value(summary: LayoutSummary, figure: _Figure) -> float:
    return float(getattr(summary, figure.attribute))


def vapour_table(result: Comparison, units: str | None = None) -> pd.DataFrame:
    """Return one row per layout and tank temperature, which are the index.

    Shown are the worst pump and rail over the rev range and idle.

    Margins are counted from boiling: temperature at the local pressure, pressure at the local temperature. The suction
    margin is what is left of the pressure margin above the pump's required NPSH: below zero the pump is noisy and
    wears. No car has a tank above the temperature at which its own fuel boils: such rows are marked by ``tank_boils``.
    The flow lost is a threshold of its own: what vapour that is really there takes from the pump's flow.

    Parameters
    ----------
    result : Comparison
        What was compared.
    units : str, optional
        A name of `units.SYSTEMS`; the preferred one, if left out.
    """
    import pandas as pd

    table = pd.concat([_vapour_block(result, layout, units) for layout in result.layouts], ignore_index=True)
    index = ["layout", _tank_entry(result).column(units).name]
    return marked(table.set_index(index), result.completion)


def _tank_entry(result: Comparison) -> Entry:
    return Entry("tank", "temperature", result.tank_temperature)


def _vapour_block(result: Comparison, layout: str, units: str | None) -> pd.DataFrame:
    """Return the rows of one layout."""
    full, idle = result.full_load[layout], result.idle[layout]

    def least(of: Callable[[Run], ArrayLike]) -> PointArray:
        """Return the least of a result over the rev range and idle, (tank temperatures,)."""
        return np.fmin(np.fmin.reduce(np.asarray(of(full)), axis=0), of(idle))

    def greatest(of: Callable[[Run], ArrayLike]) -> PointArray:
        return np.fmax(np.fmax.reduce(np.asarray(of(full)), axis=0), of(idle))

    inlets, rails = pump_inlets(full.plumbing), full.plumbing.rails
    suction = least(lambda run: run.suction_margin)
    # A pump that was locked by vapour was noisy before it.
    noisy = least(lambda run: run.before_stop.suction_margin) < 0.0
    return frame(
        [
            Column("layout", [layout] * len(suction)),
            _tank_entry(result),
            Column("tank_boils", result.tank_temperature > result.tank_boiling_temperature),
            Entry(
                "pump_inlet_margin", "temperature difference", least(lambda run: least_over(run.vapour_margin, inlets))
            ),
            Entry(
                "pump_inlet_margin", "pressure difference", least(lambda run: least_over(run.pressure_margin, inlets))
            ),
            Entry("pump_inlet_V_L", "number", greatest(lambda run: greatest_over(run.vapour_liquid_ratio, inlets))),
            Entry("pump_noise_margin", "pressure difference", suction),
            Column("pump_noisy", noisy),
            Column("pump_flow_lost_percent", 100.0 * greatest(lambda run: run.pump_flow_lost)),
            Entry("rail_margin", "temperature difference", least(lambda run: least_over(run.vapour_margin, rails))),
            Entry("rail_margin", "pressure difference", least(lambda run: least_over(run.pressure_margin, rails))),
            Entry("rail_V_L", "number", greatest(lambda run: greatest_over(run.vapour_liquid_ratio, rails))),
            Entry("idle_rail", "temperature", greatest_over(idle.temperature, rails)),
        ],
        units,
    )
