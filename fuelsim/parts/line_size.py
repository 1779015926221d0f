"""Tubes and hoses by family and size: the true bore behind a size name."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar, Self

from fuelsim.arguments import takes
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, choice, flag, quantity, text
from fuelsim.parts.batches import require_single
from fuelsim.parts.catalogue_parts import Catalogued, CatalogueEntry, catalogue_entry, catalogue_names
from fuelsim.parts.fittings import Fitting, total_loss_coefficient
from fuelsim.parts.line import Line
from fuelsim.typing import Given

__all__ = ["LINE_MATERIALS", "LineSize", "entry_of_line", "line_names", "line_size", "named_bore"]

LINE_MATERIALS = ("steel", "aluminium", "rubber", "nylon", "ptfe")


@dataclass(frozen=True, eq=False)
class LineSize(Ratings, Catalogued):
    """One size of a family of tubes or hoses.

    Working pressures of steel tube follow its wall and yield; SAE J356 sends to SAE J1065 and ISO 10763 for them
    [sae_j356]. Polyamide tube is also made to DIN 73378 [din_73378], marine hose to SAE J1527 [sae_j1527]. Permeation
    is tested by 40 CFR 1060.510 [cfr_40_1060_510].

    Examples
    --------
    >>> round(1e3 * LineSize.named("steel_tube_five_sixteenths_inch").inside_diameter, 2)
    6.52
    """

    catalogue_kind: ClassVar[str] = "lines"

    family: str = text("Family of tubes or hoses, as in 'braided_ptfe'.")
    size: str = text("Size name, as in '-6' or '8 mm'.")
    material: str = choice(
        LINE_MATERIALS, "Material of the wall; 'ptfe' is a thin liner under a steel braid.", default="steel"
    )
    bore: Quantity = quantity(
        "bore",
        "Inside diameter; or give outside_diameter and wall.",
        least=5e-4,
        most=0.1,
        default=None,
        example="7.9 mm",
    )
    outside_diameter: Quantity = quantity("bore", "Outside diameter.", least=1e-3, most=0.12, default=None)
    wall: Quantity = quantity("bore", "Wall thickness.", least=1e-4, most=0.02, default=None, example="1 mm")
    roughness: Quantity = quantity(
        "roughness", "Roughness of the wall.", least=0.0, most=1e-3, default=1.5e-6, example="1.5 µm"
    )
    working_pressure: Quantity = quantity(
        "pressure difference",
        "Rated pressure above the atmosphere; joints are often weaker than the hose.",
        least=1e3,
        most=5e7,
        default=None,
        example="690 kPa",
    )
    compliance: Quantity = quantity(
        "compliance", "Relative growth of the volume inside per pressure.", least=0.0, most=1e-6, default=None
    )
    continuous_temperature: Quantity = quantity(
        "temperature",
        "Temperature that the wall bears for long.",
        least=273.15,
        most=573.15,
        default=None,
        example="90 degC",
    )
    peak_temperature: Quantity = quantity(
        "temperature",
        "Temperature that the wall bears for a short while.",
        least=273.15,
        most=573.15,
        default=None,
        example="115 degC",
    )
    permeation: Quantity = quantity(
        "mass flux",
        "Mass flux of fuel that passes through the wall, per area of its inside.",
        least=0.0,
        most=1e-4,
        default=None,
        example="15 g/m2/day",
    )
    immersible: bool = flag("Whether it may lie in fuel.", default=False)

    def check(self) -> None:
        """Check that the bore is given in exactly one way."""
        require_single(self, ("bore", "outside_diameter", "wall", "roughness", "working_pressure", "compliance"))
        computed = self.outside_diameter is not None
        if (self.bore is None) != computed or computed != (self.wall is not None):
            raise InputError(
                "give the bore in one way", accepted="either bore, or outside_diameter and wall", key="bore"
            )
        if computed and 2.0 * self.wall >= self.outside_diameter:
            raise InputError("the wall leaves no bore", given=self.wall, key="wall")

    @classmethod
    @takes()
    def named(cls, name: str) -> Self:
        """Return a tube or hose of the catalogue.

        Parameters
        ----------
        name : str
            Its entry, its family and size, or a size that one family has: ``"push_on_6"``, ``"push_on -6"``,
            ``"push_on AN-6"``.

        Returns
        -------
        LineSize

        Raises
        ------
        InputError
            For an unknown name, or a size of several families, with the true bore in each.

        Examples
        --------
        >>> LineSize.named("steel_tube 3/8 in") == LineSize.named("steel_tube_three_eighths_inch")
        True
        """
        return super().named(entry_of_line(name))

    @property
    def inside_diameter(self) -> float:
        """True bore, m."""
        return float(self.outside_diameter - 2.0 * self.wall if self.bore is None else self.bore)

    @property
    def line_ratings(self) -> dict[str, Quantity]:
        """Ratings that a line of the car file takes from its size; those it does not know are left out."""
        ratings = {
            "bore": self.inside_diameter,
            "roughness": self.roughness,
            "material": self.material,
            "wall_thickness": self.wall,
            "working_pressure": self.working_pressure,
            "compliance": self.compliance,
            "permeation": self.permeation,
            "continuous_temperature": self.continuous_temperature,
            "peak_temperature": self.peak_temperature,
        }
        return {key: value for key, value in ratings.items() if value is not None}

    @takes()
    def line(self, length: Given, fittings: Iterable[Fitting] = ()) -> Line:
        """Return a line of this size.

        Parameters
        ----------
        length : float or str
            Length of the line, m.
        fittings : iterable of Fitting
            Fittings of the line, whose loss coefficients are added up on this bore.

        Returns
        -------
        Line

        Examples
        --------
        >>> round(1e3 * LineSize.named("steel_tube_five_sixteenths_inch").line("2 m").bore, 2)
        6.52
        """
        total = total_loss_coefficient(fittings, self.inside_diameter, roughness=self.roughness)
        return Line(
            length=length,
            bore=self.inside_diameter,
            roughness=self.roughness,
            loss_coefficient=total.turbulent,
            laminar_loss_coefficient=total.laminar,
        )


def line_size(size: str, family: str | None = None) -> LineSize:
    """Return the tube or hose of a size name, and refuse a size that several families share.

    Parameters
    ----------
    size : str
        Size name, as in ``"-6"``, ``"8 mm"`` or ``"3/8 in"``; dash sizes also as ``"AN-6"`` or ``"6 AN"``.
    family : str, optional
        Family; needed where the size alone is ambiguous.

    Returns
    -------
    LineSize

    Raises
    ------
    InputError
        For an unknown size or family, or a size of several families; the message gives the bore in each.

    Examples
    --------
    >>> round(1e3 * line_size("-6", "push_on").inside_diameter, 1)
    9.5
    >>> line_size("AN-6", "push_on") == LineSize.named("push_on -6")
    True
    """
    families = sorted({str(entry.values["family"]) for entry in _entries()})
    if family is not None and family not in families:
        raise InputError("unknown family of lines", given=family, accepted=nearest(family, families), key="family")
    sizes = list(
        dict.fromkeys(
            str(entry.values["size"]) for entry in _entries() if family in (None, str(entry.values["family"]))
        )
    )
    if _size_name(size) not in sizes:
        raise InputError("unknown size", given=size, accepted=nearest(size, sizes), key="size")
    return LineSize.named(size if family is None else f"{family} {size}")


def line_names() -> list[str]:
    """Return the names of tubes and hoses: their entries, and every family with each of its sizes.

    Examples
    --------
    >>> {"push_on_6", "push_on -6"} <= set(line_names())
    True
    """
    return [*catalogue_names("lines"), *(_sized(entry) for entry in _entries())]


def _entries() -> list[CatalogueEntry]:
    return [catalogue_entry("lines", name) for name in catalogue_names("lines")]


def _sized(entry: CatalogueEntry) -> str:
    return f"{entry.values['family']} {entry.values['size']}"


def _size_name(size: str) -> str:
    """Return a size as the catalogue writes it: a dash size of the trade as in '-6'."""
    dash = re.fullmatch(r"(?:an|dash|#)?[ -]*(\d{1,2})[ -]*(?:an)?", size.strip().lower())
    return f"-{dash[1]}" if dash else size.strip()


def _entries_named(name: str) -> list[str]:
    """Return the entries of the catalogue that a name of a tube or hose may mean."""
    if name in catalogue_names("lines"):
        return [name]
    family, _, size = name.strip().partition(" ")
    return [
        entry.name
        for entry in _entries()
        if entry.values["size"] == _size_name(name)
        or (entry.values["family"] == family and entry.values["size"] == _size_name(size))
    ]


def entry_of_line(name: Given) -> str:
    """Return the entry of the catalogue that a name of a tube or hose means.

    Parameters
    ----------
    name : str
        An entry, a family and a size, or a size that one family has.

    Returns
    -------
    str

    Raises
    ------
    InputError
        For an unknown name, or a size of several families, with the true bore in each.

    Examples
    --------
    >>> entry_of_line("braided_ptfe AN-6"), entry_of_line("steel_tube 3/8 in")
    ('braided_ptfe_6', 'steel_tube_three_eighths_inch')
    """
    if isinstance(name, str) and name in catalogue_names("lines"):
        return name
    if not isinstance(name, str):
        raise InputError("not the name of a tube or hose", given=name, accepted=nearest(name, line_names()))
    found = _entries_named(name)
    if not found:
        accepted = nearest(name, line_names())
        raise InputError("no such tube or hose in data/catalogue/lines.toml", given=name, accepted=accepted)
    if len(found) > 1:
        bores = ", ".join(f"'{entry}' ({1e3 * LineSize.named(entry).inside_diameter:.2f} mm)" for entry in found)
        raise InputError("this size has another bore in each family", given=name, accepted=bores)
    return found[0]


def named_bore(name: str) -> float | None:
    """Return the true bore of a tube or hose by its name, wherever a bore can be given.

    Parameters
    ----------
    name : str
        As `entry_of_line` takes it.

    Returns
    -------
    float or None
        m; None where no tube or hose has this name.

    Raises
    ------
    InputError
        For a size of several families, with the true bore in each.

    Examples
    --------
    >>> round(1e3 * named_bore("steel_tube 3/8 in"), 2), named_bore("wide")
    (8.1, None)
    """
    return LineSize.named(name).inside_diameter if _entries_named(name) else None
