"""Inputs that are not known better than by a distribution: tolerances of parts, wear, heat, fuel, weather.

The band of a figure, low, middle and high, is taken as a triangular distribution with its mode in the middle; two ends
alone as a uniform one [assumed]. Keys of one input rise together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol, TypeAlias, runtime_checkable

import numpy as np
from scipy import stats

from fuelsim import units
from fuelsim.arguments import check_fields, choice, number, takes
from fuelsim.band import Band
from fuelsim.car.rating_lists import may_be_listed
from fuelsim.errors import InputError, shortened
from fuelsim.kinds import KINDS
from fuelsim.shown import cut_short, html_of
from fuelsim.sources import cite
from fuelsim.studies.bands import BandInput, band_inputs
from fuelsim.studies.circuits import circuits
from fuelsim.studies.vary import declared_kind
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, PointArray, Quantity

__all__ = ["Distribution", "InputsGiven", "UncertainInput", "Uniform", "inputs_asked", "tolerances", "uncertain_inputs"]


@runtime_checkable
class Distribution(Protocol):
    """A distribution of `scipy.stats` with its parameters, such as ``scipy.stats.norm(300e3, 5e3)``; SI."""

    def ppf(self, q: FloatArray, /) -> FloatArray:
        """Return the values below which shares of the population lie.

        Parameters
        ----------
        q : array
            The shares.

        Returns
        -------
        array
            SI.

        Examples
        --------
        >>> round(float(stats.norm(300e3, 5e3).ppf(0.5)))
        300000
        """


class Uniform(NamedTuple):
    """Two ends, SI, between which each value is as likely as another.

    Attributes
    ----------
    low, high : float
    """

    low: float
    high: float


@dataclass(frozen=True, repr=False)
class UncertainInput:
    """An input with its distribution.

    Attributes
    ----------
    name : str
        What it is, in words.
    kind : str
        Kind of its unit, a name of `units.KINDS`.
    values : mapping of str to Band, Uniform or Distribution
        Dotted keys of the car file and names of conditions that it sets together, each to its distribution, SI.
    source : str
        Where that comes from.
    measure : str
        What to measure so that it shrinks.
    added : bool
        Whether the values are added to those of the conditions, which may differ from point to point.

    Examples
    --------
    >>> wide = UncertainInput("bore", "bore", {"feed.bore": Band(0.0057, 0.006, 0.0063)}, "own measurement")
    >>> wide.at(np.array([0.0, 0.5, 1.0]))["feed.bore"].round(4).tolist()
    [0.0057, 0.006, 0.0063]
    """

    name: str
    kind: str
    values: Mapping[str, Band | Uniform | Distribution]
    source: str = ""
    measure: str = ""
    added: bool = False

    def __post_init__(self) -> None:
        check_fields(self, {"kind": choice(KINDS)})

    def __repr__(self) -> str:
        return f"<UncertainInput: {cut_short(f'{self.name}, {dict(self.values)}; {self.source}')}>"

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the input in one line."""
        return html_of(repr(self)[1:-1], None)

    @classmethod
    @takes()
    def from_band(cls, item: BandInput) -> UncertainInput:
        """Return the input of a band.

        Parameters
        ----------
        item : BandInput

        Returns
        -------
        UncertainInput

        Examples
        --------
        >>> UncertainInput.from_band(BandInput("bore", "bore", {"feed.bore": Band(0.0057, 0.006, 0.0063)}, "low",
        ...                                    "own measurement")).kind
        'bore'
        """
        return cls(item.name, item.kind, item.values, item.source, item.measure)

    @takes({"shares": number("fraction", 0.0, 1.0, flat=True)})
    def at(self, shares: Quantity) -> dict[str, PointArray]:
        """Return the value of each key below which shares of the population lie.

        Parameters
        ----------
        shares : float or array (samples,)
            Fractions, from 0 to 1.

        Returns
        -------
        dict of str to array (samples,)
            SI.

        Examples
        --------
        >>> UncertainInput("bore", "bore", {"feed.bore": Uniform(0.005, 0.007)}).at(0.5)["feed.bore"].tolist()
        [0.006]
        """
        ranks = np.atleast_1d(np.asarray(shares, dtype=float))
        return {key: _quantile(value, ranks) for key, value in self.values.items()}


