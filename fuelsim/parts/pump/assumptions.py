"""What of a pump was not given and is typical of its kind instead."""

from __future__ import annotations

from typing import Protocol

from fuelsim import units
from fuelsim.parts.pump.pump_types import PumpType
from fuelsim.sources import cite
from fuelsim.typing import Given

__all__ = ["pump_assumptions"]


class RatedPump(Protocol):
    """What of a pump's ratings the sentences need."""

    @property
    def kind(self) -> PumpType:
        """Typical figures of its kind."""
        ...

    @property
    def current_source(self) -> str:
        """Where the currents come from."""
        ...

    @property
    def dead_head_source(self) -> str:
        """Where the dead-head pressure comes from."""
        ...

    @property
    def dead_head_pressure(self) -> float:
        """Pressure rise without flow, Pa."""
        ...

    def value_of(self, key: str) -> Given:
        """Return a rating; None for what is left out."""
        ...


def pump_assumptions(pump: RatedPump, tables: int) -> list[str]:
    """Return sentences on the ratings that were not given and are typical instead, in the preferred units.

    Parameters
    ----------
    pump : Pump
    tables : int
        Number of voltages or speeds at which it was tested.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from fuelsim.parts.pump.pump import Pump
    >>> pump_assumptions(Pump.named("in_tank_220"), tables=2)[-1].partition(" (")[0]
    'flow collapses beyond V/L 2'
    """
    kind, sentences, recalled = pump.kind, [], cite("memory")
    if pump.current_source == "estimated":
        sentences.append(f"current estimated from the class of pump, +-20 % or worse (typical, {recalled})")
    if pump.dead_head_source == "extrapolated":
        dead_head = units.shown(pump.dead_head_pressure, "pressure difference", digits=3)
        sentences.append(f"dead-head of {dead_head} extrapolated beyond the bench rows")
    if pump.value_of("relief_pressure") is None:
        sentences.append("no relief valve given")
    if tables == 1 and pump.value_of("voltage_exponent") is None:
        sentences.append(f"flow against voltage or speed from the class of pump, one table only (typical, {recalled})")
    if pump.value_of("inlet_head_required") is None:
        head = units.shown(kind.inlet_head, "pressure difference", digits=3)
        sentences.append(f"inlet head of {head} for quiet running ({recalled}, low confidence)")
    if pump.value_of("vapour_tolerance") is None and pump.value_of("hot_flow_share") is None:
        sentences.append(f"flow collapses beyond V/L {kind.vapour_tolerance:g} ({recalled}, low confidence)")
    if pump.value_of("heat_share") is None and pump.value_of("mounting") == "external":
        sentences.append(f"15 % of the electrical power leaves the body to the air ({recalled})")
    return sentences
