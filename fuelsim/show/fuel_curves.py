"""Pictures of fuels: vapour pressure, vapour-liquid ratio, blends, distillation, and where a vented tank boils.

Each function returns a `Figure`; the sentence above it is made from the numbers drawn. Lines differ by dashes and
markers as well as by colour.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from fuelsim.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.show.style import DOTTED, DrawStyle, caption, figure, label_panel, legend, line_style, panel
from fuelsim.show.temperatures import temperature_unit, temperatures, whole_degrees
from fuelsim.studies.altitude import boiling_temperature
from fuelsim.typing import ArrayLike, FloatArray, PlotAxes
from fuelsim.units import shown, shown_values

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fuelsim.fuel.fuel import Fuel

__all__ = [
    "altitude_figure",
    "blend_figure",
    "distillation_figure",
    "fuel_figure",
    "fuel_label",
    "vapour_liquid_figure",
    "vapour_pressure_figure",
]

HIGH_RATIO = 20.0
"""V/L of the volatility limits of ASTM D4814, drawn as a level."""
ETHANOL_PLATEAU = 0.04
"""Volume fraction of ethanol from which the plateau in the distillation curve is seen."""


def fuel_label(fuel: Fuel) -> str:
    """Return a fuel's name for people; an unnamed one by its vapour pressure and ethanol.

    Parameters
    ----------
    fuel : Fuel
        The fuel.

    Examples
    --------
    >>> from fuelsim.fuel.fuel import Fuel
    >>> fuel_label(Fuel.named("summer_e10")), fuel_label(Fuel.petrol("62 kPa"))
    ('summer E10', '62 kPa petrol')
    """
    if fuel.label:
        return re.sub(r"\be(?=\d+$)", "E", fuel.label.replace("_", " "))
    petrol = f"{shown(fuel.dvpe(), 'absolute pressure', digits=2)} petrol"
    return f"{petrol}, {fuel.ethanol:.0%} ethanol" if fuel.ethanol > 0.0 else petrol


def _capitalised(fuel: Fuel) -> str:
    label = fuel_label(fuel)
    return label[:1].upper() + label[1:]


def _listed(fuels: Fuel | Sequence[Fuel]) -> list[Fuel]:
    listed = list(fuels) if isinstance(fuels, Sequence) else [fuels]
    if not listed:
        raise InputError("no fuel to draw", given=fuels, accepted="a Fuel or a list of them")
    return listed


def _pressures(pascals: ArrayLike) -> FloatArray:
    """Return absolute pressures in the preferred unit."""
    return np.asarray(shown_values(np.asarray(pascals, dtype=float), "absolute pressure")[0])


def _pressure_unit() -> str:
    return shown_values(0.0, "absolute pressure")[1]


def vapour_pressure_figure(
    fuels: Fuel | Sequence[Fuel],
    stations: Mapping[str, tuple[float, float]] | None = None,
    *,
    atmospheric_pressure: float = STANDARD_ATMOSPHERE,
    ax: PlotAxes | None = None,
) -> Figure:
    """Draw vapour pressure against temperature, with the stations of a car on it.

    Parameters
    ----------
    fuels : Fuel or list of Fuel
        The fuels; the confidence band is drawn for the first.
    stations : mapping of str to (temperature, pressure), optional
        K and Pa absolute, such as ``{"pump inlet": (318.15, 95e3)}``. A station below the line of a fuel boils with it.
    atmospheric_pressure : float
        Pa absolute; drawn as a level.
    ax : Axes, optional
        Axes of the user's own.

    Raises
    ------
    InputError
        If there is no fuel.
    """
    listed = _listed(fuels)
    first = listed[0]
    kelvin = np.linspace(263.15, 393.15, 66)
    fig, axis = panel(ax, width=7.2, height=4.4)
    for index, fuel in enumerate(listed):
        pressure = fuel.bubble_pressure(kelvin)
        axis.plot(temperatures(kelvin), _pressures(pressure), label=fuel_label(fuel), **line_style(index, kelvin.size))
        if fuel is first:
            band = fuel.pressure_band(kelvin)
            low, high = (_pressures(pressure * (1.0 + side * band)) for side in (-1.0, 1.0))
            axis.fill_between(temperatures(kelvin), low, high, color="0.85", lw=0)
    level = float(_pressures(atmospheric_pressure))
    axis.axhline(level, color="black", linewidth=1.0)
    axis.annotate("atmosphere", (float(temperatures(kelvin[0])), level), va="bottom", fontsize=8)
    boiling = _draw_stations(axis, first, stations or {})
    axis.set_yscale("log")
    _tick_decades(axis)
    label_panel(axis, f"fuel temperature, {temperature_unit()}", f"vapour pressure, {_pressure_unit()} absolute")
    legend(axis, loc="lower right")
    boils_at = whole_degrees(float(first.bubble_temperature(atmospheric_pressure)))
    sentence = f"{_capitalised(first)} reaches atmospheric pressure at {boils_at}; grey: confidence band."
    if stations:
        sentence += f" Boiling with it: {', '.join(boiling) if boiling else 'no station'}."
    caption(fig, sentence, ax)
    return fig


def _tick_decades(axis: Axes) -> None:
    """Put ticks at 1, 2 and 5 of each decade of a logarithmic y axis, and end the axis at ticks."""
    low, high = axis.get_ylim()
    ticks = [digit * 10.0**power for power in range(-3, 9) for digit in (1, 2, 5)]
    first = max(index for index, tick in enumerate(ticks) if tick <= low)
    last = min(index for index, tick in enumerate(ticks) if tick >= high)
    axis.set_yticks(ticks[first : last + 1], [f"{tick:g}" for tick in ticks[first : last + 1]])
    axis.set_ylim(ticks[first], ticks[last])
    axis.minorticks_off()


def _draw_stations(axis: Axes, fuel: Fuel, stations: Mapping[str, tuple[float, float]]) -> list[str]:
    """Mark stations, and return the names of those that boil."""
    boiling = []
    for index, (name, (kelvin, pascals)) in enumerate(stations.items()):
        boils = bool(pascals < fuel.bubble_pressure(kelvin))
        if boils:
            boiling.append(name)
        point = (float(temperatures(kelvin)), float(_pressures(pascals)))
        axis.plot(*point, marker="X" if boils else "o", color="black", markersize=8, linestyle="none", zorder=5)
        # Neighbours along the flow are close to one another: their names go to either side, further ones further off.
        further = 14 * (index // 2)
        offset, side = ((-8, 5 + further), "right") if index % 2 == 0 else ((8, -9 - further), "left")
        white = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0}
        axis.annotate(name, point, xytext=offset, textcoords="offset points", ha=side, fontsize=9, bbox=white, zorder=4)
    return boiling


def fuel_figure(fuels: Sequence[Fuel], what: str, ax: PlotAxes | None = None) -> Figure:
    """Draw one of the curves of some fuels by its name.

    Parameters
    ----------
    fuels : list of Fuel
        The fuels.
    what : str
        One of those that `Fuel.plot` names.
    ax : Axes, optional
        Axes of the user's own.

    Raises
    ------
    InputError
        For axes given to the vapour-liquid ratios, which have two panels.
    """
    if what == "vapour-liquid ratio":
        if ax is not None:
            raise InputError("two panels do not fit one", accepted="no `ax`", key="ax")
        return vapour_liquid_figure(fuels)
    if what == "vapour pressure":
        return vapour_pressure_figure(fuels, ax=ax)
    if what == "alcohol":
        return blend_figure(fuels, ax=ax)
    return distillation_figure(fuels, ax=ax) if what == "distillation" else altitude_figure(fuels, ax=ax)


class _RatioPanel(NamedTuple):
    """One panel of vapour-liquid ratios: title, method of the fuel's tables, and label of the temperature."""

    title: str
    method: str
    label: str


