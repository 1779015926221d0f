"""What every part of a network offers: ratings on one side, a law with coefficients on the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, NamedTuple

from fuelsim.arguments import takes
from fuelsim.fields import Ratings
from fuelsim.laws.link import LinkLaw
from fuelsim.liquid import Liquid

__all__ = ["Part"]


@dataclass(frozen=True)
class Part(Ratings):
    """Base of every part that can be a link of a network.

    Attributes
    ----------
    law : LinkLaw
        The law this part follows.
    """

    law: ClassVar[LinkLaw]

    @takes()
    def coefficients(self, liquid: Liquid) -> NamedTuple:
        """Return the law's coefficients for this part and liquid.

        Parameters
        ----------
        liquid : Liquid
            Liquid in the link; its arrays are scalars or (points,).

        Returns
        -------
        NamedTuple
            An instance of ``law.coefficients``; each field is a float or an array (points,), and those named in
            ``law.tables`` are (rows,) or (rows, points).
        """
        raise NotImplementedError(f"{type(self).__name__} has no law")

    @takes()
    def reference_in_words(self, outlet: str, reference: str | None) -> str:
        """Return above which pressure the part holds its set pressure; empty for a part without set pressure.

        Parameters
        ----------
        outlet : str
            Node at the downstream end of the part.
        reference : str or None
            Node to which the part refers; None is the atmosphere.

        Returns
        -------
        str

        Examples
        --------
        >>> from fuelsim.parts.line import Line
        >>> Line(length="1 m", bore="8 mm").reference_in_words("rail", None)
        ''
        """
        return ""
