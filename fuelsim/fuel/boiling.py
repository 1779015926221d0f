"""What a fuel does when it boils, and what a laboratory reports of it: everything that needs equilibrium."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from fuelsim.fuel import equilibrium, laboratory
from fuelsim.fuel.classes import ClassCheck, check_classes
from fuelsim.fuel.composition import Composition
from fuelsim.fuel.distillation import EVAPORATED, Distillation, distil
from fuelsim.fuel.door import pressures, shaped, temperatures
from fuelsim.fuel.equilibrium import Equilibrium
from fuelsim.fuel.tables import FuelTables

__all__ = ["BoilingFuel"]

_BAND = (0.10, 0.05, 0.02, 0.05, 0.08, 0.08, 0.10)


@dataclass(frozen=True)
class BoilingFuel(Composition):
    """A composition with its vapour; `Fuel` adds ways to make, blend and weather one."""

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.names, self.fractions, self.vapour, self.label, self.calibration)

    def _solved(self, function: Any, *values: Any) -> Any:
        """Run an equilibrium function and read one attribute; NaN where there is no answer (`Equilibrium.reason`)."""

        def run(*arrays: np.ndarray) -> np.ndarray:
            result, wanted = function(*arrays)
            return np.where(result.found, wanted(result), np.nan)

        return shaped(run, *values)

    def bubble_pressure(self, temperature: Any) -> Any:
        """Pressure at which the fuel begins to boil, Pa absolute, without dissolved air."""
        return self._solved(
            lambda t: (equilibrium.saturation_pressure(self.mixture, self.composition, t), lambda r: r.pressure),
            temperatures(temperature),
        )

    def bubble_temperature(self, pressure: Any) -> Any:
        """Temperature at which the fuel begins to boil, K, without dissolved air."""
        return self._solved(
            lambda p: (equilibrium.saturation_temperature(self.mixture, self.composition, p), lambda r: r.temperature),
            pressures(pressure),
        )

    def dew_pressure(self, temperature: Any) -> Any:
        """Pressure at which the vapour of the whole fuel begins to condense, Pa absolute."""
        return self._solved(
            lambda t: (equilibrium.saturation_pressure(self.mixture, self.composition, t, 1.0), lambda r: r.pressure),
            temperatures(temperature),
        )

    def dew_temperature(self, pressure: Any) -> Any:
        """Temperature at which the vapour of the whole fuel begins to condense, K."""
        return self._solved(
            lambda p: (
                equilibrium.saturation_temperature(self.mixture, self.composition, p, 1.0),
                lambda r: r.temperature,
            ),
            pressures(pressure),
        )

    def flash(self, temperature: Any, pressure: Any) -> Equilibrium:
        """Return liquid and vapour in equilibrium at temperature and pressure; arrays flattened to points."""
        t, p = np.broadcast_arrays(temperatures(temperature), pressures(pressure))
        return equilibrium.flash(self.mixture, self.composition, t.ravel(), p.ravel())

    def adiabatic_flash(self, liquid_temperature: Any, pressure: Any) -> Equilibrium:
        """Return the state after a drop from all liquid to a pressure without heat; arrays flattened to points."""
        t, p = np.broadcast_arrays(temperatures(liquid_temperature), pressures(pressure))
        return equilibrium.adiabatic_flash(self.mixture, self.composition, t.ravel(), p.ravel())

    def vapour_liquid_ratio(self, temperature: Any, pressure: Any) -> Any:
        """Isothermal V/L: volume of vapour per volume of the liquid that remains, both at T and p.

        What a laboratory chamber shows; in a flow use `vapour_liquid_ratio_after_drop`. Infinite where all has boiled.
        """
        return self._solved(
            lambda t, p: (
                equilibrium.flash(self.mixture, self.composition, t, p),
                lambda r: r.vapour_liquid_ratio,
            ),
            temperatures(temperature),
            pressures(pressure),
        )

    def vapour_liquid_ratio_after_drop(self, liquid_temperature: Any, pressure: Any) -> Any:
        """Isenthalpic V/L after fuel, all liquid at `liquid_temperature`, drops to a pressure without heat.

        It boils and cools itself, so the ratio is a third to a quarter of the isothermal one.
        """
        return self._solved(
            lambda t, p: (
                equilibrium.adiabatic_flash(self.mixture, self.composition, t, p),
                lambda r: r.vapour_liquid_ratio,
            ),
            temperatures(liquid_temperature),
            pressures(pressure),
        )

    def vapour_liquid_temperature(self, ratio: float = 20.0, p: Any = 101325.0, *, with_air: bool = False) -> Any:
        """T(V/L = ratio) by ASTM D5188's definition: vapour volume per volume of the liquid sample at 0 degC, K.

        Parameters
        ----------
        ratio : float
            8 to 75 in the method.
        p : float, str or array
            Pa absolute.
        with_air : bool
            The sample holds the air it dissolves at 0 degC, as in the method; this lowers the answer by about 0.3 K.
        """
        return shaped(
            lambda values: laboratory.vapour_liquid_temperature(
                self.mixture, self._repeated(values), float(ratio), values, with_air=with_air
            ),
            pressures(p),
        )

    def _repeated(self, values: np.ndarray) -> np.ndarray:
        return np.repeat(self.composition, values.size, axis=1)

    def dvpe(self) -> float:
        """Dry vapour pressure equivalent at 37.8 degC, Pa (ASTM D5191, EN 13016-1; air-saturated sample)."""
        return float(laboratory.dry_vapour_pressure_equivalent(self.mixture, self.composition)[0])

    def vapour_pressure_at(self, temperature: Any) -> Any:
        """Pressure of an air-saturated sample at 40 to 100 degC and V/L 3:2, Pa absolute (EN 13016-2)."""
        return shaped(
            lambda t: laboratory.chamber_pressure(self.mixture, self._repeated(t), t, 1.5), temperatures(temperature)
        )

    def vapour_pressure_at_ratio(self, temperature: Any, ratio: float) -> Any:
        """Pressure, Pa absolute, at which vapour has `ratio` times the volume of the remaining liquid, without air."""

        def run(t: np.ndarray) -> tuple[Equilibrium, Any]:
            held = np.full(t.shape, float(ratio))
            result = equilibrium.flash_to_volume(self.mixture, self.composition, t, vapour_liquid_ratio=held)
            return result, lambda r: r.pressure

        return self._solved(run, temperatures(temperature))

    def gas_liquid_ratio(
        self,
        temperature: Any,
        pressure: Any,
        *,
        saturation_temperature: Any = None,
        saturation_pressure: Any = 101325.0,
    ) -> Any:
        """Isothermal volume of gas, dissolved air set free with its vapour, per volume of remaining liquid.

        An upper bound: equilibrium takes seconds, and fuel passes a pump in less.

        Parameters
        ----------
        temperature, pressure : float, str or array
            K, Pa absolute.
        saturation_temperature : float, str or array, optional
            Where the fuel took up its air, K; `temperature` where not given.
        saturation_pressure : float, str or array
            Total pressure there, Pa absolute.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e0")
        >>> fuel.vapour_liquid_ratio("20 degC", "90 kPa"), 0.02 < fuel.gas_liquid_ratio("20 degC", "90 kPa") < 0.08
        (0.0, True)
        """
        return self._with_air(equilibrium.flash, temperature, pressure, saturation_temperature, saturation_pressure)

    def gas_liquid_ratio_after_drop(
        self,
        liquid_temperature: Any,
        pressure: Any,
        *,
        saturation_temperature: Any = None,
        saturation_pressure: Any = 101325.0,
    ) -> Any:
        """Isenthalpic counterpart of `gas_liquid_ratio`: air first, then vapour that cools the fuel it leaves."""
        return self._with_air(
            equilibrium.adiabatic_flash, liquid_temperature, pressure, saturation_temperature, saturation_pressure
        )

    def _with_air(self, function: Any, temperature: Any, pressure: Any, taken_at: Any, taken_under: Any) -> Any:
        t = temperatures(temperature)

        def run(t: np.ndarray, p: np.ndarray, t0: np.ndarray, p0: np.ndarray) -> np.ndarray:
            mixture, feed = laboratory.air_saturated(self.mixture, self._repeated(t), t0, p0)
            result = function(mixture, feed / feed.sum(axis=0), t, p)
            return np.where(result.found, result.vapour_liquid_ratio, np.nan)

        return shaped(
            run, t, pressures(pressure), t if taken_at is None else temperatures(taken_at), pressures(taken_under)
        )

    def pressure_band(self, temperature: Any) -> Any:
        """Relative half-width within which vapour pressures of a petrol fitted to its DVPE can be trusted.

        2 % at 38 degC, 5 % at 0 and at 80 degC, 8 % at 100 to 120 degC: from the spread of three models (UNIFAC with
        a virial vapour, Peng-Robinson, US EPA AP-42); no measured petrol curve above 55 degC was found in public.
        """
        t = temperatures(temperature)
        found = np.interp(t, [230.0, 273.15, 311.0, 353.15, 373.15, 393.15, 420.0], _BAND)
        return float(found) if found.ndim == 0 else found

    def distillation(self) -> Distillation:
        """Return the simulated ASTM D86 curve; T10 to T90 +-5 K."""
        return self._distillation

    @cached_property
    def _distillation(self) -> Distillation:
        return Distillation(EVAPORATED, distil(self.mixture, self.composition)[:, 0])

    @property
    def vapour_lock_index(self) -> float:
        """VLI = 10 DVPE[kPa] + 7 E70[vol%] (IS 2796; the same form in EN 228)."""
        return 10.0 * self.dvpe() / 1e3 + 7.0 * 100.0 * self.distillation().evaporated_at(343.15)

    @property
    def driveability_index(self) -> float:
        """DI = 1.5 T10 + 3.0 T50 + T90 + 1.33 ethanol[vol%], degC (ASTM D4814, from memory)."""
        t10, t50, t90 = self.distillation().temperature_at([0.10, 0.50, 0.90]) - 273.15
        return float(1.5 * t10 + 3.0 * t50 + t90 + 1.33 * 100.0 * self.ethanol)

    def volatility_classes(self) -> list[ClassCheck]:
        """Return for every class of ``data/volatility_classes.toml`` whether this fuel would pass, and what it breaks.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> checks = Fuel.named("summer_e10").volatility_classes()
        >>> [check.volatility_class.full_name for check in checks if check.passed][:2]
        ['ASTM D4814 A', 'ASTM D4814 B']
        """
        return check_classes(self)

    def tables(self) -> FuelTables:
        """Return tables of this fuel for fast lookups in sweeps; built at the first call, then kept."""
        return _tables(self)


@lru_cache(maxsize=64)
def _tables(fuel: BoilingFuel) -> FuelTables:
    return FuelTables(fuel)
