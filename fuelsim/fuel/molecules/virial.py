"""Vapour non-ideality by the second virial coefficient, one mixing term for the whole vapour.

With B_ij = -sqrt(B_i B_j) the vapour needs only g_i = sqrt(-B_i) and s = sum y_i g_i:

    B_mix = -s^2,   Z = 1 - s^2 P/RT,   ln phi_i = -(2 g_i s - s^2) P/RT.

For petrol vapour this agrees with Peng-Robinson (kij = 0) within 0.5 % of the bubble pressure at 38
and 80 degC and 1.2 % at 120 degC.
"""

from __future__ import annotations

import numpy as np

from fuelsim.constants import GAS_CONSTANT
from fuelsim.fuel.molecules.species import Species
from fuelsim.typing import PointArray, SpeciesArray

__all__ = ["LARGEST_CORRECTION", "second_virial", "sqrt_virial"]

# The virial series cut after B holds to s^2 P/RT of about 0.3. Denser "vapour" occurs only as an iterate for a liquid
# far below its boiling point, where the correction need only stay bounded.
LARGEST_CORRECTION = 0.5


def second_virial(species: Species, temperature: PointArray) -> SpeciesArray:
    """Second virial coefficient of the pure vapours, without association.

    Parameters
    ----------
    species : Species
    temperature : array (points,)
        K.

    Returns
    -------
    array (species, points)
        m3/mol, negative.

    Notes
    -----
    B = R Tc/Pc (f0 + omega f1), with
    f0 = 0.1445 - 0.330/Tr - 0.1385/Tr^2 - 0.0121/Tr^3 - 0.000607/Tr^8 and
    f1 = 0.0637 + 0.331/Tr^2 - 0.423/Tr^3 - 0.008/Tr^8.
    An alcohol takes the acentric factor of the paraffin of like size, which leaves its association out: the
    correlation is one for hydrocarbons, and in a blend an alcohol molecule mostly meets hydrocarbon molecules.

    Source: [tsonopoulos_1974].

    Examples
    --------
    n-Butane at 37.8 degC: CoolProp (reference equation of state) gives -0.00065 m3/mol.

    >>> from fuelsim.fuel.molecules.species import species
    >>> float(second_virial(species().take(("n-butane",)), np.array([310.93]))[0, 0].round(5))
    -0.00066
    """
    inverse = species.critical_temperature[:, None] / temperature
    square, cube = inverse**2, inverse**3
    eighth = square * cube * cube
    f0 = 0.1445 - 0.330 * inverse - 0.1385 * square - 0.0121 * cube - 0.000607 * eighth
    f1 = 0.0637 + 0.331 * square - 0.423 * cube - 0.008 * eighth
    scale = GAS_CONSTANT * species.critical_temperature / species.critical_pressure
    coefficient: SpeciesArray = scale[:, None] * (f0 + species.virial_acentric_factor[:, None] * f1)
    return coefficient


def sqrt_virial(species: Species, temperature: PointArray) -> SpeciesArray:
    """Return g = sqrt(-B) of the pure vapours, (m3/mol)^0.5.

    Parameters
    ----------
    species : Species
    temperature : array (points,)
        K.

    Returns
    -------
    array (species, points)

    Examples
    --------
    >>> from fuelsim.fuel.molecules.species import species
    >>> butane, t = species().take(("n-butane",)), np.array([310.93])
    >>> bool(abs(sqrt_virial(butane, t)[0, 0] ** 2 + second_virial(butane, t)[0, 0]) < 1e-12)
    True
    """
    root: SpeciesArray = np.sqrt(np.maximum(-second_virial(species, temperature), 0.0))
    return root
