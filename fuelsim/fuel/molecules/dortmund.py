"""Parameters of modified UNIFAC (Dortmund), beside those of original UNIFAC in `fuelsim.fuel.molecules.unifac`.

Group surfaces, volumes and interactions: [jakob_2006], as thermo lists them [thermo_library]. Nothing here is fitted.
Two things differ from original UNIFAC: the combinatorial part takes r^(3/4) in place of r in its volume fractions, and
an interaction depends on temperature, psi = exp(-(a + b T + c T^2)/T). Ring carbons of a naphthene have a main group of
their own.
"""

from __future__ import annotations

import numpy as np

from fuelsim.fuel.molecules.unifac import Parameters, Subgroup

__all__ = ["DORTMUND", "dortmund_groups"]

MAIN_GROUPS = ("CH2", "C=C", "ACH", "ACCH2", "OH", "CH3OH", "H2O", "CH2O", "cy-CH2")

# The hydroxyl group is that of a primary alcohol.
SUBGROUPS: dict[str, Subgroup] = {
    "CH3": Subgroup("CH2", 0.6325, 1.0608),
    "CH2": Subgroup("CH2", 0.6325, 0.7081),
    "CH": Subgroup("CH2", 0.6325, 0.3554),
    "C": Subgroup("CH2", 0.6325, 0.0000),
    "CH2=CH": Subgroup("C=C", 1.2832, 1.6016),
    "CH=CH": Subgroup("C=C", 1.2832, 1.2489),
    "CH2=C": Subgroup("C=C", 1.2832, 1.2489),
    "CH=C": Subgroup("C=C", 1.2832, 0.8962),
    "ACH": Subgroup("ACH", 0.3763, 0.4321),
    "AC": Subgroup("ACH", 0.3763, 0.2113),
    "ACCH3": Subgroup("ACCH2", 0.9100, 0.9490),
    "ACCH2": Subgroup("ACCH2", 0.9100, 0.7962),
    "ACCH": Subgroup("ACCH2", 0.9100, 0.3769),
    "OH": Subgroup("OH", 1.2302, 0.8927),
    "CH3OH": Subgroup("CH3OH", 0.8585, 0.9938),
    "H2O": Subgroup("H2O", 1.7334, 2.4561),
    "CH3O": Subgroup("CH2O", 1.1434, 1.6022),
    "CH2O": Subgroup("CH2O", 1.1434, 1.2495),
    "cy-CH2": Subgroup("cy-CH2", 0.7136, 0.8635),
    "cy-CH": Subgroup("cy-CH2", 0.3479, 0.1071),
}

# a[m, n] in K, rows and columns in the order of MAIN_GROUPS
CONSTANT = np.array(
    [
        [0.0, 189.66, 114.2, 7.339, 2777.0, 2409.4001, 1391.3, 233.1, -117.1],
        [-95.418, 0.0, 174.1, 117.3, 2649.0, -628.07, 778.3, 733.3, 2.406],
        [16.07, -157.2, 0.0, 139.2, 3972.0, 1604.3, 792.0, -87.08, 134.6],
        [47.2, -113.1, -45.33, 0.0, 3989.0, 436.21, 1050.2001, -595.1, -107.1],
        [1606.0, 1566.0, 3049.0, 2673.0, 0.0, 346.31, -801.9, 816.7, 3121.0],
        [82.593, -96.297, 13.733, 145.54, -1218.2001, 0.0, -328.5, -87.48, 68.972],
        [-17.253, -1301.0, 332.3, 24.144, 1460.0, -524.3, 0.0, -197.5, 274.37],
        [-9.654, -844.3, 179.0, 375.0, 650.9, 475.2, 140.7, 0.0, 397.0],
        [170.9, 60.2, -2.619, 191.5, 2601.0, 2540.7, 1632.9, -214.1, 0.0],
    ]
)
# b[m, n], dimensionless, rows and columns in the order of MAIN_GROUPS
LINEAR = np.array(
    [
        [0.0, -0.2723, 0.0933, -0.4538, -4.674, -3.0099, -3.6156, -0.3155, 0.5481],
        [0.0617, 0.0, -0.5886, -0.8552, -6.508, 10.0, 0.1482, -2.509, -0.1882],
        [-0.2998, 0.6166, 0.0, -0.65, -13.16, -2.0299, -1.726, -0.1859, -1.231],
        [0.3575, 1.172, 0.4223, 0.0, -14.09, 1.9094, -1.9939, 2.978, 0.2564],
        [-4.746, -5.809, -12.77, -5.765, 0.0, -2.4583, 3.824, -5.092, -13.69],
        [-0.4857, 0.6304, -0.1177, -0.488, 9.7928, 0.0, 1.0823, -0.5522, -0.42],
        [0.8389, 4.072, 1.158, 1.6504, -8.673, 4.6065, 0.0, 0.1766, -0.5861],
        [-0.0324, 2.945, 0.0561, -1.57, -0.7132, 0.1198, 0.0568, 0.0, -1.379],
        [-0.8062, 0.1565, 1.094, -0.5561, -1.25, -3.5236, -2.8719, 1.134, 0.0],
    ]
)
# c[m, n] in 1/K, rows and columns in the order of MAIN_GROUPS
QUADRATIC = np.array(
    [
        [0.0, 0.0, 0.0, 0.0, 0.001551, 0.0, 0.001144, 0.0, -0.00098],
        [0.0, 0.0, 0.0, 0.0, 0.004822, -0.014972, 0.0, 0.0, 0.0],
        [0.0, 0.0, 0.0, 0.0, 0.01208, 0.0, 0.0, 0.0, 0.001488],
        [0.0, 0.0, 0.0, 0.0, 0.0153, 0.0, 0.0, 0.0, 0.0],
        [0.0009181, 0.005197, 0.01435, -0.000332, 0.0, 0.0029287, -0.007514, 0.006065, 0.01446],
        [0.0, -0.0018, 0.0, 0.0, -0.016158, 0.0, -0.0022, 0.0, 0.0],
        [0.0009021, 0.0, 0.0, 0.0, 0.01641, -0.004, 0.0, 0.0, -0.00030011],
        [0.0, 0.0, 0.0, 0.0, 0.000815, 0.0, 0.0, 0.0, 0.0],
        [0.001291, 0.0, -0.001557, 0.0, -0.006309, 0.0, 0.003455, 0.0, 0.0],
    ]
)

DORTMUND = Parameters(MAIN_GROUPS, SUBGROUPS, CONSTANT, np.array([LINEAR, QUADRATIC]), modified=True)


def dortmund_groups(text: str, family: str) -> str:
    """Return the Dortmund groups of a species from its groups of original UNIFAC.

    Parameters
    ----------
    text : str
        Groups of original UNIFAC and their numbers, as ``"CH3:1 CH2:4 CH:1"``.
    family : str
        Family of the species. Every CH2 and CH of a naphthene lies in the ring: those in the table have methyl side
        chains only.

    Examples
    --------
    Methylcyclopentane, and n-pentane unchanged:

    >>> dortmund_groups("CH3:1 CH2:4 CH:1", "naphthene")
    'CH3:1 cy-CH2:4 cy-CH:1'
    >>> dortmund_groups("CH3:2 CH2:3", "paraffin")
    'CH3:2 CH2:3'
    """
    if family != "naphthene":
        return text
    ring = {"CH2": "cy-CH2", "CH": "cy-CH"}
    parts = (item.rpartition(":") for item in text.split())
    return " ".join(f"{ring.get(name, name)}:{count}" for name, _, count in parts)
