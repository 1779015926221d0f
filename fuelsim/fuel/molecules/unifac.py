"""Liquid non-ideality: activity coefficients by original UNIFAC (VLE parameters), for arrays of points.

Parameters: [hansen_1991], as tables 8-21 and 8-22 of [poling_2001] print them; those of modified UNIFAC, for which the
same functions serve, are in `fuelsim.fuel.molecules.dortmund`. Of a molecule the residual part needs
only its surface in each *main* group, because the activity of a subgroup is its surface times a function of the main
group: that makes the arrays small.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.typing import BoolArray, FloatArray, PointArray, SpeciesArray

__all__ = [
    "INTERACTIONS",
    "MAIN_GROUPS",
    "ORIGINAL",
    "SUBGROUPS",
    "Groups",
    "Parameters",
    "Subgroup",
    "Terms",
    "log_activity",
    "temperature_terms",
]

MAIN_GROUPS = ("CH2", "C=C", "ACH", "ACCH2", "OH", "CH3OH", "H2O", "CH2O")


class Subgroup(NamedTuple):
    """A UNIFAC subgroup.

    Attributes
    ----------
    main : str
        Its main group.
    volume, surface : float
        R and Q, relative to a standard segment.
    """

    main: str
    volume: float
    surface: float


SUBGROUPS: dict[str, Subgroup] = {
    "CH3": Subgroup("CH2", 0.9011, 0.848),
    "CH2": Subgroup("CH2", 0.6744, 0.540),
    "CH": Subgroup("CH2", 0.4469, 0.228),
    "C": Subgroup("CH2", 0.2195, 0.000),
    "CH2=CH": Subgroup("C=C", 1.3454, 1.176),
    "CH=CH": Subgroup("C=C", 1.1167, 0.867),
    "CH2=C": Subgroup("C=C", 1.1173, 0.988),
    "CH=C": Subgroup("C=C", 0.8886, 0.676),
    "ACH": Subgroup("ACH", 0.5313, 0.400),
    "AC": Subgroup("ACH", 0.3652, 0.120),
    "ACCH3": Subgroup("ACCH2", 1.2663, 0.968),
    "ACCH2": Subgroup("ACCH2", 1.0396, 0.660),
    "ACCH": Subgroup("ACCH2", 0.8121, 0.348),
    "OH": Subgroup("OH", 1.0000, 1.200),
    "CH3OH": Subgroup("CH3OH", 1.4311, 1.432),
    "H2O": Subgroup("H2O", 0.9200, 1.400),
    "CH3O": Subgroup("CH2O", 1.1450, 1.088),
    "CH2O": Subgroup("CH2O", 0.9183, 0.780),
}

# a[m, n] in K, rows and columns in the order of MAIN_GROUPS
INTERACTIONS = np.array(
    [
        [0.0, 86.02, 61.13, 76.50, 986.5, 697.2, 1318.0, 251.5],
        [-35.36, 0.0, 38.81, 74.15, 524.1, 787.6, 270.6, 214.5],
        [-11.12, 3.446, 0.0, 167.0, 636.1, 637.35, 903.8, 32.14],
        [-69.70, -113.6, -146.8, 0.0, 803.2, 603.25, 5695.0, 213.1],
        [156.4, 457.0, 89.60, 25.82, 0.0, -137.1, 353.5, 28.06],
        [16.51, -12.52, -50.00, -44.50, 249.1, 0.0, -180.95, -128.6],
        [300.0, 496.1, 362.3, 377.6, -229.1, 289.6, 0.0, 540.5],
        [83.36, 26.51, 52.13, 65.69, 237.7, 238.4, -314.7, 0.0],
    ]
)


class Parameters(NamedTuple):
    """The parameters of a UNIFAC model.

    Attributes
    ----------
    main_groups : tuple of str
    subgroups : dict of str to Subgroup
    interactions : array (main, main)
        a[m, n], K.
    slopes : array (2, main, main) or None
        b[m, n] and c[m, n] (1/K) of psi = exp(-(a + b T + c T^2)/T); None where they are zero.
    modified : bool
        Whether volume fractions of the combinatorial part are those of r^(3/4).
    """

    main_groups: tuple[str, ...]
    subgroups: dict[str, Subgroup]
    interactions: FloatArray
    slopes: FloatArray | None = None
    modified: bool = False


ORIGINAL = Parameters(MAIN_GROUPS, SUBGROUPS, INTERACTIONS)


@dataclass(frozen=True, eq=False)
class Groups:
    """The groups of a set of species.

    Attributes
    ----------
    volume, surface : array (species,)
        UNIFAC r and q.
    main_surface : array (species, main)
        Surface in each main group that occurs.
    interactions : array (main, main)
        a[m, n], K.
    slopes : array (2, main, main) or None
        b[m, n] and c[m, n] of modified UNIFAC.
    modified_volume : array (species,) or None
        r^(3/4) of modified UNIFAC.
    """

    volume: FloatArray
    surface: FloatArray
    main_surface: FloatArray
    interactions: FloatArray
    slopes: FloatArray | None = None
    modified_volume: FloatArray | None = None

    @classmethod
    def from_text(cls, texts: tuple[str, ...], parameters: Parameters = ORIGINAL) -> Groups:
        """Read groups from text.

        Parameters
        ----------
        texts : tuple of str
            Groups and their numbers, as ``"CH3:2 CH2:3"``, one text for each species.
        parameters : Parameters
            Parameters of the model, original UNIFAC unless stated.

        Raises
        ------
        InputError
            For an unknown group, with the nearest one.

        Examples
        --------
        >>> float(Groups.from_text(("CH3:2 CH2:3",)).volume[0].round(4))  # n-pentane
        3.8254
        """
        volume, surface = np.zeros(len(texts)), np.zeros(len(texts))
        main = np.zeros((len(texts), len(parameters.main_groups)))
        for row, text in enumerate(texts):
            for item in text.split():
                name, _, count = item.rpartition(":")
                if name not in parameters.subgroups:
                    raise InputError("no such UNIFAC group", given=name, accepted=nearest(name, parameters.subgroups))
                group = parameters.subgroups[name]
                volume[row] += int(count) * group.volume
                surface[row] += int(count) * group.surface
                main[row, parameters.main_groups.index(group.main)] += int(count) * group.surface
        present = np.flatnonzero(main.any(axis=0))
        pairs = np.ix_(present, present)
        slopes = parameters.slopes
        return cls(
            volume,
            surface,
            main[:, present],
            parameters.interactions[pairs],
            None if slopes is None else slopes[:, pairs[0], pairs[1]],
            volume**0.75 if parameters.modified else None,
        )


@dataclass(frozen=True, eq=False)
class Terms:
    """Quantities that depend on temperature alone.

    Attributes
    ----------
    psi : array (main, main, points)
    pure : array (species, points)
        Residual part of ln gamma of each species in itself.
    """

    psi: FloatArray
    pure: FloatArray

    def take(self, points: BoolArray) -> Terms:
        """Return the terms of some of the points.

        Parameters
        ----------
        points : array (points,) of bool

        Examples
        --------
        >>> terms = temperature_terms(Groups.from_text(("CH3:2 CH2:3",)), np.array([300.0, 350.0]))
        >>> terms.take(np.array([True, False])).pure.shape
        (1, 1)
        """
        return Terms(self.psi[..., points], self.pure[..., points])


def _main_activity(share: FloatArray, psi: FloatArray) -> FloatArray:
    """Return ln Gamma of a main group per unit of surface, from surface shares ``(main, ...)``."""
    total = (share[:, None] * psi).sum(axis=0)
    log_activity: FloatArray = 1.0 - np.log(total) - (psi * (share / total)[None]).sum(axis=1)
    return log_activity


def temperature_terms(groups: Groups, temperature: PointArray) -> Terms:
    """Return the quantities that depend on temperature alone.

    Parameters
    ----------
    groups : Groups
    temperature : array (points,)
        K.

    Examples
    --------
    A species of one main group has no residual part in itself:

    >>> temperature_terms(Groups.from_text(("CH3:2 CH2:3",)), np.array([300.0])).pure.tolist()
    [[0.0]]
    """
    exponent = -groups.interactions[:, :, None] / temperature
    if groups.slopes is not None:
        exponent = exponent - groups.slopes[0, :, :, None] - groups.slopes[1, :, :, None] * temperature
    psi = np.exp(exponent)
    main, species = groups.interactions.shape[0], groups.surface.shape[0]
    pure = np.zeros((species, temperature.shape[0]))
    mixed = np.flatnonzero((groups.main_surface > 0.0).sum(axis=1) > 1)  # one main group: zero by definition
    if main > 1 and mixed.size:
        share = (groups.main_surface[mixed] / groups.surface[mixed, None]).T[:, :, None]
        in_itself = _main_activity(share, psi[:, :, None, :])
        pure[mixed] = np.einsum("im,min->in", groups.main_surface[mixed], in_itself)
    return Terms(psi, pure)


def log_activity(groups: Groups, terms: Terms, composition: SpeciesArray) -> SpeciesArray:
    """Return the natural logarithm of the activity coefficients.

    Parameters
    ----------
    groups : Groups
    terms : Terms
        From `temperature_terms` at the temperatures of the points.
    composition : array (species, points)
        Mole fractions; they are scaled to sum to one.

    Returns
    -------
    array (species, points)
        Symmetric convention: zero for a pure species.

    Notes
    -----
    ln gamma_i = 1 - V_i + ln V_i - 5 q_i (1 - V_i/F_i + ln(V_i/F_i)) + sum_k nu_ki (ln Gamma_k - ln Gamma_k^i),
    with V_i = r_i / sum r x and F_i = q_i / sum q x. In modified UNIFAC the first two V_i are those of r^(3/4).

    Source: [fredenslund_1975], [weidlich_1987] for r^(3/4); parameters as the modules say.

    Examples
    --------
    Benzene with ethanol at 345 K; ``thermo.unifac`` gives 1.4980 and 1.5303.

    >>> groups = Groups.from_text(("ACH:6", "CH3:1 CH2:1 OH:1"))
    >>> terms = temperature_terms(groups, np.array([345.0]))
    >>> np.exp(log_activity(groups, terms, np.array([[0.543], [0.457]]))).ravel().round(4).tolist()
    [1.498, 1.5303]
    """
    x = composition / composition.sum(axis=0)
    v = groups.volume[:, None] / (groups.volume @ x)
    f = groups.surface[:, None] / (groups.surface @ x)
    ratio = v / f
    if groups.modified_volume is not None:
        v = groups.modified_volume[:, None] / (groups.modified_volume @ x)
    combinatorial: SpeciesArray = 1.0 - v + np.log(v) - 5.0 * groups.surface[:, None] * (1.0 - ratio + np.log(ratio))
    if groups.interactions.shape[0] == 1:
        return combinatorial
    share = groups.main_surface.T @ x
    share /= share.sum(axis=0)
    residual: SpeciesArray = groups.main_surface @ _main_activity(share, terms.psi) - terms.pure
    return combinatorial + residual
