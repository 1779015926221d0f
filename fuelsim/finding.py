"""A finding: something a practitioner should know before trusting a layout, with figures and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING

from fuelsim import opener
from fuelsim.arguments import takes
from fuelsim.shown import cut_short, html_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Finding", "FindingList", "Severity"]


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


@dataclass(frozen=True, repr=False)
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
    measure : str
        Name of the requirement on the same figure, empty where there is none.

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
    measure: str = ""

    def __str__(self) -> str:
        text = f"{self.severity.name.lower()}, {self.subject}: {self.statement}"
        text += f" (a consequence of {self.consequence_of})" if self.consequence_of else ""
        for more in (self.advice, self.caution):
            text += f"; {more}" if more else ""
        return text

    def __repr__(self) -> str:
        return f"<Finding: {cut_short(str(self))}>"

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the whole finding, with its source."""
        return html_of(f"{self}. Source: {self.source}" if self.source else str(self), None)


class FindingList(list[Finding]):
    """Findings, which show themselves by how many there are of each severity, and in a notebook as a table.

    Examples
    --------
    >>> FindingList([Finding(Severity.WARNING, "feed", "too thin"), Finding(Severity.NOTE, "wire", "long")])
    <2 findings: 1 warning, 1 note>
    """

    @property
    def headline(self) -> str:
        """Return how many findings there are of each severity."""
        counts = [
            (severity.name.lower(), sum(finding.severity is severity for finding in self)) for severity in Severity
        ]
        texts = [f"{count} {name}{'' if count == 1 else 's'}" for name, count in reversed(counts) if count]
        return f"{len(self)} finding{'' if len(self) == 1 else 's'}" + (f": {', '.join(texts)}" if texts else "")

    def __repr__(self) -> str:
        return f"<{self.headline}>"

    @takes()
    def save(self, path: Path | str) -> Path:
        """Write the findings to a file of JSON, with the version of fuelsim; `fuelsim.load` reads it again.

        Parameters
        ----------
        path : path
            File to be; one that stands there is replaced.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            Where it cannot be written.
        """
        return opener.save_result(self, path)

    def table(self) -> pd.DataFrame:
        """Return one row per finding.

        Returns
        -------
        pandas.DataFrame
            Severity, subject, statement, advice, caution and source.
        """
        import pandas as pd

        columns = ("subject", "statement", "advice", "caution", "source")
        rows = [
            {"severity": finding.severity.name.lower(), **{name: getattr(finding, name) for name in columns}}
            for finding in self
        ]
        return pd.DataFrame(rows, columns=["severity", *columns])

    def _repr_html_(self) -> str:
        """Return what a notebook shows."""
        return html_of(self.headline, self.table().drop(columns="source"))
