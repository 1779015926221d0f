"""The Parameters section of a part or table is made from its declarations, in the form of numpydoc."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pkgutil
import pydoc
import re
from dataclasses import dataclass

import pytest

import fuelsim
from fuelsim.declaration import declarations
from fuelsim.declaration_text import parameters_section, with_parameters
from fuelsim.fields import Quantity, Ratings, choice, count, flag, origin, quantity, series, table, text
from fuelsim.kinds import KINDS


@dataclass(frozen=True)
class Hose(Ratings):
    """A hose.

    More on hoses.

    Examples
    --------
    >>> Hose(bore="8 mm").bore
    0.008
    """

    bore: Quantity = quantity("bore", "Inside diameter.", least=5e-4, most=0.1, example="8 mm")


@dataclass(frozen=True)
class Rig(Ratings):
    """Everything a declaration can be."""

    temperature: Quantity = quantity("temperature", "Fuel.", least=233.15, most=373.15, example="45 degC")
    end: str = choice(("turbine", "roller"), "Pump end.")
    flows: Quantity = series("volume flow", "Bench table.", least=0.0, most=1e-3, default=(0.0, 1e-5))
    cylinders: int = count("Cylinders.", least=1, most=16, default=4)
    wet: bool = flag("Submerged.", default=True)
    share: Quantity = quantity("fraction", "Share.", least=0.0, most=1.0, default=0.1)
    burst: Quantity = quantity("pressure difference", "Burst.", default=None)
    name: str = text("Name.", default="")
    spare: Hose | None = table(Hose, "Spare.", default=None)
    hose: Hose = table(Hose, "Feed.", default=Hose(bore=0.008))
    catalogue: str | None = origin("Where it is from.")
    cached: float = dataclasses.field(default=0.0, init=False)


@pytest.mark.parametrize(
    "entry",
    [
        "temperature : float, array or str, K\n"
        "    Fuel. Accepted: temperature from -40 degC to 100 degC, as in '45 degC'.\n",
        "flows : list of float or str, m3/s, optional\n"
        "    Bench table. Accepted: a list of volume flow from 0 L/h to 3.6e+06 L/h. By default 0 L/h, 36 L/h.\n",
        "end : {'turbine', 'roller'}\n    Pump end.\n",
        "cylinders : int, optional\n    Cylinders. Accepted: a whole number from 1 to 16. By default 4.\n",
        "wet : bool, optional\n    Submerged. By default true.\n",
        "share : float, array or str, optional\n    Share. Accepted: fraction from 0 to 1. By default 0.1.\n",
        "burst : float, array or str, Pa, optional\n    Burst. Accepted: pressure difference. By default left out.\n",
        "name : str, optional\n    Name. By default left out.\n",
        "spare : Hose, optional\n    Spare. By default left out.\n",
        "hose : Hose, optional\n    Feed. By default with its own defaults.\n",
        "catalogue : str, optional\n    Where it is from.",
    ],
)
def test_an_entry_says_type_unit_meaning_range_and_default(entry):
    section = parameters_section(Rig)
    assert entry.replace("3.6e+06", "3600") in section.replace("3.6e+06", "3600")
    assert "cached" not in section


def test_the_section_stands_between_summary_and_examples():
    titles = ["More on hoses.", "Parameters\n-", "Raises\n-", "Examples\n-"]
    places = [Hose.__doc__.index(title) for title in titles]
    assert places == sorted(places)
    assert Hose(bore=0.01).__doc__ == Hose.__doc__


def test_help_shows_it():
    shown = pydoc.plain(pydoc.render_doc(Hose))
    assert "bore : float, array or str, m" in shown
    assert "Inside diameter. Accepted: bore from 0.5 mm to 100 mm, as in '8 mm'." in shown


def test_a_section_written_by_hand_stays():
    assert with_parameters(Hose, "A hose.\n\nParameters\n----------\nbore : float\n    Mine.") == (
        "A hose.\n\nParameters\n----------\nbore : float\n    Mine.\n"
    )


def test_a_class_without_declarations_keeps_its_docstring():
    @dataclass(frozen=True)
    class Plain(Ratings):
        """Nothing declared."""

    assert Plain.__doc__ == "Nothing declared."


def test_a_class_derived_without_fields_of_its_own_keeps_its_docstring():
    class Short(Hose):
        """A short hose."""

    assert Short.__doc__ == "A short hose."


def classes_of_ratings():
    """Return every class of ratings of the package."""
    for module in pkgutil.walk_packages(fuelsim.__path__, "fuelsim."):
        importlib.import_module(module.name)
    waiting, known = [Ratings], set()
    while waiting:
        below = waiting.pop().__subclasses__()
        waiting += below
        known |= {each for each in below if each.__module__.startswith("fuelsim.")}
    return sorted(known, key=lambda each: (each.__module__, each.__name__))


@pytest.mark.parametrize("part", classes_of_ratings(), ids=lambda part: part.__name__)
def test_every_field_of_every_class_of_ratings_is_documented(part):
    documented = inspect.getdoc(part)
    for name in declarations(part):
        assert f"\n{name} : " in documented or f"{name}, " in documented or f", {name} : " in documented, name


@pytest.mark.parametrize("part", classes_of_ratings(), ids=lambda part: part.__name__)
def test_no_class_of_ratings_writes_its_parameters_by_hand(part):
    if any(declarations(part)):
        assert parameters_section(part) in part.__doc__


# Every text of a declaration is a whole phrase: the quantity first, its unit left to the kind.

NO_NOUN_FIRST = re.compile(
    r"(Of|As|At|By|In|On|To|From|With|Between|Below|Above|Before|After|How|What|Where|When|Which|The same|Standing)\b"
)
NOUNS = {
    "length": "length distance height depth width",
    "bore": "bore diameter thickness width",
    "altitude": "altitude height",
    "absolute pressure": "pressure",
    "pressure difference": "pressure drop loss head droop hysteresis boost",
    "temperature difference": "temperature",
    "volume flow": "flow flows",
    "injector flow": "flow",
    "mass flow": "flow",
    "current": "current currents rating",
    "voltage": "voltage voltages",
    "resistance": "resistance resistances",
    "power": "power powers",
    "electrical power": "power",
    "torque": "torque torques",
    "engine speed": "speed speeds",
    "particle size": "size",
    "pressure per flow": "rise fall slope",
    "specific fuel consumption": "consumption",
    "time": "time duration",
    "pulse time": "time times pulse",
    "time per pressure": "growth rise",
    "fraction": "fraction share efficiency efficiencies content",
    "number": "number factor ratio sum coefficient exponent K K1 k",
    "compliance": "growth",
    "displacement": "displacement",
    "heat conductance per length": "conductance",
    "heat flow": "heat",
}
"""Words of which one must stand in the head of the phrase, by kind; for other kinds the last word of the kind."""


def faults_of_text(declaration):
    text = declaration.doc
    faults = []
    if not re.match(r"[A-Z0-9]", text) or not text.endswith("."):
        faults.append("no sentence from capital to full stop")
    if NO_NOUN_FIRST.match(text):
        faults.append("no noun first")
    if declaration.form in ("quantity", "series"):
        head = set(re.split(r"[^\w]+", re.split(r"[,;:(]", text)[0].lower()))
        nouns = NOUNS.get(declaration.kind, declaration.kind.split()[-1]).lower().split()
        if not head & set(nouns):
            faults.append(f"none of {nouns} in its head")
        kind = KINDS[declaration.kind]
        for unit in {kind.unit, *kind.shown} - {"1"}:
            if re.search(rf"(, |\(|\[|in ){re.escape(unit)}[.)\]]", text):
                faults.append(f"the unit {unit}, which the kind says")
    elif declaration.form != "flag" and len(text.split()) < 2:
        faults.append("one word alone")
    return faults


@pytest.mark.parametrize("part", classes_of_ratings(), ids=lambda part: part.__name__)
def test_every_text_of_a_declaration_is_a_whole_phrase_with_the_quantity_first(part):
    faults = {name: faults_of_text(declaration) for name, declaration in declarations(part).items()}
    faults = {f"{name}: {declarations(part)[name].doc}": found for name, found in faults.items() if found}
    assert not faults
