"""What a laboratory reports of a fuel: vapour pressures by the standard methods, distillation, indices, classes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.fuel.arguments import pressures, shaped, temperatures
from fuelsim.fuel.boiling import BoilingFuel
from fuelsim.fuel.classes import ClassCheck, check_classes
from fuelsim.fuel.phase_equilibrium import laboratory
from fuelsim.fuel.phase_equilibrium.distillation import EVAPORATED, Distillation, distil

__all__ = ["LaboratoryFuel"]


@dataclass(frozen=True)
class LaboratoryFuel(BoilingFuel):
    """A fuel that boils, with what standard tests would report of it; `Fuel` adds ways to make and weather one."""

    def vapour_liquid_temperature(
        self, ratio: float = 20.0, p: Any = STANDARD_ATMOSPHERE, *, with_air: bool = False
    ) -> Any:
        """T(V/L = ratio) by ASTM D5188's definition: vapour volume per volume of the liquid sample at 0 degC, K.

        Parameters
        ----------
        ratio : float
            8 to 75 in the method.
        p : float, str or array
            Pa absolute.
        with_air : bool
            The sample holds the air it dissolves at 0 degC, as in the method; this lowers the answer by about 0.3 K.

        Returns
        -------
        float or array
            K.

        Examples
        --------
        Within 3 K of the linear estimate of ASTM D4814 (from memory) for petrol without alcohol:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.petrol("62 kPa")
        >>> t10, t50 = fuel.distillation().temperature_at([0.10, 0.50]) - 273.15
        >>> estimate = 52.47 - 0.33 * 62.0 + 0.20 * t10 + 0.17 * t50
        >>> bool(abs(fuel.vapour_liquid_temperature(20.0) - 273.15 - estimate) < 3.0)
        True
        """
        return shaped(
            lambda values: laboratory.vapour_liquid_temperature(
                self.mixture, self._repeated(values), float(ratio), values, with_air=with_air
            ),
            pressures(p),
        )

    def dvpe(self) -> float:
        """Dry vapour pressure equivalent at 37.8 degC, Pa (ASTM D5191, EN 13016-1; air-saturated sample).

        Examples
        --------
        Some kilopascal below the air-free pressure at four volumes of vapour (own analysis: 0.8 to 2 kPa):

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.petrol("58 kPa")
        >>> 0.5e3 < fuel.vapour_pressure_at_ratio("100 degF", 4.0) - fuel.dvpe() < 2.2e3
        True
        """
        return float(laboratory.dry_vapour_pressure_equivalent(self.mixture, self.composition)[0])

    def vapour_pressure_at(self, temperature: Any) -> Any:
        """Pressure of an air-saturated sample at 40 to 100 degC and V/L 3:2, Pa absolute (EN 13016-2).

        Examples
        --------
        The air adds a few kilopascal to the pressure of the fuel:

        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.named("summer_e0")
        >>> 0.0 < fuel.vapour_pressure_at("80 degC") - fuel.bubble_pressure("80 degC") < 15e3
        True
        """
        return shaped(
            lambda t: laboratory.chamber_pressure(self.mixture, self._repeated(t), t, 1.5), temperatures(temperature)
        )

    def distillation(self) -> Distillation:
        """Return the simulated ASTM D86 curve; T10 to T90 +-5 K.

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> curve = Fuel.petrol("61.7 kPa", t50="101.5 degC").distillation()
        >>> round(curve.temperature_at(0.50) - 273.15)
        101
        """
        return self._distillation

    @cached_property
    def _distillation(self) -> Distillation:
        return Distillation(EVAPORATED, distil(self.mixture, self.composition)[:, 0])

    @property
    def vapour_lock_index(self) -> float:
        """VLI = 10 DVPE[kPa] + 7 E70[vol%] (IS 2796; the same form in EN 228).

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.petrol("60 kPa", e70="30 %")
        >>> abs(fuel.vapour_lock_index - (10 * 60 + 7 * 30)) < 6.0
        True
        """
        return 10.0 * self.dvpe() / 1e3 + 7.0 * 100.0 * self.distillation().evaporated_at(343.15)

    @property
    def driveability_index(self) -> float:
        """DI = 1.5 T10 + 3.0 T50 + T90 + 1.33 ethanol[vol%], degC (ASTM D4814, from memory).

        Examples
        --------
        >>> from fuelsim.fuel.fuel import Fuel
        >>> fuel = Fuel.petrol("61.7 kPa", t10="53 degC", t50="101 degC", t90="156 degC")
        >>> abs(fuel.driveability_index - (1.5 * 53 + 3.0 * 101 + 156)) < 4.0
        True
        """
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