_RATIO_PANELS = (
    _RatioPanel("isothermal: at rest, at this temperature", "vapour_liquid_ratio", "fuel temperature"),
    _RatioPanel("isenthalpic: after a pressure drop", "vapour_liquid_ratio_after_drop", "temperature before the drop"),
)


def vapour_liquid_figure(fuels: Fuel | Sequence[Fuel], *, pressure: float = STANDARD_ATMOSPHERE) -> Figure:
    """Draw two vapour-liquid ratios against temperature: in a laboratory chamber, and in a flow that cools itself.

    Parameters
    ----------
    fuels : Fuel or list of Fuel
        The fuels.
    pressure : float
        Pressure over the fuel, Pa absolute.

    Raises
    ------
    InputError
        If there is no fuel.
    """
    listed = _listed(fuels)
    fig, axes = figure(1, 2, width=5.4, height=4.0)
    bubble_points = [float(fuel.bubble_temperature(pressure)) for fuel in listed]
    kelvin = np.linspace(min(bubble_points) - 3.0, max(bubble_points) + 22.0, 200)
    for axis, ratio_panel in zip(axes[0], _RATIO_PANELS, strict=True):
        for index, fuel in enumerate(listed):
            ratio = getattr(fuel.tables(), ratio_panel.method)(kelvin, pressure)
            axis.plot(temperatures(kelvin), ratio, label=fuel_label(fuel), **line_style(index, kelvin.size))
        axis.axhline(HIGH_RATIO, color="black", linewidth=1.0)
        start = float(temperatures(kelvin[0]))
        axis.annotate(f"V/L = {HIGH_RATIO:g}", (start, HIGH_RATIO), va="bottom", fontsize=8)
        axis.set_ylim(0.0, 45.0)
        axis.set_title(ratio_panel.title, fontsize=10)
        label_panel(axis, f"{ratio_panel.label}, {temperature_unit()}", "vapour volume / liquid volume")
    legend(axes[0, 0], loc="upper left", anchor=(0.0, 0.93))
    high = whole_degrees(float(listed[0].vapour_liquid_temperature(HIGH_RATIO, pressure)))
    caption(
        fig,
        f"At {shown(pressure, 'absolute pressure', digits=3)} {fuel_label(listed[0])} begins to boil at"
        f" {whole_degrees(bubble_points[0])} and reaches T(V/L=20) at {high}; in a flow, which cools as it boils, far"
        " less vapour forms.",
    )
    return fig


