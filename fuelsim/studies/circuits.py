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

__all__ = ["Circuit", "circuits", "circuits_of"]


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
