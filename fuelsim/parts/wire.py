"""The electrical circuit of the pump: wire, relay, fuse, connectors, ground."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np

from fuelsim import units
from fuelsim.arguments import CURRENT, VOLTAGE, takes
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, quantity, text
from fuelsim.laws.wire import (
    circuit_resistance,
    gauge_diameter,
    gauge_stranding,
    metric_stranding,
    wire_resistance,
)
from fuelsim.parts.batches import require_one_batch
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["CONTINUOUS_FUSE_LOADING", "HOT_FUSE_LOADING", "Wire"]

HOT_FUSE_LOADING = 0.75
"""Greatest continuous share of a fuse's rating at 25 degC and above, as in a bay or boot [fuse_glossary]."""
CONTINUOUS_FUSE_LOADING = 0.8
"""Greatest continuous current over a fuse's rating; published service bulletins say 0.75 to 0.80."""

_GAUGE = re.compile(r"^\s*(?:(?P<number>\d{1,2})|(?P<zeros>[1-4])/0)\s*AWG\s*$", re.IGNORECASE)
_LEAST_AREA, _MOST_AREA = 0.1e-6, 120e-6


@dataclass(frozen=True, eq=False)
class Wire(Ratings, Catalogued):
    """The circuit between the supply and the pump's terminals, as resistances in series.

    The default resistances are typical of sound parts carrying about 8 A: relay and fuse 0.05-0.1 V each, body ground
    0.05-0.5 V [memory], four plugs of 4 to 10 mohm each, new ones 2 to 5 [connector_training].

    Copper of car wire has 1.11 to 1.16 times the resistance of its nominal size in mm2, 1.07 times in gauges 16 to 8.

    Raises
    ------
    InputError
        For a value that is not accepted, or a size that is neither gauge nor cross-section.

    Examples
    --------
    >>> bare = Wire(length=10.0, size="12 AWG", temperature="20 degC",
    ...             relay=0.0, fuse=0.0, connectors=0.0, ground=0.0)
    >>> round(float(bare.voltage_drop(8.0)), 2)  # V; 0.42 if the wire were solid
    0.45
    """

    catalogue_kind: ClassVar[str] = "wires"

    length: Quantity = quantity(
        "length", "Length of the current's path, out and back.", least=0.0, most=60.0, default=6.0, example="6 m"
    )
    size: str = text("Wire size, as in '12 AWG' or '4 mm2'.", default="12 AWG")
    stranding: Quantity = quantity(
        "number",
        "Factor of stranding: resistance over that of solid copper of the nominal size; left out, that of car wire.",
        least=0.9,
        most=2.0,
        default=None,
        example="1.07",
    )
    temperature: Quantity = quantity(
        "temperature", "Temperature of the copper.", least=230.0, most=430.0, default=313.15, example="40 degC"
    )
    relay: Quantity = quantity(
        "resistance", "Resistance of the relay contacts.", least=0.0, most=5.0, default=0.008, example="8 mohm"
    )
    fuse: Quantity = quantity(
        "resistance", "Resistance of fuse and holder.", least=0.0, most=5.0, default=0.008, example="8 mohm"
    )
    connectors: Quantity = quantity(
        "resistance", "Resistance of all plugs together.", least=0.0, most=5.0, default=0.020, example="20 mohm"
    )
    ground: Quantity = quantity(
        "resistance", "Resistance of body and ground joints.", least=0.0, most=5.0, default=0.012, example="12 mohm"
    )
    other: Quantity = quantity(
        "resistance",
        "Resistance of anything else in series, such as that of a measured circuit.",
        least=0.0,
        most=20.0,
        default=0.0,
        example="0.1 ohm",
    )
    fuse_rating: Quantity = quantity(
        "current", "Rated current of the fuse, as printed on it.", least=1.0, most=200.0, default=None, example="20 A"
    )

    @classmethod
    @takes({"open_voltage": VOLTAGE, "loaded_voltage": VOLTAGE, "current": CURRENT})
    def from_measurement(cls, open_voltage: Quantity, loaded_voltage: Quantity, current: Quantity) -> Self:
        """Return a circuit from two measured voltages, as one resistance.

        Parameters
        ----------
        open_voltage, loaded_voltage : float or str
            Voltage at the pump's plug, without load and with the pump running, V.
        current : float or str
            Current while the pump runs, A.

        Returns
        -------
        Wire

        Raises
        ------
        InputError
            If the loaded voltage is above the open one or the current is not positive.

        Examples
        --------
        >>> round(float(Wire.from_measurement("12.5 V", "6.6 V", "6 A").resistance), 2)
        0.98
        """
        if np.any(np.asarray(current) <= 0.0):
            raise InputError("the current must be positive", given=current, key="current", part=cls.__name__)
        if np.any(np.asarray(loaded_voltage) > np.asarray(open_voltage)):
            raise InputError(
                "the loaded voltage is above the open one",
                given=loaded_voltage,
                accepted=f"at most {np.min(open_voltage):g} V",
                key="loaded_voltage",
                part=cls.__name__,
            )
        measured = circuit_resistance(open_voltage, loaded_voltage, current)
        return cls(length=0.0, relay=0.0, fuse=0.0, connectors=0.0, ground=0.0, other=measured)

    def check(self) -> None:
        """Check the size, and that lists over operating points agree."""
        require_one_batch(
            self, ("length", "temperature", "relay", "fuse", "connectors", "ground", "other", "fuse_rating")
        )
        _area(self.size)

    @property
    def area(self) -> float:
        """Copper cross-section, m2."""
        return _area(self.size)

    @property
    def stranding_factor(self) -> FloatLike:
        """Resistance of the copper over that of solid copper of the nominal size: as given, else that of car wire."""
        given: FloatLike | None = self.stranding
        if given is not None:
            return given
        gauge = _gauge(self.size)
        return metric_stranding(self.area) if gauge is None else gauge_stranding(gauge)

    @property
    def wire_resistance(self) -> FloatArray:
        """Resistance of the copper alone, ohm."""
        return self.stranding_factor * wire_resistance(self.length, self.area, self.temperature)

    @property
    def resistance(self) -> FloatLike:
        """Resistance of the whole circuit, ohm."""
        total: FloatLike = self.wire_resistance + self.relay + self.fuse + self.connectors + self.ground + self.other
        return total

    @takes({"current": CURRENT})
    def voltage_drop(self, current: Quantity) -> FloatArray:
        """Return the voltage lost between supply and pump.

        Parameters
        ----------
        current : float, str or array (points,)
            Current, A.

        Returns
        -------
        array
            Voltage drop, V.

        Examples
        --------
        >>> circuit = Wire.from_measurement("13.5 V", "12.5 V", "5 A")
        >>> round(float(circuit.voltage_drop(10.0)), 6)
        2.0
        """
        return self.resistance * np.asarray(current, dtype=float)

    @takes({"current": CURRENT})
    def heat(self, current: Quantity) -> FloatArray:
        """Return the heat generated in the whole circuit.

        Parameters
        ----------
        current : float, str or array (points,)
            Current, A.

        Returns
        -------
        array
            Power, W.

        Examples
        --------
        >>> circuit = Wire.from_measurement("13.5 V", "12.5 V", "5 A")
        >>> round(float(circuit.heat(10.0)), 6)
        20.0
        """
        return self.resistance * np.asarray(current, dtype=float) ** 2

    @takes({"current": CURRENT})
    def fuse_holder_heat(self, current: Quantity) -> FloatArray:
        """Return the heat generated in fuse and holder.

        Parameters
        ----------
        current : float, str or array (points,)
            Current, A.

        Returns
        -------
        array
            Power, W.

        Examples
        --------
        >>> round(float(Wire(fuse="10 mohm").fuse_holder_heat(20.0)), 6)
        4.0
        """
        heat: FloatArray = self.fuse * np.asarray(current, dtype=float) ** 2
        return heat

    @takes({"current": CURRENT})
    def fuse_loading(self, current: Quantity) -> FloatArray:
        """Return current over fuse rating; NaN where no rating was given.

        Above `CONTINUOUS_FUSE_LOADING` a holder overheats before the fuse blows.

        Parameters
        ----------
        current : float, str or array (points,)
            Current, A.

        Returns
        -------
        array

        Examples
        --------
        >>> round(float(Wire(fuse_rating="30 A").fuse_loading(27.4)), 2)
        0.91
        """
        rating = np.nan if self.fuse_rating is None else self.fuse_rating
        loading: FloatArray = np.asarray(current, dtype=float) / rating
        return loading


def _gauge(size: str) -> int | None:
    """Return the AWG number of a size, 0 for 1/0 and negative beyond; None for a cross-section."""
    match = _GAUGE.match(size)
    if match is None:
        return None
    return int(match["number"]) if match["number"] else 1 - int(match["zeros"])


def _area(size: str) -> float:
    accepted = "a gauge from 4/0 AWG to 30 AWG, as in '12 AWG', or a cross-section, as in '4 mm2'"
    number = _gauge(size)
    if number is not None:
        area = float(np.pi / 4.0 * gauge_diameter(number) ** 2)
        if number > 30:
            raise InputError("the wire is too thin for a pump", given=size, accepted=accepted, key="size")
        return area
    try:
        area = float(units.convert(size, "area"))
    except InputError:
        raise InputError("not a wire size", given=size, accepted=accepted, key="size") from None
    if not _LEAST_AREA <= area <= _MOST_AREA:
        raise InputError("the cross-section is not plausible", given=size, accepted=accepted, key="size")
    return area