def blend_figure(bases: Fuel | Sequence[Fuel], *, methanol: bool = True, ax: PlotAxes | None = None) -> Figure:
    """Draw DVPE against the share of ethanol splashed into bases, and of methanol into the first.

    Parameters
    ----------
    bases : Fuel or list of Fuel
        Fuels without alcohol.
    methanol : bool
        Draw methanol in the first base too.
    ax : Axes, optional
        Axes of the user's own.

    Raises
    ------
    InputError
        If there is no fuel.
    """
    listed = _listed(bases)
    fraction = np.concatenate([[0.0], np.linspace(0.01, 0.1, 10), np.linspace(0.15, 1.0, 18)])
    percent = 100.0 * fraction
    fig, axis = panel(ax, width=7.2, height=4.2)
    curves = []
    for index, fuel in enumerate(listed):
        blends = [fuel] + [fuel.splash_blend(ethanol=float(each)) for each in fraction[1:]]
        curves.append(np.array([float(blend.dvpe()) for blend in blends]))
        pressures = _pressures(curves[-1])
        axis.plot(percent, pressures, label=f"ethanol in {fuel_label(fuel)}", **line_style(index, fraction.size))
        axis.axhline(pressures[0], color="0.6", linewidth=0.8, **DOTTED)
    first, dvpe = listed[0], curves[0]
    top = int(dvpe.argmax())
    back = float(np.interp(-dvpe[0], -dvpe[top:], fraction[top:]))
    sentence = (
        f"A little ethanol raises the vapour pressure of {fuel_label(first)} by"
        f" {shown(dvpe[top] - dvpe[0], 'pressure difference', digits=1)}, most near {fraction[top]:.0%}; at"
        f" {back:.0%} it is back where it was."
    )
    if methanol:
        blends = [first] + [first.splash_blend(methanol=float(each)) for each in fraction[1:]]
        pressures = _pressures([float(blend.dvpe()) for blend in blends])
        style = line_style(len(listed), fraction.size)
        axis.plot(percent, pressures, label=f"methanol in {fuel_label(first)}", **style)
        sentence += " Methanol raises it more."
    axis.set_ylim(bottom=0.0)
    label_panel(axis, "alcohol in the blend, vol%", f"DVPE at {_hundred_fahrenheit()}, {_pressure_unit()} absolute")
    legend(axis, loc="lower left")
    caption(fig, sentence, ax)
    return fig


