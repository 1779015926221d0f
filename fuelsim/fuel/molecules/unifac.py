"""Liquid non-ideality: activity coefficients by original UNIFAC (VLE parameters), for arrays of points.

Parameters: Hansen et al., Ind. Eng. Chem. Res. 30 (1991) 2352; Poling, Prausnitz & O'Connell, *The Properties of
Gases and Liquids*, 5th ed., tables 8-21 and 8-22. The residual part needs, of a molecule, only its surface in each
*main* group, because the group activity of a subgroup is its surface times a function of the main group: that makes
the arrays small.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.errors import InputError, nearest

__all__ = ["INTERACTIONS", "MAIN_GROUPS", "SUBGROUPS", "Groups", "Terms", "log_activity", "temperature_terms"]

MAIN_GROUPS = ("CH2", "C=C", "ACH", "ACCH2", "OH", "CH3OH", "H2O", "CH2O")

# subgroup: (main group, volume R, surface Q)
SUBGROUPS: dict[str, tuple[str, float, float]] = {
    "CH3": ("CH2", 0.9011, 0.848),
    "CH2": ("CH2", 0.6744, 0.540),
    "CH": ("CH2", 0.4469, 0.228),
    "C": ("CH2", 0.2195, 0.000),
    "CH2=CH": ("C=C", 1.3454, 1.176),
    "CH=CH": ("C=C", 1.1167, 0.867),
    "CH2=C": ("C=C", 1.1173, 0.988),
    "CH=C": ("C=C", 0.8886, 0.676),
    "ACH": ("ACH", 0.5313, 0.400),
    "AC": ("ACH", 0.3652, 0.120),
    "ACCH3": ("ACCH2", 1.2663, 0.968),
    "ACCH2": ("ACCH2", 1.0396, 0.660),
    "ACCH": ("ACCH2", 0.8121, 0.348),
    "OH": ("OH", 1.0000, 1.200),
    "CH3OH": ("CH3OH", 1.4311, 1.432),
    "H2O": ("H2O", 0.9200, 1.400),
    "CH3O": ("CH2O", 1.1450, 1.088),
    "CH2O": ("CH2O", 0.9183, 0.780),
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
    """

    volume: np.ndarray
    surface: np.ndarray
    main_surface: np.ndarray
    interactions: np.ndarray

    @classmethod
    def from_text(cls, texts: tuple[str, ...]) -> Groups:
        """Read groups written as ``"CH3:2 CH2:3"``, one text for each species."""
        volume, surface = np.zeros(len(texts)), np.zeros(len(texts))
        main = np.zeros((len(texts), len(MAIN_GROUPS)))
        for row, text in enumerate(texts):
            for item in text.split():
                name, _, count = item.rpartition(":")
                if name not in SUBGROUPS:
                    raise InputError("no such UNIFAC group", given=name, accepted=nearest(name, SUBGROUPS))
                group, r, q = SUBGROUPS[name]
                volume[row] += int(count) * r
                surface[row] += int(count) * q
                main[row, MAIN_GROUPS.index(group)] += int(count) * q
        present = np.flatnonzero(main.any(axis=0))
        return cls(volume, surface, main[:, present], INTERACTIONS[np.ix_(present, present)])


@dataclass(frozen=True, eq=False)
class Terms:
    """What depends on temperature alone.

    Attributes
    ----------
    psi : array (main, main, points)
    pure : array (species, points)
        Residual part of each species in itself.
    """

    psi: np.ndarray
    pure: np.ndarray

    def take(self, points: np.ndarray) -> Terms:
        """Return the terms of some of the points."""
        return Terms(self.psi[..., points], self.pure[..., points])


def _main_activity(share: np.ndarray, psi: np.ndarray) -> np.ndarray:
    """Return ln Gamma of a main group per unit of surface, from surface shares ``(main, ...)``."""
    total = (share[:, None] * psi).sum(axis=0)
    return 1.0 - np.log(total) - (psi * (share / total)[None]).sum(axis=1)


def temperature_terms(groups: Groups, temperature: np.ndarray) -> Terms:
    """Return what depends on temperature alone, at temperatures ``(points,)`` in K."""
    psi = np.exp(-groups.interactions[:, :, None] / temperature)
    main, species = groups.interactions.shape[0], groups.surface.shape[0]
    pure = np.zeros((species, temperature.shape[0]))
    mixed = np.flatnonzero((groups.main_surface > 0.0).sum(axis=1) > 1)  # one main group: zero by definition
    if main > 1 and mixed.size:
        share = (groups.main_surface[mixed] / groups.surface[mixed, None]).T[:, :, None]
        in_itself = _main_activity(share, psi[:, :, None, :])
        pure[mixed] = np.einsum("im,min->in", groups.main_surface[mixed], in_itself)
    return Terms(psi, pure)


def log_activity(groups: Groups, terms: Terms, composition: np.ndarray) -> np.ndarray:
    """Natural logarithm of the activity coefficients.

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
    with V_i = r_i / sum r x and F_i = q_i / sum q x.

    Source: Fredenslund, Jones & Prausnitz, AIChE J. 21 (1975) 1086; parameters as the module says.

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
    combinatorial = 1.0 - v + np.log(v) - 5.0 * groups.surface[:, None] * (1.0 - ratio + np.log(ratio))
    if groups.interactions.shape[0] == 1:
        return combinatorial
    share = groups.main_surface.T @ x
    share /= share.sum(axis=0)
    return combinatorial + groups.main_surface @ _main_activity(share, terms.psi) - terms.pure
