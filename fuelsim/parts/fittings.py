"""Fittings of a line: bends, ends, adapters, barbs, connectors, and their sum."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from fuelsim import fields
from fuelsim.arguments import number, takes, unchecked
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, choice, quantity, text
from fuelsim.laws.fittings import (
    BEND_METHODS,
    CONTRACTION_METHODS,
    ENTRANCE_METHODS,
    LossCoefficient,
    bend_loss,
    contraction_loss,
    entrance_loss,
    expansion_loss,
    referred_to,
    three_k_loss,
    throat_loss,
    two_k_loss,
)
from fuelsim.parts.batches import require_single
from fuelsim.parts.catalogue_parts import Catalogued, catalogue_names
from fuelsim.typing import FloatLike

__all__ = ["Fitting", "TypicalFitting", "total_loss_coefficient"]


@dataclass(frozen=True, eq=False)
class TypicalFitting(Ratings, Catalogued):
    """A range of loss coefficients on the velocity head of the hose's own bore.

    Examples
    --------
    >>> TypicalFitting.named("quick_connector").middle
    1.0
    """

    catalogue_kind: ClassVar[str] = "fittings"

    least: Quantity = quantity("number", "Least K of the class.", least=0.0, most=1e3)
    most: Quantity = quantity("number", "Greatest K of the class.", least=0.0, most=1e3)

    @property
    def middle(self) -> float:
        """Middle of the range, the value that is used."""
        return float(0.5 * (self.least + self.most))


TYPICAL_REYNOLDS = 2e4
"""Reynolds number at which the loss of bends is computed where none is given [assumed]: 270 L/h of petrol in
8 mm."""
_KINDS = ("bend", "entrance", "exit", "contraction", "expansion", "barb", "two_k", "three_k", "given", "typical")
_ON_A_LINE = {
    "bore": number("bore", 5e-4, 0.1, example="8 mm", single=True),
    "reynolds_number": number("number", 1.0, 1e8, single=True),
    "roughness": number("roughness", 0.0, 1e-3, example="1.5 µm", single=True),
}
"""Arguments that describe the line on which fittings sit."""
_METHODS_OF = {"bend": BEND_METHODS, "entrance": ENTRANCE_METHODS, "contraction": CONTRACTION_METHODS}
_METHODS = tuple(dict.fromkeys(method for methods in _METHODS_OF.values() for method in methods))


@dataclass(frozen=True, eq=False)
class Fitting(Ratings):
    """One or several equal fittings of a line.

    A contraction leads from `other_bore` into the line, an expansion from the line into `other_bore`. The coefficients
    `turbulent`, `laminar` and `size` are K of ``kind="given"``, K_inf and K1 of ``"two_k"``, and K_i, K1 and K_d of
    ``"three_k"``.

    Examples
    --------
    >>> bends = Fitting(kind="bend", angle="90 deg", radius_ratio=1.5, count=2)
    >>> round(float(bends.loss_coefficient(8e-3).turbulent), 4)
    0.5933
    """

    kind: str = choice(_KINDS, "Kind of fitting.")
    typical: str | None = text("Name of a typical fitting in the catalogue, for kind = 'typical'.", default=None)
    count: int = fields.count("Number of equal fittings.", least=1, most=1000, default=1)
    method: str = choice(
        _METHODS, "Method by which the loss of bends, entrances and contractions is computed.", default="Rennels"
    )
    angle: Quantity = quantity(
        "angle",
        "Angle by which a bend turns the flow.",
        least=0.01,
        most=6.3,
        default=1.5707963267948966,
        example="90 deg",
    )
    radius_ratio: Quantity = quantity(
        "number",
        "Ratio of the radius of a bend's centre line to its bore.",
        least=0.5,
        most=50.0,
        default=1.5,
        example="1.5",
    )
    other_bore: Quantity = quantity(
        "bore",
        "Bore on the other side of a contraction or expansion.",
        least=5e-4,
        most=1.0,
        default=None,
        example="6 mm",
    )
    throat_ratio: Quantity = quantity(
        "fraction",
        "Bore fraction of a barb, its throat's bore over that of its hose.",
        least=0.2,
        most=1.0,
        default=0.75,
        example="0.75",
    )
    own_bore: Quantity = quantity(
        "bore",
        "Bore to whose velocity head a given K refers; left out, that of the line.",
        least=5e-4,
        most=0.1,
        default=None,
        example="6 mm",
    )
    turbulent: Quantity = quantity(
        "number", "Turbulent loss coefficient K, K_inf or K_i.", least=0.0, most=1e4, default=0.0, example="0.5"
    )
    laminar: Quantity = quantity(
        "number", "Laminar loss coefficient K1, which is divided by Re.", least=0.0, most=1e5, default=0.0
    )
    size: Quantity = quantity("number", "Size coefficient K_d of the three-K form.", least=0.0, most=100.0, default=0.0)

    def check(self) -> None:
        """Check that the kind has what it needs."""
        require_single(
            self,
            ("angle", "radius_ratio", "other_bore", "throat_ratio", "own_bore", "turbulent", "laminar", "size"),
        )
        known = catalogue_names("fittings") if self.kind == "typical" else []
        if self.kind == "typical" and self.typical not in known:
            raise InputError(
                "not a typical fitting",
                given=self.typical,
                accepted=nearest(str(self.typical), known),
                key="typical",
            )
        if self.kind in ("contraction", "expansion") and self.other_bore is None:
            raise InputError(f"a {self.kind} needs the other bore", accepted="as in '6 mm'", key="other_bore")
        methods = _METHODS_OF.get(self.kind, _METHODS)
        if self.method not in methods:
            raise InputError(
                f"no such method for {self.kind}", given=self.method, accepted=", ".join(methods), key="method"
            )

    @takes(_ON_A_LINE)
    def loss_coefficient(
        self, bore: Quantity, reynolds_number: Quantity = TYPICAL_REYNOLDS, roughness: Quantity = 1.5e-6
    ) -> LossCoefficient:
        """Return K and K1 of all fittings together, on the velocity head of the line.

        Parameters
        ----------
        bore : float or str
            Bore of the line, m.
        reynolds_number : float
            Reynolds number at which the loss of bends is computed.
        roughness : float or str
            Roughness of the line's wall, m.

        Returns
        -------
        LossCoefficient

        Examples
        --------
        >>> Fitting(kind="exit", count=2).loss_coefficient(8e-3).turbulent
        2.0
        """
        turbulent, laminar = self._one(bore, reynolds_number, roughness)
        return LossCoefficient(self.count * turbulent, self.count * laminar)

    def _one(self, bore: FloatLike, reynolds_number: FloatLike, roughness: FloatLike) -> LossCoefficient:
        if self.kind == "bend":
            return LossCoefficient(
                bend_loss(bore, self.angle, self.radius_ratio, reynolds_number, roughness, self.method)
            )
        if self.kind == "entrance":
            return LossCoefficient(entrance_loss(self.method))
        if self.kind == "exit":
            return LossCoefficient(1.0)
        if self.kind == "contraction":
            return LossCoefficient(contraction_loss(self.other_bore, bore, self.method))
        if self.kind == "expansion":
            return LossCoefficient(expansion_loss(bore, self.other_bore))
        if self.kind == "barb":
            return LossCoefficient(throat_loss(bore, self.throat_ratio))
        if self.kind == "two_k":
            return two_k_loss(self.laminar, self.turbulent, bore)
        if self.kind == "three_k":
            return three_k_loss(self.laminar, self.turbulent, self.size, bore)
        if self.kind == "typical":
            return LossCoefficient(TypicalFitting.named(str(self.typical)).middle)
        own = bore if self.own_bore is None else self.own_bore
        # At one flow Re is proportional to 1/D, so K1/Re of the own bore is K1 (D_own/D) over the Re of the line.
        return LossCoefficient(
            referred_to(self.turbulent, own, bore), referred_to(self.laminar, own, bore) * own / bore
        )


@takes(_ON_A_LINE)
def total_loss_coefficient(
    fittings: Iterable[Fitting],
    bore: Quantity,
    *,
    reynolds_number: Quantity = TYPICAL_REYNOLDS,
    roughness: Quantity = 1.5e-6,
) -> LossCoefficient:
    """Return the sum of the loss coefficients of a line's fittings, as `Line` takes them.

    Parameters
    ----------
    fittings : iterable of Fitting
        Fittings of one line.
    bore : float or str
        Bore of the line, m.
    reynolds_number : float
        Reynolds number at which the loss of bends is computed.
    roughness : float or str
        Roughness of the line's wall, m.

    Returns
    -------
    LossCoefficient
        ``turbulent`` is the line's ``loss_coefficient``, ``laminar`` its ``laminar_loss_coefficient``.

    Examples
    --------
    >>> total = total_loss_coefficient([Fitting(kind="entrance"), Fitting(kind="exit")], "8 mm")
    >>> round(float(total.turbulent), 2)
    1.57
    """
    losses = [unchecked(fitting.loss_coefficient)(bore, reynolds_number, roughness) for fitting in fittings]
    return LossCoefficient(sum(loss.turbulent for loss in losses), sum(loss.laminar for loss in losses))