def _hundred_fahrenheit() -> str:
    """Return the temperature at which DVPE is measured."""
    return shown(ZERO_CELSIUS + 37.8, "temperature", digits=3)


def distillation_figure(fuels: Fuel | Sequence[Fuel], *, ax: PlotAxes | None = None) -> Figure:
    """Draw simulated ASTM D86 curves.

    Parameters
    ----------
    fuels : Fuel or list of Fuel
        The fuels.
    ax : Axes, optional
        Axes of the user's own.

    Raises
    ------
    InputError
        If there is no fuel.
    """
    listed = _listed(fuels)
    fig, axis = panel(ax, width=7.2, height=4.2)
    curves = [fuel.distillation() for fuel in listed]
    for index, (fuel, curve) in enumerate(zip(listed, curves, strict=True)):
        style = line_style(index, curve.evaporated.size)
        axis.plot(100.0 * curve.evaporated, temperatures(curve.temperature), label=fuel_label(fuel), **style)
    for percent in (10, 50, 90):
        axis.axvline(percent, color="0.6", linewidth=0.8, **DOTTED)
        top: DrawStyle = {"xycoords": ("data", "axes fraction"), "ha": "left", "va": "top"}
        axis.annotate(f"T{percent}", (percent, 0.98), fontsize=8, **top)
    label_panel(axis, "evaporated, vol%", f"temperature of the still head, {temperature_unit()}")
    legend(axis, loc="upper left", anchor=(0.11, 0.95))
    t10, t50, t90 = temperatures(curves[0].temperature_at([0.10, 0.50, 0.90]))
    sentence = f"{_capitalised(listed[0])}: T10 {t10:.0f}, T50 {t50:.0f}, T90 {t90:.0f} {temperature_unit()}."
    if any(fuel.ethanol > ETHANOL_PLATEAU for fuel in listed):
        boils = whole_degrees(ZERO_CELSIUS + 78.3)
        sentence += f" Ethanol makes a plateau below its own boiling point of {boils}."
    caption(fig, sentence, ax)
    return fig


def altitude_figure(fuels: Fuel | Sequence[Fuel], *, ax: PlotAxes | None = None) -> Figure:
    """Draw the temperature at which a vented tank boils against altitude.

    Parameters
    ----------
    fuels : Fuel or list of Fuel
        The fuels.
    ax : Axes, optional
        Axes of the user's own.

    Raises
    ------
    InputError
        If there is no fuel.
    """
    listed = _listed(fuels)
    metres = np.linspace(0.0, 4500.0, 46)
    altitude, unit = shown_values(metres, "altitude")
    fig, axis = panel(ax, width=7.2, height=4.2)
    curves = [np.asarray(boiling_temperature(fuel, metres)) for fuel in listed]
    for index, (fuel, kelvin) in enumerate(zip(listed, curves, strict=True)):
        axis.plot(altitude, temperatures(kelvin), label=fuel_label(fuel), **line_style(index, metres.size))
    label_panel(axis, f"altitude, {unit} (standard atmosphere)", f"tank boils at, {temperature_unit()}")
    legend(axis)
    lower = float(curves[0][0] - np.interp(1000.0, metres, curves[0]))
    caption(
        fig,
        f"A vented tank of {fuel_label(listed[0])} boils at {whole_degrees(float(curves[0][0]))} at sea level, and"
        f" {shown(lower, 'temperature difference', digits=1)} lower at {shown(1000.0, 'altitude', digits=4)}.",
        ax,
    )
    return fig
