"""A fuel: what is in the tank, and every question the rest of the library asks about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from fuelsim import data_files
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError
from fuelsim.fuel import petrol, weathering
from fuelsim.fuel.arguments import fraction_given, pressure_given, pressures, target_given, temperatures
from fuelsim.fuel.calibration import TARGETS, fitted
from fuelsim.fuel.classes import class_named
from fuelsim.fuel.laboratory_fuel import LaboratoryFuel
from fuelsim.fuel.molecules import blending
from fuelsim.fuel.weathering import Weathering

__all__ = ["Fuel"]


@dataclass(frozen=True, repr=False)
class Fuel(LaboratoryFuel):
    """A liquid fuel of known composition; immutable, equal to another of the same composition.

    Make one with `Fuel.petrol`, `Fuel.from_components` or `Fuel.named`, or from another by `splash_blend`, `mix` or
    `weathered`. Temperatures are K and pressures Pa absolute, as numbers, arrays or text with a unit; they broadcast.

    Attributes
    ----------
    names : tuple of str
        Species, in the order of the species table.
    fractions : tuple of float
        Their mole fractions.
    vapour : str
        ``"virial"`` (second virial coefficient) or ``"ideal"`` (ideal gas).
    label : str
        A name to show.
    calibration : Calibration, optional
        What a petrol fitted to several targets reached.

    Notes
    -----
    Range: 230 to 420 K, 100 Pa to 1 MPa (tables clip instead). Accuracy: `pressure_band`.

    Examples
    --------
    >>> fuel = Fuel.petrol(vapour_pressure="62 kPa", ethanol=0.10)
    >>> round(fuel.dvpe() / 1000, 2)
    62.0
    >>> 45 < fuel.bubble_temperature("1 atm") - 273.15 < 55
    True
    """

    def __repr__(self) -> str:
        alcohol = self.family_fraction("alcohol")
        name = f"{self.label}: " if self.label else ""
        return (
            f"Fuel({name}{len(self.names)} species, {alcohol:.0%} alcohol, {self.density_at_15:.0f} kg/m3 at 15 degC)"
        )

    @classmethod
    def from_components(
        cls, components: Mapping[str, float], basis: str = "volume", *, vapour: str = "virial", label: str = ""
    ) -> Fuel:
        """Make a fuel from species and their fractions.

        Parameters
        ----------
        components : mapping of str to float
            Species name to fraction; they must sum to one within 1 %.
        basis : {"volume", "mole", "mass"}
            Volumes are those of the pure liquids at 15 degC.
        vapour : {"virial", "ideal"}
            How the vapour is modelled.
        label : str
            A name to show.

        Raises
        ------
        InputError
            For an unknown species, a negative fraction, fractions that do not sum to one, or an unknown basis.

        Examples
        --------
        >>> neat = Fuel.from_components({"ethanol": 1.0})
        >>> round(neat.bubble_pressure(310.928) / 1000, 1)
        15.9
        """
        names, fractions = blending.mole_fractions(components, basis)
        return cls(names, fractions, vapour, label)

    @classmethod
    def petrol(
        cls,
        vapour_pressure: Any = None,
        ethanol: Any = 0.0,
        *,
        methanol: Any = 0.0,
        ether: Any = 0.0,
        density: Any = None,
        t10: Any = None,
        t50: Any = None,
        t90: Any = None,
        e70: Any = None,
        e100: Any = None,
        e150: Any = None,
        vapour_liquid_temperature: Any = None,
        aromatics: Any = None,
        label: str = "",
    ) -> Fuel:
        """Make a petrol of common make-up that meets a specification of the finished fuel.

        With a vapour pressure alone the light ends move (fast); with more targets every share moves, as little as
        meets them all, and `calibration` tells what was reached.

        Parameters
        ----------
        vapour_pressure : float or str, optional
            DVPE of the finished fuel, Pa (comparable to a Reid vapour pressure within 1 kPa).
        ethanol, methanol, ether : float or str
            Volume fractions of the finished fuel at 15 degC; the ether is MTBE.
        density : float or str, optional
            At 15 degC, kg/m3.
        t10, t50, t90 : float or str, optional
            Temperatures at which 10, 50 and 90 % have evaporated in the simulated ASTM D86 distillation, K.
        e70, e100, e150 : float or str, optional
            Volume fractions evaporated at 70, 100 and 150 degC.
        vapour_liquid_temperature : float or str, optional
            T(V/L=20) by ASTM D5188, K.
        aromatics : float or str, optional
            Volume fraction of the finished fuel.
        label : str

        Raises
        ------
        InputError
            If no petrol of the palette can meet what is asked; the message says what the nearest one has.

        Examples
        --------
        >>> round(Fuel.petrol("9 psi").dvpe() / 6894.757, 2)
        9.0
        >>> fuel = Fuel.petrol("58 kPa", density=745.0)
        >>> round(fuel.density_at_15), round(fuel.dvpe(), -3)
        (745, 58000.0)
        """
        oxygenates = {
            "ethanol": fraction_given(ethanol, "ethanol"),
            "methanol": fraction_given(methanol, "methanol"),
            "MTBE": fraction_given(ether, "ether"),
        }
        oxygenates = {name: share for name, share in oxygenates.items() if share > 0.0}
        if sum(oxygenates.values()) > 0.95:
            raise InputError("too little hydrocarbon to fit a petrol with", given=oxygenates, accepted="at most 95 %")
        wanted = {"vapour_pressure": None if vapour_pressure is None else pressure_given(vapour_pressure)}
        given = {"density": density, "t10": t10, "t50": t50, "t90": t90, "e70": e70, "e100": e100, "e150": e150}
        given |= {"vapour_liquid_temperature": vapour_liquid_temperature, "aromatics": aromatics}
        wanted |= {key: target_given(value, key) for key, value in given.items()}
        targets = {key: value for key, value in wanted.items() if value is not None}
        if set(targets) == {"vapour_pressure"}:
            blend = petrol.with_vapour_pressure(targets["vapour_pressure"], oxygenates)
            return cls.from_components(blend, label=label)
        start = petrol.PALETTE
        if not targets:
            return cls.from_components(petrol.finished(start, oxygenates), label=label)
        blend, calibration = fitted(targets, oxygenates, start)
        names, fractions = blending.mole_fractions(blend, "volume")
        return cls(names, fractions, label=label, calibration=calibration)

    @classmethod
    def named(cls, name: str) -> Fuel:
        """Return a fuel of ``data/fuels`` by name.

        Raises
        ------
        InputError
            For an unknown name, with the nearest one.

        Examples
        --------
        >>> Fuel.named("summer_e10").label
        'summer_e10'
        """
        return _named(str(name))

    @classmethod
    def of_class(cls, name: str, ethanol: Any = 0.0) -> Fuel:
        """Return a petrol in a volatility class: its vapour pressure in the middle of the class's limits.

        Where a class has a greatest vapour pressure only, the petrol lies 3 kPa below it; where it has a least
        T(V/L=20) only, 2 K above it. Other limits that such a petrol would break become targets, just inside.

        Parameters
        ----------
        name : str
            Standard and class, such as ``"EN 228 A"`` or ``"ASTM D4814 AA"``.
        ethanol : float or str
            Volume fraction of the finished fuel; a class with limits of ethanol takes their middle where it is zero.

        Examples
        --------
        >>> round(Fuel.of_class("EN 228 A").dvpe() / 1000, 1)
        52.5
        """
        item = class_named(name)
        limits = {quantity: (least, most) for quantity, least, most in item.limits}
        share = fraction_given(ethanol, "ethanol")
        if share == 0.0 and "ethanol" in limits:
            share = sum(value or 0.0 for value in limits["ethanol"]) / 2.0
        targets: dict[str, Any] = {}
        if "vapour_pressure" in limits:
            least, most = limits["vapour_pressure"]
            targets["vapour_pressure"] = (least + most) / 2.0 if least and most else (most - 3e3 if most else 60e3)
        else:
            targets["vapour_liquid_temperature"] = (limits["vapour_liquid_temperature"][0] or 0.0) + 2.0
        fuel = cls.petrol(ethanol=share, label=name, **targets)
        check = next(check for check in fuel.volatility_classes() if check.volatility_class == item)
        for quantity in check.broken:
            least, most = limits[quantity]
            inside = TARGETS[quantity].tolerance / 2.0
            low = least is not None and check.values[quantity] < least
            targets[quantity] = (least or 0.0) + inside if low else (most or 0.0) - inside
        return fuel if len(targets) == 1 else cls.petrol(ethanol=share, label=name, **targets)

    @staticmethod
    def names_known() -> list[str]:
        """Return the names `Fuel.named` takes.

        Examples
        --------
        >>> {"summer_e10", "winter_e10", "e85"} <= set(Fuel.names_known())
        True
        """
        return data_files.names("fuels")

    def splash_blend(self, ethanol: Any = 0.0, *, methanol: Any = 0.0) -> Fuel:
        """Return this fuel with alcohol added until it makes up the stated volume fraction of the whole.

        Parameters
        ----------
        ethanol, methanol : float or str
            Volume fraction of the finished blend at 15 degC, not less than the fuel already holds.

        Examples
        --------
        >>> base = Fuel.petrol("60 kPa")
        >>> 6e3 < base.splash_blend(ethanol=0.05).dvpe() - base.dvpe() < 9e3
        True
        """
        wanted = {"ethanol": fraction_given(ethanol, "ethanol"), "methanol": fraction_given(methanol, "methanol")}
        return Fuel.from_components(blending.with_alcohol(self.volume_fractions, wanted), vapour=self.vapour)

    def mix(self, other: Fuel, fraction: Any) -> Fuel:
        """Return a mixture with another fuel, such as winter fuel in the tank topped up with summer fuel.

        Parameters
        ----------
        other : Fuel
        fraction : float or str
            Volume fraction of the other fuel at 15 degC.

        Examples
        --------
        >>> half = Fuel.petrol("60 kPa").mix(Fuel.petrol("90 kPa"), 0.5)
        >>> 70e3 < half.dvpe() < 80e3
        True
        """
        share = fraction_given(fraction, "fraction")
        blend = blending.mixed(self.volume_fractions, other.volume_fractions, share)
        return Fuel.from_components(blend, vapour=self.vapour)

    def weathered(self, mass_loss: Any, temperature: Any = 298.15) -> Fuel:
        """Return what remains after a fraction of the mass has evaporated at one temperature.

        Examples
        --------
        >>> fresh = Fuel.named("winter_e0")
        >>> fresh.weathered("5 %").dvpe() < fresh.dvpe() - 10e3
        True
        """
        loss = fraction_given(mass_loss, "mass_loss")
        left = weathering.evaporated(self.mixture, self.composition[:, 0], loss, float(temperatures(temperature)))
        return self._of_moles(left)

    def weathered_in_tank(
        self, temperature: Any, vapour_space: float = 1.0, pressure: Any = STANDARD_ATMOSPHERE, repeats: int = 1
    ) -> Weathering:
        """Return what remains after a temperature history in a vented tank, and the mass fraction lost.

        Parameters
        ----------
        temperature : list or array
            One temperature after the other, K; warming drives vapour out.
        vapour_space : float
            Volume of vapour space per volume of liquid at the start.
        pressure : float or str
            Of the atmosphere, Pa absolute.
        repeats : int
            How often the history repeats: 365 for a year of one daily swing.

        Examples
        --------
        A month of 15 to 30 degC each day in a half-full vented tank:

        >>> fresh = Fuel.named("summer_e0")
        >>> month = fresh.weathered_in_tank(["15 degC", "30 degC"], repeats=30)
        >>> month.mass_lost > 0.01, month.fuel.dvpe() < fresh.dvpe() - 1e3
        (True, True)
        """
        history = np.tile(np.atleast_1d(temperatures(temperature)), int(repeats))
        left, lost = weathering.vented(
            self.mixture, self.composition[:, 0], history, float(vapour_space), float(pressures(pressure))
        )
        return Weathering(self._of_moles(left), lost)

    def _of_moles(self, moles: np.ndarray) -> Fuel:
        return Fuel.from_components(dict(zip(self.names, moles.tolist(), strict=True)), "mole", vapour=self.vapour)


@lru_cache(maxsize=64)
def _named(name: str) -> Fuel:
    path = data_files.named_path("fuels", name)
    data = data_files.read_toml(path)
    try:
        if "components" in data:
            return Fuel.from_components(data["components"], str(data.get("basis", "volume")), label=name)
        return Fuel.petrol(**data["petrol"], label=name)
    except InputError as error:
        raise error.at(file=f"fuels/{name}.toml") from error
