r"""Whether enough of a cold fuel evaporates into the air of an engine to be lit.

Fuel and air of a stated richness are brought to equilibrium at one temperature and pressure (`flashes.flash`, with air
as one more species). With n_i moles of species i in the gas and n_air of air, of which 0.209 is oxygen,

.. math:: \varphi_v = \frac{\sum_i n_i (c_i + h_i/4 - o_i/2)}{0.209\, n_{air}}

is the richness of what can burn, the equivalence ratio of the vapour. Liquid films and drops do not burn at the spark.
The gas can be lit where :math:`\sum_i y_i / L_i` is 1 or more (Le Chatelier's rule), with the lower flammable limit of
each species taken as 0.55 of its stoichiometric share of the gas [jones_1938].

Equilibrium at one temperature leaves out four things: heat of evaporation is taken from the ports, not from the charge;
compression heats the charge; evaporation takes longer than a stroke; and a limit measured in a tube is leaner than what
an engine fires on. The first two act against each other; for the last two `SURE_RICHNESS` is the other end of the band.
The limits hold at 25 degC and are a few percent higher in the cold.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fuelsim.arguments import takes, unchecked
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError
from fuelsim.fuel.arguments import MOST_RICHNESS, PRESSURE, RICHNESS, TEMPERATURE
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.molecules.combustion import OXYGEN_IN_AIR, oxygen_demand
from fuelsim.fuel.phase_equilibrium import flashes
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.numerics.bracket import bisect
from fuelsim.typing import BoolArray, FloatArray, FloatLike, PointArray, Quantity

__all__ = [
    "LEAN_LIMIT",
    "MOST_RICHNESS",
    "SURE_RICHNESS",
    "VapourToLight",
    "lighting_temperature",
    "richness_to_light",
    "vapour_to_light",
]

LEAN_LIMIT = 0.55
"""Lower flammable limit over the stoichiometric share of the fuel in the gas, at 25 degC [jones_1938]."""
SURE_RICHNESS = 1.0
"""Equivalence ratio of the vapour from which an engine is taken to fire on every stroke [assumed]."""
"""Greatest fuel supplied that is answered, over the stoichiometric fuel of the air."""
_COLDEST, _HOTTEST = 230.0, 340.0  # K, range of the search
_BISECTIONS = 14
_ROUNDING = 1e-6  # of a richness: a fuel that has evaporated whole has that of the supply


@dataclass(frozen=True)
class VapourToLight:
    """Vapour of a fuel in the air that goes with it, at each temperature and richness; arrays of one shape.

    Attributes
    ----------
    temperature : array
        K.
    richness : array
        Fuel supplied over the stoichiometric fuel of the air.
    vapour_richness : array
        The same of the part that has evaporated: the equivalence ratio of the gas; NaN where the flash has no answer.
    over_limit : array
        Fuel vapour in the gas over its lower flammable limit: 1 and more can be lit.
    """

    temperature: FloatArray
    richness: FloatArray
    vapour_richness: FloatArray
    over_limit: FloatArray

    @property
    def lights(self) -> BoolArray:
        """Whether the gas is flammable at all, which a start needs at the least."""
        return self.over_limit >= 1.0

    @property
    def lights_surely(self) -> BoolArray:
        """Whether the vapour is at least as rich as `SURE_RICHNESS`."""
        return self.vapour_richness >= (1.0 - _ROUNDING) * SURE_RICHNESS


@takes({"temperature": TEMPERATURE, "richness": RICHNESS, "pressure": PRESSURE})
def vapour_to_light(
    fuel: Fuel, temperature: Quantity, richness: Quantity = 1.0, *, pressure: Quantity = STANDARD_ATMOSPHERE
) -> VapourToLight:
    """Return how rich the vapour of a cold fuel is in its air, and whether that can be lit.

    Parameters
    ----------
    fuel : Fuel
    temperature : float, str or array
        Temperature of fuel, air and ports, 230 to 420 K.
    richness : float or array
        Fuel supplied over the stoichiometric fuel of the air, above 0 to 50; above 1 while cranking. It broadcasts
        with the temperature.
    pressure : float, str or array
        Pressure of the gas, Pa absolute; the atmosphere while cranking.

    Returns
    -------
    VapourToLight

    Raises
    ------
    RangeError
        For a temperature or pressure outside the range of the fuel model.
    InputError
        For a richness that is none, or shapes that do not broadcast.

    Notes
    -----
    Source: Le Chatelier's rule and 0.55 of stoichiometry [jones_1938]; the flash is that of the fuel model.

    Examples
    --------
    Neat ethanol supplied four times over does not light at 5 degC, petrol does:

    >>> ethanol, petrol = (vapour_to_light(Fuel.named(name), "5 degC", 4.0) for name in ("neat_ethanol", "winter_e0"))
    >>> bool(ethanol.lights), bool(petrol.lights_surely)
    (False, True)
    """
    try:
        t, r, p = np.broadcast_arrays(temperature, richness, pressure)
    except ValueError as error:
        raise InputError("temperature and richness do not broadcast", accepted="equal lengths, or numbers") from error
    vapour, over = _gas(fuel, t.ravel(), r.ravel(), p.ravel())
    return VapourToLight(t, r, vapour.reshape(t.shape), over.reshape(t.shape))


@takes({"richness": RICHNESS, "vapour_richness": replace(RICHNESS, single=True, optional=True), "pressure": PRESSURE})
def lighting_temperature(
    fuel: Fuel,
    richness: Quantity = 1.0,
    *,
    vapour_richness: Quantity = None,
    pressure: Quantity = STANDARD_ATMOSPHERE,
) -> FloatLike:
    """Return the lowest temperature at which enough of a fuel evaporates to be lit.

    Parameters
    ----------
    fuel : Fuel
    richness : float or array
        Fuel supplied over the stoichiometric fuel of the air.
    vapour_richness : float, optional
        Equivalence ratio that the vapour must have; left out, that of the lower flammable limit. `SURE_RICHNESS` is the
        other end of the band.
    pressure : float or str
        Pressure of the gas, Pa absolute.

    Returns
    -------
    float or array
        Temperature, K; 230 K where it lights down to there, NaN where it does not at any temperature.

    Examples
    --------
    The flash point of ethanol in a closed cup is 12 degC [iec_60079_20_1]: as much fuel as one likes.

    >>> abs(lighting_temperature(Fuel.named("neat_ethanol"), 50.0) - 285.15) < 1.5
    True
    """
    supplied = np.asarray(richness, dtype=float)
    flat = np.atleast_1d(supplied).ravel()

    def too_cold(t: FloatArray) -> BoolArray:
        return ~_reached(unchecked(vapour_to_light)(fuel, t, flat, pressure=pressure), vapour_richness)

    found = bisect(too_cold, np.full(flat.shape, _COLDEST), np.full(flat.shape, _HOTTEST), _BISECTIONS)
    found = np.where(too_cold(np.full(flat.shape, _HOTTEST)), np.nan, found)
    found = np.where(too_cold(np.full(flat.shape, _COLDEST)), found, _COLDEST)
    return float(found[0]) if supplied.ndim == 0 else found.reshape(supplied.shape)


@takes(
    {
        "temperature": TEMPERATURE,
        "vapour_richness": replace(RICHNESS, single=True, optional=True),
        "pressure": PRESSURE,
    }
)
def richness_to_light(
    fuel: Fuel,
    temperature: Quantity,
    *,
    vapour_richness: Quantity = None,
    pressure: Quantity = STANDARD_ATMOSPHERE,
) -> FloatLike:
    """Return the least fuel, over the stoichiometric fuel of the air, of which enough evaporates to be lit.

    Parameters
    ----------
    fuel : Fuel
    temperature : float, str or array
        Temperature of fuel, air and ports, 230 to 420 K.
    vapour_richness, pressure
        As `lighting_temperature`.

    Returns
    -------
    float or array
        In the shape of the temperature; infinite where `MOST_RICHNESS` is not enough.

    Examples
    --------
    Warm petrol needs about the lower flammable limit, neat ethanol in frost cannot be lit:

    >>> round(richness_to_light(Fuel.named("summer_e0"), "60 degC"), 1)
    0.5
    >>> richness_to_light(Fuel.named("neat_ethanol"), "-5 degC")
    inf
    """
    t = np.asarray(temperature)
    flat = np.atleast_1d(t).ravel()

    def too_lean(log_richness: FloatArray) -> BoolArray:
        return ~_reached(
            unchecked(vapour_to_light)(fuel, flat, np.exp(log_richness), pressure=pressure), vapour_richness
        )

    least, most = (np.full(flat.shape, float(np.log(end))) for end in (0.1, MOST_RICHNESS * (1.0 - 1e-9)))
    found = np.where(too_lean(most), np.inf, np.exp(bisect(too_lean, least, most, _BISECTIONS)))
    return float(found[0]) if t.ndim == 0 else found.reshape(t.shape)


def _reached(gas: VapourToLight, vapour_richness: float | None) -> BoolArray:
    if vapour_richness is None:
        return gas.lights
    return np.asarray(gas.vapour_richness >= (1.0 - _ROUNDING) * vapour_richness)


def _gas(
    fuel: Fuel, temperature: PointArray, richness: PointArray, pressure: PointArray
) -> tuple[PointArray, PointArray]:
    """Return the equivalence ratio of the gas and its fuel vapour over the lower flammable limit, (points,)."""
    species = fuel.mixture.species
    mixture = Mixture(species, fuel.mixture.ideal_vapour, air=True, density_at_15=fuel.density_at_15)
    demand = oxygen_demand(species)[:, None]
    fuel_moles = fuel.composition * np.ones((1, temperature.size))
    air = (demand * fuel_moles).sum(axis=0) / (OXYGEN_IN_AIR * richness)
    feed = np.concatenate([fuel_moles, air[None]])
    state = flashes.flash(mixture, feed / feed.sum(axis=0), temperature, pressure)
    # Where all has evaporated the gas is the feed.
    gas = np.where(state.vapour_fraction >= 1.0 - 1e-12, feed / feed.sum(axis=0), state.vapour)
    vapour = (demand * gas[:-1]).sum(axis=0) / (OXYGEN_IN_AIR * gas[-1])
    stoichiometric = 1.0 / (1.0 + demand / OXYGEN_IN_AIR)
    over = (gas[:-1] / (LEAN_LIMIT * stoichiometric)).sum(axis=0)
    solved = state.solved
    return np.where(solved, vapour, np.nan), np.where(solved, over, np.nan)