InputsGiven: TypeAlias = Mapping[str, object] | Sequence[UncertainInput | BandInput]
"""What a user gives: inputs, or dotted keys and names of conditions with (low, high), (low, middle, high) or a
distribution of `scipy.stats`."""


def _quantile(distribution: Band | Uniform | Distribution, shares: PointArray) -> PointArray:
    if isinstance(distribution, Band):
        low, middle, high = distribution
        if low == high:
            return np.full(shares.shape, low)
        return np.asarray(stats.triang.ppf(shares, (middle - low) / (high - low), low, high - low))
    if isinstance(distribution, Uniform):
        return np.asarray(distribution.low + shares * (distribution.high - distribution.low))
    return np.asarray(distribution.ppf(shares), dtype=float)


def inputs_asked(system: System, inputs: InputsGiven | None) -> tuple[UncertainInput, ...]:
    """Return the inputs of a study as a user gave them.

    Parameters
    ----------
    system : System
    inputs : mapping, list or None
        `InputsGiven`; left out, `uncertain_inputs`.

    Returns
    -------
    tuple of UncertainInput

    Raises
    ------
    InputError
        For an unknown key, or what is no distribution.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> inputs_asked(Car.named("finch").system("return"), {"feed.bore": (0.005, 0.007)})[0].values
    {'feed.bore': Uniform(low=0.005, high=0.007)}
    """
    if inputs is None:
        return uncertain_inputs(system)
    if isinstance(inputs, Mapping):
        inputs = tuple(_of_key(key, given) for key, given in inputs.items())
    listed = tuple(UncertainInput.from_band(item) if isinstance(item, BandInput) else item for item in inputs)
    for item in listed:
        for key in item.values:
            if "." in key and not may_be_listed(key):
                accepted = "keys of lines, pumps, wires, regulators, injectors, fuel and rises of the air; conditions"
                raise InputError("an input that cannot differ between samples", given=key, accepted=accepted)
    return listed


def _of_key(key: str, given: object) -> UncertainInput:
    """Return the input of one key and what a user says of its value."""
    kind = declared_kind(key)
    if not kind:
        accepted = (
            "a key of the car file that is a number, such as 'feed.bore', or a condition, such as 'supply_voltage'"
        )
        raise InputError("no such input", given=key, accepted=accepted, key="inputs")
    if isinstance(given, Distribution):
        return UncertainInput(key, kind, {key: given})
    ends: list[float] = []
    if isinstance(given, (tuple, list)) and len(given) in (2, 3):
        ends = [float(units.convert(each, kind)) for each in given]
    if not ends or ends != sorted(ends):
        accepted = "(low, high), (low, middle, high) or a distribution of scipy.stats, SI"
        raise InputError("no distribution", given=shortened(given), accepted=accepted, key=key)
    return UncertainInput(key, kind, {key: Uniform(*ends) if len(ends) == 2 else Band(*ends)})


def _from_memory() -> str:
    """Return the source of tolerances that were not read anywhere."""
    return cite("memory")


@system_or_car
@takes()
def uncertain_inputs(system: System) -> tuple[UncertainInput, ...]:
    """Return the inputs that are usually least certain, for the parts the layout has.

    Those of the hot answer are the inputs of its bands (`band_inputs`).

    Parameters
    ----------
    system : System
        A car plumbed in one layout.

    Returns
    -------
    tuple of UncertainInput

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> [item.name for item in uncertain_inputs(Car.named("finch").system("return"))][:2]
    ['vapour tolerance of the pump', 'superheat at the pump']
    """
    memory = _from_memory()
    inputs = [UncertainInput.from_band(item) for item in band_inputs(system.car)]
    ethanol = system.fuel.ethanol
    if ethanol > 0.5:
        sold = Band(ethanol - 0.15, ethanol, min(ethanol + 0.02, 1.0))
        inputs.append(UncertainInput("ethanol of the fuel", "fraction", {"fuel.ethanol": sold}, memory, "its density"))
    elif ethanol > 0.0:
        sold = Band(0.5 * ethanol, ethanol, ethanol)
        inputs.append(
            UncertainInput("ethanol of the fuel", "fraction", {"fuel.ethanol": sold}, memory, "shake it with water")
        )
    return (*inputs, *tolerances(system))


