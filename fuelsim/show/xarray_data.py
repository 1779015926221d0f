"""Results as xarray datasets: named axes, coordinates and units. xarray is optional and imported when asked for."""

from __future__ import annotations

from collections.abc import Mapping
from types import ModuleType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.errors import InputError
from fuelsim.show.axes import Coordinates, axes_of, unit_of_condition

if TYPE_CHECKING:
    import xarray as xr

    from fuelsim.studies.comparison import Comparison
    from fuelsim.studies.margins import MarginMap
    from fuelsim.system.run import Run
    from fuelsim.transients.drive_results import Drive
    from fuelsim.transients.hot_restart import HotRestart
    from fuelsim.transients.leak_down import LeakDown
    from fuelsim.transients.prime import Prime
    from fuelsim.transients.soak import Soak
    from fuelsim.waves.result import Transient

__all__ = ["VARIABLES", "comparison_dataset", "dataset_over_time", "margin_dataset", "run_dataset", "transient_dataset"]


class Variable(NamedTuple):
    """SI unit of a variable, and what the names of a mapping are names of ('' for a plain array)."""

    unit: str
    named: str = ""


VARIABLES: dict[str, Variable] = {
    **{name: Variable("Pa", "station") for name in ("pressure", "gauge_pressure", "pressure_margin")},
    **{name: Variable("K", "station") for name in ("temperature", "vapour_margin")},
    "vapour_liquid_ratio": Variable("1", "station"),
    "flow": Variable("m3/s", "link"),
    "mass_flow": Variable("kg/s", "link"),
    "outlet_temperature": Variable("K", "link"),
    "heat_flow": Variable("W", "link"),
    "regime": Variable("", "link"),
    **{name: Variable("", "pump") for name in ("pump_on", "pump_stalled", "over_vapour_limit")},
    "pump_cycles": Variable("", "staged_pump"),
    "pump_share": Variable("1", "pump"),
    "pump_voltage": Variable("V", "pump"),
    "pump_current": Variable("A", "pump"),
    "pump_power": Variable("W", "pump"),
    "pot_overflow": Variable("m3/s", "pot"),
    "pot_time": Variable("s", "pot"),
    "pot_level": Variable("1", "pot"),
    "pot_temperature": Variable("K", "pot"),
    **{
        name: Variable("1")
        for name in (
            *("injector_duty", "pump_duty", "pump_flow_lost", "trim", "mixture", "evaporated", "pump_vapour"),
            *("interpolation_error",),
        )
    },
    **{
        name: Variable("Pa")
        for name in (
            *("injector_pressure_difference", "rail_pressure_band", "suction_margin", "tank_gauge_pressure"),
            *("rail_gauge_pressure", "pressure_needed"),
        )
    },
    **{
        name: Variable("K")
        for name in (
            *("air_temperature", "bay_temperature", "underfloor_temperature", "tank_temperature"),
            *("supply_temperature", "boiling_temperature", "rail_temperature", "pump_margin", "rail_margin"),
        )
    },
    **{name: Variable("W") for name in ("tank_heat_flow", "shed_heat", "burnt_heat_flow")},
    **{name: Variable("kg") for name in ("fuel_mass", "vapour_lost", "drawn_in")},
    **{name: Variable("m3") for name in ("vapour_volume", "leaked", "gas_volume", "pumped")},
    **{name: Variable("m3/s") for name in ("bypass_flow", "pump_flow")},
    "altitude": Variable("m"),
    **{name: Variable("") for name in ("engine_state", "vapour_lock", "phase", "running", "out_of_fuel")},
}
"""Unit of every variable of a result."""


def run_dataset(run: Run) -> xr.Dataset:
    """Return a run with one axis for each condition that varies alone, else an axis of operating points.

    Parameters
    ----------
    run : Run
        Any shape.

    Returns
    -------
    xarray.Dataset
        Variables in SI, each with its unit as attribute ``units``; names of stations, links and pumps are axes too.

    Raises
    ------
    InputError
        Without xarray.
    """
    axes, coordinates = axes_of(run.conditions)
    return _dataset(run, axes, coordinates, run.conditions.shape, run.headline)


