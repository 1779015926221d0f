"""What cold fuel does at the operating points judged: water that separates, and vapour that is too little to light."""

from __future__ import annotations

import numpy as np

from fuelsim.constants import ZERO_CELSIUS
from fuelsim.finding import Finding, Severity
from fuelsim.fuel.lighting import richness_to_light
from fuelsim.fuel.water import water_held
from fuelsim.sources import cite
from fuelsim.studies.extremes import least
from fuelsim.system.run import Run, System
from fuelsim.units import shown

__all__ = ["cold_fuel_that_does_not_light", "water_in_cold_petrol"]

COLD_TANK = 5.0 + ZERO_CELSIUS
"""Temperature of the tank below which the checks ask, K [assumed]."""
SCARCE_RICHNESS = 5.0
"""Fuel over the stoichiometric fuel of the air above which a start is called hard [assumed]."""


def water_in_cold_petrol(system: System, run: Run) -> list[Finding]:
    """Petrol with ethanol in a cold tank, with the water it holds before a layer of water and ethanol separates.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge.

    Returns
    -------
    list of Finding
        Empty where the tank is not cold, or the fuel has no figure.

    Examples
    --------
    >>> import fuelsim as fs
    >>> system = fs.Car.named("finch").system("return")
    >>> print(water_in_cold_petrol(system, system.solve(rpm=1000, tank_temperature="-18 degC"))[0])
    note, tank: petrol with 10 % ethanol holds 0.12 to 0.30 vol% of water at -18 °C, ...
    """
    tank = least(run.conditions.tank_temperature)
    if tank >= COLD_TANK:
        return []
    held = water_held(system.fuel, tank)
    if not np.isfinite(held.computed):
        return []
    low, high = float(held.computed), float(np.fmax(held.computed, held.published))
    shares = f"{100.0 * low:.2f}" + (f" to {100.0 * high:.2f}" if high > low else "")
    volume = float(system.car.tank.fuel_volume)
    statement = (
        f"petrol with {100.0 * system.fuel.ethanol:.0f} % ethanol holds {shares} vol% of water at {_in_words(tank)}, "
        f"{1e6 * low * volume:.0f} mL in the tank at the least"
    )
    advice = (
        "a full tank and a tight cap; drain the layer, since ethanol goes with the water and octane with the ethanol"
    )
    why = "the layer lies at the bottom, where the pump takes in first: it does not burn, freezes and corrodes"
    source = cite("computed", "onset of a second liquid by modified UNIFAC, about half of the published figure for E10")
    return [Finding(Severity.NOTE, "tank", statement, advice, why, source)]


def cold_fuel_that_does_not_light(system: System, run: Run) -> list[Finding]:
    """Fuel of which too little evaporates in a cold tank's weather for an engine to be lit with ease.

    Parameters
    ----------
    system : System
        A car plumbed in one layout.
    run : Run
        The operating points to judge; engine, ports and air are taken to have the temperature of the coldest tank.

    Returns
    -------
    list of Finding
        Empty where there is nothing to object to.

    Examples
    --------
    >>> import fuelsim as fs
    >>> system = fs.Car.named("finch").with_values({"fuel.name": "neat_ethanol"}).system("return")
    >>> print(cold_fuel_that_does_not_light(system, system.solve(rpm=1000, tank_temperature="0 degC"))[0])
    warning, fuel: at 0 °C no amount of it evaporates enough to be lit; ...
    """
    tank = least(run.conditions.tank_temperature)
    if tank >= COLD_TANK:
        return []
    needed = float(richness_to_light(system.fuel, tank))
    if needed <= SCARCE_RICHNESS:
        return []
    statement = f"at {_in_words(tank)} no amount of it evaporates enough to be lit"
    if np.isfinite(needed):
        statement = f"at {_in_words(tank)} it takes {needed:.0f} times the stoichiometric fuel to be lit at all"
    advice = "fuel of a more volatile class, a heated rail or block, or petrol for the start"
    why = "what does not evaporate wets the plugs, washes the bores and burns in the exhaust"
    source = cite("computed", "flash with air against the lower flammable limit", rests_on="vapour_to_fire")
    return [Finding(Severity.WARNING, "fuel", statement, advice, why, source)]


def _in_words(temperature: float) -> str:
    return shown(temperature, "temperature", digits=3)
