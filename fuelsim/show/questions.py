"""Questions that a builder asks, and the calls that answer them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fuelsim.arguments import takes
from fuelsim.data_files import data_path, read_toml
from fuelsim.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["questions"]


@takes()
def questions(about: str | None = None) -> pd.DataFrame:
    """Return the index of questions to calls, all or those about something.

    Parameters
    ----------
    about : str, optional
        A word, such as ``"pump"``, that stands in the question or in the call; capitals do not matter.

    Returns
    -------
    pandas.DataFrame
        One row per question, in the order of the work: its call, as Python with words beside it.

    Raises
    ------
    InputError
        For a word that stands in none.

    Examples
    --------
    >>> questions("returnless").loc["Return or returnless?", "call"].split(";")[0]
    'fs.compare(car)'
    """
    import pandas as pd

    rows = read_toml(data_path("questions.toml"))["questions"]
    if about is not None:
        word = about.casefold()
        rows = [row for row in rows if word in f"{row['question']} {row['call']}".casefold()]
        if not rows:
            raise InputError("no question about this", given=about, accepted="a word such as 'pump' or 'vapour'")
    calls = [row["call"].replace("`", "") for row in rows]
    return pd.DataFrame({"call": calls}, index=pd.Index([row["question"] for row in rows], name="question"))
