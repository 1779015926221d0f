"""Pictures of fuels: vapour pressure, vapour-liquid ratio, blends, distillation, and where a vented tank boils.

Each function returns a `Figure`; the sentence above it is made from the numbers drawn. Lines differ by dashes and
markers as well as by colour.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim.errors import InputError
from fuelsim.show.style import caption, figure, line_style
from fuelsim.studies.altitude import boiling_temperature

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fuelsim.fuel.fuel import Fuel

__all__ = [
    "altitude_figure",
    "blend_figure",
    "distillation_figure",
    "vapour_liquid_figure",
    "vapour_pressure_figure",
]

KELVIN = 273.15


def fuel_label(fuel: Fuel) -> str:
    """Return a fuel's name for people; an unnamed one by its vapour pressure and ethanol.

    Examples
    --------
    >>> from fuelsim.fuel.fuel import Fuel
    >>> fuel_label(Fuel.named("summer_e10")), fuel_label(Fuel.petrol("62 kPa"))
    ('summer E10', '62 kPa petrol')
    """
    if fuel.label:
        return re.sub(r"\be(?=\d+$)", "E", fuel.label.replace("_", " "))
    petrol = f"{fuel.dvpe() / 1e3:.0f} kPa petrol"
    return f"{petrol}, {fuel.ethanol:.0%} ethanol" if fuel.ethanol > 0.0 else petrol


def _opening(fuel: Fuel) -> str:
    label = fuel_label(fuel)
    return label[:1].upper() + label[1:]


def _some(fuels: Any) -> list[Fuel]:
    listed = list(fuels) if isinstance(fuels, Sequence) else [fuels]
    if not listed:
        raise InputError("no fuel to draw", given=fuels, accepted="a Fuel or a list of them")
    return listed


def vapour_pressure_figure(
    fuels: Fuel | Sequence[Fuel],
    stations: Mapping[str, tuple[float, float]] | None = None,
    *,
    atmospheric_pressure: float = 101325.0,
) -> Figure:
    """Draw vapour pressure against temperature, with the stations of a car on it.

    Parameters
    ----------
    fuels : Fuel or list of Fuel
        The band of trust is drawn for the first.
    stations : mapping of str to (temperature, pressure), optional
        K and Pa absolute, such as ``{"pump inlet": (318.15, 95e3)}``. A station below the line of a fuel boils with it.
    atmospheric_pressure : float
        Pa absolute; drawn as a level.
    """
    listed = _some(fuels)
    kelvin = np.linspace(263.15, 393.15, 66)
    drawn, axes = figure(width=7.2, height=4.4)
    axis = axes[0, 0]
    for index, fuel in enumerate(listed):
        pressure = fuel.bubble_pressure(kelvin) / 1e3
        axis.plot(kelvin - KELVIN, pressure, label=fuel_label(fuel), **line_style(index, kelvin.size))
        if index == 0:
            band = fuel.pressure_band(kelvin)
            axis.fill_between(kelvin - KELVIN, pressure * (1.0 - band), pressure * (1.0 + band), color="0.85", lw=0)
    axis.axhline(atmospheric_pressure / 1e3, color="black", linewidth=1.0)
    axis.annotate("atmosphere", (kelvin[0] - KELVIN, atmospheric_pressure / 1e3), va="bottom", fontsize=8)
    boils = _draw_stations(axis, listed[0], stations or {})
    axis.set_yscale("log")
    axis.set_yticks([5, 10, 20, 50, 100, 200, 500, 1000])
    axis.set_yticklabels(["5", "10", "20", "50", "100", "200", "500", "1000"])
    axis.minorticks_off()
    axis.set_xlabel("fuel temperature, °C")
    axis.set_ylabel("vapour pressure, kPa absolute")
    axis.legend(frameon=False, fontsize=8, loc="lower right")
    first = listed[0]
    sentence = (
        f"{_opening(first)} reaches atmospheric pressure at "
        f"{first.bubble_temperature(atmospheric_pressure) - KELVIN:.0f} °C; grey: how far the figure can be trusted."
    )
    if stations:
        sentence += f" Boiling with it: {', '.join(boils) if boils else 'no station'}."
    caption(drawn, sentence)
    return drawn


def _draw_stations(axis: Any, fuel: Fuel, stations: Mapping[str, tuple[float, float]]) -> list[str]:
    boils = []
    for index, (name, (temperature, pressure)) in enumerate(stations.items()):
        boiling = pressure < fuel.bubble_pressure(temperature)
        if boiling:
            boils.append(name)
        place = (temperature - KELVIN, pressure / 1e3)
        axis.plot(*place, marker="X" if boiling else "o", color="black", markersize=8, linestyle="none", zorder=5)
        left = index % 2 == 0  # neighbours on a line of flow lie close: their names go to either side
        offset, side = ((-8, 5), "right") if left else ((8, -9), "left")
        axis.annotate(name, place, xytext=offset, textcoords="offset points", ha=side, fontsize=9)
    return boils


def vapour_liquid_figure(fuels: Fuel | Sequence[Fuel], *, pressure: float = 101325.0) -> Figure:
    """Draw two vapour-liquid ratios against temperature: in a laboratory chamber, and in a flow that cools itself.

    Parameters
    ----------
    fuels : Fuel or list of Fuel
    pressure : float
        Pa absolute.
    """
    listed = _some(fuels)
    drawn, axes = figure(1, 2, width=5.4, height=4.0)
    starts = [fuel.bubble_temperature(pressure) for fuel in listed]
    kelvin = np.linspace(min(starts) - 3.0, max(starts) + 22.0, 200)
    panels = (
        ("isothermal: at rest, at this temperature", "vapour_liquid_ratio", "fuel temperature, °C"),
        ("isenthalpic: after a pressure drop", "vapour_liquid_ratio_after_drop", "temperature before the drop, °C"),
    )
    for axis, (title, method, label) in zip(axes[0], panels, strict=True):
        for index, fuel in enumerate(listed):
            ratio = getattr(fuel.tables(), method)(kelvin, pressure)
            axis.plot(kelvin - KELVIN, ratio, label=fuel_label(fuel), **line_style(index, kelvin.size))
        axis.axhline(20.0, color="black", linewidth=1.0)
        axis.annotate("V/L = 20", (kelvin[0] - KELVIN, 20.0), va="bottom", fontsize=8)
        axis.set_ylim(0.0, 45.0)
        axis.set_title(title, fontsize=10)
        axis.set_xlabel(label)
        axis.set_ylabel("vapour volume / liquid volume")
    axes[0, 0].legend(frameon=False, fontsize=8, loc="upper left", bbox_to_anchor=(0.0, 0.93))
    first = listed[0]
    twenty = first.vapour_liquid_temperature(20.0, pressure) - KELVIN
    caption(
        drawn,
        f"At {pressure / 1e3:.0f} kPa {fuel_label(first)} begins to boil at {starts[0] - KELVIN:.0f} °C and reaches "
        f"T(V/L=20) at {twenty:.0f} °C; in a flow, which cools as it boils, far less vapour forms.",
    )
    return drawn


def blend_figure(bases: Fuel | Sequence[Fuel], *, methanol: bool = True) -> Figure:
    """Draw DVPE against the share of ethanol splashed into bases, and of methanol into the first.

    Parameters
    ----------
    bases : Fuel or list of Fuel
        Without alcohol.
    methanol : bool
        Draw methanol in the first base too.
    """
    listed = _some(bases)
    share = np.concatenate([[0.0], np.linspace(0.01, 0.1, 10), np.linspace(0.15, 1.0, 18)])
    drawn, axes = figure(width=7.2, height=4.2)
    axis = axes[0, 0]

    def curve(fuel: Fuel, alcohol: str) -> np.ndarray:
        blends = [fuel] + [fuel.splash_blend(**{alcohol: float(value)}) for value in share[1:]]
        return np.array([blend.dvpe() for blend in blends]) / 1e3

    for index, fuel in enumerate(listed):
        pressures = curve(fuel, "ethanol")
        axis.plot(100.0 * share, pressures, label=f"ethanol in {fuel_label(fuel)}", **line_style(index, share.size))
        axis.axhline(pressures[0], color="0.6", linewidth=0.8, linestyle=(0, (1, 2)))
        if index == 0:
            top = int(pressures.argmax())
            back = float(np.interp(-pressures[0], -pressures[top:], share[top:]))
            rise = pressures[top] - pressures[0]
            sentence = (
                f"A little ethanol raises the vapour pressure of {fuel_label(fuel)} by {rise:.0f} kPa, "
                f"most near {share[top]:.0%}; at {back:.0%} it is back where it was."
            )
    if methanol:
        look = line_style(len(listed), share.size)
        axis.plot(100.0 * share, curve(listed[0], "methanol"), label=f"methanol in {fuel_label(listed[0])}", **look)
        sentence += " Methanol raises it more."
    axis.set_ylim(bottom=0.0)
    axis.set_xlabel("alcohol in the blend, vol%")
    axis.set_ylabel("DVPE at 37.8 °C, kPa absolute")
    axis.legend(frameon=False, fontsize=8, loc="lower left")
    caption(drawn, sentence)
    return drawn


def distillation_figure(fuels: Fuel | Sequence[Fuel]) -> Figure:
    """Draw simulated ASTM D86 curves."""
    listed = _some(fuels)
    drawn, axes = figure(width=7.2, height=4.2)
    axis = axes[0, 0]
    for index, fuel in enumerate(listed):
        curve = fuel.distillation()
        look = line_style(index, curve.evaporated.size)
        axis.plot(100.0 * curve.evaporated, curve.temperature - KELVIN, label=fuel_label(fuel), **look)
    for share in (10, 50, 90):
        axis.axvline(share, color="0.6", linewidth=0.8, linestyle=(0, (1, 2)))
        axis.annotate(f"T{share}", (share, 0.98), xycoords=("data", "axes fraction"), ha="left", va="top", fontsize=8)
    axis.set_xlabel("evaporated, vol%")
    axis.set_ylabel("temperature of the still head, °C")
    axis.legend(frameon=False, fontsize=8, loc="upper left", bbox_to_anchor=(0.11, 0.95))
    curve = listed[0].distillation()
    t10, t50, t90 = curve.temperature_at([0.10, 0.50, 0.90]) - KELVIN
    sentence = f"{_opening(listed[0])}: T10 {t10:.0f}, T50 {t50:.0f}, T90 {t90:.0f} °C."
    if any(fuel.ethanol > 0.04 for fuel in listed):
        sentence += " Ethanol makes a plateau below its own boiling point of 78 °C."
    caption(drawn, sentence)
    return drawn


def altitude_figure(fuels: Fuel | Sequence[Fuel]) -> Figure:
    """Draw the temperature at which a vented tank boils against altitude."""
    listed = _some(fuels)
    height = np.linspace(0.0, 4500.0, 46)
    drawn, axes = figure(width=7.2, height=4.2)
    axis = axes[0, 0]
    temperatures = [boiling_temperature(fuel, height) - KELVIN for fuel in listed]
    for index, (fuel, celsius) in enumerate(zip(listed, temperatures, strict=True)):
        axis.plot(height, celsius, label=fuel_label(fuel), **line_style(index, height.size))
    axis.set_xlabel("altitude, m (standard atmosphere)")
    axis.set_ylabel("tank boils at, °C")
    axis.legend(frameon=False, fontsize=8)
    lost = (temperatures[0][0] - np.interp(1000.0, height, temperatures[0])) if height.size else 0.0
    caption(
        drawn,
        f"A vented tank of {fuel_label(listed[0])} boils at {temperatures[0][0]:.0f} °C at sea level and "
        f"{lost:.0f} K sooner for every 1000 m climbed.",
    )
    return drawn
