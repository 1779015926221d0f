"""Boiling of a fuel: saturation, flashes, vapour-liquid ratios with and without air."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fuelsim.arguments import number, takes
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.fuel.arguments import PRESSURE, SATURATION, TEMPERATURE, shaped
from fuelsim.fuel.composition import Composition
from fuelsim.fuel.phase_equilibrium import flashes, laboratory
from fuelsim.fuel.phase_equilibrium.equilibrium import Equilibrium
from fuelsim.fuel.phase_equilibrium.phases import Mixture
from fuelsim.fuel.tables import FuelTables
from fuelsim.typing import FloatLike, PointArray, Quantity, SpeciesArray

__all__ = ["BoilingFuel"]

# Relative half-widths of vapour pressures at temperatures in K: the spread of three models, see `pressure_band`.
_BAND_TEMPERATURES = (230.0, 273.15, 311.0, 353.15, 373.15, 393.15, 420.0)
_BAND = (0.10, 0.05, 0.02, 0.05, 0.08, 0.08, 0.10)


@dataclass(frozen=True)
class BoilingFuel(Composition):
    """A composition with its vapour; `Fuel` adds constructors and laboratory tests.

    Temperatures are K and pressures Pa absolute, as numbers, arrays or text with a unit; they broadcast, and results
    take their shape. A result is NaN where a point has no answer: `flash(...).reason(point)` says why.

    Vapour pressures: UNIFAC [hansen_1991] over the species table (modified UNIFAC [jakob_2006] where the fuel's
    `activity_model` says so), second virial coefficient [tsonopoulos_1974];
    +-2 % at 38 degC, +-5 % at 80 degC, +-8 % from 100 degC (`pressure_band`).
    """

    def __reduce__(self) -> tuple[object, ...]:
        return type(self), (self.names, self.fractions, self.vapour, self.label, self.calibration, self.activity_model)

    def _solved(
        self,
        equilibrium: Callable[..., Equilibrium],
        result: Callable[[Equilibrium], PointArray],
        *values: FloatLike,
    ) -> FloatLike:
        """Return one result of an equilibrium at values of any shape; NaN where it has no answer."""

        def at_points(*points: PointArray) -> PointArray:
            answer = equilibrium(*points)
            return np.where(answer.solved, result(answer), np.nan)

        return shaped(at_points, *values)

    @takes({"temperature": TEMPERATURE})
    def bubble_pressure(self, temperature: Quantity) -> FloatLike:
        """Pressure at which the fuel begins to boil, Pa absolute, without dissolved air.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Neat ethanol at 100 degF has 2.3 psi (US DOE property table):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(Fuel.named("neat_ethanol").bubble_pressure("100 degF") / 6894.757, 1)
        2.3
        """
        return self._solved(
            lambda t: flashes.saturation_pressure(self.mixture, self.composition, t),
            lambda answer: answer.pressure,
            temperature,
        )

    @takes({"pressure": PRESSURE})
    def bubble_temperature(self, pressure: Quantity) -> FloatLike:
        """Temperature at which the fuel begins to boil, K, without dissolved air.

        Parameters
        ----------
        pressure : float, str or array
            100 Pa to 1 MPa absolute.

        Returns
        -------
        float or array
            In the shape of the pressure; NaN where it would lie outside 180 to 520 K.

        Raises
        ------
        RangeError
            For a pressure outside that range.

        Examples
        --------
        n-Heptane boils at 98.4 degC (CoolProp):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> round(Fuel.from_components({"n-heptane": 1.0}).bubble_temperature("1 atm") - 273.15, 1)
        98.4
        """
        return self._solved(
            lambda p: flashes.saturation_temperature(self.mixture, self.composition, p),
            lambda answer: answer.temperature,
            pressure,
        )

    @takes({"temperature": TEMPERATURE})
    def vapour_pressure_at(self, temperature: Quantity) -> FloatLike:
        """Vapour pressure of an air-saturated sample at V/L 3:2, Pa absolute (EN 13016-2, 40 to 100 degC).

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        The air adds a few kilopascal to the pressure of the fuel:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e0")
        >>> 0.0 < fuel.vapour_pressure_at("80 degC") - fuel.bubble_pressure("80 degC") < 15e3
        True
        """
        return shaped(lambda t: laboratory.chamber_pressure(self.mixture, self._repeated(t), t, 1.5), temperature)

    @takes({"temperature": TEMPERATURE})
    def dew_pressure(self, temperature: Quantity) -> FloatLike:
        """Pressure at which the vapour of the whole fuel begins to condense, Pa absolute.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        A mixture condenses over a range, far below its bubble pressure:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e0")
        >>> fuel.dew_pressure("60 degC") < 0.3 * fuel.bubble_pressure("60 degC")
        True
        """
        return self._solved(
            lambda t: flashes.saturation_pressure(self.mixture, self.composition, t, 1.0),
            lambda answer: answer.pressure,
            temperature,
        )

    @takes({"pressure": PRESSURE})
    def dew_temperature(self, pressure: Quantity) -> FloatLike:
        """Temperature at which the vapour of the whole fuel begins to condense, K.

        Parameters
        ----------
        pressure : float, str or array
            100 Pa to 1 MPa absolute.

        Returns
        -------
        float or array
            In the shape of the pressure; NaN where it would lie outside 180 to 520 K.

        Raises
        ------
        RangeError
            For a pressure outside that range.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e0")
        >>> round(fuel.dew_pressure(fuel.dew_temperature(5e4)))
        50000
        """
        return self._solved(
            lambda p: flashes.saturation_temperature(self.mixture, self.composition, p, 1.0),
            lambda answer: answer.temperature,
            pressure,
        )

    @takes({"temperature": TEMPERATURE, "pressure": PRESSURE})
    def flash(self, temperature: Quantity, pressure: Quantity) -> Equilibrium:
        """Return liquid and vapour in equilibrium at temperature and pressure; arrays flattened to points.

        Parameters
        ----------
        temperature, pressure : float, str or array
            230 to 420 K, 100 Pa to 1 MPa absolute.

        Returns
        -------
        Equilibrium

        Raises
        ------
        RangeError
            For a value outside these ranges.

        Examples
        --------
        Moles balance, species by species:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> state = fuel.flash("60 degC", "1 atm")
        >>> both = state.vapour_fraction * state.vapour + (1.0 - state.vapour_fraction) * state.liquid
        >>> bool(abs(both - fuel.composition).max() < 1e-10)
        True
        """
        t, p = np.broadcast_arrays(temperature, pressure)
        return flashes.flash(self.mixture, self.composition, t.ravel(), p.ravel())

    @takes({"liquid_temperature": TEMPERATURE, "pressure": PRESSURE})
    def adiabatic_flash(self, liquid_temperature: Quantity, pressure: Quantity) -> Equilibrium:
        """Return the equilibrium after all-liquid fuel drops to a pressure without heat; arrays flattened to points.

        Such a drop takes place across a regulator or into a manifold.

        Parameters
        ----------
        liquid_temperature, pressure : float, str or array
            230 to 420 K while all liquid, 100 Pa to 1 MPa absolute after the drop.

        Returns
        -------
        Equilibrium

        Raises
        ------
        RangeError
            For a value outside these ranges.

        Examples
        --------
        n-Heptane of 110 degC let down to the atmosphere cools to its boiling point, 98.4 degC (CoolProp):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> state = Fuel.from_components({"n-heptane": 1.0}).adiabatic_flash("110 degC", "1 atm")
        >>> round(float(state.temperature[0]) - 273.15, 1), bool(0.0 < state.vapour_fraction[0] < 0.2)
        (98.4, True)
        """
        t, p = np.broadcast_arrays(liquid_temperature, pressure)
        return flashes.adiabatic_flash(self.mixture, self.composition, t.ravel(), p.ravel())

    @takes({"temperature": TEMPERATURE, "pressure": PRESSURE})
    def vapour_liquid_ratio(self, temperature: Quantity, pressure: Quantity) -> FloatLike:
        """Isothermal V/L: volume of vapour per volume of the liquid that remains, both at T and p.

        That is what a laboratory chamber shows; in a flow use `vapour_liquid_ratio_after_drop`.

        Parameters
        ----------
        temperature, pressure : float, str or array
            230 to 420 K, 100 Pa to 1 MPa absolute.

        Returns
        -------
        float or array
            In the broadcast shape of the arguments; infinite where all has boiled.

        Raises
        ------
        RangeError
            For a value outside these ranges.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> fuel.vapour_liquid_ratio("45 degC", "1 atm"), bool(fuel.vapour_liquid_ratio("60 degC", "1 atm") > 20.0)
        (0.0, True)
        """
        return self._solved(
            lambda t, p: flashes.flash(self.mixture, self.composition, t, p),
            lambda answer: answer.vapour_liquid_ratio,
            temperature,
            pressure,
        )

    @takes({"liquid_temperature": TEMPERATURE, "pressure": PRESSURE})
    def vapour_liquid_ratio_after_drop(self, liquid_temperature: Quantity, pressure: Quantity) -> FloatLike:
        """Isenthalpic V/L after fuel, all liquid at `liquid_temperature`, drops to a pressure without heat.

        Boiling cools the fuel, so the ratio is a third to a quarter of the isothermal one.

        Parameters
        ----------
        liquid_temperature, pressure : float, str or array
            230 to 420 K while all liquid, 100 Pa to 1 MPa absolute after the drop.

        Returns
        -------
        float or array
            In the broadcast shape of the arguments.

        Raises
        ------
        RangeError
            For a value outside these ranges.

        Examples
        --------
        Petrol at 45 degC drawn 10 kPa below its bubble pressure:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> low = fuel.bubble_pressure("45 degC") - 10e3
        >>> drawn, still = fuel.vapour_liquid_ratio_after_drop("45 degC", low), fuel.vapour_liquid_ratio("45 degC", low)
        >>> 3.0 < still / drawn < 5.0
        True
        """
        return self._solved(
            lambda t, p: flashes.adiabatic_flash(self.mixture, self.composition, t, p),
            lambda answer: answer.vapour_liquid_ratio,
            liquid_temperature,
            pressure,
        )

    def _repeated(self, values: PointArray) -> SpeciesArray:
        return np.repeat(self.composition, values.size, axis=1)

    @takes({"temperature": TEMPERATURE, "ratio": number("number", 0.0, 1e4, single=True)})
    def vapour_pressure_at_ratio(self, temperature: Quantity, ratio: Quantity) -> FloatLike:
        """Pressure, Pa absolute, at which vapour has `ratio` times the volume of the remaining liquid, without air.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.
        ratio : float
            Ratio of the volume of vapour to that of the remaining liquid.

        Returns
        -------
        float or array
            Pressure, Pa absolute, in the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        Four volumes of vapour hold much of the lightest species: the pressure is some kilopascal below the bubble's.

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e0")
        >>> 0.5e3 < fuel.bubble_pressure(310.93) - fuel.vapour_pressure_at_ratio(310.93, 4.0) < 3e3
        True
        """

        def equilibrium(t: PointArray) -> Equilibrium:
            held = np.full(t.shape, ratio)
            return flashes.flash_to_volume(self.mixture, self.composition, t, vapour_liquid_ratio=held)

        return self._solved(equilibrium, lambda answer: answer.pressure, temperature)

    @takes(SATURATION | {"temperature": TEMPERATURE, "pressure": PRESSURE})
    def gas_liquid_ratio(
        self,
        temperature: Quantity,
        pressure: Quantity,
        *,
        saturation_temperature: Quantity = None,
        saturation_pressure: Quantity = STANDARD_ATMOSPHERE,
    ) -> FloatLike:
        """Isothermal volume of gas, that is vapour with the dissolved air released, per volume of remaining liquid.

        An upper bound: equilibrium takes seconds, and fuel passes a pump in less.

        Parameters
        ----------
        temperature, pressure : float, str or array
            230 to 420 K, 100 Pa to 1 MPa absolute.
        saturation_temperature : float, str or array, optional
            Temperature at which the fuel dissolved its air, K; by default `temperature`.
        saturation_pressure : float, str or array
            Total pressure at which it did so, Pa absolute.

        Returns
        -------
        float or array
            In the broadcast shape of the arguments.

        Raises
        ------
        RangeError
            For a value outside these ranges.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e0")
        >>> fuel.vapour_liquid_ratio("20 degC", "90 kPa"), 0.02 < fuel.gas_liquid_ratio("20 degC", "90 kPa") < 0.08
        (0.0, True)
        """
        return self._with_air(flashes.flash, temperature, pressure, saturation_temperature, saturation_pressure)

    @takes(SATURATION | {"liquid_temperature": TEMPERATURE, "pressure": PRESSURE})
    def gas_liquid_ratio_after_drop(
        self,
        liquid_temperature: Quantity,
        pressure: Quantity,
        *,
        saturation_temperature: Quantity = None,
        saturation_pressure: Quantity = STANDARD_ATMOSPHERE,
    ) -> FloatLike:
        """Isenthalpic volume of gas per volume of remaining liquid: air is released first, then vapour, which cools.

        Parameters
        ----------
        liquid_temperature, pressure : float, str or array
            230 to 420 K while all liquid, 100 Pa to 1 MPa absolute after the drop.
        saturation_temperature, saturation_pressure : float, str or array
            As of `gas_liquid_ratio`.

        Returns
        -------
        float or array
            In the broadcast shape of the arguments.

        Raises
        ------
        RangeError
            For a value outside these ranges.

        Examples
        --------
        Air smooths the onset of boiling:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> near = 0.999 * fuel.bubble_pressure("46 degC")
        >>> without, with_air = (
        ...     fuel.vapour_liquid_ratio_after_drop("46 degC", near),
        ...     fuel.gas_liquid_ratio_after_drop("46 degC", near),
        ... )
        >>> with_air > 2.0 * without
        True
        """
        return self._with_air(
            flashes.adiabatic_flash, liquid_temperature, pressure, saturation_temperature, saturation_pressure
        )

    def _with_air(
        self,
        flash: Callable[[Mixture, SpeciesArray, PointArray, PointArray], Equilibrium],
        temperature: FloatLike,
        pressure: FloatLike,
        saturation_temperature: FloatLike | None,
        saturation_pressure: FloatLike,
    ) -> FloatLike:
        t = temperature
        t0 = t if saturation_temperature is None else saturation_temperature

        def equilibrium(t: PointArray, p: PointArray, t0: PointArray, p0: PointArray) -> Equilibrium:
            mixture, feed = laboratory.air_saturated(self.mixture, self._repeated(t), t0, p0)
            return flash(mixture, feed / feed.sum(axis=0), t, p)

        return self._solved(
            equilibrium,
            lambda answer: answer.vapour_liquid_ratio,
            t,
            pressure,
            t0,
            saturation_pressure,
        )

    @takes({"temperature": TEMPERATURE})
    def pressure_band(self, temperature: Quantity) -> FloatLike:
        """Relative half-width of the uncertainty of vapour pressures of a petrol fitted to its DVPE.

        2 % at 38 degC, 5 % at 0 and at 80 degC, 8 % at 100 to 120 degC: the spread of three models (UNIFAC with a
        virial vapour, Peng-Robinson, [ap_42_7_1]); no measured petrol curve above 55 degC was found in public.

        Parameters
        ----------
        temperature : float, str or array
            230 to 420 K.

        Returns
        -------
        float or array
            In the shape of the temperature.

        Raises
        ------
        RangeError
            For a temperature outside that range.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> [float(half) for half in Fuel.named("summer_e0").pressure_band(["80 degC", "120 degC"])]
        [0.05, 0.08]
        """

        def half_width(t: PointArray) -> PointArray:
            return np.interp(t, _BAND_TEMPERATURES, _BAND)

        return shaped(half_width, temperature)

    def tables(self) -> FuelTables:
        """Return tables of this fuel for fast lookups in sweeps; built at the first call, then kept.

        Returns
        -------
        FuelTables

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e10")
        >>> abs(fuel.tables().bubble_pressure(330.0) / fuel.bubble_pressure(330.0) - 1.0) < 1e-3
        True
        """
        return _tables(self)


@lru_cache(maxsize=64)
def _tables(fuel: BoilingFuel) -> FuelTables:
    return FuelTables(fuel.mixture, fuel.composition)
