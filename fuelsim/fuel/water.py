"""Water that a petrol with ethanol holds in solution before a layer of water and ethanol separates.

The computed figure is the onset of a second liquid by modified UNIFAC (Dortmund) with its published parameters
[jakob_2006]: the least water at which the tangent plane of the Gibbs energy at the fuel's composition lies above
that energy somewhere else (Michelsen's test). Original UNIFAC splits cold petrol with ethanol even
when it is dry and is of no use here.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from fuelsim.arguments import takes
from fuelsim.constants import ZERO_CELSIUS
from fuelsim.fuel.arguments import TEMPERATURE, shaped
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.molecules import unifac
from fuelsim.fuel.molecules.dortmund import DORTMUND, dortmund_groups
from fuelsim.fuel.molecules.species import STATED_TEMPERATURE
from fuelsim.numerics.bracket import bisect
from fuelsim.typing import BoolArray, FloatArray, FloatLike, PointArray, Quantity, SpeciesArray

__all__ = ["MOST_WATER", "WaterHeld", "water_held"]

MOST_WATER = 0.10
"""Largest volume fraction of water that is tried."""
_WATER_VOLUME = 18.0153e-3 / 999.1
"""Molar volume of water at 15 degC, m3/mol [coolprop]."""
# Water that petrol with 10 vol% ethanol holds at 0 and 60 degF, volume fractions [epa_water_1995].
_PUBLISHED_TEMPERATURES = np.array([-17.8, 15.6]) + ZERO_CELSIUS
_PUBLISHED = np.array([0.003, 0.005])
_PUBLISHED_ETHANOL = (0.09, 0.11)
_LEAST_ETHANOL = 0.03
_BISECTIONS, _SUBSTITUTIONS, _TOLERANCE = 16, 200, 1e-9


class WaterHeld(NamedTuple):
    """Volume of water that a fuel holds before it separates, over that of the fuel at 15 degC.

    Attributes
    ----------
    computed : float or array
        By the model, about half of the published figure for E10; infinite where none separates up to `MOST_WATER`, NaN
        below 3 vol% ethanol, where the model is several times too high.
    published : float or array
        On the published line, for fuels of 9 to 11 vol% ethanol; NaN for others.
    """

    computed: FloatLike
    published: FloatLike


@takes({"temperature": TEMPERATURE})
def water_held(fuel: Fuel, temperature: Quantity) -> WaterHeld:
    """Return the water that a fuel holds at a temperature before a layer of water and ethanol separates.

    Less is held in the cold: a tank that is clear in the evening can have a layer of water and ethanol below the petrol
    in the morning, which the pump takes in first.

    Parameters
    ----------
    fuel : Fuel
    temperature : float, str or array
        230 to 420 K.

    Returns
    -------
    WaterHeld
        Fractions of the fuel's volume at 15 degC, in the shape of the temperature.

    Raises
    ------
    RangeError
        For a temperature outside that range.

    Examples
    --------
    Petrol with 10 vol% ethanol holds 0.5 vol% at 60 degF; the model says half of it, and less when it is cold:

    >>> cold, mild = water_held(Fuel.named("winter_e10"), "-18 degC"), water_held(Fuel.named("winter_e10"), "60 degF")
    >>> round(100 * mild.published, 2), bool(0.4 < mild.computed / mild.published < 0.6)
    (0.5, True)
    >>> bool(cold.computed < 0.6 * mild.computed)
    True
    """
    at_ethanol = _PUBLISHED_ETHANOL[0] <= fuel.ethanol <= _PUBLISHED_ETHANOL[1]
    slope = float(np.diff(_PUBLISHED)[0] / np.diff(_PUBLISHED_TEMPERATURES)[0])

    def published(points: PointArray) -> PointArray:
        line: PointArray = np.maximum(_PUBLISHED[0] + slope * (points - _PUBLISHED_TEMPERATURES[0]), 0.0)
        return line if at_ethanol else np.full(points.shape, np.nan)

    def computed(points: PointArray) -> PointArray:
        return _onset(fuel, points) if fuel.ethanol >= _LEAST_ETHANOL else np.full(points.shape, np.nan)

    return WaterHeld(shaped(computed, temperature), shaped(published, temperature))


def _onset(fuel: Fuel, temperature: PointArray) -> PointArray:
    """Return the least volume of water over that of the fuel at which a second liquid forms, (points,)."""
    species = fuel.mixture.species
    texts = (dortmund_groups(text, family) for text, family in zip(species.groups, species.family, strict=True))
    groups = unifac.Groups.from_text((*texts, "H2O:1"), DORTMUND)
    terms = unifac.temperature_terms(groups, temperature)
    moles = fuel.composition[:, 0]
    volume = float(moles @ species.molar_volume(np.array([STATED_TEMPERATURE]))[:, 0])
    ethanol = np.array([name == "ethanol" for name in fuel.names])

    def wet(water: FloatArray) -> SpeciesArray:
        feed = np.concatenate([np.repeat(moles[:, None], water.size, axis=1), (water * volume / _WATER_VOLUME)[None]])
        shares: SpeciesArray = feed / feed.sum(axis=0)
        return shares

    def one_liquid(water: FloatArray) -> BoolArray:
        return ~_splits(groups, terms, wet(water), ethanol)

    most = np.full(temperature.shape, MOST_WATER)
    onset = bisect(one_liquid, np.zeros(temperature.shape), most, _BISECTIONS)
    least: PointArray = np.where(one_liquid(most), np.inf, onset)
    return least


def _splits(groups: unifac.Groups, terms: unifac.Terms, feed: SpeciesArray, ethanol: BoolArray) -> BoolArray:
    """Return whether a liquid splits off a phase of water and ethanol, (points,), by Michelsen's test."""
    with np.errstate(divide="ignore"):
        potential = np.log(feed) + unifac.log_activity(groups, terms, feed)
    start = np.full(feed.shape[0], 1e-6)
    start[-1] = 0.7
    start[:-1][ethanol] = 0.3
    trial = np.repeat(start[:, None], feed.shape[1], axis=1)
    for _ in range(_SUBSTITUTIONS):
        after = np.exp(potential - unifac.log_activity(groups, terms, trial))
        change = np.abs(after - trial).max()
        trial = after
        if change < _TOLERANCE:
            break
    total = trial.sum(axis=0)
    other = np.abs(trial / total - feed).max(axis=0) > 1e-3
    return np.asarray((total > 1.0 + 1e-9) & other)