def tolerances(system: System) -> tuple[UncertainInput, ...]:
    """Return what may differ of parts, supply and weather, for the parts the layout has: `uncertain_inputs` but fuel.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.

    Returns
    -------
    tuple of UncertainInput

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> [item.name for item in tolerances(Car.named("finch").system("return"))][:2]
    ['flow of the pump', 'fuel that the engine takes']
    """
    car, plumbing, memory, assumed = system.car, system.plumbing, _from_memory(), cite("assumed")
    flow = "flow into a can at two pressures and known volts"
    inputs = [
        UncertainInput("flow of the pump", "fraction", {"pump_wear": Band(-0.1, 0.0, 0.2)}, memory, flow),
        UncertainInput("fuel that the engine takes", "fraction", {"fuel_demand": Band(0.9, 1.0, 1.1)}, memory,
                       "mixture and injector duty at full load"),
        UncertainInput("volts of the supply", "voltage", {"supply_voltage": Band(-0.6, 0.0, 0.6)},
                       cite("service_manuals_a"), "volts at the battery with loads on", added=True),
        UncertainInput("temperature of the tank", "temperature difference", {"tank_temperature": Band(-5.0, 0.0, 5.0)},
                       assumed, "a thermocouple in the tank", added=True),
        UncertainInput("temperature of the air", "temperature difference", {"air_temperature": Band(-3.0, 0.0, 3.0)},
                       assumed, "a thermometer in the shade", added=True),
    ]  # fmt: skip
    if plumbing.filters:
        inputs.append(
            UncertainInput("clogging of the filter", "number", {"filter_clogging": Band(1.0, 1.0, 4.0)}, memory,
                           "pressure before and after it")
        )  # fmt: skip
    for circuit in circuits(system):
        key = f"{circuit.table}.other"
        own = float(car.value_of(key) or 0.0)  # type: ignore[arg-type]  # a quantity, by its key
        band = Band(0.5 * own, own, own + 0.1)
        inputs.append(UncertainInput(f"resistance in {circuit.table}", "resistance", {key: band}, memory,
                                     "volts lost from battery to pump"))  # fmt: skip
    for holder in plumbing.holders:
        own = float(holder.set_pressure)
        key = f"{holder.table}.set_pressure"
        band = Band(0.98 * own, own, 1.02 * own)
        inputs.append(UncertainInput(f"set pressure of {holder.table}", "pressure difference", {key: band}, memory,
                                     "rail pressure at idle, hose off"))  # fmt: skip
        droop = float(holder.droop)
        if droop > 0.0:
            inputs.append(UncertainInput(f"droop of {holder.table}", "pressure per flow",
                                         {f"{holder.table}.droop": Band(0.5 * droop, droop, 2.0 * droop)}, memory,
                                         "rail pressure at idle and with the engine off"))  # fmt: skip
    for line in plumbing.lines:
        if car.value_of(line.table) is None:
            continue
        bore, loss = float(line.part.bore), float(line.part.loss_coefficient)
        inputs.append(UncertainInput(f"bore of {line.table}", "bore",
                                     {f"{line.table}.bore": Band(0.95 * bore, bore, 1.05 * bore)}, assumed,
                                     "a pin gauge"))  # fmt: skip
        if loss > 0.0:
            inputs.append(UncertainInput(f"fittings of {line.table}", "number",
                                         {f"{line.table}.loss_coefficient": Band(0.5 * loss, loss, 2.0 * loss)}, memory,
                                         "pressure at both ends"))  # fmt: skip
    return tuple(inputs)
