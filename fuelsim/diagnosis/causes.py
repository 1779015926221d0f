"""What may be wrong with a fuel delivery: each cause with one figure that says how far, and its range.

A cause changes ratings of the car, an operating condition, or what a gauge shows. How common each is, is a guess
[assumed]: nearly all are as common as one another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from fuelsim.arguments import takes
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.parts.filter import Filter
from fuelsim.parts.regulator import ReturnRegulator
from fuelsim.studies.circuits import circuits
from fuelsim.system.plumbed_car import system_or_car
from fuelsim.system.run import System
from fuelsim.typing import FloatArray, FloatLike, Given, PointArray

__all__ = ["HEALTHY", "Cause", "Effect", "causes_of"]

HEALTHY = "nothing wrong"
"""Name of the hypothesis without a cause."""
KNOTS = 17
"""Sizes at which each cause is computed; between them it is interpolated."""
_ADDED, _TIMES = "added", "times"
STUCK_AT_REST = 50e3
"""Pressure that a jammed regulator holds without flow, by the line that stands for its restriction, Pa [assumed]."""
HOT = 60.0
"""Warming of a gauge to which the size of its error by heat refers, K."""


@dataclass(frozen=True)
class Effect:
    """What a cause does to one key.

    Attributes
    ----------
    key : str
        Dotted key of the car file, or name of a condition.
    how : str
        ``"set"`` to the size, size ``"added"``, ``"times"`` the size, or the amount ``"over"`` the size.
    amount : float
        What is divided by the size, SI.

    Examples
    --------
    >>> float(Effect("pump.flow", "times").changed(2e-5, 0.5)), float(Effect("wire.other", "added").changed(0.0, 0.2))
    (1e-05, 0.2)
    """

    key: str
    how: str
    amount: float = 0.0

    def changed(self, own: FloatLike, size: float) -> FloatArray:
        """Return what a value becomes.

        Parameters
        ----------
        own : float or array
            SI.
        size : float
            Size of the cause, SI.

        Returns
        -------
        array
            SI.
        """
        own = np.asarray(own, dtype=float)
        if self.how == "added":
            return np.asarray(own + size)
        if self.how == "times":
            return np.asarray(own * size)
        return np.full(own.shape, size if self.how == "set" else self.amount / size)


@dataclass(frozen=True)
class Cause:
    """Something that may be wrong.

    Attributes
    ----------
    name : str
        What it is, in words.
    size : str
        What its size is, in words.
    kind : str
        Kind of the size's unit, a name of `units.KINDS`.
    low, high : float
        Range of the size, SI.
    healthy : float
        Size at which nothing is wrong.
    effects : tuple of Effect
        What it changes in the car or its conditions; empty for a cause in a gauge.
    gauge : str
        ``"offset"``, ``"scale"``, ``"hot"`` or empty: what it does to every pressure that is read; hot is a scale that
        changes with the temperature of the engine bay.
    changes : mapping of str to value
        Keys set where the cause is there at all, whatever its size; a cause without other effects has a size of 1.
    logarithmic : bool
        Whether sizes are spread by their logarithm over the distance from the healthy one.
    prior : float
        How common it is beside others.
    knots : int
        Number of sizes at which it is computed.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> "worn pump" in [cause.name for cause in causes_of(Car.named("finch").system("return"))]
    True
    """

    name: str
    size: str
    kind: str
    low: float
    high: float
    healthy: float
    effects: tuple[Effect, ...] = ()
    gauge: str = ""
    changes: Mapping[str, Given] = field(default_factory=dict)
    logarithmic: bool = False
    prior: float = 1.0
    knots: int = KNOTS

    @property
    def there_or_not(self) -> bool:
        """Whether it has no size."""
        return bool(self.changes) and not self.effects

    @property
    def keys(self) -> frozenset[str]:
        """Keys, conditions or gauges that it changes; two causes of one key are not tried together."""
        own = frozenset(effect.key for effect in self.effects) | frozenset(self.changes)
        return own | {f"gauge {self.gauge}"} if self.gauge else own

    @property
    def positions(self) -> PointArray:
        """Where along its range the cause is computed, 0 to 1, (knots,); one for a cause that is there or not."""
        return self.spread(self.knots)

    def spread(self, count: int) -> PointArray:
        """Return positions spread evenly along the range.

        Parameters
        ----------
        count : int
            Number of positions.

        Returns
        -------
        array (count,)
            From 0 to 1; of a cause that is there or not, one.

        Examples
        --------
        >>> Cause("worn", "flow lost", "fraction", 0.0, 0.6, 0.0).spread(3).tolist()
        [0.0, 0.5, 1.0]
        """
        return np.ones(1) if self.there_or_not else np.linspace(0.0, 1.0, count)

    def sizes(self, positions: FloatArray) -> FloatArray:
        """Return sizes at positions along the range.

        Parameters
        ----------
        positions : array
            From 0 to 1.

        Returns
        -------
        array
            SI.

        Examples
        --------
        >>> Cause("worn", "flow lost", "fraction", 0.0, 0.6, 0.0).sizes(np.array([0.0, 0.5, 1.0])).tolist()
        [0.0, 0.3, 0.6]
        """
        if not self.logarithmic:
            return np.asarray(self.low + positions * (self.high - self.low))
        if self.low == self.healthy:
            # From a ten-thousandth of the range, so that the small and the large are both resolved.
            return np.asarray(
                self.low + (self.high - self.low) * (_SMALLEST**-positions - 1.0) / (1.0 / _SMALLEST - 1.0)
            )
        return np.asarray(self.low * (self.high / self.low) ** positions)


_SMALLEST = 1e-4
"""Share of the range of a logarithmic cause about which its sizes begin to be spread by their logarithm."""


@system_or_car
@takes()
def causes_of(system: System) -> tuple[Cause, ...]:
    """Return what may be wrong with the parts that a car has in its layout.

    Parameters
    ----------
    system : System

    Returns
    -------
    tuple of Cause

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> [cause.name for cause in causes_of(Car.named("finch").system("return"))][:3]
    ['worn pump', "air at the pump's inlet", 'weak battery or alternator']
    """
    plumbing = system.plumbing
    causes = [
        Cause("worn pump", "flow lost at a third of dead-head", "fraction", 0.0, 0.6, 0.0,
              (Effect("pump_wear", _ADDED),)),
        Cause("air at the pump's inlet", "liquid over what the pump displaces", "fraction", 0.4, 1.0, 1.0,
              tuple(Effect(f"{pump.table}.flow", _TIMES) for pump in plumbing.pumps), knots=5),
        Cause("weak battery or alternator", "volts below those expected", "voltage", -4.0, 0.0, 0.0,
              (Effect("supply_voltage", _ADDED),)),
    ]  # fmt: skip
    for circuit in circuits(system):
        causes.append(
            Cause(f"resistance in {circuit.table}", "resistance added in wire, relay or ground", "resistance", 0.0, 1.5,
                  0.0, (Effect(f"{circuit.table}.other", _ADDED),), logarithmic=True)
        )  # fmt: skip
    pumps = {link.upstream for link in plumbing.pumps}
    filters = [link for link in plumbing.links if isinstance(link.part, Filter)]
    for link in filters:
        word = "strainer" if link.downstream in pumps else "filter"
        causes.append(
            Cause(f"clogged {word} {link.table}" if link.table != word else f"clogged {word}",
                  "viscous resistance over that when clean", "number", 1.0, 300.0, 1.0,
                  (Effect(f"{link.table}.clogging", _TIMES),), logarithmic=True)
        )  # fmt: skip
    for words, lines in (
        ("feed", plumbing.feed_lines),
        ("return", plumbing.return_lines),
        ("suction", plumbing.suction_lines),
    ):
        for line in lines:
            name = f"pinched or small {words}" + ("" if len(lines) == 1 else f" {line.table}")
            causes.append(
                Cause(name, "loss coefficient added", "number", 0.0, 2e4, 0.0,
                      (Effect(f"{line.table}.loss_coefficient", _ADDED),), logarithmic=True)
            )  # fmt: skip
    spilling = {link.table for link in plumbing.links if isinstance(link.part, ReturnRegulator)}
    for holder in plumbing.holders:
        table = "" if len(plumbing.holders) == 1 else f" {holder.table}"
        causes.append(
            Cause(f"regulator{table} set wrong", "pressure beyond the set one", "pressure difference", -1.6e5,
                  1.6e5, 0.0, (Effect(f"{holder.table}.set_pressure", _ADDED),))
        )  # fmt: skip
        causes.append(
            Cause(f"weak regulator{table}", "droop over that when new", "number", 1.0, 20.0, 1.0,
                  (Effect(f"{holder.table}.droop", _TIMES),), logarithmic=True)
        )  # fmt: skip
        if holder.table in spilling and float(holder.set_pressure) > 2.0 * STUCK_AT_REST:
            # Jammed it is a restriction, here a line through its working point; the mixture is kept by closed loop.
            stays = {f"{holder.table}.set_pressure": STUCK_AT_REST, f"{holder.table}.reference": "atmosphere",
                     "engine.trim_limit": 0.9}  # fmt: skip
            causes.append(
                Cause(f"regulator{table} stuck", "flow through it at the set pressure", "volume flow", 5e-6, 1e-4, 0.0,
                      (Effect(f"{holder.table}.droop", "over", float(holder.set_pressure) - STUCK_AT_REST),),
                      changes=stays, logarithmic=True, knots=9)
            )  # fmt: skip
        if system.car.value_of(f"{holder.table}.reference") == "manifold":
            causes.append(
                Cause(f"vacuum hose of the regulator{table} off, or its diaphragm torn", "there", "number", 0.0, 1.0,
                      0.0, changes={f"{holder.table}.reference": "atmosphere"})
            )  # fmt: skip
    causes += [
        Cause(f"leaking {words}", "leak at 300 kPa over that of a sound one", "volume flow", 0.0, 5e-8, 0.0,
              (Effect(f"leak_down.{key}", _ADDED),), logarithmic=True, knots=9)
        for words, key in (("check valve", "check_valve_leak"), ("regulator seat", "regulator_leak"),
                           ("injectors", "injector_leak"))
    ]  # fmt: skip
    ethanol = float(system.fuel.ethanol)
    least, most = (0.0, ethanol) if ethanol > 0.5 else (ethanol, 0.85)
    causes += [
        Cause("wrong fuel", "ethanol in the fuel", "fraction", least, most, ethanol, (Effect("fuel.ethanol", "set"),),
              knots=5),
        Cause("blocked tank vent", "pressure of the tank below the atmosphere", "pressure difference", -30e3, 0.0, 0.0,
              (Effect("vapour_space_pressure", _ADDED),)),
        Cause("engine takes another amount of fuel", "fuel over that by its ratings", "fraction", 0.7, 1.5, 1.0,
              (Effect("fuel_demand", _TIMES),)),
        Cause("wrong injectors", "flow over the rated one", "fraction", 0.6, 1.6, 1.0,
              (Effect("injectors.static_flow", _TIMES),)),
        Cause("gauge reads beside", "added by the gauge", "pressure difference", -40e3, 40e3, 0.0, gauge="offset"),
        Cause("gauge out of scale", "shown over true", "fraction", 0.8, 1.25, 1.0, gauge="scale"),
        Cause("gauge hot", f"shown over true for each {HOT:.0f} K that the bay is above 20 degC, less one", "fraction",
              -0.1, 0.1, 0.0, gauge="hot"),
        Cause("gauge shows absolute pressure", "added by the gauge", "pressure difference", 0.95 * STANDARD_ATMOSPHERE,
              1.05 * STANDARD_ATMOSPHERE, 0.0, gauge="offset", prior=0.3),
    ]  # fmt: skip
    return tuple(causes)
