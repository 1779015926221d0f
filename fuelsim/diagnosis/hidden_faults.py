"""Demo cars with a hidden fault, for a class: readings to diagnose, and the answer apart."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import cast

import pandas as pd

from fuelsim import data_files
from fuelsim.arguments import takes
from fuelsim.car.car import Car
from fuelsim.shown import Shown
from fuelsim.system.run import System

__all__ = ["HiddenFault", "hidden_fault"]


@dataclass(frozen=True)
class HiddenFault(Shown):
    """A demo car of which something may be wrong.

    Attributes
    ----------
    name : str
        Name of the case.
    system : System
        The car in its layout, as it should be.

    Examples
    --------
    >>> case = hidden_fault("one")
    >>> case.readings.shape[0]
    4
    """

    name: str
    system: System

    @property
    def headline(self) -> str:
        """Return which car it is, and what was read."""
        read = [column for column in self.readings.columns if not column.startswith(("rpm", "load", "tank", "air"))]
        return f"{self.name}: {self.system.car.name}, layout '{self.system.layout}'; read: {', '.join(read)}"

    @cached_property
    def readings(self) -> pd.DataFrame:
        """What the gauges showed, one row per operating point, as `diagnose` takes it."""
        data = data_files.read_toml(data_files.named_path("faults", self.name))
        return pd.DataFrame(cast("dict[str, list[float]]", data["readings"]))

    def answer(self) -> str:
        """Return what is wrong, once the class has had its say.

        Returns
        -------
        str

        Examples
        --------
        >>> hidden_fault("six").answer()
        'nothing wrong: healthy'
        """
        answers = data_files.read_toml(data_files.data_path("fault_answers.toml"))
        own = cast("dict[str, str]", answers[self.name])
        return f"{own['cause']}: {own['how']}"


@takes()
def hidden_fault(name: str) -> HiddenFault:
    """Return a demo car with a hidden fault.

    Parameters
    ----------
    name : str
        Name of a file of ``data/faults`` without its ending: ``"one"`` to ``"six"``.

    Returns
    -------
    HiddenFault

    Raises
    ------
    InputError
        For an unknown name.

    Examples
    --------
    >>> from fuelsim.diagnosis.diagnose import diagnose
    >>> case = hidden_fault("three")
    >>> diagnose(case.system, case.readings).first.name in case.answer()
    True
    """
    data = data_files.read_toml(data_files.named_path("faults", name))
    return HiddenFault(name, Car.named(str(data["car"])).system(str(data["layout"])))
