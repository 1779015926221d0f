"""A fuel of known composition: constructors, blending, weathering, laboratory tests and volatility classes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from fuelsim import data_files
from fuelsim.arguments import number, takes
from fuelsim.constants import STANDARD_ATMOSPHERE, ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.fuel import classes, petrol, weathering
from fuelsim.fuel.arguments import ACTIVITY_MODEL, FRACTION, PRESSURE, TANK_HISTORY, TARGETS, TEMPERATURE, shaped
from fuelsim.fuel.boiling import BoilingFuel
from fuelsim.fuel.calibration import fitted
from fuelsim.fuel.molecules import blending
from fuelsim.fuel.phase_equilibrium import laboratory
from fuelsim.fuel.phase_equilibrium.distillation import EVAPORATED, Distillation, distil
from fuelsim.fuel.pictures import FuelPictures
from fuelsim.shown import html_of
from fuelsim.typing import ActivityModel, Basis, FloatLike, Given, PointArray, Quantity, VapourModel

__all__ = ["Fuel", "Weathering"]


@dataclass(frozen=True, repr=False)
class Fuel(BoilingFuel, FuelPictures):
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
        Targets of a fitted petrol and the values it reached.
    activity_model : str
        ``"unifac"`` (original UNIFAC) or ``"dortmund"`` (modified UNIFAC); `fuelsim.fuel.model_band.model_band` gives
        a result by both.

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

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the fuel in one line, and its composition."""
        import pandas as pd

        percent = {name: 100.0 * fraction for name, fraction in self.volume_fractions.items()}
        return html_of(repr(self), pd.Series(percent, name="volume_percent").rename_axis("species").to_frame())

    def __repr__(self) -> str:
        alcohol = self.family_fraction("alcohol")
        name = f"{self.label}: " if self.label else ""
        return (
            f"Fuel({name}{len(self.names)} species, {alcohol:.0%} alcohol, {self.density_at_15:.0f} kg/m3 at 15 degC)"
        )

    @classmethod
    @takes()
    def from_components(
        cls,
        components: Mapping[str, Given],
        basis: Basis = "volume",
        *,
        vapour: VapourModel = "virial",
        label: str = "",
        activity_model: ActivityModel = "unifac",
    ) -> Fuel:
        """Make a fuel from species and their fractions.

        Parameters
        ----------
        components : mapping of str to float
            Species name to fraction; they must sum to one within 1 %.
        basis : {"volume", "mole", "mass"}
            Volumes are those of the pure liquids at 15 degC.
        vapour : {"virial", "ideal"}
            Model of the vapour: second virial coefficient, or ideal gas.
        label : str
            Name shown in tables and pictures.
        activity_model : {"unifac", "dortmund"}
            Model of the liquid's activity coefficients: original or modified (Dortmund) UNIFAC.

        Returns
        -------
        Fuel

        Raises
        ------
        InputError
            For an unknown species, a negative fraction, fractions that do not sum to one, or an unknown basis or
            model.

        Examples
        --------
        >>> neat = Fuel.from_components({"ethanol": 1.0})
        >>> round(neat.bubble_pressure(310.928) / 1000, 1)
        15.9
        """
        names, fractions = blending.mole_fractions(components, basis)
        return cls(names, fractions, vapour, label, activity_model=activity_model)

    @classmethod
    @takes(TARGETS | dict.fromkeys(("ethanol", "methanol", "ether"), FRACTION) | {"activity_model": ACTIVITY_MODEL})
    def petrol(
        cls,
        vapour_pressure: Quantity = None,
        ethanol: Quantity = 0.0,
        *,
        methanol: Quantity = 0.0,
        ether: Quantity = 0.0,
        density: Quantity = None,
        t10: Quantity = None,
        t50: Quantity = None,
        t90: Quantity = None,
        e70: Quantity = None,
        e100: Quantity = None,
        e150: Quantity = None,
        vapour_liquid_temperature: Quantity = None,
        aromatics: Quantity = None,
        label: str = "",
        activity_model: ActivityModel = "unifac",
    ) -> Fuel:
        """Make a petrol of common composition that meets a specification of the finished fuel.

        With a vapour pressure alone only the light ends change (fast). With more targets all volume fractions of the
        palette change, as little as meets the targets, and `calibration` holds the values reached.

        Parameters
        ----------
        vapour_pressure : float or str, optional
            DVPE of the finished fuel, Pa (comparable to a Reid vapour pressure within 1 kPa).
        ethanol, methanol, ether : float or str
            Volume fractions of the finished fuel at 15 degC; the ether is MTBE.
        density : float or str, optional
            Density at 15 degC, kg/m3.
        t10, t50, t90 : float or str, optional
            Temperatures at which 10, 50 and 90 % have evaporated in the simulated ASTM D86 distillation, K.
        e70, e100, e150 : float or str, optional
            Volume fractions evaporated at 70, 100 and 150 degC.
        vapour_liquid_temperature : float or str, optional
            Temperature T(V/L=20) by ASTM D5188, K.
        aromatics : float or str, optional
            Volume fraction of aromatics of the finished fuel.
        label : str
            Name shown in tables and pictures.
        activity_model : {"unifac", "dortmund"}
            Model of the liquid's activity coefficients, also while the targets are met: original or modified
            (Dortmund) UNIFAC.

        Returns
        -------
        Fuel
            Its composition; `calibration` holds the values reached where there were several targets.

        Raises
        ------
        InputError
            If no petrol of the palette can meet the targets; the message gives the values of the nearest one.

        Examples
        --------
        >>> round(Fuel.petrol("9 psi").dvpe() / 6894.757, 2)
        9.0
        >>> fuel = Fuel.petrol("58 kPa", density=745.0)
        >>> round(fuel.density_at_15), round(fuel.dvpe(), -3)
        (745, 58000.0)
        """
        oxygenates = {
            "ethanol": ethanol,
            "methanol": methanol,
            "MTBE": ether,
        }
        oxygenates = {name: share for name, share in oxygenates.items() if share > 0.0}
        if sum(oxygenates.values()) > 0.95:
            raise InputError("too little hydrocarbon to fit a petrol with", given=oxygenates, accepted="at most 95 %")
        wanted: dict[str, float | None] = {"vapour_pressure": vapour_pressure, "density": density}
        wanted |= {"t10": t10, "t50": t50, "t90": t90, "e70": e70, "e100": e100, "e150": e150}
        wanted |= {"vapour_liquid_temperature": vapour_liquid_temperature, "aromatics": aromatics}
        targets = {key: value for key, value in wanted.items() if value is not None}
        if set(targets) == {"vapour_pressure"}:
            blend = petrol.with_vapour_pressure(targets["vapour_pressure"], oxygenates, activity_model=activity_model)
            return cls.from_components(blend, label=label, activity_model=activity_model)
        start = petrol.PALETTE
        if not targets:
            return cls.from_components(petrol.finished(start, oxygenates), label=label, activity_model=activity_model)
        blend, calibration = fitted(targets, oxygenates, start, activity_model)
        names, fractions = blending.mole_fractions(blend, "volume")
        return cls(names, fractions, label=label, calibration=calibration, activity_model=activity_model)

    @classmethod
    @takes()
    def named(cls, name: str, *, activity_model: ActivityModel = "unifac") -> Fuel:
        """Return a fuel of ``data/fuels`` by name.

        Parameters
        ----------
        name : str
            Name of the file without its ending, one of `names_known`.
        activity_model : {"unifac", "dortmund"}
            Model of the liquid's activity coefficients; a petrol meets the vapour pressure of its file by either.

        Returns
        -------
        Fuel

        Raises
        ------
        InputError
            For an unknown name, with the nearest one.

        Examples
        --------
        >>> Fuel.named("summer_e10").label
        'summer_e10'
        """
        return _named(str(name), activity_model)

    @classmethod
    @takes({"ethanol": FRACTION})
    def of_class(cls, name: str, ethanol: Quantity = 0.0, *, activity_model: ActivityModel = "unifac") -> Fuel:
        """Return a petrol in a volatility class: its vapour pressure in the middle of the class's limits.

        Where a class limits only the greatest vapour pressure, the petrol lies 3 kPa below it; where it limits only
        the least T(V/L=20), 2 K above it. Other limits that such a petrol would break become targets, just inside.

        Parameters
        ----------
        name : str
            Standard and class, such as ``"EN 228 A"`` or ``"ASTM D4814 AA"``.
        ethanol : float or str
            Volume fraction of the finished fuel; where it is zero and the class limits ethanol, the middle of that.
        activity_model : {"unifac", "dortmund"}
            Model of the liquid's activity coefficients, as in `petrol`.

        Returns
        -------
        Fuel
            With the name of the class as its label.

        Raises
        ------
        InputError
            For an unknown class, or where no petrol of the palette can meet its limits.

        Examples
        --------
        >>> round(Fuel.of_class("EN 228 A").dvpe() / 1000, 1)
        52.5
        """
        item = classes.class_named(name)
        limits = item.limits_of("ethanol")
        if ethanol == 0.0 and limits is not None:
            ethanol = ((limits.least or 0.0) + (limits.most or 0.0)) / 2.0
        targets = classes.first_targets(item)
        fuel = cls.petrol(ethanol=ethanol, label=name, activity_model=activity_model, **targets)
        broken = classes.targets_inside(item, fuel.laboratory_report())
        if not broken:
            return fuel
        return cls.petrol(ethanol=ethanol, label=name, activity_model=activity_model, **(targets | broken))

    @staticmethod
    def names_known() -> list[str]:
        """Return the names `Fuel.named` takes.

        Returns
        -------
        list of str

        Examples
        --------
        >>> {"summer_e10", "winter_e10", "e85"} <= set(Fuel.names_known())
        True
        """
        return data_files.names("fuels")

    @takes({"ethanol": FRACTION, "methanol": FRACTION})
    def splash_blend(self, ethanol: Quantity = 0.0, *, methanol: Quantity = 0.0) -> Fuel:
        """Return this fuel with alcohol added until it makes up the stated volume fraction of the whole.

        Parameters
        ----------
        ethanol, methanol : float or str
            Volume fraction of the finished blend at 15 degC, not less than the fuel already holds.

        Returns
        -------
        Fuel

        Raises
        ------
        InputError
            If alcohol would have to be taken out.

        Examples
        --------
        >>> base = Fuel.petrol("60 kPa")
        >>> 6e3 < base.splash_blend(ethanol=0.05).dvpe() - base.dvpe() < 9e3
        True
        """
        wanted = {"ethanol": ethanol, "methanol": methanol}
        return self._of_components(blending.with_alcohol(self.volume_fractions, wanted), "volume")

    @takes({"fraction": FRACTION})
    def mix(self, other: Fuel, fraction: Quantity) -> Fuel:
        """Return a mixture with another fuel, such as winter fuel in the tank topped up with summer fuel.

        The models are those of this fuel.

        Parameters
        ----------
        other : Fuel
        fraction : float or str
            Volume fraction of the other fuel at 15 degC.

        Returns
        -------
        Fuel

        Examples
        --------
        >>> half = Fuel.petrol("60 kPa").mix(Fuel.petrol("90 kPa"), 0.5)
        >>> 70e3 < half.dvpe() < 80e3
        True
        """
        blend = blending.mixed(self.volume_fractions, other.volume_fractions, fraction)
        return self._of_components(blend, "volume")

    @takes({"mass_loss": FRACTION, "temperature": TEMPERATURE})
    def weathered(self, mass_loss: Quantity, temperature: Quantity = 298.15) -> Fuel:
        """Return the fuel that remains after a fraction of the mass has evaporated at one temperature.

        Parameters
        ----------
        mass_loss : float or str
            Fraction of the mass that evaporates, 0 to 0.98.
        temperature : float or str
            Temperature of liquid and vapour, K.

        Returns
        -------
        Fuel

        Raises
        ------
        InputError
            For a loss outside 0 to 0.98.

        Examples
        --------
        >>> fresh = Fuel.named("winter_e0")
        >>> fresh.weathered("5 %").dvpe() < fresh.dvpe() - 10e3
        True
        """
        remaining = weathering.evaporated(self.mixture, self.composition[:, 0], mass_loss, temperature)
        return self._of_moles(remaining)

    @takes(TANK_HISTORY)
    def weathered_in_tank(
        self,
        temperature: Quantity,
        vapour_space: Quantity = 1.0,
        pressure: Quantity = STANDARD_ATMOSPHERE,
        repeats: int = 1,
    ) -> Weathering:
        """Return the fuel that remains after a temperature history in a vented tank, and the mass fraction lost.

        Parameters
        ----------
        temperature : list or array
            Temperatures one after the other, K; warming drives vapour out.
        vapour_space : float
            Ratio of the volume of the vapour space to that of the liquid, at the start.
        pressure : float or str
            Atmospheric pressure, Pa absolute.
        repeats : int
            Number of times the history is run through: 365 for a year of one daily swing.

        Returns
        -------
        Weathering
            The remaining fuel and the mass fraction lost.

        Examples
        --------
        A month of 15 to 30 degC each day in a half-full vented tank:

        >>> fresh = Fuel.named("summer_e0")
        >>> month = fresh.weathered_in_tank(["15 degC", "30 degC"], repeats=30)
        >>> month.mass_lost > 0.01, month.fuel.dvpe() < fresh.dvpe() - 1e3
        (True, True)
        """
        history = np.tile(np.atleast_1d(temperature), repeats)
        remaining, lost = weathering.vented(self.mixture, self.composition[:, 0], history, vapour_space, pressure)
        return Weathering(self._of_moles(remaining), lost)

    def _of_moles(self, moles: PointArray) -> Fuel:
        return self._of_components(dict(zip(self.names, moles.tolist(), strict=True)), "mole")

    def _of_components(self, components: Mapping[str, float], basis: Basis) -> Fuel:
        """Return a fuel of other composition by the models of this one."""
        return Fuel.from_components(components, basis, vapour=self.vapour, activity_model=self.activity_model)

    @takes({"ratio": number("number", 0.0, 1e4, single=True), "p": PRESSURE})
    def vapour_liquid_temperature(
        self, ratio: Quantity = 20.0, p: Quantity = STANDARD_ATMOSPHERE, *, with_air: bool = False
    ) -> FloatLike:
        """Temperature at which vapour has a given volume, T(V/L = ratio) by ASTM D5188, K.

        Parameters
        ----------
        ratio : float
            Volume of vapour per volume of the liquid sample at 0 degC; 8 to 75 in the method.
        p : float, str or array
            Pressure, Pa absolute.
        with_air : bool
            Whether the sample holds the air it dissolves at 0 degC, as in the method: about 0.3 K lower.

        Returns
        -------
        float or array
            In the shape of the pressure; NaN where there is no such temperature.

        Raises
        ------
        RangeError
            For a pressure outside 100 Pa to 1 MPa.

        Examples
        --------
        A petrol of 54 kPa meets the 60 degC of the vapour lock class for the hottest weather [wac_16_662_115]:

        >>> Fuel.petrol("54 kPa").vapour_liquid_temperature(20.0) > 333.15
        True
        """
        return shaped(
            lambda values: laboratory.vapour_liquid_temperature(
                self.mixture, self._repeated(values), ratio, values, with_air=with_air
            ),
            p,
        )

    def dvpe(self) -> float:
        """Dry vapour pressure equivalent at 37.8 degC, Pa (ASTM D5191, EN 13016-1; air-saturated sample).

        Returns
        -------
        float
            Vapour pressure, Pa.

        Examples
        --------
        Some kilopascal below the air-free pressure at four volumes of vapour (own analysis: 0.8 to 2 kPa):

        >>> fuel = Fuel.petrol("58 kPa")
        >>> 0.5e3 < fuel.vapour_pressure_at_ratio("100 degF", 4.0) - fuel.dvpe() < 2.2e3
        True
        """
        return float(laboratory.dry_vapour_pressure_equivalent(self.mixture, self.composition)[0])

    def distillation(self) -> Distillation:
        """Return the simulated ASTM D86 curve; T10 to T90 +-5 K.

        Returns
        -------
        Distillation
            Temperatures, K, over the volume fraction evaporated.

        Examples
        --------
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
        """Vapour lock index, VLI = 10 DVPE[kPa] + 7 E70[vol%] [fr_order_1999_12_23].

        Examples
        --------
        >>> fuel = Fuel.petrol("60 kPa", e70="30 %")
        >>> abs(fuel.vapour_lock_index - (10 * 60 + 7 * 30)) < 6.0
        True
        """
        return 10.0 * self.dvpe() / 1e3 + 7.0 * 100.0 * float(self.distillation().evaporated_at(70.0 + ZERO_CELSIUS))

    @property
    def driveability_index(self) -> float:
        """Driveability index, DI = 1.5 T10 + 3.0 T50 + T90 + 1.33 ethanol[vol%], degC [refinery_pages_d4814].

        Examples
        --------
        >>> fuel = Fuel.petrol("61.7 kPa", t10="53 degC", t50="101 degC", t90="156 degC")
        >>> abs(fuel.driveability_index - (1.5 * 53 + 3.0 * 101 + 156)) < 4.0
        True
        """
        curve = self.distillation()
        t10, t50, t90 = (float(curve.temperature_at(share)) - ZERO_CELSIUS for share in (0.10, 0.50, 0.90))
        return 1.5 * t10 + 3.0 * t50 + t90 + 1.33 * 100.0 * self.ethanol

    def volatility_classes(self) -> list[classes.ClassCheck]:
        """Return for every class of ``data/volatility_classes.toml`` whether this fuel would pass, and limits broken.

        Returns
        -------
        list of ClassCheck

        Examples
        --------
        >>> checks = Fuel.named("summer_e10").volatility_classes()
        >>> [check.volatility_class.full_name for check in checks if check.passed][:2]
        ['ASTM D4814 A', 'ASTM D4814 B']
        """
        return classes.check_classes(self.laboratory_report())

    def laboratory_report(self) -> classes.LaboratoryReport:
        """Return the results of the tests that volatility classes limit, in SI.

        Returns
        -------
        LaboratoryReport

        Examples
        --------
        >>> report = Fuel.petrol("60 kPa", density=745.0).laboratory_report()
        >>> round(report.vapour_pressure, -2), round(report.density)
        (60000.0, 745)
        """
        curve = self.distillation()
        return classes.LaboratoryReport(
            vapour_pressure=self.dvpe(),
            t10=float(curve.temperature_at(0.10)),
            t50=float(curve.temperature_at(0.50)),
            t90=float(curve.temperature_at(0.90)),
            end_point=curve.end_point,
            e70=float(curve.evaporated_at(70.0 + ZERO_CELSIUS)),
            e100=float(curve.evaporated_at(100.0 + ZERO_CELSIUS)),
            e150=float(curve.evaporated_at(150.0 + ZERO_CELSIUS)),
            vapour_liquid_temperature=float(self.vapour_liquid_temperature(20.0)),
            density=self.density_at_15,
            ethanol=self.ethanol,
            oxygen=self.oxygen,
            vapour_lock_index=self.vapour_lock_index,
        )


@dataclass(frozen=True)
class Weathering:
    """A fuel weathered by a temperature history, with its loss.

    Attributes
    ----------
    fuel : Fuel
        The fuel that remains.
    mass_lost : float
        Fraction of the mass that has evaporated.
    """

    fuel: Fuel
    mass_lost: float


@lru_cache(maxsize=64)
def _named(name: str, activity_model: ActivityModel) -> Fuel:
    path = data_files.named_path("fuels", name)
    data = data_files.read_toml(path)
    try:
        if "components" in data:
            basis = data.get("basis", "volume")
            return Fuel.from_components(data["components"], basis, label=name, activity_model=activity_model)
        return Fuel.petrol(**data["petrol"], label=name, activity_model=activity_model)
    except InputError as error:
        raise error.at(file=f"fuels/{name}.toml") from error
