"""The comparison of layouts in sentences: what limits each of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fuelsim.car.layouts import layout_title
from fuelsim.studies import limits
from fuelsim.studies.measures import MEASURES
from fuelsim.system.plumbing_paths import pumps_to_rails
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.studies.comparison import Comparison, LayoutSummary
    from fuelsim.system.plumbing import Plumbing
    from fuelsim.system.run import Run

__all__ = ["limits_sentence"]


def limits_sentence(result: Comparison, layout: str) -> str:
    """Return what limits one layout: pressure at speed, bypass, duty, suction noise and vapour.

    Parameters
    ----------
    result : Comparison
        What was compared.
    layout : str
        One of its layouts.

    Returns
    -------
    str
        One sentence or several.
    """
    summary = result.summary(layout)
    # A plumbing of the car's own is called by its title, a standard layout by its name.
    name = layout_title(layout, result.car) if layout in result.car.plumbing else layout
    if not np.isfinite(summary.least_rail_pressure):
        return f"{name}: no operating point solved; {result.at_car[layout].outcome.summary()}."
    system, run = result.systems[layout], result.at_car[layout]
    sentences = [f"{name}: {_pressure(summary, system.plumbing)}"]
    sentences += _rails_and_pots(run)
    if run.regulator_regime[0] == "wide open":
        sentences.append(
            "At idle the regulator is wide open and the return line sets the pressure:"
            f" {shown(summary.idle_rail_pressure, 'pressure difference', digits=2)} gauge."
        )
    if summary.greatest_duty > limits.INJECTOR_DUTY.value:
        sentences.append(f"The injectors reach a duty of {100.0 * summary.greatest_duty:.0f} %.")
    sentences.append(_vapour(result, layout))
    return " ".join(sentences)


def _rails_and_pots(run: Run) -> list[str]:
    """Return by how much several rails differ, and what each pot has to spare, from idle to red line."""
    sentences = []
    if len(run.by_rail) > 1:
        spread = shown(float(np.nanmax(run.rail_spread)), "pressure difference", digits=2)
        sentences.append(f"The rails differ by at most {spread}.")
    for pot, overflow in run.pot_overflow.items():
        seconds = float(np.nanmin(run.pot_time[pot]))
        if np.isfinite(seconds):
            sentences.append(
                f"The {_pot_words(pot)} runs dry in {shown(seconds, 'time', digits=2)} where most leaves it."
            )
        else:
            least = shown(float(np.nanmin(overflow)), "volume flow", digits=2)
            sentences.append(f"At least {least} runs over from the {_pot_words(pot)}.")
    return sentences


def _pot_words(pot: str) -> str:
    """Return a pot's name in words."""
    return pot.replace("_", " ")


def _pressure(summary: LayoutSummary, plumbing: Plumbing) -> str:
    """Return where the pump no longer holds the set pressure, or how much bypass is left."""
    rail = shown(summary.least_rail_pressure, "pressure difference", digits=2)
    at = f"{rail} gauge at {summary.least_rail_pressure_speed:.0f} rpm."
    if np.isfinite(summary.shut_speed):
        pumps = "pump cannot" if len(pumps_to_rails(plumbing)) == 1 else "pumps cannot"
        return (
            f"the regulator shuts at {summary.shut_speed:.0f} rpm, above which the {pumps} hold the set pressure;"
            f" the rail falls to {at}"
        )
    if not plumbing.regulators:
        held = "the pump's controller sets the pressure" if plumbing.holders else "no regulator limits the pressure"
        return f"{held}; the lowest rail pressure is {at}"
    bypass = shown(summary.least_bypass_flow, "volume flow", digits=2)
    return f"the regulator keeps at least {bypass} of bypass over the rev range; the lowest rail pressure is {at}"


def _vapour(result: Comparison, layout: str) -> str:
    """Return up to which tank temperatures the pump's inlet and the rail stay liquid."""
    suction = result.suction_limits(layout)
    # No tank is hotter than its own fuel boils.
    hottest = min(float(result.tank_temperature[-1]), result.tank_boiling_temperature)
    range_end = shown(hottest, "temperature", digits=2)
    noise, vapour = (shown(limit, "temperature", digits=2) for limit in (suction.noise, suction.vapour))
    npsh = f"up to a tank of {noise}" if suction.noise < hottest else f"over the whole range to {range_end}"
    liquid = f"up to {vapour}" if suction.vapour < hottest else f"to {range_end}"
    rail = _rail_at_idle(result, layout, suction.vapour)
    inlet = "The pump's inlet" if len(result.systems[layout].plumbing.pumps) == 1 else "Every pump's inlet"
    return f"{inlet} has its NPSH {npsh} and stays free of vapour {liquid}; {rail}"


def _rail_at_idle(result: Comparison, layout: str, vapour_limit: float) -> str:
    """Return how far from boiling the rail is at idle, over the tank temperatures at which the pump still pumps."""
    tank = result.tank_temperature
    pumping = tank < vapour_limit if np.isfinite(vapour_limit) else np.ones(len(tank), dtype=bool)
    rail = MEASURES["rail_vapour_margin"].at_points(result.systems[layout], result.idle[layout])
    margin = rail[pumping]
    if not margin.size:
        return "it has vapour at every tank temperature compared."
    if np.all(margin > 0.0):
        kelvin = shown(float(margin.min()), "temperature difference", digits=2)
        return f"up to there the rail keeps at least {kelvin} to boiling at idle."
    boiling = shown(result.limit_temperature(rail), "temperature", digits=2)
    return f"at idle the rail boils above a tank of {boiling}."
