"""What of a pump was not given and is typical of its kind instead."""

from __future__ import annotations

from fuelsim import units
from fuelsim.fields import Ratings
from fuelsim.parts.pump.pump_types import FULL_SPEED_VOLTAGE, PumpType
from fuelsim.sources import cite

__all__ = ["pump_assumptions"]


def pump_assumptions(
    pump: Ratings,
    kind: PumpType,
    *,
    tables: int,
    estimated_current: bool,
    extrapolated_dead_head: float | None,
) -> list[str]:
    """Return sentences on the ratings that were not given and are typical instead, in the preferred units.

    Parameters
    ----------
    pump : Ratings
        A pump.
    kind : PumpType
        Typical figures of its kind.
    tables : int
        Number of voltages or speeds at which it was tested.
    estimated_current : bool
        Whether its current is estimated.
    extrapolated_dead_head : float or None
        Its dead-head pressure where that lies beyond its bench rows, Pa.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from fuelsim.parts.pump.pump import Pump
    >>> Pump.named("in_tank_220").assumptions[-1].partition(" (")[0]
    'flow collapses beyond V/L 2, 1 to 3'
    """
    sentences, recalled = [], cite("memory")

    def pressure(value: float) -> str:
        return units.shown(value, "pressure difference", digits=3)

    if estimated_current:
        sentences.append(f"current estimated from the class of pump, +-20 % or worse (typical, {recalled})")
    if extrapolated_dead_head is not None:
        sentences.append(f"dead-head of {pressure(extrapolated_dead_head)} extrapolated beyond the bench rows")
    if pump.value_of("relief_pressure") is None:
        sentences.append("no relief valve given")
    if tables == 1 and pump.value_of("voltage_exponent") is None:
        sentences.append(f"flow against voltage or speed from the class of pump, one table only (typical, {recalled})")
    if pump.value_of("speed") is not None and pump.value_of("full_speed_voltage") is None:
        share = f"{100.0 * FULL_SPEED_VOLTAGE:.0f} %"
        sentences.append(f"highest speed reached down to {share} of the voltage of the test (assumed)")
    if pump.value_of("inlet_head_required") is None:
        low, middle, high = (pressure(value) for value in kind.inlet_head)
        sentences.append(f"inlet head of {middle}, {low} to {high}, for quiet running ({recalled}, low confidence)")
    if pump.value_of("vapour_tolerance") is None and pump.value_of("hot_flow_share") is None:
        low, middle, high = (f"{value:g}" for value in kind.vapour_tolerance)
        sentences.append(f"flow collapses beyond V/L {middle}, {low} to {high} ({recalled}, low confidence)")
    if pump.value_of("heat_share") is None and pump.value_of("mounting") == "external":
        sentences.append(f"15 % of the electrical power leaves the body to the air ({recalled})")
    return sentences
