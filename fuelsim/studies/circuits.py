"""Electric circuits of a plumbing's pumps: which wire and fuse carry which pump."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.car.car import Car
from fuelsim.numerics.pointwise import greatest_at_each_point
from fuelsim.parts.wire import Wire
from fuelsim.system.plumbing import Plumbing
from fuelsim.system.run import Run, System
from fuelsim.typing import FloatArray

__all__ = ["Circuit", "WiringPoint", "circuits", "circuits_of", "volts_along"]


class Circuit(NamedTuple):
    """A table of wire and fuse, and the pumps that have a circuit of these ratings each.

    Attributes
    ----------
    table : str
        Key of the car's table, ``"wire"`` or as in ``"wires.lift"``.
    wire : Wire
    pumps : tuple of str
        Names of the pumps, in the order of flow.
    """

    table: str
    wire: Wire
    pumps: tuple[str, ...]

    def greatest_current(self, run: Run) -> FloatArray:
        """Return the current of the pump that draws most, A, with the shape of the run's conditions.

        Parameters
        ----------
        run : Run
            The operating points.

        Returns
        -------
        array
            A.

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("return")
        >>> run = system.solve(rpm=[3000])
        >>> bool(circuits(system)[0].greatest_current(run) == run.pump_current["pump"])
        True
        """
        return greatest_at_each_point(run.pump_current[pump] for pump in self.pumps)

    def hungriest(self, system: System, run: Run) -> str:
        """Return the pump with the greatest current in words: the pump, or its name where there are several.

        Parameters
        ----------
        system : System
            The car in its layout.
        run : Run
            The operating points.

        Returns
        -------
        str

        Examples
        --------
        >>> import fuelsim as fs
        >>> system = fs.Car.named("finch").system("return")
        >>> circuits(system)[0].hungriest(system, system.solve(rpm=3000))
        'the pump'
        """
        if len(system.plumbing.pumps) == 1:
            return "the pump"
        return max(self.pumps, key=lambda pump: float(np.nan_to_num(np.nanmax(run.pump_current[pump], initial=0.0))))


class WiringPoint(NamedTuple):
    """A place of a pump's circuit and its voltage against the battery's negative pole.

    Attributes
    ----------
    name : str
        What is there, in the order of the current.
    voltage : float
        V, behind it; at the pump, that of its positive terminal, at the ground joint, that of its negative one.
    """

    name: str
    voltage: float


def volts_along(wire: Wire, supply_voltage: float, current: float) -> tuple[WiringPoint, ...]:
    """Return the voltage along a pump's circuit, from the battery's positive pole to the ground joint.

    Half of the wire and half of the plugs lie before the pump [assumed]; other resistances lie before it as well.

    Parameters
    ----------
    wire : Wire
        The circuit.
    supply_voltage : float
        Voltage of battery or alternator, V.
    current : float
        Current of the pump, A.

    Returns
    -------
    tuple of WiringPoint
        Battery, fuse, relay, cut-off, pump and ground.

    Examples
    --------
    >>> points = volts_along(Wire(), 13.5, 8.0)
    >>> pump, ground = points[-2].voltage, points[-1].voltage
    >>> bool(np.isclose(pump - ground, 13.5 - Wire().voltage_drop(8.0)))
    True
    """
    half = 0.5 * float(np.max(wire.wire_resistance + wire.connectors))
    behind_fuse = supply_voltage - current * float(np.max(wire.fuse))
    behind_relay = behind_fuse - current * float(np.max(wire.relay))
    at_pump = behind_relay - current * (half + float(np.max(wire.other)))
    return (
        WiringPoint("battery", supply_voltage),
        WiringPoint("fuse", behind_fuse),
        WiringPoint("relay", behind_relay),
        WiringPoint("cut-off", behind_relay),
        WiringPoint("pump", at_pump),
        WiringPoint("ground", current * (half + float(np.max(wire.ground)))),
    )


def circuits(system: System) -> tuple[Circuit, ...]:
    """Return the circuits of a plumbing's pumps, one for each table of wire and fuse.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.

    Returns
    -------
    tuple of Circuit
        In the order of flow of their first pumps.

    Examples
    --------
    >>> import fuelsim as fs
    >>> [(circuit.table, circuit.pumps) for circuit in circuits(fs.Car.named("plover").system("pot"))]
    [('wires.lift', ('lift',)), ('wire', ('left_pump', 'right_pump'))]
    """
    return circuits_of(system.car, system.plumbing)


def circuits_of(car: Car, plumbing: Plumbing) -> tuple[Circuit, ...]:
    """Return the circuits of a car plumbed in one way, as `circuits` does of a system.

    Parameters
    ----------
    car : Car
        The car.
    plumbing : Plumbing
        How it is plumbed.

    Returns
    -------
    tuple of Circuit
        In the order of flow of their first pumps.

    Examples
    --------
    >>> car = Car.named("finch")
    >>> circuits_of(car, car.system("return").plumbing)[0].table
    'wire'
    """
    pumps: dict[str, list[str]] = {}
    for pump in plumbing.pumps:
        own = pump.table.rpartition(".")[2]
        pumps.setdefault(f"wires.{own}" if own in car.wires else "wire", []).append(pump.name)
    return tuple(Circuit(table, plumbing.wires[names[0]], tuple(names)) for table, names in pumps.items())
