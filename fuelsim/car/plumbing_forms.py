"""Usual ways to plumb a car beyond the standard layouts, from which a car file to start from is written.

They stand in ``data/plumbing_forms.toml``: to add one, add a table to that file; nothing else lists them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

from fuelsim.car.file_format import toml_value
from fuelsim.data_files import data_path, read_toml
from fuelsim.typing import Given

__all__ = ["PlumbingForm", "plumbing_forms", "with_comments"]


@dataclass(frozen=True)
class PlumbingForm:
    """One usual way to plumb a car.

    Attributes
    ----------
    name, title, about : str
        Name in files, name for people, and for which car it is.
    runs : tuple of tuple of str
        Names of vessels, parts and junctions in the order of flow.
    comments : tuple of str
        What each run does.
    instead : tuple of str
        Plain tables of a car that it does without.
    pumps : tuple of str
        Main pumps side by side that stand in place of the plain one.
    mounting : str
        Mounting of the main pumps; empty, as the person says.
    pump_height : str
        Height of the pumps above the tank's floor; empty, as usual for their mounting.
    pump : str
        Pump of the catalogue in place of one that is chosen by the engine's power; empty where it is.
    lift : str
        Name of a lift pump; empty without one.
    lifts : tuple of str
        Lift pumps of the catalogue, from small to large.
    regulator : bool
        Whether it has the rail's regulator and a return line.
    control : bool
        Whether a controller holds the pressure by slowing the pump.
    reducer : str
        Name of a reducing regulator; empty without one.
    set_pressure : float
        Pressure that controller or reducer holds where the person names none, Pa.
    values : dict of str to object
        What else is written, by dotted key of a car file.
    """

    name: str
    title: str
    about: str
    runs: tuple[tuple[str, ...], ...]
    comments: tuple[str, ...]
    instead: tuple[str, ...] = ()
    pumps: tuple[str, ...] = ()
    mounting: str = ""
    pump_height: str = ""
    pump: str = ""
    lift: str = ""
    lifts: tuple[str, ...] = ()
    regulator: bool = False
    control: bool = False
    reducer: str = ""
    set_pressure: float = 300e3
    values: dict[str, Given] = field(default_factory=dict)

    @property
    def rails(self) -> tuple[str, ...]:
        """Names of the rails of its own, in the order of flow."""
        return tuple(dict.fromkeys(key.split(".")[1] for key in self.values if key.startswith("rails.")))

    def runs_with(self, suction: str | None) -> list[list[str]]:
        """Return the runs, with a suction line behind the strainer where a pump hangs outside the tank.

        Parameters
        ----------
        suction : str or None
            Name of the line; None without one.

        Returns
        -------
        list of list of str

        Examples
        --------
        >>> plumbing_forms()["twin_rails"].runs_with("suction")[0]
        ['tank', 'strainer', 'suction', 'pump', 'filter', 'feed', 'front']
        """
        behind = {"strainer": ["strainer", suction]} if suction else {}
        return [[name for each in run for name in behind.get(each, [each])] for run in self.runs]


@cache
def plumbing_forms() -> dict[str, PlumbingForm]:
    """Return every form by name, in the order of the file.

    Examples
    --------
    >>> list(plumbing_forms())
    ['twin_rails', 'twin_pumps', 'surge_pot', 'speed_controlled', 'dead_ended_reducer']
    """
    return {
        name: PlumbingForm(
            name=name,
            title=table["title"],
            about=table["about"],
            runs=tuple(tuple(each["run"]) for each in table["runs"]),
            comments=tuple(each["comment"] for each in table["runs"]),
            instead=tuple(table.get("instead", ())),
            pumps=tuple(table.get("pumps", ())),
            mounting=table.get("mounting", ""),
            pump_height=table.get("pump_height", ""),
            pump=table.get("pump", ""),
            lift=table.get("lift", ""),
            lifts=tuple(table.get("lifts", ())),
            regulator=table.get("regulator", False),
            control=table.get("control", False),
            reducer=table.get("reducer", ""),
            set_pressure=table.get("set_pressure", 300e3),
            values=dict(table.get("values", {})),
        )
        for name, table in read_toml(data_path("plumbing_forms.toml")).items()
    }


def with_comments(text: str, form: PlumbingForm) -> str:
    """Return the text of a car file with a comment above each run of a form.

    Parameters
    ----------
    text : str
        TOML in which every run stands on a line of its own, as `runs_text` writes it.
    form : PlumbingForm
        The form whose runs they are; a suction line may have been added to one.

    Returns
    -------
    str
        TOML.

    Examples
    --------
    >>> form = plumbing_forms()["speed_controlled"]
    >>> print(with_comments('    ["tank", "strainer", "pump", "filter", "feed", "rail"],', form).splitlines()[0])
        # the rail is the end; the pump delivers what the engine burns
    """
    comments = {}
    for suction in (None, "suction"):
        for run, comment in zip(form.runs_with(suction), form.comments, strict=True):
            comments[f"    {toml_value(run)},"] = comment
    lines = [
        each
        for line in text.splitlines()
        for each in ([f"    # {comments[line]}", line] if line in comments else [line])
    ]
    return "\n".join(lines) + "\n"