def dataset_over_time(result: Drive | HotRestart | LeakDown | Prime | Soak) -> xr.Dataset:
    """Return a drive over its time, or a soak or leak-down over the time since the engine stopped, s.

    Parameters
    ----------
    result : Drive, HotRestart, LeakDown, Prime or Soak

    Returns
    -------
    xarray.Dataset

    Raises
    ------
    InputError
        Without xarray.
    """
    return _dataset(result, ("time",), {"time": (("time",), result.time, "s")}, result.time.shape, result.headline)


def transient_dataset(result: Transient) -> xr.Dataset:
    """Return pressures and flows of a network over time, s.

    Parameters
    ----------
    result : Transient

    Returns
    -------
    xarray.Dataset

    Raises
    ------
    InputError
        Without xarray.
    """
    xarray = _xarray()
    dims = ("time", "point")[: result.vapour_volume.ndim]
    data = {
        "pressure": (("node", *dims), np.stack(list(result.pressure.values())), {"units": "Pa"}),
        "flow": (("link", *dims), np.stack(list(result.flow.values())), {"units": "m3/s"}),
        "outflow": (("link", *dims), np.stack(list(result.outflow.values())), {"units": "m3/s"}),
        "vapour_volume": (dims, result.vapour_volume, {"units": "m3"}),
    }
    coords = {"time": ("time", result.time, {"units": "s"}), "node": list(result.pressure), "link": list(result.flow)}
    dataset: xr.Dataset = xarray.Dataset(data, coords, {"description": result.headline})
    return dataset


def margin_dataset(result: MarginMap) -> xr.Dataset:
    """Return the limits of a map of margins over its axes, K.

    Parameters
    ----------
    result : MarginMap

    Returns
    -------
    xarray.Dataset

    Raises
    ------
    InputError
        Without xarray.
    """
    xarray = _xarray()
    axes = tuple(result.axes)
    limits = np.stack(list(result.limit.values()))
    coordinates = {name: (name, values, {"units": unit_of_condition(name)}) for name, values in result.axes.items()}
    data = {"limit": (("station", *axes), limits, {"units": "K", "limit_of": result.limited})}
    coords = {"station": list(result.limit), **coordinates}
    dataset: xr.Dataset = xarray.Dataset(data, coords, {"description": result.headline})
    return dataset


def comparison_dataset(result: Comparison) -> xr.Dataset:
    """Return the full-load runs of a comparison, those of all layouts along an axis ``layout``.

    Stations and links that a layout has not are missing values.

    Parameters
    ----------
    result : Comparison

    Returns
    -------
    xarray.Dataset

    Raises
    ------
    InputError
        Without xarray.
    """
    xarray = _xarray()
    each = [run_dataset(run) for run in result.full_load.values()]
    whole: xr.Dataset = xarray.concat(each, dim="layout", join="outer", combine_attrs="drop")
    whole = whole.assign_coords(layout=list(result.full_load))
    return whole.assign_attrs(description=result.headline)


def _xarray() -> ModuleType:
    try:
        import xarray
    except ImportError:
        raise InputError("xarray is not installed", accepted="pip install xarray") from None
    return xarray


def _dataset(
    result: object, axes: tuple[str, ...], coordinates: Coordinates, shape: tuple[int, ...], description: str
) -> xr.Dataset:
    xarray = _xarray()
    data: dict[str, object] = {}
    coords: dict[str, object] = {
        name: (dims, values, {"units": unit}) for name, (dims, values, unit) in coordinates.items()
    }
    for name, variable in VARIABLES.items():
        values = getattr(result, name, None)
        if values is None or name in coords:
            continue
        attributes = {"units": variable.unit} if variable.unit else {}
        if not isinstance(values, Mapping):
            if np.shape(values) == shape:
                data[name] = (axes, np.asarray(values), attributes)
        elif values:
            # Names of one kind may differ from variable to variable, as those of stations with and without the tank.
            data[name] = xarray.DataArray(
                np.stack([np.broadcast_to(np.asarray(each), shape) for each in values.values()]),
                dims=(variable.named, *axes),
                coords={variable.named: list(values)},
                attrs=attributes,
            )
    dataset: xr.Dataset = xarray.Dataset(data, coords, {"description": description})
    return dataset
