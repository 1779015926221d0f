"""Generates ``data/species.csv`` from CoolProp, and from thermo and chemicals for what CoolProp lacks.

Not used at run time: ``python -m fuelsim.fuel.molecules.species`` writes the table, a test regenerates it and compares.
Sources are sampled between 200 and 480 K where they are valid, extended by lines (in 1/T for the
logarithms of vapour pressure and viscosity, in T for the rest) below the freezing point and near the critical
point, and fitted by polynomials. The extension matters to dissolved light gases above about 390 K and to
aromatics below freezing, whose share of a petrol's vapour is small there.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.output_files import write_files
from fuelsim.typing import FloatArray

__all__ = ["FITS", "RECIPES", "generate", "write"]

LEAST_TEMPERATURE, MOST_TEMPERATURE = 200.0, 480.0
REFERENCE_TEMPERATURE = 300.0
CARBON_DIOXIDE, WATER_VAPOUR = -393.51e3, -241.826e3  # enthalpies of formation, J/mol: CODATA key values
INTERNAL_PRESSURE_RATIO = {
    "paraffin": 1.115,
    "isoparaffin": 1.115,
    "naphthene": 1.115,
    "aromatic": 1.06,
    "olefin": 1.10,
    "ether": 1.10,
}
"""Internal pressure over cohesive energy density: means of CoolProp's species that boil above 27 degC, from -20 to
90 degC [coolprop], with standard deviations of 0.03; olefins and ethers, of which CoolProp has none that boils there,
take the mean of all."""


@dataclass(frozen=True)
class Recipe:
    """Facts of a species that the sources do not hold.

    Attributes
    ----------
    family : str
    groups : str
        UNIFAC groups and their numbers.
    source_name : str
        Name that the sources use; by default that of the species.
    homomorph : str
        Paraffin of like size whose acentric factor stands in for that of an alcohol.
    """

    family: str
    groups: str
    source_name: str = ""
    homomorph: str = ""


RECIPES: dict[str, Recipe] = {
    "propane": Recipe("paraffin", "CH3:2 CH2:1"),
    "isobutane": Recipe("isoparaffin", "CH3:3 CH:1"),
    "n-butane": Recipe("paraffin", "CH3:2 CH2:2"),
    "trans-2-butene": Recipe("olefin", "CH3:2 CH=CH:1"),
    "isopentane": Recipe("isoparaffin", "CH3:3 CH2:1 CH:1"),
    "n-pentane": Recipe("paraffin", "CH3:2 CH2:3"),
    "cyclopentane": Recipe("naphthene", "CH2:5"),
    "1-pentene": Recipe("olefin", "CH3:1 CH2:2 CH2=CH:1"),
    "2-methyl-2-butene": Recipe("olefin", "CH3:3 CH=C:1"),
    "2,2-dimethylbutane": Recipe("isoparaffin", "CH3:4 CH2:1 C:1"),
    "2,3-dimethylbutane": Recipe("isoparaffin", "CH3:4 CH:2"),
    "2-methylpentane": Recipe("isoparaffin", "CH3:3 CH2:2 CH:1"),
    "3-methylpentane": Recipe("isoparaffin", "CH3:3 CH2:2 CH:1"),
    "n-hexane": Recipe("paraffin", "CH3:2 CH2:4"),
    "1-hexene": Recipe("olefin", "CH3:1 CH2:3 CH2=CH:1"),
    "methylcyclopentane": Recipe("naphthene", "CH3:1 CH2:4 CH:1"),
    "cyclohexane": Recipe("naphthene", "CH2:6"),
    "benzene": Recipe("aromatic", "ACH:6"),
    "2-methylhexane": Recipe("isoparaffin", "CH3:3 CH2:3 CH:1"),
    "n-heptane": Recipe("paraffin", "CH3:2 CH2:5"),
    "methylcyclohexane": Recipe("naphthene", "CH3:1 CH2:5 CH:1"),
    "toluene": Recipe("aromatic", "ACH:5 ACCH3:1"),
    "isooctane": Recipe("isoparaffin", "CH3:5 CH2:1 CH:1 C:1", "2,2,4-trimethylpentane"),
    "n-octane": Recipe("paraffin", "CH3:2 CH2:6"),
    "ethylbenzene": Recipe("aromatic", "CH3:1 ACH:5 ACCH2:1"),
    "m-xylene": Recipe("aromatic", "ACH:4 ACCH3:2"),
    "o-xylene": Recipe("aromatic", "ACH:4 ACCH3:2"),
    "p-xylene": Recipe("aromatic", "ACH:4 ACCH3:2"),
    "n-nonane": Recipe("paraffin", "CH3:2 CH2:7"),
    "1,2,4-trimethylbenzene": Recipe("aromatic", "ACH:3 ACCH3:3"),
    "n-decane": Recipe("paraffin", "CH3:2 CH2:8"),
    "1,2,4,5-tetramethylbenzene": Recipe("aromatic", "ACH:2 ACCH3:4"),
    "n-undecane": Recipe("paraffin", "CH3:2 CH2:9"),
    "methanol": Recipe("alcohol", "CH3OH:1", homomorph="ethane"),
    "ethanol": Recipe("alcohol", "CH3:1 CH2:1 OH:1", homomorph="propane"),
    "MTBE": Recipe("ether", "CH3:3 C:1 CH3O:1"),
    "ETBE": Recipe("ether", "CH3:4 C:1 CH2O:1", "ethyl tert-butyl ether"),
    "TAME": Recipe("ether", "CH3:3 CH2:1 C:1 CH3O:1", "tert-amyl methyl ether"),
}


@dataclass(frozen=True)
class Fit:
    """Form of the polynomial of one property.

    Attributes
    ----------
    degree : int
    inverse : bool
        The abscissa is 300 K/T in place of T/300 K.
    logarithm : bool
        The ordinate is the logarithm of the property.
    least_reduced_temperature, most_reduced_temperature : float
        Ends of the samples, relative to the critical temperature.
    """

    degree: int
    inverse: bool
    logarithm: bool
    least_reduced_temperature: float
    most_reduced_temperature: float


FITS: dict[str, Fit] = {
    "vapour_pressure": Fit(5, True, True, 0.0, 0.995),
    "molar_volume": Fit(4, False, True, 0.0, 0.93),
    "heat_capacity": Fit(3, False, False, 0.0, 0.88),
    "heat_of_vaporisation": Fit(4, False, False, 0.0, 0.95),
    "viscosity": Fit(3, True, True, 0.35, 0.90),
    "conductivity": Fit(2, False, False, 0.0, 0.88),
    "surface_tension": Fit(3, False, False, 0.0, 0.97),
    "compressibility": Fit(3, False, True, 0.0, 0.88),
}


def _sampled(
    source: Callable[[float], float | None], fit: Fit, critical_temperature: float
) -> tuple[FloatArray, FloatArray]:
    """Return temperatures and the (logarithm of the) property where the source knows it."""
    least = max(LEAST_TEMPERATURE, fit.least_reduced_temperature * critical_temperature)
    most = min(MOST_TEMPERATURE, fit.most_reduced_temperature * critical_temperature)
    kept: list[tuple[float, float]] = []
    for temperature in np.linspace(least, most, 71):
        try:
            value = source(float(temperature))
        except Exception:  # a source says "out of range" with many kinds of error
            continue
        if value is not None and np.isfinite(value) and value > 0.0:
            kept.append((float(temperature), float(np.log(value) if fit.logarithm else value)))
    temperatures, values = np.array(kept).T
    return temperatures, values


def fitted(source: Callable[[float], float | None], fit: Fit, critical_temperature: float) -> FloatArray:
    """Return polynomial coefficients of a property, constant term first, over the whole range of 200 to 480 K.

    Parameters
    ----------
    source : function
        Property at a temperature in K; may raise or return None where it does not know it.
    fit : Fit
    critical_temperature : float
        K.

    Examples
    --------
    A straight line is met:

    >>> line = Fit(1, False, False, 0.0, 1.0)
    >>> bool(abs(fitted(lambda kelvin: 2.0 * kelvin / 300.0, line, 500.0) - [0.0, 2.0]).max() < 1e-9)
    True
    """
    temperatures, values = _sampled(source, fit, critical_temperature)

    def abscissa(temperature: FloatArray) -> FloatArray:
        return REFERENCE_TEMPERATURE / temperature if fit.inverse else temperature / REFERENCE_TEMPERATURE

    grid = np.linspace(LEAST_TEMPERATURE, MOST_TEMPERATURE, 141)
    below, above = grid[grid < temperatures[0] - 1.0], grid[grid > temperatures[-1] + 1.0]
    extended_t, extended_v = [temperatures], [values]
    for outside, end in ((below, slice(None, 30)), (above, slice(-6, None))):
        degree = 2 if outside is below and fit.inverse else 1
        trend = np.polynomial.Polynomial.fit(abscissa(temperatures[end]), values[end], degree)
        extended_t.append(outside)
        extended_v.append(trend(abscissa(outside)))
    all_t, all_v = np.concatenate(extended_t), np.concatenate(extended_v)
    inside = np.concatenate([np.full(temperatures.size, 1.0), np.full(all_t.size - temperatures.size, 0.03)])
    weight = inside if fit.logarithm else inside / np.maximum(np.abs(all_v), 0.05 * np.abs(values).max())
    return np.asarray(np.polynomial.polynomial.polyfit(abscissa(all_t), all_v, fit.degree, w=weight), dtype=np.float64)


def compressibility_from_cohesion(
    family: str, temperature: float, heat_of_vaporisation: float, volume_slope: float
) -> float:
    """Return the isothermal compressibility of a liquid from its cohesive energy, 1/Pa.

    Parameters
    ----------
    family : str
        A key of `INTERNAL_PRESSURE_RATIO`.
    temperature : float
        K.
    heat_of_vaporisation : float
        J/mol.
    volume_slope : float
        dV/dT of the liquid, m3/mol/K.

    Notes
    -----
    The internal pressure of a liquid, T (dp/dT)_V = T alpha K, is n times its cohesive energy density (H - R T)/V, with
    n near 1 for liquids without hydrogen bonds; hence 1/K = T (dV/dT)/(n (H - R T)). `INTERNAL_PRESSURE_RATIO` holds n.
    Against CoolProp's hydrocarbons from -20 to 90 degC the rule is right to +-6 %, in the mean of a family to 3 %.

    Examples
    --------
    n-Heptane at 20 degC (CoolProp 1.399e-9):

    >>> round(1e9 * compressibility_from_cohesion("paraffin", 293.15, 36.77e3, 1.828e-7), 2)
    1.4
    """
    cohesive_energy = heat_of_vaporisation - GAS_CONSTANT * temperature
    return temperature * volume_slope / (INTERNAL_PRESSURE_RATIO[family] * cohesive_energy)


def _coolprop(cas: str) -> dict[str, Callable[[float], float | None]]:
    from CoolProp.CoolProp import QT_INPUTS, AbstractState

    state = AbstractState("HEOS", cas)

    def at(temperature: float, quality: float = 0.0) -> AbstractState:
        if temperature < state.Ttriple():
            raise ValueError("below the triple point")
        state.update(QT_INPUTS, quality, temperature)
        return state

    return {
        "vapour_pressure": lambda t: at(t).p(),
        "molar_volume": lambda t: 1.0 / at(t).rhomolar(),
        "heat_capacity": lambda t: at(t).cpmolar(),
        "heat_of_vaporisation": lambda t: at(t, 1.0).hmolar() - at(t, 0.0).hmolar(),
        "compressibility": lambda t: at(t).isothermal_compressibility(),
    }


def _row(name: str, recipe: Recipe) -> dict[str, str]:
    import chemicals
    from thermo import ChemicalConstantsPackage

    cas = chemicals.CAS_from_any(recipe.source_name or name)
    constants = ChemicalConstantsPackage.constants_from_IDs([cas])
    correlations = ChemicalConstantsPackage.correlations_from_IDs([cas])
    critical_temperature = constants.Tcs[0]
    molar_volume = correlations.VolumeLiquids[0].T_dependent_property
    vaporisation = correlations.EnthalpyVaporizations[0].T_dependent_property

    def compressibility(t: float) -> float:
        slope = molar_volume(t + 0.5) - molar_volume(t - 0.5)
        return compressibility_from_cohesion(recipe.family, t, vaporisation(t), slope)

    sources: dict[str, Callable[[float], float | None]] = {
        "vapour_pressure": correlations.VaporPressures[0].T_dependent_property,
        "molar_volume": molar_volume,
        "heat_capacity": correlations.HeatCapacityLiquids[0].T_dependent_property,
        "heat_of_vaporisation": vaporisation,
        "viscosity": correlations.ViscosityLiquids[0].T_dependent_property,
        "conductivity": correlations.ThermalConductivityLiquids[0].T_dependent_property,
        "surface_tension": correlations.SurfaceTensions[0].T_dependent_property,
        "compressibility": compressibility,
    }
    source = "thermo_library computed"
    try:
        sources |= _coolprop(cas)
        source = "coolprop thermo_library"
    except ValueError:
        pass
    atoms = constants.atomss[0]
    carbon, hydrogen, oxygen = atoms.get("C", 0), atoms.get("H", 0), atoms.get("O", 0)
    formation = constants.Hfgs[0] - vaporisation(298.15)
    burning = formation - carbon * CARBON_DIOXIDE - hydrogen / 2 * WATER_VAPOUR
    homomorph = chemicals.CAS_from_any(recipe.homomorph) if recipe.homomorph else cas
    row = {
        "name": name,
        "family": recipe.family,
        "cas": cas,
        "carbon": str(carbon),
        "hydrogen": str(hydrogen),
        "oxygen": str(oxygen),
        "molar_mass_kg_mol": f"{constants.MWs[0] / 1000.0:.7f}",
        "critical_temperature_K": f"{critical_temperature:.3f}",
        "critical_pressure_Pa": f"{constants.Pcs[0]:.6g}",
        "virial_acentric_factor": f"{chemicals.omega(homomorph):.5f}",
        "lower_heating_value_J_mol": f"{burning:.6g}",
        "unifac_groups": recipe.groups,
        "source": source,
    }
    for key, fit in FITS.items():
        row[key] = " ".join(f"{c:.9g}" for c in fitted(sources[key], fit, critical_temperature))
    return row


def generate() -> list[dict[str, str]]:
    """Return the rows of the species table. Needs CoolProp, thermo and chemicals; takes some seconds."""
    return [_row(name, recipe) for name, recipe in RECIPES.items()]


def write(path: Path) -> None:
    """Write the species table.

    Parameters
    ----------
    path : Path
        File to write, ``data/species.csv``.
    """
    rows = generate()
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    write_files({path: text.getvalue().encode()})
