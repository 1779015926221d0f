"""A finding: something a practitioner should know before trusting a layout, with figures and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

__all__ = ["Finding", "Severity"]


class Severity(IntEnum):
    """How grave a finding is.

    Examples
    --------
    >>> Severity.FAILURE > Severity.WARNING > Severity.NOTE
    True
    """

    NOTE = 0
    WARNING = 1
    FAILURE = 2


@dataclass(frozen=True)
class Finding:
    """One check's result.

    Attributes
    ----------
    severity : Severity
        Note, warning or failure.
    subject : str
        The part or station it is about.
    statement : str
        What was found, with its figures and units.
    advice : str
        What to do about it.
    caution : str
        A safety caution that belongs to the advice, empty if none.
    source : str
        Where the limit comes from, as `fuelsim.sources.cite` puts it.
    consequence_of : str
        Subject of the finding that is its cause, empty for one that stands for itself.

    Examples
    --------
    >>> print(Finding(Severity.WARNING, "feed", "hose rated 340 kPa, dead-head 690 kPa", "fit a higher rating"))
    warning, feed: hose rated 340 kPa, dead-head 690 kPa; fit a higher rating
    """

    severity: Severity
    subject: str
    statement: str
    advice: str = ""
    caution: str = ""
    source: str = ""
    consequence_of: str = ""

    def __str__(self) -> str:
        text = f"{self.severity.name.lower()}, {self.subject}: {self.statement}"
        text += f" (a consequence of {self.consequence_of})" if self.consequence_of else ""
        for more in (self.advice, self.caution):
            text += f"; {more}" if more else ""
        return text
